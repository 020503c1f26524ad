"""Sunshine on the ground: under a clear sky, under cloud, and as the mean of an interval."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from pvlib.clearsky import haurwitz
from pvlib.solarposition import declination_spencer71, equation_of_time_spencer71

from trackday.physics.sun import sun_position

Array = npt.NDArray[np.float64]

_CLOUD_FACTOR: Final = 0.75
_CLOUD_EXPONENT: Final = 3.4
"""Kasten & Czeplak, Solar Energy 24 (1980), both dimensionless, values from memory."""

_CELL_MINUTES: Final = 5.0
"""Longest cell of the grid an interval is averaged over, minutes: the sun moves 1.25° in it, which
leaves the mean of an hour exact to a fraction of a W/m²."""

_SURELY_NIGHT_DEG: Final = -4.0
"""Elevation of the sun by a short series, degrees, below which it is night for certain: the series
errs by less than 1°, refraction lifts the sun by 0.6° (assumption with room to spare)."""

_DAY_NS: Final = 86_400_000_000_000


def clear_sky_ghi_wm2(apparent_elevation_deg: npt.ArrayLike) -> Array:
    """Return the global horizontal irradiance of a clear sky, W/m², by Haurwitz in pvlib.

    Any shape; zero with the sun below the horizon; NaN stays NaN.
    Source: Haurwitz 1945 and 1946, as reviewed in Sandia SAND2012-2389.
    """
    elevation = np.asarray(apparent_elevation_deg, dtype=np.float64)
    zenith = pd.Series(90.0 - elevation.ravel())
    clear = haurwitz(zenith)["ghi"].to_numpy().reshape(elevation.shape)
    # pvlib answers zero for an unknown sun, which would read as night.
    return np.where(np.isnan(elevation), np.nan, clear)


def cloudy_ghi_wm2(clear_wm2: npt.ArrayLike, cloud_fraction: npt.ArrayLike) -> Array:
    """Return the irradiance under total cloud of `cloud_fraction` (0…1), W/m².

    Arguments broadcast; NaN in either gives NaN. Raises ValueError for a fraction outside 0…1 (a
    percentage, most likely). Source: Kasten & Czeplak, Solar Energy 24 (1980).
    """
    cloud = np.asarray(cloud_fraction, dtype=np.float64)
    if np.any((cloud < 0.0) | (cloud > 1.0)):
        raise ValueError("cloud_fraction must lie within 0 and 1")
    clear = np.asarray(clear_wm2, dtype=np.float64)
    return np.asarray(clear * (1.0 - _CLOUD_FACTOR * cloud**_CLOUD_EXPONENT))


def mean_clear_ghi_wm2(
    times: pd.DatetimeIndex,
    *,
    step_hours: float,
    latitude: float,
    longitude: float,
    elevation_m: float = 0.0,
) -> Array:
    """Return the mean clear-sky irradiance over the `step_hours` that end at each time, (T,) W/m².

    Raises ValueError when `step_hours` is not positive or `times` has no time zone.
    """
    if not step_hours > 0.0:
        raise ValueError("step_hours must be positive")
    if times.tz is None:
        raise ValueError("times must have a time zone")
    cells = _cell_middles(times, step_hours)
    mean = np.zeros(len(cells))
    day = _may_be_day(cells, latitude=latitude, longitude=longitude)
    if not day.any():
        return mean
    sun = sun_position(
        pd.DatetimeIndex(pd.to_datetime(cells[day].ravel(), utc=True)),
        latitude=latitude,
        longitude=longitude,
        elevation_m=elevation_m,
    )
    apparent = sun["apparent_elevation_deg"].to_numpy().reshape(-1, cells.shape[1])
    mean[day] = clear_sky_ghi_wm2(apparent).mean(axis=1)
    return mean


def _may_be_day(
    cells: npt.NDArray[np.int64], *, latitude: float, longitude: float
) -> npt.NDArray[np.bool_]:
    """Say in which intervals, rows of `cells` in ns since 1970, the sun may come up at all, (T,).

    The sun's place is that of Spencer's series, good to a degree: enough to leave out the nights
    of many years, whose exact sun takes time and tells nothing.
    """
    index = pd.DatetimeIndex(pd.to_datetime(cells.ravel(), utc=True))
    day = index.day_of_year.to_numpy().astype(np.float64)
    declination = declination_spencer71(day)
    hours = (cells.ravel() % _DAY_NS) / 3.6e12 + equation_of_time_spencer71(day) / 60.0
    angle = np.radians(15.0 * (hours - 12.0) + longitude)
    place = np.radians(latitude)
    sine = np.sin(place) * np.sin(declination) + np.cos(place) * np.cos(declination) * np.cos(angle)
    above = sine > np.sin(np.radians(_SURELY_NIGHT_DEG))
    return np.asarray(above.reshape(cells.shape).any(axis=1))


def _cell_middles(times: pd.DatetimeIndex, step_hours: float) -> npt.NDArray[np.int64]:
    """Return the middles (T, N) of equal cells of the interval before each time, ns since 1970."""
    count = int(np.ceil(step_hours * 60.0 / _CELL_MINUTES))
    cell_ns = step_hours * 3.6e12 / count
    before_ns = ((np.arange(count) + 0.5 - count) * cell_ns).astype(np.int64)
    return np.asarray(times.as_unit("ns").asi8[:, np.newaxis] + before_ns)
