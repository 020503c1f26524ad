"""What was said against what came, for a venue, an event or the whole logbook."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final

from trackday.logbook.looks import Look, looks
from trackday.logbook.store import Book
from trackday.scoring.fitting import Fit
from trackday.scoring.rain_score import RainScore, judged, rain_score
from trackday.scoring.said import SaidPair, looks_about, said_pairs
from trackday.scoring.station_record import station_record
from trackday.scoring.track_score import TrackScore, track_score
from trackday.scoring.wets_value import WetsCosts, WetsValue, wets_value
from trackday.settings import Settings
from trackday.weather.failures import SourceError
from trackday.weather.history_source import History
from trackday.weekend.venue import Venue

FEW_DAYS: Final = 10
"""Days below which scores say next to nothing: one lucky weekend decides (assumption)."""

SOME_DAYS: Final = 40
"""Days below which scores say little: about two seasons of weekends (assumption)."""


@dataclass(frozen=True)
class NotJudged:
    """Looks at sessions that are over and whose chance of rain could not be judged.

    `unknown`: nobody tells whether it rained. `said_nothing`: the look itself knew no chance.
    """

    unknown: int
    said_nothing: int


@dataclass(frozen=True)
class Score:
    """Everything that the reports show; none of them computes.

    `looks` were made at `sessions` that are over, on `days` days; `by_log` and `by_station` of the
    looks were judged by either. `first_day` and `last_day` are the venue's dates, None without any.
    `event` and `venue` are None for the whole logbook. `station` names who measured, with the
    distance in km.
    """

    event: str | None
    venue: Venue | None
    as_of: datetime
    looks: int
    sessions: int
    days: int
    first_day: date | None
    last_day: date | None
    by_log: int
    by_station: int
    not_judged: NotJudged
    rain: RainScore | None
    wets: WetsValue | None
    track: TrackScore | None
    fit: Fit | None
    station: str | None
    station_km: float
    notes: tuple[str, ...]
    attribution: tuple[str, ...]

    @property
    def how_much(self) -> str:
        """How much so few days tell, in words that follow "this says"; empty where enough."""
        if self.days < FEW_DAYS:
            return "next to nothing"
        return "little" if self.days < SOME_DAYS else ""


def all_looks(book: Book) -> list[Look]:
    """List every look in a book, of all events."""
    keys = book.file.read("SELECT DISTINCT event_key FROM look ORDER BY event_key")
    return [look for key in keys for look in looks(book, key["event_key"])]


def score_book(
    book: Book | None,
    *,
    venue: Venue | None,
    event: str | None,
    costs: WetsCosts | None,
    settings: Settings,
    as_of: datetime,
    offline: bool,
    since: date | None = None,
    fit: Fit | None = None,
) -> Score:
    """Score what a logbook holds of a venue, of one event, or of everything (venue None).

    A station is asked only where there is a venue and something to judge; where it cannot be had,
    the racer's own lines judge alone and a note says so. `book` is None where there is none yet.
    """
    held = [] if book is None else all_looks(book)
    about = looks_about(held, venue=None if venue is None else venue.name, event=event)
    entries = [] if book is None else [stored.entry for stored in book.entries()]
    over = said_pairs(about, None, entries, as_of=as_of, since=since)
    record, notes = _record(over, venue, settings=settings, as_of=as_of, offline=offline)
    if record is not None:
        over = said_pairs(about, record.weather, entries, as_of=as_of, since=since)
    return make_score(
        over,
        venue=venue,
        event=event,
        costs=costs,
        as_of=as_of,
        record=record,
        fit=fit,
        notes=notes,
    )


def make_score(
    pairs: Sequence[SaidPair],
    *,
    venue: Venue | None,
    event: str | None,
    costs: WetsCosts | None,
    as_of: datetime,
    record: History | None = None,
    fit: Fit | None = None,
    notes: tuple[str, ...] = (),
) -> Score:
    """Score pairs of what was said and what came."""
    days = sorted({pair.day for pair in pairs})
    by = [pair.came.known_by for pair in judged(pairs)]
    station = None if record is None else record.station
    return Score(
        event=event,
        venue=venue,
        as_of=as_of,
        looks=len(pairs),
        sessions=len({pair.session_key for pair in pairs}),
        days=len({pair.day_key for pair in pairs}),
        first_day=days[0] if days else None,
        last_day=days[-1] if days else None,
        by_log=by.count("log"),
        by_station=by.count("station"),
        not_judged=_not_judged(pairs),
        rain=rain_score(pairs),
        wets=None if costs is None else wets_value(pairs, costs),
        track=track_score(pairs),
        fit=fit,
        station=None if station is None else f"{station.name} ({station.id})",
        station_km=math.nan if station is None else station.distance_km,
        notes=(*notes, *(() if record is None else record.notes)),
        attribution=_attribution(record, fit),
    )


def _record(
    pairs: Sequence[SaidPair],
    venue: Venue | None,
    *,
    settings: Settings,
    as_of: datetime,
    offline: bool,
) -> tuple[History | None, tuple[str, ...]]:
    """Get the station's hours of the sessions that the log does not tell of, or a note why not."""
    silent = [pair for pair in pairs if pair.came.known_by != "log"]
    if not silent:
        return None, ()
    if venue is None:
        return None, ("judged by your own lines alone; name a venue's file to ask its station too",)
    try:
        return station_record(
            venue,
            first_day=min(pair.start for pair in silent).date(),
            last_day=max(pair.end for pair in silent).astimezone(UTC).date() + timedelta(days=1),
            settings=settings,
            as_of=as_of,
            offline=offline,
        ), ()
    except SourceError as error:
        return None, (f"no station's hours: {error.reason}; judged by your own lines alone",)


def _not_judged(pairs: Sequence[SaidPair]) -> NotJudged:
    said = [pair for pair in pairs if math.isfinite(pair.chance)]
    return NotJudged(
        unknown=sum(pair.came.known_by == "unknown" for pair in said),
        said_nothing=len(pairs) - len(said),
    )


def _attribution(record: History | None, fit: Fit | None) -> tuple[str, ...]:
    """Name everybody whose data are in it, once."""
    lines = (
        *(() if record is None else (record.attribution,)),
        *(() if fit is None else fit.attribution),
    )
    return tuple(dict.fromkeys(lines))
