"""Where the moon stands and how much of it is lit: enough to know whether it helps after dark.

A short series, good to about 0.3° of the moon's place: rise and set are right within a few
minutes in middle latitudes, the lit share within 0.01.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np
import pandas as pd

from trackday.physics.sun import Array

_EARTH_RADIUS_KM: Final = 6378.14
_ASTRONOMICAL_UNIT_KM: Final = 149_597_870.7
"""Equatorial radius of the Earth (value from memory) and the astronomical unit (IAU 2012), km."""

_JULIAN_CENTURY_DAYS: Final = 36_525.0
_EPOCH: Final = pd.Timestamp("2000-01-01T12:00", tz="UTC")
"""J2000.0; the minute between UTC and dynamical time moves the moon by 0.01°, which is dropped."""

_LONGITUDE_TERMS: Final = (
    (6.29, 135.0, 477_198.87),
    (-1.27, 259.3, -413_335.36),
    (0.66, 235.7, 890_534.22),
    (0.21, 269.9, 954_397.74),
    (-0.19, 357.5, 35_999.05),
    (-0.11, 186.5, 966_404.03),
)
_LATITUDE_TERMS: Final = (
    (5.13, 93.3, 483_202.02),
    (0.28, 228.2, 960_400.89),
    (-0.28, 318.3, 6_003.15),
    (-0.17, 217.6, -407_332.21),
)
_PARALLAX_TERMS: Final = (
    (0.0518, 135.0, 477_198.87),
    (0.0095, 259.3, -413_335.36),
    (0.0078, 235.7, 890_534.22),
    (0.0028, 269.9, 954_397.74),
)
"""Amplitude, phase, degrees, and rate, degrees a Julian century, of the moon's ecliptic longitude
and latitude (sines) and parallax (cosines): the low-precision series of the Astronomical Almanac,
values from memory."""

_RISING_PARALLAX_SHARE: Final = 0.7275
_RISING_REFRACTION_DEG: Final = 34.0 / 60.0
"""The moon's upper limb is on the horizon where its center, seen from the Earth's, is 0.7275 of the
parallax less 34′ high (Meeus, Astronomical Algorithms, ch. 15, values from memory)."""

_STEP: Final = timedelta(minutes=5)
"""The moon's height is almost straight over five minutes: its crossings are exact to seconds."""


@dataclass(frozen=True)
class MoonWatch:
    """The moon over a stretch of time.

    `lit_share` (0…1) is the lit part of the disk in the middle of it, `up` each stretch, UTC, in
    which the moon's upper limb is above a flat horizon; empty where it stays down.
    """

    lit_share: float
    up: tuple[tuple[datetime, datetime], ...]


def moon_position(times: pd.DatetimeIndex, *, latitude: float, longitude: float) -> pd.DataFrame:
    """Return the moon at each of `times` (T,), which need a time zone, on the same index.

    Columns: `above_rising_deg`, how far the moon stands above the height at which it rises and
    sets, degrees; `lit_share`, 0…1. `latitude` north and `longitude` east positive, degrees.
    Raises ValueError when `times` has no time zone.
    Source: Astronomical Almanac (place), Meeus, Astronomical Algorithms, ch. 48 (lit share).
    """
    if times.tz is None:
        raise ValueError("times must have a time zone")
    days = np.asarray((times - _EPOCH) / pd.Timedelta(days=1), dtype=np.float64)
    centuries = days / _JULIAN_CENTURY_DAYS
    ecliptic_longitude, ecliptic_latitude, parallax = moon_ecliptic_deg(centuries)
    altitude = _altitude_deg(
        ecliptic_longitude, ecliptic_latitude, days, latitude=latitude, longitude=longitude
    )
    rising = _RISING_PARALLAX_SHARE * parallax - _RISING_REFRACTION_DEG
    lit = _lit_share(ecliptic_longitude, ecliptic_latitude, parallax, centuries)
    return pd.DataFrame({"above_rising_deg": altitude - rising, "lit_share": lit}, index=times)


def moon_between(start: datetime, end: datetime, *, latitude: float, longitude: float) -> MoonWatch:
    """Return how bright the moon is from `start` to `end` and when it is up.

    Raises ValueError when the times have no zone or `end` is not after `start`.
    """
    if start.tzinfo is None or end.tzinfo is None or not end > start:
        raise ValueError("start and end need a time zone, and end comes after start")
    count = int(np.ceil((end - start) / _STEP)) + 1
    times = pd.date_range(start.astimezone(UTC), end.astimezone(UTC), periods=max(count, 3))
    moon = moon_position(times, latitude=latitude, longitude=longitude)
    lit = moon["lit_share"].to_numpy()
    return MoonWatch(
        lit_share=float(lit[len(lit) // 2]),
        up=_stretches_above(times, moon["above_rising_deg"].to_numpy()),
    )


def moon_ecliptic_deg(centuries: Array) -> tuple[Array, Array, Array]:
    """Return ecliptic longitude, latitude and horizontal parallax, degrees, for (T,) centuries.

    Julian centuries since J2000.0. Good to 0.3°, 0.2° and 0.003°.
    """
    longitude = 218.32 + 481_267.881 * centuries + _series(_LONGITUDE_TERMS, centuries, np.sin)
    latitude = _series(_LATITUDE_TERMS, centuries, np.sin)
    parallax = 0.9508 + _series(_PARALLAX_TERMS, centuries, np.cos)
    return longitude % 360.0, latitude, parallax


def _series(
    terms: tuple[tuple[float, float, float], ...], centuries: Array, wave: np.ufunc
) -> Array:
    total = np.zeros_like(centuries)
    for amplitude, phase, rate in terms:
        total += amplitude * wave(np.radians(phase + rate * centuries))
    return total


def _altitude_deg(
    ecliptic_longitude: Array,
    ecliptic_latitude: Array,
    days: Array,
    *,
    latitude: float,
    longitude: float,
) -> Array:
    """Return the geocentric altitude, degrees, by turning ecliptic into horizontal coordinates."""
    tilt = np.radians(23.439 - 3.6e-7 * days)
    lon, lat = np.radians(ecliptic_longitude), np.radians(ecliptic_latitude)
    x = np.cos(lat) * np.cos(lon)
    y = np.cos(tilt) * np.cos(lat) * np.sin(lon) - np.sin(tilt) * np.sin(lat)
    z = np.sin(tilt) * np.cos(lat) * np.sin(lon) + np.cos(tilt) * np.sin(lat)
    # Greenwich mean sidereal time (Meeus, ch. 12, values from memory).
    sidereal = np.radians(280.46062 + 360.98564737 * days + longitude)
    hour_angle = sidereal - np.arctan2(y, x)
    here = np.radians(latitude)
    sine = np.sin(here) * z + np.cos(here) * np.hypot(x, y) * np.cos(hour_angle)
    return np.asarray(np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))))


def _lit_share(
    ecliptic_longitude: Array, ecliptic_latitude: Array, parallax: Array, centuries: Array
) -> Array:
    """Return the lit part of the disk, 0…1 (Meeus, ch. 48; the sun's place by Almanac series)."""
    anomaly = np.radians(357.528 + 35_999.05 * centuries)
    sun = 280.460 + 36_000.77 * centuries + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly)
    sun_km = _ASTRONOMICAL_UNIT_KM * (1.00014 - 0.01671 * np.cos(anomaly))
    moon_km = _EARTH_RADIUS_KM / np.sin(np.radians(parallax))
    apart = np.arccos(
        np.cos(np.radians(ecliptic_latitude)) * np.cos(np.radians(ecliptic_longitude - sun))
    )
    phase_angle = np.arctan2(sun_km * np.sin(apart), moon_km - sun_km * np.cos(apart))
    return np.asarray((1.0 + np.cos(phase_angle)) / 2.0)


def _stretches_above(
    times: pd.DatetimeIndex, height: Array
) -> tuple[tuple[datetime, datetime], ...]:
    """Return the stretches in which a height is positive, its zeros interpolated."""
    above = height > 0.0
    turns: list[int] = np.flatnonzero(above[1:] != above[:-1]).tolist()
    edges = [_zero_between(times, height, turn) for turn in turns]
    if above[0]:
        edges.insert(0, times[0].to_pydatetime())
    if above[-1]:
        edges.append(times[-1].to_pydatetime())
    return tuple(zip(edges[::2], edges[1::2], strict=True))


def _zero_between(times: pd.DatetimeIndex, height: Array, turn: int) -> datetime:
    """Return when a height that changes sign after step `turn` is zero."""
    share = float(height[turn] / (height[turn] - height[turn + 1]))
    zero: datetime = (times[turn] + share * (times[turn + 1] - times[turn])).to_pydatetime()
    return zero
