"""The course of one day, hour by hour: what a picture of it shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

import numpy as np
import pandas as pd

from trackday.outlook.rain_window import WET_MM
from trackday.outlook.skies import Sky
from trackday.outlook.spread import spread, weighted_mean
from trackday.outlook.surface import TrackRuns
from trackday.physics.pavement_error import widen
from trackday.weather.series import Array, at_times
from trackday.weekend.garage import FilmLimits

FIRST_HOUR, LAST_HOUR = 5, 22
"""Hours of the venue's clock that are shown at least (assumption: a racer's day)."""

STEP = timedelta(minutes=30)
"""Distance of the moments that temperatures are shown for."""


@dataclass(frozen=True)
class Fan:
    """The middle 80 % of the members at each of N moments (p10, p50, p90), NaN where unknown."""

    p10: Array
    p50: Array
    p90: Array


@dataclass(frozen=True)
class DayCourse:
    """One day at the venue.

    `moments` (N) are for the fans of air and track and for `wet_track`, the share of members whose
    film is at least wet. `hours` (H, 2) are the beginnings and ends of the weather's steps, for
    `rain_chance` (at least 0.1 mm in the step), `rain_mm` and `gust_ms`; `wind_ms` is read at their
    ends. Chances are NaN where no member knows. Times are UTC.
    """

    day: date
    start: datetime
    end: datetime
    moments: tuple[datetime, ...]
    air_temp_c: Fan
    track_temp_c: Fan
    wet_track: Array
    hours: tuple[tuple[datetime, datetime], ...]
    rain_chance: Array
    rain_mm: Fan
    wind_ms: Fan
    gust_ms: Fan


def day_course(
    day: date,
    sky: Sky,
    *,
    zone: tzinfo,
    busy: Sequence[tuple[datetime, datetime]],
    limits: FilmLimits,
) -> DayCourse:
    """Read one local day off a sky; `busy` are the sessions, which are shown whole."""
    start, end = shown_hours(day, zone=zone, busy=busy)
    moments = pd.date_range(start, end, freq=STEP)
    run, weather = sky.track.open_air, sky.weather
    films = at_times(run.film_mm, run.times, moments)
    steps = weather.touching(start, end)
    ends = weather.times[steps]
    length = timedelta(hours=weather.step_hours)
    rain = weather.rain_mm[:, steps]
    return DayCourse(
        day=day,
        start=start,
        end=end,
        moments=tuple(moments.to_pydatetime()),
        air_temp_c=fan(weather.at("air_temp_c", moments), weather.weights),
        track_temp_c=_track_fan(sky.track, moments, weather.weights),
        wet_track=_shares(films, limits.wet_mm, weather.weights),
        hours=tuple((stamp - length, stamp) for stamp in ends.to_pydatetime()),
        rain_chance=_shares(rain, WET_MM, weather.weights),
        rain_mm=fan(rain, weather.weights),
        wind_ms=fan(weather.wind_ms[:, steps], weather.weights),
        gust_ms=fan(weather.gust_ms[:, steps], weather.weights),
    )


def shown_hours(
    day: date, *, zone: tzinfo, busy: Sequence[tuple[datetime, datetime]]
) -> tuple[datetime, datetime]:
    """Give the part of a local day to show (UTC): 5 to 22 o'clock, or more for its sessions."""
    start = datetime.combine(day, time(FIRST_HOUR), zone).astimezone(UTC)
    end = datetime.combine(day, time(LAST_HOUR), zone).astimezone(UTC)
    first = min([start, *(begin.astimezone(UTC) - timedelta(hours=1) for begin, _ in busy)])
    last = max([end, *(over.astimezone(UTC) + timedelta(hours=1) for _, over in busy)])
    return first, last


def fan(values: Array, weights: Array) -> Fan:
    """Summarize members (M, N) at each of N moments."""
    each = [spread(column, weights) for column in values.T]
    return Fan(*(np.array([getattr(s, name) for s in each]) for name in ("p10", "p50", "p90")))


def _track_fan(track: TrackRuns, moments: pd.DatetimeIndex, weights: Array) -> Fan:
    """Summarize the track's temperature, the surface model's own error included."""
    run = track.open_air
    temps, errors = (
        at_times(rows, run.times, moments) for rows in (run.surface_temp_c, track.error_c)
    )
    each = [widen(column, weights, error) for column, error in zip(temps.T, errors.T, strict=True)]
    return Fan(*np.array(each).reshape(-1, 3).T)


def _shares(values: Array, least: float, weights: Array) -> Array:
    """Weighted share (N,) of the members (M, N) that know, with at least `least`."""
    reached = np.where(np.isfinite(values), (values >= least).astype(float), np.nan)
    return np.array([weighted_mean(column, weights) for column in reached.T])
