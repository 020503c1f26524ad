"""Lightning from the energy of the air and the rain that falls through it."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

FLASHES_PER_J: Final = 1.3e-11
"""Flashes to the ground per joule that the rain's fall through the air's CAPE stands for, 1/J
(Romps et al. 2014, Science 346, 851–854, over the United States; value from memory)."""

_SECONDS_AN_HOUR: Final = 3600.0


def flash_density(cape_jkg: npt.ArrayLike, rain_mmh: npt.ArrayLike) -> Array:
    """Return the flashes to the ground per square meter and second, 1/(m²·s).

    Proportional to CAPE (J/kg) times rain (mm/h, which is kg/m² an hour). It is a mean over storms:
    the single one has more or none. Arguments broadcast; NaN in either gives NaN, also where the
    other is zero. Negative values count as zero. Source: Romps et al. 2014.
    """
    cape = np.maximum(np.asarray(cape_jkg, dtype=np.float64), 0.0)
    rain_kgm2s = np.maximum(np.asarray(rain_mmh, dtype=np.float64), 0.0) / _SECONDS_AN_HOUR
    return np.asarray(FLASHES_PER_J * cape * rain_kgm2s)


def expected_flashes(
    cape_jkg: npt.ArrayLike,
    rain_mmh: npt.ArrayLike,
    *,
    hours: npt.ArrayLike,
    radius_m: float,
) -> Array:
    """Return how many flashes to the ground to expect within `radius_m` in `hours`."""
    area_m2 = np.pi * radius_m**2
    seconds = np.asarray(hours, dtype=np.float64) * _SECONDS_AN_HOUR
    return np.asarray(flash_density(cape_jkg, rain_mmh) * area_m2 * seconds)


def chance_of_any(flashes: npt.ArrayLike) -> Array:
    """Return the chance of at least one flash where so many are expected; NaN stays NaN.

    Flashes are taken as independent of each other. They come in bursts, so the true chance is
    lower: the error is on the careful side.
    """
    return np.asarray(-np.expm1(-np.asarray(flashes, dtype=np.float64)))
