"""Heat that the sky sends down: a clear sky by air temperature and humidity, and cloud."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from trackday.physics.constants import STEFAN_BOLTZMANN_WM2K4, ZERO_CELSIUS_K

Array = npt.NDArray[np.float64]

CLOUD_WEIGHT: Final = 0.84
"""How far total cloud closes the gap between a clear sky and a black body, – (Unsworth & Monteith,
Q. J. R. Meteorol. Soc. 101, 1975, value from memory)."""

CLEAR_ENOUGH_WM2: Final = 50.0
"""Mean clear-sky irradiance, W/m², from which sunshine tells about cloud: that of a sun 5° high.
Lower, haze, snow light and the tilt of the sensor matter more than cloud (common practice)."""

CLOUD_MEMORY_H: Final = 24.0
"""Time in which what the sun told about cloud is forgotten (to 1/e), hours (assumption: weather
systems pass in a few days, cloud within them faster)."""

TYPICAL_CLOUD: Final = 0.67
"""Mean cloud cover of the earth, – (satellite climatologies, value from memory)."""


def clear_sky_emissivity(air_temp_c: npt.ArrayLike, vapor_pressure_pa: npt.ArrayLike) -> Array:
    """Return the emissivity of a clear sky, 0…1.

    Source: Prata, Q. J. R. Meteorol. Soc. 122 (1996): 1 − (1 + ξ)·exp(−√(1.2 + 3ξ)) with the
    precipitable water ξ = 46.5·e/T in g/cm², e in hPa and T in K.
    """
    kelvin = np.asarray(air_temp_c, dtype=np.float64) + ZERO_CELSIUS_K
    water = 46.5 * np.asarray(vapor_pressure_pa, dtype=np.float64) / 100.0 / kelvin
    return np.asarray(1.0 - (1.0 + water) * np.exp(-np.sqrt(1.2 + 3.0 * water)))


def sky_longwave_wm2(
    air_temp_c: npt.ArrayLike, vapor_pressure_pa: npt.ArrayLike, cloud_effect: npt.ArrayLike
) -> Array:
    """Return the heat from the whole sky on a level surface, W/m².

    `cloud_effect` (0…1) closes the gap between the clear sky and a black body at air temperature:
    see `cloud_effect_of_fraction` and `cloud_effect_of_sunshine`.
    """
    clear = clear_sky_emissivity(air_temp_c, vapor_pressure_pa)
    effect = np.asarray(cloud_effect, dtype=np.float64)
    emissivity = effect + (1.0 - effect) * clear
    return np.asarray(emissivity * black_body_wm2(air_temp_c))


def cloud_effect_of_fraction(cloud_fraction: npt.ArrayLike) -> Array:
    """Return the cloud effect of a sky covered by `cloud_fraction` (0…1); NaN stays NaN."""
    return np.asarray(CLOUD_WEIGHT * np.clip(np.asarray(cloud_fraction, dtype=float), 0.0, 1.0))


def cloud_effect_of_sunshine(ghi_wm2: npt.ArrayLike, clear_wm2: npt.ArrayLike) -> Array:
    """Return the cloud effect, 0…1, from sunshine against that of a clear sky.

    One minus the clear-sky index. NaN where the sun is too low to tell.
    Source: Crawford & Duchon, J. Appl. Meteorol. 38 (1999).
    """
    ghi, clear = np.broadcast_arrays(np.asarray(ghi_wm2, float), np.asarray(clear_wm2, float))
    told = clear >= CLEAR_ENOUGH_WM2
    index = ghi / np.where(told, clear, 1.0)
    return np.where(told, np.clip(1.0 - index, 0.0, 1.0), np.nan)


def carried_cloud_effect(effect: Array, told_at_h: Array, when_h: Array) -> Array:
    """Return the cloud effect at `when_h` (S,) from `effect` (K,) at the rising hours `told_at_h`.

    Along straight lines, from day to day through the night; the longer ago (or ahead) the nearest
    telling is, the more the mean of all tellings counts. Where nothing tells: `TYPICAL_CLOUD`.
    """
    known = np.isfinite(effect)
    if not known.any():
        return np.full(len(when_h), float(cloud_effect_of_fraction(TYPICAL_CLOUD)))
    at, told = told_at_h[known], effect[known]
    after = np.clip(np.searchsorted(at, when_h), 0, len(at) - 1)
    before = np.maximum(after - 1, 0)
    age = np.minimum(np.abs(when_h - at[after]), np.abs(when_h - at[before]))
    trust = np.exp(-age / CLOUD_MEMORY_H)
    return np.asarray(trust * np.interp(when_h, at, told) + (1.0 - trust) * told.mean())


def black_body_wm2(temp_c: npt.ArrayLike) -> Array:
    """Return the heat that a black body of that temperature sends, W/m²."""
    kelvin = np.asarray(temp_c, dtype=np.float64) + ZERO_CELSIUS_K
    return np.asarray(STEFAN_BOLTZMANN_WM2K4 * kelvin**4)
