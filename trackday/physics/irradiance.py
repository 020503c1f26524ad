"""Sunshine on the ground: clear sky, under cloud, and split into beam and diffuse."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from pvlib.clearsky import haurwitz
from pvlib.irradiance import erbs_driesse

from trackday.physics.sun import sun_position

Array = npt.NDArray[np.float64]

_CLOUD_FACTOR: Final = 0.75
_CLOUD_EXPONENT: Final = 3.4
"""Kasten & Czeplak, Solar Energy 24 (1980), both dimensionless, values from memory."""

_CELL_MINUTES: Final = 5.0
"""Longest cell of the grid an interval is averaged over, minutes: the sun moves 1.25° in it, which
leaves the mean of an hour exact to a fraction of a W/m²."""


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


def split_ghi(
    ghi_wm2: npt.ArrayLike, elevation_deg: npt.ArrayLike, times: pd.DatetimeIndex
) -> tuple[Array, Array]:
    """Return the beam on a level surface and the diffuse part of `ghi_wm2`, both W/m².

    `ghi_wm2` is (T,) or (M, T); `elevation_deg` is the sun's elevation, (T,) or the same shape,
    and should be that of `interval_elevation_deg` where `ghi_wm2` is a mean over intervals.
    Beam and diffuse are never negative and add up to `ghi_wm2`, whose negative readings (night
    offsets of pyranometers) count as zero. With the sun under 3° all of it is diffuse. NaN in
    either argument gives NaN in both parts.
    Source: Erbs, Klein & Duffie 1982 in Driesse's continuous form, by pvlib.
    """
    ghi, elevation = np.broadcast_arrays(
        np.maximum(np.asarray(ghi_wm2, dtype=np.float64), 0.0),
        np.asarray(elevation_deg, dtype=np.float64),
    )
    day_of_year = times.day_of_year.to_numpy().astype(np.float64)
    parts = erbs_driesse(ghi, 90.0 - elevation, datetime_or_doy=day_of_year)
    diffuse = np.clip(parts["dhi"], 0.0, ghi)
    return ghi - diffuse, diffuse


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
    apparent = _elevation_within(
        times, step_hours, "apparent_elevation_deg", latitude, longitude, elevation_m
    )
    return np.asarray(clear_sky_ghi_wm2(apparent).mean(axis=1))


def interval_elevation_deg(
    times: pd.DatetimeIndex,
    *,
    step_hours: float,
    latitude: float,
    longitude: float,
    elevation_m: float = 0.0,
) -> Array:
    """Return the one sun elevation that stands for the `step_hours` ending at each time, (T,).

    Its sine is the mean of the sine of the geometric elevation with night counted as zero, so a
    plane facing up gets the same sunshine above the air as over the interval; never below 0°.
    Raises ValueError when `step_hours` is not positive or `times` has no time zone.
    """
    elevation = _elevation_within(
        times, step_hours, "elevation_deg", latitude, longitude, elevation_m
    )
    sine = np.maximum(np.sin(np.radians(elevation)), 0.0)
    return np.asarray(np.degrees(np.arcsin(sine.mean(axis=1))))


def _elevation_within(
    times: pd.DatetimeIndex,
    step_hours: float,
    column: str,
    latitude: float,
    longitude: float,
    elevation_m: float,
) -> Array:
    """Return a `column` of `sun_position` in the middle of equal cells of each interval, (T, N)."""
    if not step_hours > 0.0:
        raise ValueError("step_hours must be positive")
    if times.tz is None:
        raise ValueError("times must have a time zone")
    count = int(np.ceil(step_hours * 60.0 / _CELL_MINUTES))
    cell_ns = step_hours * 3.6e12 / count
    before_ns = ((np.arange(count) + 0.5 - count) * cell_ns).astype(np.int64)
    stamps_ns = times.as_unit("ns").asi8[:, np.newaxis] + before_ns
    cells = pd.DatetimeIndex(pd.to_datetime(stamps_ns.ravel(), utc=True))
    sun = sun_position(cells, latitude=latitude, longitude=longitude, elevation_m=elevation_m)
    return np.asarray(sun[column].to_numpy().reshape(stamps_ns.shape))
