"""How much of the sunshine comes straight from the sun and how much from the rest of the sky."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from pvlib.irradiance import get_extra_radiation

Array = npt.NDArray[np.float64]

CONSTANT: Final = -5.38
BY_CLEARNESS: Final = 6.63
BY_SOLAR_HOUR: Final = 0.006
BY_ELEVATION: Final = -0.007
BY_DAY: Final = 1.75
BY_NEIGHBORS: Final = 1.31
"""Weights of Ridley, Boland & Lauret, Renewable Energy 35 (2010) 478–482, fitted there on hourly
values of stations in both hemispheres: –, –, 1/h, 1/degree, –, –."""

LOWEST_DEG: Final = 3.0
"""Elevation of the sun, degrees, under which all of its light counts as diffuse (common
practice)."""


def extraterrestrial_wm2(elevation_deg: Array, times: pd.DatetimeIndex) -> Array:
    """Return the sunshine on a level surface above the air, W/m², by the earth's orbit (pvlib)."""
    normal = get_extra_radiation(times.day_of_year.to_numpy().astype(np.float64))
    return np.asarray(normal * np.maximum(np.sin(np.radians(elevation_deg)), 0.0))


def split_sunshine(
    ghi_wm2: Array,
    *,
    above_wm2: Array,
    elevation_deg: Array,
    solar_hours: Array,
    steps_an_hour: int,
) -> tuple[Array, Array]:
    """Return the beam on a level surface and the diffuse part of `ghi_wm2`, (M, S) W/m² each.

    `ghi_wm2` (M, S) in even steps, zero or more; `above_wm2` (S,) what it would be above the air;
    `elevation_deg` (S,) of the sun; `solar_hours` (S,) rising hours of mean solar time, a multiple
    of 24 at midnight. Beam and diffuse are never negative and add up to `ghi_wm2`.

    The diffuse share falls with the clearness (sunshine over that above the air) of the moment, of
    the hours before and after (at dawn and dusk of the one that has sun), and of the day: broken
    cloud lets more light come from all around than a clear morning of the same sunshine.
    Source: Ridley, Boland & Lauret 2010, with mean in place of apparent solar time.
    """
    up = elevation_deg >= LOWEST_DEG
    if not up.any():
        return np.zeros_like(ghi_wm2), ghi_wm2.copy()
    clearness = np.where(up, np.minimum(ghi_wm2 / np.where(up, above_wm2, 1.0), 1.0), np.nan)
    power = (
        CONSTANT
        + BY_CLEARNESS * clearness
        + BY_SOLAR_HOUR * (solar_hours % 24.0)
        + BY_ELEVATION * elevation_deg
        + BY_DAY * _of_the_day(ghi_wm2 * up, above_wm2 * up, solar_hours)
        + BY_NEIGHBORS * _of_neighbors(clearness, steps_an_hour)
    )
    diffuse = ghi_wm2 * np.where(up, 1.0 / (1.0 + np.exp(np.where(up, power, 0.0))), 1.0)
    return ghi_wm2 - diffuse, diffuse


def _of_neighbors(clearness: Array, steps_an_hour: int) -> Array:
    """Return the mean clearness (M, S) an hour before and after; NaN is night and is left out."""
    apart = min(steps_an_hour, clearness.shape[1])
    night = np.full((len(clearness), apart), np.nan)
    before = np.concatenate([night, clearness[:, :-apart]], axis=1)
    after = np.concatenate([clearness[:, apart:], night], axis=1)
    before, after = (
        np.where(np.isnan(before), after, before),
        np.where(np.isnan(after), before, after),
    )
    mean = (before + after) / 2.0
    return np.where(np.isnan(mean), clearness, mean)


def _of_the_day(ghi_wm2: Array, above_wm2: Array, solar_hours: Array) -> Array:
    """Return the clearness of the solar day that each step belongs to, (M, S), 0…1."""
    day = np.floor(solar_hours / 24.0).astype(np.int64)
    first = np.flatnonzero(np.diff(day, prepend=day[0] - 1))
    above = np.add.reduceat(above_wm2, first)
    clearness = np.add.reduceat(ghi_wm2, first, axis=1) / np.where(above > 0.0, above, 1.0)
    return np.asarray(np.minimum(clearness, 1.0)[:, day - day[0]])
