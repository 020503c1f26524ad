"""What a weekend was like in other years: counts and ranges over real hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

import numpy as np
import pandas as pd
from requests_cache import CachedSession

from trackday.errors import NoWeatherError
from trackday.outlook.air import AirOutlook, air_outlook
from trackday.outlook.rain import WET_MM
from trackday.outlook.spread import Spread, share_range, spread
from trackday.outlook.surface import run_surface, venue_site
from trackday.physics.pavement import PavementRun
from trackday.physics.sun import SunDay, sun_day
from trackday.plan import weather_window
from trackday.settings import Settings
from trackday.weather.climatology import WINDOW_DAYS, stretches, year_days, years_before
from trackday.weather.failures import SourceError
from trackday.weather.history_source import History, get_history
from trackday.weather.series import Array, Weather, at_times, epoch_seconds
from trackday.weekend.sessions import Session
from trackday.weekend.target import Target
from trackday.weekend.venue import Venue

ASSUMED_PERSISTENCE: Final = 0.3
"""Correlation of one day's rain with the next where the days at hand are all wet or all dry and
cannot tell (assumption: daily rain in middle latitudes has .2 to .4)."""

_ROUNDING_MM: Final = 1e-6
"""Slack for sums of tenths of a millimeter."""


@dataclass(frozen=True)
class PastRain:
    """How often it rained in a session's window, and how much when it did.

    Of `asked` days of other years, `known` have every touched hour; `wet` of those brought at least
    0.1 mm. `low` and `high` are Wilson's range of `share` for the `effective` number of independent
    days, since days that follow each other are alike. All shares are NaN where nothing is known.
    """

    wet: int
    known: int
    asked: int
    share: float
    low: float
    high: float
    effective: float
    amount_when_wet_mm: Spread


@dataclass(frozen=True)
class PastSession:
    """One session's hours in other years, seen over all the days that are known."""

    session: Session
    rain: PastRain
    track_temp_c: Spread
    air: AirOutlook


@dataclass(frozen=True)
class PastDay:
    """The light of one day of the event, which is the same in every year."""

    day: date
    sun: SunDay


@dataclass(frozen=True)
class Past:
    """Everything that the reports show; none of them computes.

    `days_each_year` is the number of days around each date that count.
    """

    name: str | None
    venue: Venue
    sessions: tuple[PastSession, ...]
    days: tuple[PastDay, ...]
    years: tuple[int, ...]
    window_days: int
    history: History

    @property
    def days_each_year(self) -> int:
        """Days of each year that stand for the event's date."""
        return 2 * self.window_days + 1


def look_back(
    target: Target,
    *,
    years: int,
    settings: Settings,
    session: CachedSession,
    as_of: datetime,
    offline: bool,
) -> Past:
    """Get the last `years` years before a target's dates, and count.

    Raises NoWeatherError where neither a station nor the reanalysis has anything.
    """
    first_day, last_day = weather_window(target.sessions)
    which = years_before(first_day, last_day, as_of=as_of, count=years)
    try:
        history = get_history(
            target.venue,
            first_day=first_day,
            last_day=last_day,
            years=which,
            settings=settings,
            session=session,
            as_of=as_of,
            offline=offline,
        )
    except SourceError as error:
        mend = "run it once without --offline" if offline else "try again"
        raise NoWeatherError(
            f"no other year could be had: {error.reason}; {mend} where there is a signal"
        ) from error
    return make_past(
        target.sessions, venue=target.venue, history=history, years=which, name=target.name
    )


def make_past(
    sessions: Sequence[Session],
    *,
    venue: Venue,
    history: History,
    years: Sequence[int],
    window_days: int = WINDOW_DAYS,
    name: str | None = None,
) -> Past:
    """Count what other years brought at the hours of some sessions at a venue.

    `history` holds the hours of `weather_window(sessions)` in `years`, `window_days` around.
    """
    first_day, last_day = weather_window(sessions)
    weather = year_days(
        history.weather,
        first_day=first_day,
        last_day=last_day,
        zone=venue.zone,
        years=years,
        window_days=window_days,
    )
    pavement = _run_track(weather, venue, sessions)
    each_year = len(stretches(years[:1], window_days=window_days))
    return Past(
        name=name,
        venue=venue,
        sessions=tuple(
            PastSession(
                session=session,
                rain=past_rain(
                    window_sums(weather, start=session.start, end=session.end), each_year=each_year
                ),
                track_temp_c=_track_temp(pavement, session),
                air=air_outlook(weather, start=session.start, end=session.end),
            )
            for session in sessions
        ),
        days=_days(sessions, venue),
        years=tuple(years),
        window_days=window_days,
        history=history,
    )


def window_sums(weather: Weather, *, start: datetime, end: datetime) -> Array:
    """Rain per member (M,) over every whole hour that a window touches, mm; NaN if one is missing.

    An hour that only touches the window counts in full: an hourly sum does not tell when in the
    hour it fell.
    """
    ends, step = epoch_seconds(weather.times), 3600.0
    touched = (ends > start.timestamp()) & (ends < end.timestamp() + step)
    wanted = np.ceil(end.timestamp() / step) - np.floor(start.timestamp() / step)
    if touched.sum() < wanted:
        return np.full(len(weather.members), np.nan)
    sums: Array = weather.rain_mm[:, touched].sum(axis=1)
    return sums


def past_rain(sums_mm: Array, *, each_year: int) -> PastRain:
    """Count wet days among sums (M,), NaN unknown, `each_year` days in a row for every year."""
    known = np.isfinite(sums_mm)
    wet = known & (sums_mm >= WET_MM - _ROUNDING_MM)
    count = int(known.sum())
    amounts = spread(sums_mm[wet], np.ones(int(wet.sum())))
    if count == 0:
        return PastRain(0, 0, len(sums_mm), np.nan, np.nan, np.nan, 0.0, amounts)
    share = float(wet.sum()) / count
    flags = np.where(known, wet.astype(np.float64), np.nan).reshape(-1, each_year)
    effective = effective_days(flags)
    low, high = share_range(share, effective)
    return PastRain(int(wet.sum()), count, len(sums_mm), share, low, high, effective, amounts)


def effective_days(flags: Array) -> float:
    """Independent days that are worth as much as the known ones of `flags` (year, day), 0/1 or NaN.

    n·(1 − r)/(1 + r), with r the correlation of neighboring days of a year, not taken as negative.
    Source: Wilks, Statistical Methods in the Atmospheric Sciences, ch. 5 (from memory).
    """
    count = float(np.isfinite(flags).sum())
    before, after = flags[:, :-1].ravel(), flags[:, 1:].ravel()
    pairs = np.isfinite(before) & np.isfinite(after)
    persistence = ASSUMED_PERSISTENCE
    mean = float(np.nanmean(flags)) if count else np.nan
    if pairs.any() and 0.0 < mean < 1.0:
        product = float(np.mean((before[pairs] - mean) * (after[pairs] - mean)))
        persistence = float(np.clip(product / (mean * (1.0 - mean)), 0.0, 0.95))
    return max(1.0, count * (1.0 - persistence) / (1.0 + persistence))


def _run_track(weather: Weather, venue: Venue, sessions: Sequence[Session]) -> PavementRun:
    """Run the surface model over every stretch up to the last session, spin-up included."""
    weather = weather.between(weather.times[0], sessions[-1].end + timedelta(hours=1))
    traffic = [(session.start, session.end) for session in sessions]
    return run_surface(weather, venue, venue_site(venue), traffic)


def _track_temp(pavement: PavementRun, session: Session) -> Spread:
    """Mean track temperature of a session, °C, over other years' days."""
    minutes = pd.date_range(session.start, session.end, freq="5min")
    means: Array = at_times(pavement.surface_temp_c, pavement.times, minutes).mean(axis=1)
    return spread(means, np.ones(len(means)))


def _days(sessions: Sequence[Session], venue: Venue) -> tuple[PastDay, ...]:
    days = sorted({session.start.astimezone(venue.zone).date() for session in sessions})
    return tuple(
        PastDay(
            day,
            sun_day(day, latitude=venue.latitude, longitude=venue.longitude, zone=venue.zone),
        )
        for day in days
    )
