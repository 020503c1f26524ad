"""How far the pavement model may be off, and ranges of temperature that say so.

The spread of a forecast's members tells how the weather may turn out. It says nothing of what the
model makes of the weather, which is the smaller part at night and the larger one on a clear day.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

Array = npt.NDArray[np.float64]

STILL_ERROR_C: Final = 0.68
"""Standard deviation of the model's error without sun on a dry surface, °C."""

SUN_ERROR_C: Final = 1.47
"""Further standard deviation, °C, at 1000 W/m² of sunshine; it grows with the sunshine."""

WET_CUT: Final = 0.39
"""Part of the error that a wet surface does not have, –: evaporation ties it to the air.

All three are fitted by this project on July to December 2010 of the measured street, with observed
weather, by the interval score of p10 to p90 (`tests/benchmarks/pavement_error.py`)."""

SURFACE_STILL_ERROR_C: Final = 0.9
SURFACE_SUN_ERROR_C: Final = 1.2
"""Standard deviation, °C, without sun and at 1000 W/m², from not knowing the surface (assumption).

It is what the model itself makes of the ranges that the literature leaves for one name: albedo .10
to .20, conductivity .8 to 2.2 W/(m·K), heat capacity 1.94 to 2.10 MJ/(m³·K), emissivity .92 to .95,
and .7 to 1 of the wind (`tests/benchmarks/pavement_surfaces.py`). Shade that nobody entered and
fresh sealing come on top."""

FULL_SUN_WM2: Final = 1000.0
"""Sunshine at which the two terms of the sun are stated, W/m²."""

RANGE_LEVELS: Final = (0.1, 0.5, 0.9)
"""Percentiles of a range, as shares: four of five cases lie between the first and the last."""

ROOT_TOLERANCE_C: Final = 1e-6
"""How closely a percentile is found, °C."""


def model_error_c(
    sun_wm2: npt.ArrayLike, wet_share: npt.ArrayLike, *, surface_known: bool = False
) -> Array:
    """Return the standard deviation, °C, of the model's error in given weather.

    `sun_wm2` is the mean sunshine of the hour on open level land and `wet_share` (0…1) that of
    `film.wet_share`; they broadcast. An unknown wet share counts as dry, which has the larger
    error; an unknown sun stays unknown. `surface_known` leaves out what belongs to the choice of a
    surface by name: albedo and layers are those of the place. What the weather itself gets wrong is
    not in it. ValueError for a share outside 0…1.
    """
    sun = np.maximum(np.asarray(sun_wm2, dtype=np.float64), 0.0) / FULL_SUN_WM2
    share = np.asarray(wet_share, dtype=np.float64)
    if np.any((share < 0.0) | (share > 1.0)):
        raise ValueError("wet_share must lie within 0 and 1")
    variance = STILL_ERROR_C**2 + (SUN_ERROR_C * sun) ** 2
    if not surface_known:
        variance = variance + SURFACE_STILL_ERROR_C**2 + (SURFACE_SUN_ERROR_C * sun) ** 2
    return np.asarray(np.sqrt(variance) * (1.0 - WET_CUT * np.nan_to_num(share, nan=0.0)))


def widen(
    temps_c: npt.ArrayLike,
    weights: npt.ArrayLike,
    sd_c: npt.ArrayLike,
    *,
    levels: Sequence[float] = RANGE_LEVELS,
) -> tuple[float, ...]:
    """Return the percentiles, °C, of members that are each off by a normal error.

    `temps_c` and `weights` (M,), NaN for a member that does not know; `sd_c` the error's standard
    deviation, one or (M,), above zero. The distribution is the weighted mixture of the members'
    normal distributions; its percentiles are the roots of its own distribution function, found by
    Brent's method. NaN where no member with weight knows. ValueError for errors or weights that
    cannot be.
    """
    temps, weight, sd = np.broadcast_arrays(
        np.asarray(temps_c, dtype=np.float64),
        np.asarray(weights, dtype=np.float64),
        np.asarray(sd_c, dtype=np.float64),
    )
    if np.any(weight < 0.0):
        raise ValueError("weights must not be negative")
    if np.any(sd <= 0.0):
        raise ValueError("sd_c must be above zero")
    known = np.isfinite(temps) & np.isfinite(sd) & (weight > 0.0)
    if not known.any():
        return tuple(float("nan") for _ in levels)
    share = weight[known] / weight[known].sum()
    return tuple(_percentile_c(temps[known], share, sd[known], level) for level in levels)


def _percentile_c(temps_c: Array, share: Array, sd_c: Array, level: float) -> float:
    """Return one percentile of the mixture; the members' own percentiles enclose it."""
    own = temps_c + sd_c * ndtri(level)
    low, high = float(own.min()) - ROOT_TOLERANCE_C, float(own.max()) + ROOT_TOLERANCE_C

    def beyond(temp_c: float) -> float:
        return float(share @ ndtr((temp_c - temps_c) / sd_c)) - level

    return float(brentq(beyond, low, high, xtol=ROOT_TOLERANCE_C))
