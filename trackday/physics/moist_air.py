"""Moist air: vapor pressure, dew point, density and the standard atmosphere.

Saturation is that of PsychroLib (ASHRAE Fundamentals 2017, ch. 1, eq. 5 and 6): over ice up to
0.01 °C and over liquid water above, so a dew point below freezing is a frost point. All functions
take numbers or arrays that broadcast, return float arrays of the broadcast shape, and give NaN
where an argument is NaN or the result is outside their stated range.
"""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt
import psychrolib

from trackday.physics.constants import (
    DRY_AIR_GAS_CONSTANT_JKGK,
    STANDARD_GRAVITY_MS2,
    STANDARD_PRESSURE_PA,
    WATER_TO_AIR_MASS_RATIO,
    ZERO_CELSIUS_K,
)

Array = npt.NDArray[np.float64]

# PsychroLib's unit system is a global of that library; nothing else in trackday uses it.
psychrolib.SetUnitSystem(psychrolib.SI)

_COLDEST_C: Final = -60.0
_HOTTEST_C: Final = 120.0
_TRIPLE_POINT_C: Final = 0.01
_TABLE_STEP_C: Final = 0.1
"""Ends, break and step of the table of the saturation pressure, °C (the first two and the step are
assumptions: wider than weather and tires, and fine enough for 1e-5)."""

_STANDARD_TEMP_K: Final = 288.15
"""Sea-level temperature of the standard atmosphere, K (ISO 2533)."""

LAPSE_RATE_K_PER_M: Final = 0.0065
"""Temperature lapse of the standard troposphere, K/m (ISO 2533)."""

_STANDARD_GAS_CONSTANT_JKGK: Final = 287.05287
"""Gas constant of dry air in the definition of the standard atmosphere, J/(kg·K) (ISO 2533)."""

_PRESSURE_EXPONENT: Final = STANDARD_GRAVITY_MS2 / (
    _STANDARD_GAS_CONSTANT_JKGK * LAPSE_RATE_K_PER_M
)
"""Exponent of pressure in temperature in the standard troposphere, – (ISO 2533)."""

_STANDARD_DENSITY_KGM3: Final = STANDARD_PRESSURE_PA / (
    _STANDARD_GAS_CONSTANT_JKGK * _STANDARD_TEMP_K
)


def saturation_vapor_pressure_pa(temp_c: npt.ArrayLike) -> Array:
    """Return the vapor pressure of saturated air, Pa, for −60…120 °C; NaN outside.

    Interpolated in the logarithm between PsychroLib's values 0.1 °C apart: within 1e-5 of them.
    """
    temps, logs = _saturation_table()
    log = np.interp(np.asarray(temp_c, dtype=np.float64), temps, logs, left=np.nan, right=np.nan)
    return np.asarray(np.exp(log))


def dew_point_from_vapor_pressure_c(vapor_pressure_pa: npt.ArrayLike) -> Array:
    """Return the temperature at which `vapor_pressure_pa` saturates the air, °C.

    NaN outside −60…120 °C, and so for perfectly dry air, which has no dew point.
    """
    temps, logs = _saturation_table()
    with np.errstate(divide="ignore", invalid="ignore"):
        log = np.log(np.asarray(vapor_pressure_pa, dtype=np.float64))
    return np.asarray(np.interp(log, logs, temps, left=np.nan, right=np.nan))


def dew_point_c(temp_c: npt.ArrayLike, relative_humidity: npt.ArrayLike) -> Array:
    """Return the dew point, °C, of air at `temp_c` with `relative_humidity` as a fraction.

    Raises ValueError when a humidity is negative or above 1.2 (a percentage, most likely);
    readings a little above 1 are taken as they are.
    """
    humidity = np.asarray(relative_humidity, dtype=np.float64)
    if np.any((humidity < 0.0) | (humidity > 1.2)):
        raise ValueError("relative_humidity must be a fraction of 1, not a percentage")
    return dew_point_from_vapor_pressure_c(humidity * saturation_vapor_pressure_pa(temp_c))


def relative_humidity(temp_c: npt.ArrayLike, dew_point_c: npt.ArrayLike) -> Array:
    """Return the relative humidity as a fraction; above 1 where the dew point is the higher."""
    return saturation_vapor_pressure_pa(dew_point_c) / saturation_vapor_pressure_pa(temp_c)


def density_kgm3(
    temp_c: npt.ArrayLike, dew_point_c: npt.ArrayLike, pressure_pa: npt.ArrayLike
) -> Array:
    """Return the density of moist air (dry air and vapor together), kg/m³.

    `pressure_pa` is the pressure on the spot. Source: ideal gases, ASHRAE Fundamentals 2017, ch. 1.
    """
    vapor = saturation_vapor_pressure_pa(dew_point_c)
    pressure = np.asarray(pressure_pa, dtype=np.float64)
    kelvin = np.asarray(temp_c, dtype=np.float64) + ZERO_CELSIUS_K
    weighted = pressure - (1.0 - WATER_TO_AIR_MASS_RATIO) * vapor
    return np.asarray(weighted / (DRY_AIR_GAS_CONSTANT_JKGK * kelvin))


def standard_temp_c(elevation_m: npt.ArrayLike) -> Array:
    """Return the temperature of the standard atmosphere, °C, below 11 km (ISO 2533)."""
    elevation = np.asarray(elevation_m, dtype=np.float64)
    return np.asarray(_STANDARD_TEMP_K - LAPSE_RATE_K_PER_M * elevation - ZERO_CELSIUS_K)


def standard_pressure_pa(elevation_m: npt.ArrayLike) -> Array:
    """Return the pressure of the standard atmosphere, Pa, below 11 km (ISO 2533).

    The elevation is taken as geopotential, as ASHRAE does: 20 Pa from the geometric at 4000 m.
    """
    ratio = (standard_temp_c(elevation_m) + ZERO_CELSIUS_K) / _STANDARD_TEMP_K
    return np.asarray(STANDARD_PRESSURE_PA * ratio**_PRESSURE_EXPONENT)


def station_pressure_pa(
    sea_level_pa: npt.ArrayLike, elevation_m: npt.ArrayLike, temp_c: npt.ArrayLike
) -> Array:
    """Return the pressure on the spot from the pressure reduced to sea level, Pa.

    The column below has the mean temperature of `temp_c` (at the spot) and the standard lapse.
    An altimeter setting (QNH) is reduced through the standard atmosphere instead and is not this.
    Source: hypsometric equation, as in PsychroLib's GetStationPressure.
    """
    elevation = np.asarray(elevation_m, dtype=np.float64)
    column_k = (
        np.asarray(temp_c, dtype=np.float64) + ZERO_CELSIUS_K + 0.5 * LAPSE_RATE_K_PER_M * elevation
    )
    scale_height_m = DRY_AIR_GAS_CONSTANT_JKGK * column_k / STANDARD_GRAVITY_MS2
    return np.asarray(
        np.asarray(sea_level_pa, dtype=np.float64) * np.exp(-elevation / scale_height_m)
    )


def density_altitude_m(
    temp_c: npt.ArrayLike, dew_point_c: npt.ArrayLike, pressure_pa: npt.ArrayLike
) -> Array:
    """Return the height at which the standard atmosphere is as thin as this air, m, below 11 km.

    The exact inversion of the standard density by the density of the moist air; `pressure_pa` is
    the pressure on the spot. Source: ISO 2533.
    """
    ratio = density_kgm3(temp_c, dew_point_c, pressure_pa) / _STANDARD_DENSITY_KGM3
    temp_ratio = ratio ** (1.0 / (_PRESSURE_EXPONENT - 1.0))
    return np.asarray(_STANDARD_TEMP_K / LAPSE_RATE_K_PER_M * (1.0 - temp_ratio))


@cache
def _saturation_table() -> tuple[Array, Array]:
    """Return temperatures, °C, and the logarithm of PsychroLib's saturation pressure, Pa.

    The triple point is one of the knots, for the slope breaks there from ice to water.
    """
    count = round((_HOTTEST_C - _COLDEST_C) / _TABLE_STEP_C) + 1
    temps = np.union1d(np.linspace(_COLDEST_C, _HOTTEST_C, count), [_TRIPLE_POINT_C])
    logs = np.log([psychrolib.GetSatVapPres(float(temp)) for temp in temps])
    temps.flags.writeable = False
    logs.flags.writeable = False
    return temps, np.asarray(logs)
