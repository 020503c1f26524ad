"""Pressure of the gas in a tire when its temperature or the air around it changes.

A tire is taken as a fixed volume of ideal gas, so the *absolute* pressure follows the *absolute*
temperature (Gay-Lussac); the stretch of a hot carcass, which lowers a hot pressure a little, is
left out. Gauge pressures are in kPa above `ambient_kpa`, the pressure of the surrounding air;
temperatures are those of the gas, °C. Arguments broadcast; NaN stays NaN.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from trackday.physics.constants import ZERO_CELSIUS_K
from trackday.physics.moist_air import saturation_vapor_pressure_pa

Array = npt.NDArray[np.float64]


def pressure_at(
    gauge_kpa: npt.ArrayLike,
    *,
    from_c: npt.ArrayLike,
    to_c: npt.ArrayLike,
    ambient_kpa: npt.ArrayLike,
    ambient_after_kpa: npt.ArrayLike | None = None,
) -> Array:
    """Return the gauge pressure, kPa, of dry gas taken from `from_c` to `to_c`.

    `ambient_after_kpa` is the surrounding pressure afterwards, when it is not `ambient_kpa`.
    """
    absolute_kpa = _floats(gauge_kpa) + _floats(ambient_kpa)
    return absolute_kpa * _heating(from_c, to_c) - _afterwards(ambient_kpa, ambient_after_kpa)


def cold_pressure_kpa(
    hot_gauge_kpa: npt.ArrayLike,
    *,
    hot_c: npt.ArrayLike,
    cold_c: npt.ArrayLike,
    ambient_kpa: npt.ArrayLike,
) -> Array:
    """Return the gauge pressure, kPa, to set at `cold_c` for `hot_gauge_kpa` at `hot_c`."""
    return pressure_at(hot_gauge_kpa, from_c=hot_c, to_c=cold_c, ambient_kpa=ambient_kpa)


def gas_temp_c(
    hot_gauge_kpa: npt.ArrayLike,
    *,
    cold_gauge_kpa: npt.ArrayLike,
    cold_c: npt.ArrayLike,
    ambient_kpa: npt.ArrayLike,
) -> Array:
    """Return the temperature, °C, of dry gas that was set cold and now shows `hot_gauge_kpa`."""
    ambient = _floats(ambient_kpa)
    ratio = (_floats(hot_gauge_kpa) + ambient) / (_floats(cold_gauge_kpa) + ambient)
    return ratio * (_floats(cold_c) + ZERO_CELSIUS_K) - ZERO_CELSIUS_K


def gauge_at_other_elevation(
    gauge_kpa: npt.ArrayLike, *, ambient_kpa: npt.ArrayLike, ambient_after_kpa: npt.ArrayLike
) -> Array:
    """Return what a sealed tire reads, kPa, where the surrounding pressure is `ambient_after_kpa`.

    Same gas, same temperature: only the reference of the gauge has moved.
    """
    return _floats(gauge_kpa) + _floats(ambient_kpa) - _floats(ambient_after_kpa)


def moist_pressure_at(
    gauge_kpa: npt.ArrayLike,
    *,
    from_c: npt.ArrayLike,
    to_c: npt.ArrayLike,
    ambient_kpa: npt.ArrayLike,
    ambient_after_kpa: npt.ArrayLike | None = None,
) -> Array:
    """Return the gauge pressure, kPa, with liquid water in the tire at both temperatures.

    An upper bound on what moisture can do when warming: the vapor is saturated throughout, on top
    of the dry gas. Vapor that never condenses behaves as gas, and `pressure_at` holds for it. NaN
    outside −60…120 °C.
    """
    vapor_before_kpa = saturation_vapor_pressure_pa(from_c) / 1000.0
    vapor_after_kpa = saturation_vapor_pressure_pa(to_c) / 1000.0
    dry_kpa = _floats(gauge_kpa) + _floats(ambient_kpa) - vapor_before_kpa
    absolute_kpa = dry_kpa * _heating(from_c, to_c) + vapor_after_kpa
    return absolute_kpa - _afterwards(ambient_kpa, ambient_after_kpa)


def _heating(from_c: npt.ArrayLike, to_c: npt.ArrayLike) -> Array:
    """Return the ratio of the absolute temperatures, after over before."""
    return (_floats(to_c) + ZERO_CELSIUS_K) / (_floats(from_c) + ZERO_CELSIUS_K)


def _afterwards(ambient_kpa: npt.ArrayLike, ambient_after_kpa: npt.ArrayLike | None) -> Array:
    """Return the surrounding pressure afterwards, kPa; unchanged when none is given."""
    return _floats(ambient_kpa if ambient_after_kpa is None else ambient_after_kpa)


def _floats(values: npt.ArrayLike) -> Array:
    return np.asarray(values, dtype=np.float64)
