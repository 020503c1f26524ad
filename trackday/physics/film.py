"""Water on the track: how much of it is covered, how it runs off, how cars throw it away."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

DRAIN_MM_H: Final = 10.0
"""Runoff of a film of 1 mm, mm/h; it goes with the cube of the film, as laminar flow down a slope
does (Falk & Niemczynowicz 1978, in the form urban water-balance models use for paved ground)."""

TRAFFIC_MINUTES: Final = 20.0
"""Time in which cars on track throw or press away 63 % of the film above `TRAFFIC_FLOOR_MM`, over
the width of the track, minutes (assumption: a drying line shows within a quarter of an hour)."""

TRAFFIC_FLOOR_MM: Final = 0.05
"""Film that tires do not remove because it sits in the texture, mm (assumption)."""

TRAFFIC_WIND_MS: Final = 1.5
"""Wind that cars stir up at 2 m, m/s, averaged over a session (assumption)."""

MAGNUS_PA: Final = 611.2
MAGNUS_SLOPE: Final = 17.62
MAGNUS_C: Final = 243.12
"""Magnus form of the saturation pressure over water (WMO no. 8, annex 4.B): Pa, –, °C."""


def saturation_pa(temp_c: npt.ArrayLike) -> Array:
    """Return the saturation vapor pressure over water, Pa; NaN stays NaN."""
    temp = np.asarray(temp_c, dtype=np.float64)
    return np.asarray(MAGNUS_PA * np.exp(MAGNUS_SLOPE * temp / (MAGNUS_C + temp)))


def saturation_slope_pak(temp_c: Array, pressure_pa: Array) -> Array:
    """Return the slope of `saturation_pa` at `temp_c`, Pa/K, given its value there."""
    return np.asarray(pressure_pa * (MAGNUS_SLOPE * MAGNUS_C) / (MAGNUS_C + temp_c) ** 2)


def wet_share(film_mm: npt.ArrayLike, *, texture_mm: float) -> Array:
    """Return the share of the surface under water, 0…1: (film/texture)^⅔, 1 from the texture on.

    NaN stays NaN. Source: Deardorff, J. Geophys. Res. 83, 1978.
    """
    filled = np.asarray(film_mm, dtype=np.float64) / texture_mm
    return np.asarray(np.clip(filled, 0.0, 1.0) ** (2.0 / 3.0))


def mean_wet_share(film_mm: Array, demand_mm: Array, *, texture_mm: float) -> Array:
    """Return the mean share of the surface under water while evaporation works on a film, 0…1.

    The share is that of `wet_share`. `demand_mm` is what would evaporate from a wet surface
    meanwhile; zero or less leaves the film as it is. Exact: above the texture the film shrinks
    evenly, below it its cube root does.
    """
    # This runs at every step of every plan, so that it works in place where it can.
    covered = film_mm / texture_mm
    np.minimum(covered, 1.0, out=covered)
    demand = np.maximum(demand_mm, 1e-9)
    evenly = covered * texture_mm
    np.subtract(film_mm, evenly, out=evenly)
    np.minimum(demand, evenly, out=evenly)
    shrunk = demand - evenly
    shrunk /= 3.0 * texture_mm
    end = np.cbrt(covered)
    end -= shrunk
    np.maximum(end, 0.0, out=end)
    cube = end * end
    cube *= end
    covered -= cube
    covered *= texture_mm
    covered += evenly
    covered /= demand
    return covered


def drained_mm(film_mm: Array, *, hours: float) -> Array:
    """Return what is left of a film after it ran off for `hours`: the exact solution."""
    slowed = film_mm * film_mm
    slowed *= 2.0 * DRAIN_MM_H * hours
    slowed += 1.0
    np.sqrt(slowed, out=slowed)
    np.divide(film_mm, slowed, out=slowed)
    return slowed


def after_traffic_mm(film_mm: Array, *, hours: float) -> Array:
    """Return what is left of a film after cars ran for `hours`. Assumption, see the constants."""
    loose = np.maximum(film_mm - TRAFFIC_FLOOR_MM, 0.0)
    return np.asarray(film_mm - loose * -np.expm1(-60.0 * hours / TRAFFIC_MINUTES))
