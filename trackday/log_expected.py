"""What the surface model said of the moments that the racer wrote down, kept beside the entries.

The track's temperature and film at a reading's moment come from the newest look at the event from
before it whose weather is still kept. The model runs bare, without readings and corrections, so
that what is learned of it is not learned twice.
"""

from __future__ import annotations

import hashlib
import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final, Literal

from trackday.logbook.entry import Entry
from trackday.logbook.looks import Look, look_weather, looks
from trackday.logbook.store import Book, Stored
from trackday.weekend.event import Event
from trackday.weekend.sessions import MAX_DAYS, Session, resolve_sessions
from trackday.weekend.venue import Venue

EXPECTED: Final = "expected"
"""Kind of finding: the model's values at an entry's moment, by its uid."""

Outcome = Literal["compared", "no time", "no look", "unreadable", "unknown weather"]
"""What became of an entry: it stands beside the model, or why it does not."""


@dataclass(frozen=True)
class _Asked:
    """A look that keeps its weather, with the venue and the sessions that it was made for."""

    look: Look
    venue: Venue
    sessions: tuple[Session, ...]


@dataclass(frozen=True)
class _Looks:
    """The looks at one event, newest first; `unreadable` where another version wrote any."""

    asked: tuple[_Asked, ...] = ()
    unreadable: bool = False

    def before(self, moment: datetime) -> _Asked | None:
        """Give the newest look of a moment or from before it."""
        return next((each for each in self.asked if each.look.as_of <= moment), None)


@dataclass(frozen=True)
class _Due:
    """An entry that is to be set beside the model at a moment (UTC), at a place."""

    line: Stored
    at: datetime
    venue: Venue


def is_compared(entry: Entry) -> bool:
    """Whether an entry saw something that the model says too: a temperature or a state."""
    return entry.track_temp_c is not None or entry.track_state is not None


def has_weather(book: Book, entry: Entry) -> bool:
    """Whether any look at an entry's event keeps its weather; cheap."""
    key = look_key(book, entry)
    return key is not None and any(look.has_weather for look in looks(book, key))


def look_key(book: Book, entry: Entry) -> str | None:
    """Find the key of the looks at an entry's event; None where nobody looked.

    A key is "venue | event | first day", and no event is longer than `MAX_DAYS`.
    """
    start = f"{entry.venue} | {entry.event} | "
    for row in book.file.read("SELECT DISTINCT event_key FROM look ORDER BY event_key DESC"):
        key = str(row["event_key"])
        if key.casefold().startswith(start.casefold()):
            since = entry.day - date.fromisoformat(key.rpartition(" | ")[2])
            # Some is written on the evening before, and some after it is over.
            if timedelta(days=-1) <= since <= timedelta(days=MAX_DAYS):
                return key
    return None


def keep_expected(
    book: Book, lines: Iterable[Stored], *, venue: Venue | None = None, when: datetime
) -> Counter[Outcome]:
    """Set entries beside the model, keep what it said, and count what became of each.

    `venue` is the place as its file describes it now; without it, as the look's did. Kept are
    {surface_c, air_c, film_mm, look_as_of, at, place}, never unknown ones. What was kept stays
    where no look has its weather any more, unless the entry's moment was mended meanwhile.
    """
    outcomes: Counter[Outcome] = Counter()
    found: dict[str | None, _Looks] = {None: _Looks()}
    due: dict[int, list[_Due]] = {}
    for line in lines:
        if not is_compared(line.entry):
            continue
        key = look_key(book, line.entry)
        if key not in found:
            found[key] = _looks_at(book, str(key))
        outcome = _sort_in(book, line, found[key], venue, due)
        if outcome is not None:
            outcomes[outcome] += 1
    asked = {each.look.id: each for all_ in found.values() for each in all_.asked}
    for look_id, tasks in due.items():
        outcomes += _compare(book, asked[look_id], tasks, when)
    return outcomes


def measured_at(entry: Entry, sessions: Iterable[Session], venue: Venue) -> datetime | None:
    """When an entry was measured, UTC: as written, or amid its session; else None."""
    if entry.at is not None:
        return entry.at
    for session in sessions:
        on_day = session.start.astimezone(venue.zone).date() == entry.day
        if on_day and session.label.casefold() == entry.session.casefold():
            return session.start + (session.end - session.start) / 2
    return None


def _sort_in(
    book: Book,
    line: Stored,
    found: _Looks,
    venue: Venue | None,
    due: dict[int, list[_Due]],
) -> Outcome | None:
    """Put an entry to the look that tells of its moment; the outcome where nothing is to be run."""
    newest = found.asked[0] if found.asked else None
    at = line.entry.at
    if newest is not None:
        at = measured_at(line.entry, newest.sessions, venue or newest.venue)
    kept = book.kept(EXPECTED, line.uid)
    if kept is not None and at is not None and kept["at"] != at.isoformat():
        _forget(book, line)
        kept = None
    asked = None if at is None else found.before(at)
    if asked is None or at is None:
        if kept is not None:
            return "compared"
        if found.unreadable:
            return "unreadable"
        return "no time" if at is None and newest is not None else "no look"
    place = venue or asked.venue
    if kept is not None and kept["place"] == _digest(place):
        return "compared"
    due.setdefault(asked.look.id or 0, []).append(_Due(line, at, place))
    return None


def _compare(book: Book, asked: _Asked, tasks: Sequence[_Due], when: datetime) -> Counter[Outcome]:
    """Run the model over one look's weather and keep what it says of the entries' moments."""
    from trackday.outlook.hindsight import hindsight
    from trackday.weather.packing import PackingError, unpack

    packed = None if asked.look.id is None else look_weather(book, asked.look.id)
    if packed is None:
        return Counter({"no look": len(tasks)})
    try:
        weather = unpack(packed).weather
    except PackingError:
        return Counter({"unreadable": len(tasks)})
    traffic = [(session.start, session.end) for session in asked.sessions]
    moments = hindsight(weather, tasks[0].venue, [task.at for task in tasks], traffic=traffic)
    outcomes: Counter[Outcome] = Counter()
    for task, said in zip(tasks, moments, strict=True):
        values = {"surface_c": said.surface_c, "air_c": said.air_c, "film_mm": said.film_mm}
        if not all(map(math.isfinite, values.values())):
            _forget(book, task.line)
            outcomes["unknown weather"] += 1
            continue
        about = {
            "look_as_of": asked.look.as_of.isoformat(),
            "at": task.at.isoformat(),
            "place": _digest(task.venue),
        }
        book.keep(EXPECTED, task.line.uid, when, {**values, **about})
        outcomes["compared"] += 1
    return outcomes


def _looks_at(book: Book, key: str) -> _Looks:
    """Read the looks at an event that keep their weather."""
    asked, unreadable = [], False
    for look in looks(book, key):
        if not look.has_weather:
            continue
        try:
            asked.append(_asked(look, look.said["made_from"]))
        except (KeyError, TypeError, ValueError):  # pydantic's errors are ValueErrors
            unreadable = True
    return _Looks(tuple(asked), unreadable)


def _asked(look: Look, data: Mapping[str, Any]) -> _Asked:
    venue = Venue.model_validate(data["venue"])
    return _Asked(look, venue, resolve_sessions(Event.model_validate(data["event"]), venue))


def _forget(book: Book, line: Stored) -> None:
    """Drop what was kept of an entry that has changed under it."""
    with book.file.writing() as db:
        db.execute("DELETE FROM finding WHERE kind = ? AND key = ?", (EXPECTED, line.uid))


def _digest(venue: Venue) -> str:
    """Tell one description of a place from another."""
    return hashlib.sha256(venue.model_dump_json().encode()).hexdigest()[:16]
