"""Fog on the inside of a visor or a windscreen: pane temperature against dew point.

A pane fogs when its inner surface is colder than the dew point of the air against it. Arguments
broadcast; NaN stays NaN: an unknown pane is never a clear one.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from trackday.physics.constants import (
    DRY_AIR_GAS_CONSTANT_JKGK,
    WATER_TO_AIR_MASS_RATIO,
    ZERO_CELSIUS_K,
)
from trackday.physics.moist_air import (
    dew_point_from_vapor_pressure_c,
    saturation_vapor_pressure_pa,
)

Array = npt.NDArray[np.float64]

EXPIRED_AIR_TEMP_C: Final = 33.2
EXPIRED_AIR_HUMIDITY: Final = 0.88
"""Temperature, °C, and relative humidity, –, of expired air (published mean of measurements)."""

_BREATH_POWER_W: Final = (100.0, 300.0, 600.0)
_BREATH_COLD_C: Final = 0.0
_BREATH_WARM_C: Final = 25.0
_BREATH_COLD_GPH: Final = (13.0, 40.0, 80.0)
_BREATH_WARM_GPH: Final = (10.0, 30.0, 60.0)
"""Water lost by breathing, g/h, by metabolic power, W, in air of 0 and 25 °C (Institute of
Medicine 1996, table 9-2; 1 ml taken as 1 g)."""

_SLOW_AIR_MS: Final = 5.0
"""Speed up to which McAdams's linear form holds, m/s (value from memory)."""


def outer_coefficient_wm2k(wind_ms: npt.ArrayLike) -> Array:
    """Return the heat transfer coefficient of a pane's outside in air moving at `wind_ms`, W/m²K.

    `wind_ms` is the speed of the air along the pane: in a moving car mostly the car's.
    Source: McAdams, Heat Transmission, 5.6 + 4 U up to 5 m/s and 7.2 U^0.78 above (values from
    memory).
    """
    wind = np.asarray(wind_ms, dtype=np.float64)
    slow = 5.6 + 4.0 * np.minimum(wind, _SLOW_AIR_MS)
    # The two forms meet with a step down of 1 % at 5 m/s; more wind must not insulate.
    return np.asarray(np.maximum(slow, 7.2 * wind**0.78))


def inner_surface_temp_c(
    inside_c: npt.ArrayLike,
    outside_c: npt.ArrayLike,
    *,
    h_in_wm2k: npt.ArrayLike = 8.0,
    h_out_wm2k: npt.ArrayLike,
    thickness_m: float = 0.003,
    conductivity_wmk: float = 0.20,
) -> Array:
    """Return the temperature of a pane's inner surface, °C, in steady state and without sun.

    `h_in_wm2k` and `h_out_wm2k` are the coefficients of the two surfaces, W/m²K (8 inside is
    common practice for still air with radiation); the pane is by default 3 mm of polycarbonate,
    0.20 W/(m·K) (common practice). Source: heat flow through resistances in series.
    """
    inside = np.asarray(inside_c, dtype=np.float64)
    inner_resistance = 1.0 / np.asarray(h_in_wm2k, dtype=np.float64)
    outer_resistance = 1.0 / np.asarray(h_out_wm2k, dtype=np.float64)
    total = inner_resistance + thickness_m / conductivity_wmk + outer_resistance
    drop = inner_resistance / total * (inside - np.asarray(outside_c, dtype=np.float64))
    return np.asarray(inside - drop)


def fogs(inner_surface_c: npt.ArrayLike, dew_point_inside_c: npt.ArrayLike) -> Array:
    """Return 1.0 where the pane fogs, 0.0 where it stays clear, NaN where that is unknown.

    Floats, so that a mean over members is a chance and an unknown member cannot count as clear.
    """
    margin = np.asarray(inner_surface_c, dtype=np.float64) - np.asarray(dew_point_inside_c)
    return np.where(np.isnan(margin), np.nan, (margin < 0.0).astype(np.float64))


def breath_water_gph(metabolic_w: npt.ArrayLike, outside_c: npt.ArrayLike) -> Array:
    """Return the water a person breathes out, g/h, at `metabolic_w` in air of `outside_c`.

    Linear between the published values and held at their ends (100…600 W, 0…25 °C).
    Source: Institute of Medicine 1996, table 9-2.
    """
    power = np.asarray(metabolic_w, dtype=np.float64)
    cold = np.interp(power, _BREATH_POWER_W, _BREATH_COLD_GPH)
    warm = np.interp(power, _BREATH_POWER_W, _BREATH_WARM_GPH)
    air = np.clip(np.asarray(outside_c, dtype=np.float64), _BREATH_COLD_C, _BREATH_WARM_C)
    share = (air - _BREATH_COLD_C) / (_BREATH_WARM_C - _BREATH_COLD_C)
    return np.asarray(cold + share * (warm - cold))


def mixed_temp_c(ambient_c: npt.ArrayLike, *, expired_fraction: npt.ArrayLike) -> Array:
    """Return the temperature, °C, of ambient air mixed with a share (by volume) of expired air."""
    ambient = np.asarray(ambient_c, dtype=np.float64)
    return np.asarray(ambient + np.asarray(expired_fraction) * (EXPIRED_AIR_TEMP_C - ambient))


def mixed_dew_point_c(
    ambient_dew_point_c: npt.ArrayLike, *, expired_fraction: npt.ArrayLike
) -> Array:
    """Return the dew point, °C, of ambient air mixed with a share of expired air, as in a helmet.

    `expired_fraction` is the share by volume, 0…1. Raises ValueError outside that.
    Source: vapor pressures mix by volume (Dalton).
    """
    expired = np.asarray(expired_fraction, dtype=np.float64)
    if np.any((expired < 0.0) | (expired > 1.0)):
        raise ValueError("expired_fraction must lie within 0 and 1")
    breath_pa = EXPIRED_AIR_HUMIDITY * saturation_vapor_pressure_pa(EXPIRED_AIR_TEMP_C)
    ambient_pa = saturation_vapor_pressure_pa(ambient_dew_point_c)
    return dew_point_from_vapor_pressure_c(ambient_pa + expired * (breath_pa - ambient_pa))


def cabin_dew_point_c(
    outside_vapor_pressure_pa: npt.ArrayLike,
    *,
    water_gph: npt.ArrayLike,
    ventilation_m3h: npt.ArrayLike,
    inside_c: npt.ArrayLike,
) -> Array:
    """Return the dew point of a cabin's air, °C, once moisture in and moisture out balance.

    `water_gph` is given off inside (breath, wet suit), g/h; `ventilation_m3h` is the flow of
    outside air, m³/h at `inside_c`. Never above `inside_c`: surplus water condenses. With no
    ventilation at all the air ends saturated. Source: steady balance of vapor as an ideal gas.
    """
    inside = np.asarray(inside_c, dtype=np.float64)
    vapor_gas_constant_jkgk = DRY_AIR_GAS_CONSTANT_JKGK / WATER_TO_AIR_MASS_RATIO
    # A flow of nothing, or next to nothing, adds without bound; the ceiling below takes care of it.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        added_gm3 = np.asarray(water_gph, dtype=np.float64) / np.asarray(ventilation_m3h)
        added_pa = added_gm3 / 1000.0 * vapor_gas_constant_jkgk * (inside + ZERO_CELSIUS_K)
    balance_pa = np.asarray(outside_vapor_pressure_pa, dtype=np.float64) + added_pa
    return dew_point_from_vapor_pressure_c(
        np.minimum(balance_pa, saturation_vapor_pressure_pa(inside))
    )
