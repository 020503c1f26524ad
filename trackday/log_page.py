"""A venue's page of the logbook: the last settings, what was measured, what to do, and the tires.

Nothing heavy is imported: the page must be there at once.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

from trackday.errors import TrackdayError
from trackday.log_pairs import hot_of
from trackday.logbook.entry import RanOn
from trackday.logbook.stock import StockSet
from trackday.logbook.store import Book, Stored, Todo

VISIT_GAP = timedelta(days=4)
"""Days without an entry after which another visit begins (assumption: a long weekend's)."""

MOST_NAMED = 6
"""Most names that a message lists (assumption)."""


@dataclass(frozen=True)
class Setting:
    """The newest cold pressures on one kind of tire, and the line with the hot ones they gave.

    `hot` is the same entry or a later one of the day; None where there is none. `named` tells
    whether one of them says what ran.
    """

    ran_on: RanOn
    cold: Stored
    hot: Stored | None
    named: bool = True


@dataclass(frozen=True)
class Visit:
    """The entries of one weekend at the venue, in the order of their days and writing."""

    event: str
    entries: tuple[Stored, ...]

    @property
    def first_day(self) -> date:
        """Day of the first entry."""
        return self.entries[0].entry.day

    @property
    def last_day(self) -> date:
        """Day of the last entry."""
        return self.entries[-1].entry.day


@dataclass(frozen=True)
class VenuePage:
    """Everything that the logbook holds of a venue, newest weekend first.

    `settings` has one for each kind of tire, newest first; `alignment` is the newest entry with
    one. `todos` are all open ones, those from here first, newest first; `sets` the stock.
    `elsewhere` names the other venues with entries, newest first.
    """

    venue: str
    as_of: datetime
    zone: tzinfo
    settings: tuple[Setting, ...]
    alignment: Stored | None
    visits: tuple[Visit, ...]
    todos: tuple[Todo, ...]
    sets: tuple[StockSet, ...]
    elsewhere: tuple[str, ...]


def venue_page(book: Book, venue: str, *, as_of: datetime, zone: tzinfo) -> VenuePage:
    """Read a venue's page; `venue` is its whole name in any case, `zone` its clock."""
    with book.file.reading():
        entries = book.entries(venue=venue)
        todos = book.todos()
        written = book.weekends()
    aligned = [line for line in entries if line.entry.alignment]
    return VenuePage(
        venue=entries[-1].entry.venue if entries else venue,
        as_of=as_of,
        zone=zone,
        settings=last_settings(entries),
        alignment=aligned[-1] if aligned else None,
        visits=visits_of(entries),
        todos=tuple(
            sorted(todos, key=lambda t: (_same(t.venue, venue), t.day, t.id), reverse=True)
        ),
        sets=book.sets(),
        elsewhere=_venues(each.venue for each in written if not _same(each.venue, venue)),
    )


def last_settings(entries: Sequence[Stored]) -> tuple[Setting, ...]:
    """Give the newest cold pressures for each kind of tire, newest first.

    The tires are those that the line of the cold pressures names, or that of the hot ones. Where
    neither does they count as dry ones, as in what is learned from them.
    """
    newest: dict[RanOn, Setting] = {}
    by_day: dict[date, list[Stored]] = {}
    for line in entries:
        by_day.setdefault(line.entry.day, []).append(line)
    for line in reversed(entries):
        if line.entry.cold_kpa is not None:
            hot = hot_of(line, by_day[line.entry.day])
            ran_on = line.entry.ran_on or (None if hot is None else hot.entry.ran_on)
            kind = ran_on or "dry"
            newest.setdefault(kind, Setting(kind, line, hot, named=ran_on is not None))
    return tuple(newest.values())


def visits_of(entries: Iterable[Stored]) -> tuple[Visit, ...]:
    """Part a venue's entries into weekends, newest first.

    An event's entries are one weekend, unless its name returns another time.
    """
    visits: list[list[Stored]] = []
    newest: dict[str, list[Stored]] = {}
    for line in entries:
        key = line.entry.event.casefold()
        visit = newest.get(key)
        if visit is None or line.entry.day - visit[-1].entry.day > VISIT_GAP:
            visit = newest[key] = []
            visits.append(visit)
        visit.append(line)
    made = [Visit(lines[0].entry.event, tuple(lines)) for lines in visits]
    return tuple(sorted(made, key=lambda visit: visit.first_day, reverse=True))


def venue_called(book: Book, name: str) -> str:
    """Find the venue with entries that a name, an event's name or the beginning of one means.

    TrackdayError, naming what there is, where it means none or several.
    """
    written = book.weekends()
    venues = _venues(each.venue for each in written)
    sought = name.strip().casefold()
    ways = (
        [venue for venue in venues if _same(venue, sought)],
        list(_venues(each.venue for each in written if _same(each.event, sought))),
        [venue for venue in venues if venue.casefold().startswith(sought)],
        [venue for venue in venues if sought in venue.casefold()],
        [venue for venue in venues if difflib.get_close_matches(sought, [venue.casefold()])],
    )
    found = next((way for way in ways if way), [])
    if len(found) == 1:
        return found[0]
    if found:
        raise TrackdayError(f"log show: {name!r} may be {_listed(found)}; write more of it")
    known = f"there are lines about {_listed(venues)}" if venues else "it names no venue yet"
    raise TrackdayError(f"log show: nothing is written about {name!r}; {known}")


def written_venues(book: Book) -> tuple[str, ...]:
    """List the venues that entries name, that of the newest weekend first."""
    return _venues(each.venue for each in book.weekends())


def newest_venue(book: Book) -> str:
    """Give the venue of the newest weekend; TrackdayError where no entry names a venue."""
    venues = written_venues(book)
    if not venues:
        raise TrackdayError(
            "log show: no venue is written down yet; write a line with `trackday log add`"
        )
    return venues[0]


def _venues(names: Iterable[str]) -> tuple[str, ...]:
    """Give names once each, as they were first met."""
    found: dict[str, str] = {}
    for name in names:
        if name:
            found.setdefault(name.casefold(), name)
    return tuple(found.values())


def _listed(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    shown = ", ".join(names[:MOST_NAMED])
    return f"{shown} and {more} more" if more > 0 else shown


def _same(one: str, other: str) -> bool:
    return one.strip().casefold() == other.strip().casefold()
