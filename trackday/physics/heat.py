"""Heat on a person outdoors: WBGT, the heat index, and the published limit for steady work.

Arguments broadcast; NaN in any of them gives NaN: unknown is never cool.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import thermofeel
from thermofeel.approximations import approximate_fdir_erbs

from trackday.physics.constants import ZERO_CELSIUS_K
from trackday.physics.moist_air import relative_humidity

Array = npt.NDArray[np.float64]

_EXPOSURE_LIMIT_C: Final = (56.7, 11.5)
_ALERT_LIMIT_C: Final = (59.9, 14.1)
"""Limit of the WBGT = a − b·log₁₀(W), °C, for people used to heat (recommended exposure limit, REL)
and not used to it (recommended alert limit, RAL) (NIOSH 2016-106, values from memory)."""

_PA_PER_HPA: Final = 100.0


def wbgt_c(
    temp_c: npt.ArrayLike,
    dew_point_c: npt.ArrayLike,
    wind_ms: npt.ArrayLike,
    ghi_wm2: npt.ArrayLike,
    pressure_pa: npt.ArrayLike,
    *,
    sun_elevation_deg: npt.ArrayLike,
    day_of_year: npt.ArrayLike,
) -> Array:
    """Return the wet-bulb globe temperature in the open sun, °C.

    `wind_ms` at 10 m; `ghi_wm2` on a level surface; `pressure_pa` on the spot. The beam's share of
    the sunshine is estimated (Erbs). The globe's ground is as warm as the air and reflects 45 %.
    Asphalt is hotter but reflects less, and gives the globe no more: in 900 W/m² and 20 K above air
    of 32 °C, some 230 W/m² reflected and radiated beyond the air's own, against the 405 assumed.
    Source: Liljegren et al. 2008, in thermofeel.
    """
    values = np.broadcast_arrays(
        *(
            np.asarray(value, dtype=np.float64)
            for value in (
                temp_c, dew_point_c, wind_ms, ghi_wm2, pressure_pa, sun_elevation_deg, day_of_year
            )
        )
    )  # fmt: skip
    known = np.isfinite(values).all(axis=0)
    found = np.full(known.shape, np.nan)
    if known.any():
        # The library iterates until all converge, and an unknown never does.
        found[known] = _known_wbgt_c(*(value[known] for value in values))
    return found


def _known_wbgt_c(
    temp_c: Array,
    dew_point_c: Array,
    wind_ms: Array,
    ghi_wm2: Array,
    pressure_pa: Array,
    sun_elevation_deg: Array,
    day_of_year: Array,
) -> Array:
    """WBGT (N,) of values that are all known."""
    cosine = np.maximum(np.sin(np.radians(sun_elevation_deg)), 0.0)
    sun = np.where(cosine > 0.0, np.maximum(ghi_wm2, 0.0), 0.0)
    beam = approximate_fdir_erbs(sun, cosine, doy=day_of_year)
    kelvin = thermofeel.calculate_wbgt_liljegren(
        temp_c + ZERO_CELSIUS_K,
        100.0 * np.clip(relative_humidity(temp_c, dew_point_c), 0.0, 1.0),
        pressure_pa / _PA_PER_HPA,
        wind_ms,
        sun,
        beam / np.where(sun > 0.0, sun, 1.0),
        cosine,
    )
    return np.asarray(kelvin - ZERO_CELSIUS_K)


def heat_index_c(temp_c: npt.ArrayLike, dew_point_c: npt.ArrayLike) -> Array:
    """Return the heat index in the shade, °C: what moist heat feels like.

    Source: the US weather service's regression (Rothfusz) with both adjustments and the simple form
    below 80 °F, in thermofeel.
    """
    temp, dew = np.broadcast_arrays(
        np.asarray(temp_c, dtype=np.float64), np.asarray(dew_point_c, dtype=np.float64)
    )
    kelvin = thermofeel.calculate_heat_index_adjusted(
        temp.ravel() + ZERO_CELSIUS_K, np.minimum(temp, dew).ravel() + ZERO_CELSIUS_K
    )
    return np.asarray(kelvin - ZERO_CELSIUS_K).reshape(temp.shape)


def exposure_limit_c(metabolic_w: npt.ArrayLike, *, used_to_heat: bool = True) -> Array:
    """Return the WBGT up to which steady work of `metabolic_w` watts needs no rests, °C.

    For ordinary clothes. `used_to_heat` is after one to two weeks of work in it. Source: NIOSH
    2016-106, values from memory.
    """
    base, slope = _EXPOSURE_LIMIT_C if used_to_heat else _ALERT_LIMIT_C
    return np.asarray(base - slope * np.log10(np.asarray(metabolic_w, dtype=np.float64)))
