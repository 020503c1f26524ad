"""Uplift of the wind on an open canopy, and the ballast that holds it down.

Vertical balance only: uplift against the weight of frame and ballast. A canopy slides or tips over
at a lower wind than it lifts off (`canopy_stability`); the strength of legs and straps is left out.
Always compare with the gust, not with the mean wind. Arguments broadcast; NaN stays NaN: an unknown
gust is never a calm one.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from trackday.physics.constants import STANDARD_GRAVITY_MS2

Array = npt.NDArray[np.float64]

VELOCITY_PRESSURE_FACTOR: Final = 0.613
"""Velocity pressure over the square of the speed, Pa/(m/s)²: half the density of standard air
(ASCE 7; the same as 0.00256 psf/mph²)."""

BALLAST_SAFETY_FACTOR: Final = 1.5
"""Partial factor on the wind against loss of balance, – (EN 1990, table A1.2(A), value from
memory)."""

_PITCH_DEG: Final = (5.0, 10.0, 15.0, 20.0, 25.0, 30.0)
_EMPTY_COEFFICIENT: Final = (0.6, 0.7, 0.8, 0.9, 1.0, 1.0)
"""Net uplift coefficient of a duopitch canopy with nothing under it, – (EN 1991-1-4, table 7.7,
minimum overall force coefficient at φ = 0, values from memory)."""

_BLOCKED_COEFFICIENT: Final = 1.3
"""The same blocked to the downwind eaves (φ = 1), for all these pitches, – (EN 1991-1-4, table
7.7, value from memory)."""


def velocity_pressure_pa(speed_ms: npt.ArrayLike) -> Array:
    """Return the pressure of air at `speed_ms` brought to rest, Pa, in standard air."""
    return np.asarray(VELOCITY_PRESSURE_FACTOR * np.asarray(speed_ms, dtype=np.float64) ** 2)


def uplift_coefficient(pitch_deg: npt.ArrayLike, *, blockage: npt.ArrayLike) -> Array:
    """Return the net uplift coefficient of an open pitched canopy, – (positive lifts).

    `blockage` is the share of the section under the roof that cars, boxes or side walls close: 0
    empty, 1 closed to the downwind eaves. Linear in the blockage between the two, as EN 1991-1-4
    §7.3 allows; the pitch is held at the ends of 5…30°.
    Raises ValueError for a blockage outside 0…1.
    """
    blocked = np.asarray(blockage, dtype=np.float64)
    if np.any((blocked < 0.0) | (blocked > 1.0)):
        raise ValueError("blockage must lie within 0 and 1")
    empty = np.interp(np.asarray(pitch_deg, dtype=np.float64), _PITCH_DEG, _EMPTY_COEFFICIENT)
    return np.asarray(empty + blocked * (_BLOCKED_COEFFICIENT - empty))


def uplift_n(gust_ms: npt.ArrayLike, *, area_m2: float, coefficient: npt.ArrayLike) -> Array:
    """Return the lift on a roof of `area_m2` (in plan), N.

    `coefficient` is the net one of top and underside together, as `uplift_coefficient` gives it.
    """
    return np.asarray(
        velocity_pressure_pa(gust_ms) * np.asarray(coefficient, dtype=np.float64) * area_m2
    )


def ballast_per_leg_kg(
    gust_ms: npt.ArrayLike,
    *,
    area_m2: float,
    coefficient: npt.ArrayLike,
    frame_kg: float,
    legs: int,
    safety_factor: float = BALLAST_SAFETY_FACTOR,
) -> Array:
    """Return the ballast each leg needs so that the canopy stays down in `gust_ms`, kg; never < 0.

    `safety_factor` multiplies the uplift. Raises ValueError when there are no legs.
    """
    if legs < 1:
        raise ValueError("legs must be at least 1")
    lift_n = uplift_n(gust_ms, area_m2=area_m2, coefficient=coefficient)
    needed_kg = safety_factor * lift_n / STANDARD_GRAVITY_MS2 - frame_kg
    return np.asarray(np.maximum(needed_kg, 0.0) / legs)


def lift_off_gust_ms(
    *,
    area_m2: float,
    coefficient: npt.ArrayLike,
    frame_kg: npt.ArrayLike,
    ballast_total_kg: npt.ArrayLike,
) -> Array:
    """Return the gust whose uplift equals the weight of frame and ballast, m/s, no safety factor.

    Raises ValueError when `area_m2` or `coefficient` is not positive.
    """
    lifting_m2 = np.asarray(coefficient, dtype=np.float64) * area_m2
    if np.any(lifting_m2 <= 0.0):
        raise ValueError("area_m2 and coefficient must be positive")
    mass_kg = np.asarray(frame_kg, dtype=np.float64) + np.asarray(ballast_total_kg)
    weight_n = mass_kg * STANDARD_GRAVITY_MS2
    return np.asarray(np.sqrt(weight_n / (VELOCITY_PRESSURE_FACTOR * lifting_m2)))
