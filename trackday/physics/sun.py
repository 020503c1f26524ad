"""Where the sun stands, when it rises and sets, and how far it is from a driver's line of sight."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from pvlib.atmosphere import alt2pres
from pvlib.solarposition import spa_python
from scipy.interpolate import CubicSpline

Array = npt.NDArray[np.float64]

SUNRISE_ELEVATION_DEG: Final = -0.8333
"""Geometric elevation of the sun's center at sunrise and sunset, degrees: 34′ of refraction and
16′ of radius (USNO and NREL/TP-560-34302 definition, zenith 90.8333°)."""

CIVIL_ELEVATION_DEG: Final = -6.0
"""Geometric elevation at civil dawn and dusk, degrees (USNO definition, zenith 96°)."""

NAUTICAL_ELEVATION_DEG: Final = -12.0
"""Geometric elevation at nautical dawn and dusk, degrees (USNO definition, zenith 102°)."""

_SECONDS_A_DAY: Final = 86_400.0

_PARALLAX_DEG: Final = 8.794 / 3600.0
"""Horizontal parallax of the sun at its mean distance, degrees (IAU; used in NREL/TP-560-34302).
The definitions above mean the sun as seen from the center of the Earth; pvlib's elevation is that
from the ground, lower by the parallax, which would make every day two seconds too short."""

# The sine of the elevation is very nearly one sinusoid a day, so a cubic spline through points
# 15 minutes apart is off by no more than about 1e-7: a few hundredths of a second at sunrise in
# middle latitudes.
_PATH_STEP_S: Final = 900.0


_DELTA_T_S: Final = 69.0
"""Terrestrial minus universal time, s (IERS, the 2020s). Ten seconds more or less move the sun by
0.0001° and sunrise by 0.03 s, which does not pay for pvlib's polynomial at every time."""


@dataclass(frozen=True)
class SunDay:
    """The sun's times around the noon of one local calendar day, all UTC.

    Dawns and sunrise are the last before `noon`, sunset and dusks the first after it, each at most
    12 h away (so a midsummer sunset shortly after midnight still belongs to its own day); None
    where the sun does not cross that elevation. `highest_deg` and `lowest_deg` are the extremes of
    the geometric elevation in the 24 h around noon, degrees.
    """

    noon: datetime
    sunrise: datetime | None
    sunset: datetime | None
    civil_dawn: datetime | None
    civil_dusk: datetime | None
    nautical_dawn: datetime | None
    nautical_dusk: datetime | None
    highest_deg: float
    lowest_deg: float

    @property
    def always_up(self) -> bool:
        """Whether the sun stays up for the whole day (polar day)."""
        return self.lowest_deg > SUNRISE_ELEVATION_DEG

    @property
    def always_down(self) -> bool:
        """Whether the sun stays down for the whole day (polar night)."""
        return self.highest_deg < SUNRISE_ELEVATION_DEG


def sun_position(
    times: pd.DatetimeIndex, *, latitude: float, longitude: float, elevation_m: float = 0.0
) -> pd.DataFrame:
    """Return the sun's position at each of `times` (T,), by the NREL algorithm in pvlib.

    Columns, in degrees, on the index `times`: `elevation_deg` (geometric),
    `apparent_elevation_deg` (with refraction in standard pressure for `elevation_m` and 12 °C) and
    `azimuth_deg` (clockwise from north). `latitude` north and `longitude` east positive, degrees.

    Raises ValueError when `times` has no time zone.
    Source: Reda & Andreas 2004, NREL/TP-560-34302.
    """
    path = _spa(times, latitude=latitude, longitude=longitude, elevation_m=elevation_m)
    return pd.DataFrame(
        {
            "elevation_deg": path["elevation"],
            "apparent_elevation_deg": path["apparent_elevation"],
            "azimuth_deg": path["azimuth"],
        }
    )


def sun_day(day: date, *, latitude: float, longitude: float, zone: tzinfo) -> SunDay:
    """Return sunrise, noon, sunset and the twilights of the local calendar `day` in `zone`.

    `noon` is the sun's upper transit nearest the middle of that calendar day. The horizon is flat
    and at the observer's height. Times agree with NREL's table A2.1 within 1 s.
    """
    middle = _middle_of_day(day, zone)
    start = middle - timedelta(days=1)
    seconds = np.arange(0.0, 2.0 * _SECONDS_A_DAY + 1.0, _PATH_STEP_S)
    times = pd.DatetimeIndex(pd.Timestamp(start) + pd.to_timedelta(seconds, unit="s"))
    path = _spa(times, latitude=latitude, longitude=longitude)

    noon_s = _noon_s(times, seconds, path["equation_of_time"].to_numpy(), longitude)
    sine = CubicSpline(seconds, np.sin(np.radians(path["elevation"].to_numpy())))
    lowest_deg, highest_deg = _extremes_deg(sine, noon_s)

    def moment(offset_s: float | None) -> datetime | None:
        return None if offset_s is None else start + timedelta(seconds=offset_s)

    sunrise, sunset = map(moment, _crossings_s(sine, noon_s, SUNRISE_ELEVATION_DEG))
    civil_dawn, civil_dusk = map(moment, _crossings_s(sine, noon_s, CIVIL_ELEVATION_DEG))
    nautical_dawn, nautical_dusk = map(moment, _crossings_s(sine, noon_s, NAUTICAL_ELEVATION_DEG))
    return SunDay(
        noon=start + timedelta(seconds=noon_s),
        sunrise=sunrise,
        sunset=sunset,
        civil_dawn=civil_dawn,
        civil_dusk=civil_dusk,
        nautical_dawn=nautical_dawn,
        nautical_dusk=nautical_dusk,
        highest_deg=highest_deg,
        lowest_deg=lowest_deg,
    )


def glare_angle_deg(
    sun_azimuth_deg: npt.ArrayLike, sun_elevation_deg: npt.ArrayLike, heading_deg: npt.ArrayLike
) -> Array:
    """Return the angle between the sun and a level line of sight along `heading_deg`, degrees.

    Arguments broadcast; 0 is straight into the sun, 180 straight away from it; NaN stays NaN.
    Whether the sun is up at all is the caller's question. Source: spherical geometry.
    """
    elevation = np.radians(np.asarray(sun_elevation_deg, dtype=np.float64))
    bearing = np.radians(
        np.asarray(sun_azimuth_deg, dtype=np.float64) - np.asarray(heading_deg, dtype=np.float64)
    )
    cosine = np.cos(elevation) * np.cos(bearing)
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _spa(
    times: pd.DatetimeIndex, *, latitude: float, longitude: float, elevation_m: float = 0.0
) -> pd.DataFrame:
    """Call pvlib's SPA; refuse times without a zone, which it would read as UTC."""
    if times.tz is None:
        raise ValueError("times must have a time zone")
    path: pd.DataFrame = spa_python(
        times,
        latitude,
        longitude,
        altitude=elevation_m,
        pressure=alt2pres(elevation_m),
        delta_t=_DELTA_T_S,
    )
    return path


def _middle_of_day(day: date, zone: tzinfo) -> datetime:
    """Return the middle between a local midnight and the next, UTC (days of 23 and 25 h too)."""
    midnight = datetime.combine(day, time.min, zone).astimezone(UTC)
    following = datetime.combine(day + timedelta(days=1), time.min, zone).astimezone(UTC)
    return midnight + (following - midnight) / 2


def _noon_s(
    times: pd.DatetimeIndex, seconds: Array, equation_of_time_min: Array, longitude: float
) -> float:
    """Return the upper transit nearest the middle of `times`, seconds after the first of them.

    Apparent solar time runs almost evenly, so interpolating it linearly is exact to milliseconds;
    the elevation itself has no sharp maximum to find in the tropics and none at all at the poles.
    """
    first = times[0]
    utc_s = first.hour * 3600.0 + first.minute * 60.0 + first.second + seconds
    apparent_s = utc_s + 240.0 * longitude + 60.0 * equation_of_time_min
    half = 0.5 * _SECONDS_A_DAY
    days = np.round((apparent_s[len(apparent_s) // 2] - half) / _SECONDS_A_DAY)
    return float(np.interp(half + days * _SECONDS_A_DAY, apparent_s, seconds))


def _crossings_s(
    sine: CubicSpline, noon_s: float, elevation_deg: float
) -> tuple[float | None, float | None]:
    """Return the last rise before and the first fall after noon through an elevation, seconds."""
    seen_deg = elevation_deg - _PARALLAX_DEG * np.cos(np.radians(elevation_deg))
    roots = np.asarray(sine.solve(float(np.sin(np.radians(seen_deg))), extrapolate=False))
    rising = sine(roots, 1) > 0.0
    half = 0.5 * _SECONDS_A_DAY
    rises = roots[rising & (roots <= noon_s) & (roots > noon_s - half)]
    falls = roots[~rising & (roots >= noon_s) & (roots < noon_s + half)]
    return (
        float(rises.max()) if rises.size else None,
        float(falls.min()) if falls.size else None,
    )


def _extremes_deg(sine: CubicSpline, noon_s: float) -> tuple[float, float]:
    """Return the lowest and highest elevation within 12 h of noon, degrees."""
    start, end = noon_s - 0.5 * _SECONDS_A_DAY, noon_s + 0.5 * _SECONDS_A_DAY
    turns = np.asarray(sine.derivative().roots(extrapolate=False))
    moments = np.concatenate([[start, end], turns[(turns > start) & (turns < end)]])
    elevations = np.degrees(np.arcsin(np.clip(sine(moments), -1.0, 1.0)))
    return float(elevations.min()), float(elevations.max())
