"""A venue's calibration of rain, learned on demand from earlier forecasts and its station."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final

from requests_cache import CachedSession

from trackday.errors import NoWeatherError, TrackdayError
from trackday.scoring.station_record import station_record
from trackday.scoring.training import Training, training
from trackday.settings import Settings
from trackday.verification.calibration import (
    MIN_EACH,
    MIN_PAIRS,
    Calibration,
    Pairs,
    fit_calibration,
    is_enough,
)
from trackday.weather.failures import SourceError
from trackday.weather.history_source import History
from trackday.weather.http import forget
from trackday.weather.open_meteo import ATTRIBUTION
from trackday.weather.open_meteo_previous import FIRST_DAY, get_previous_runs, parse_previous_runs
from trackday.weather.series import Weather
from trackday.weather.sources import RainBasis
from trackday.weekend.venue import Venue

BASIS: Final[RainBasis] = "single forecast"
"""What is learned: the provider keeps the past of its forecast, not of its ensembles' members.
It does not fit an ensemble, whose members have told of their doubt already: it would be told twice
(`tests/benchmarks/score_windows.py`)."""

LEAD_DAYS: Final = 1
"""Days ahead of the forecasts that are learned from, unless told otherwise (assumption: the day
before is when rain tires are loaded)."""

DAYS_BACK: Final = 730
"""Days that are learned from unless told otherwise: two of each season (assumption)."""


@dataclass(frozen=True)
class Fit:
    """What was tried for a venue, and what came of it.

    `pairs` half hours were known, `events` of them with rain, `drawn` of them by the odds within a
    wet hour. `calibration` is None where it would not help, and `why` says so in a sentence. Dates
    are None without a pair. `station` measured what came, `station_km` away. `latitude` and
    `longitude` are those of the venue at the time.
    """

    venue: str
    latitude: float
    longitude: float
    basis: RainBasis
    lead_days: int
    pairs: int
    events: int
    drawn: int
    first_day: date | None
    last_day: date | None
    calibration: Calibration | None
    why: str
    station: str
    station_km: float | None
    made_at: datetime
    notes: tuple[str, ...]
    attribution: tuple[str, ...]


def fit_venue(
    venue: Venue,
    *,
    settings: Settings,
    session: CachedSession,
    as_of: datetime,
    offline: bool,
    lead_days: int = LEAD_DAYS,
    since: date | None = None,
) -> Fit:
    """Learn how a venue's single forecasts of rain are to be read, from `since` to yesterday.

    Raises NoWeatherError where earlier forecasts or the station's hours cannot be had, and
    TrackdayError for a `since` that leaves no day.
    """
    last = as_of.astimezone(UTC).date() - timedelta(days=1)
    first = max(since or last - timedelta(days=DAYS_BACK), FIRST_DAY)
    if first > last:
        raise TrackdayError(
            f"--since: no day from {first} on is over and has kept forecasts; name an earlier one"
        )
    try:
        record = station_record(
            venue, first_day=first, last_day=last, settings=settings, as_of=as_of, offline=offline
        )
        forecasts, notes = _earlier_forecasts(
            venue, first, last, settings=settings, session=session, offline=offline, lead=lead_days
        )
    except SourceError as error:
        mend = "run it once without --offline" if offline else "try again"
        raise NoWeatherError(
            f"nothing to learn from: {error.reason}; {mend} where there is a signal"
        ) from error
    learned = training(forecasts, record.weather, zone=venue.zone)
    return make_fit(
        venue, learned, record, lead_days=lead_days, as_of=as_of, notes=(*notes, *record.notes)
    )


def make_fit(
    venue: Venue,
    learned: Training,
    record: History,
    *,
    lead_days: int,
    as_of: datetime,
    notes: tuple[str, ...] = (),
) -> Fit:
    """Fit the pairs, and say why not where nothing comes of it."""
    pairs = learned.pairs
    calibration = fit_calibration(pairs)
    events = int(pairs.observed.sum())
    station = record.station
    return Fit(
        venue=venue.name,
        latitude=venue.latitude,
        longitude=venue.longitude,
        basis=BASIS,
        lead_days=lead_days,
        pairs=len(pairs.days),
        events=events,
        drawn=learned.drawn,
        first_day=min(pairs.days, default=None),
        last_day=max(pairs.days, default=None),
        calibration=calibration,
        why="" if calibration is not None else _why_not(pairs),
        station="unnamed" if station is None else f"{station.name} ({station.id})",
        station_km=None if station is None else station.distance_km,
        made_at=as_of,
        notes=notes,
        attribution=(ATTRIBUTION, record.attribution),
    )


def _earlier_forecasts(
    venue: Venue,
    first: date,
    last: date,
    *,
    settings: Settings,
    session: CachedSession,
    offline: bool,
    lead: int,
) -> tuple[list[Weather], tuple[str, ...]]:
    """Ask year by year, the newest first, until one fails; gives them the oldest first.

    Raises SourceError where the newest fails.
    """
    newest_first: list[Weather] = []
    notes: tuple[str, ...] = ()
    for start, end in reversed(list(_years(first, last))):
        try:
            year = _forecast(
                venue, start, end, settings=settings, session=session, offline=offline, lead=lead
            )
        except SourceError as error:
            if not newest_first:
                raise
            notes = (f"forecasts up to {end} not had: {error.reason}",)
            break
        newest_first.append(year)
    return newest_first[::-1], notes


def _forecast(
    venue: Venue,
    first: date,
    last: date,
    *,
    settings: Settings,
    session: CachedSession,
    offline: bool,
    lead: int,
) -> Weather:
    reply = get_previous_runs(
        session, settings, venue, first_day=first, last_day=last, leads=(lead,), offline=offline
    )
    try:
        weathers = parse_previous_runs(reply.data)
    except SourceError:
        forget(session, reply)
        raise
    if lead not in weathers:
        raise SourceError(f"no forecast {lead} days ahead is kept for this place")
    return weathers[lead]


def _years(first: date, last: date) -> Iterator[tuple[date, date]]:
    """Split a span at the turns of the years, so that a whole year is asked for once."""
    for year in range(first.year, last.year + 1):
        yield max(first, date(year, 1, 1)), min(last, date(year, 12, 31))


def _why_not(pairs: Pairs) -> str:
    """Say in a sentence why nothing was learned."""
    count, events = len(pairs.days), int(pairs.observed.sum())
    if count < MIN_PAIRS:
        return f"{count} half hours are too few: it takes {MIN_PAIRS}"
    if min(events, count - events) < MIN_EACH:
        kind = "with rain" if events < MIN_EACH else "without rain"
        few = min(events, count - events)
        return f"{few} half hours {kind} are too few: it takes {MIN_EACH}"
    if not is_enough(pairs.complete()):
        kind = "with rain" if events < count - events else "without rain"
        return f"all half hours {kind} are in one tenth of the record: it takes some outside it"
    return "it does not help: no better than the raw chance on days that it has not seen"
