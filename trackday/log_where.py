"""Where a line of the logbook belongs: the event or the venue, its clock, and the tires there."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path

from trackday.errors import TrackdayError
from trackday.logbook.entry import RanOn
from trackday.logbook.jot_when import JotContext, folded
from trackday.logbook.stock import StockSet
from trackday.units import UnitSystem
from trackday.weekend.garage import Garage
from trackday.weekend.reading import (
    EVENTS_FOLDER,
    GARAGE_FILE,
    VENUES_FOLDER,
    Weekend,
    load_weekend,
    read_event,
    read_garage,
    read_toml,
    read_venue,
)
from trackday.weekend.sessions import Session
from trackday.weekend.showing import one_line, shown_path
from trackday.weekend.target import is_event
from trackday.weekend.venue import Venue

ARRIVES_BEFORE = timedelta(days=1)
"""How long before its first day an event counts as the one at hand (assumption: one arrives the
evening before)."""

ALIKE = 0.9
"""How much of two names must agree for one to be a slip of the other, share (assumption: a wrong,
missing or swapped letter of ten; "Otter Hill" is no slip of "Otter Hollow")."""

Moment = Callable[[tzinfo], datetime]
"""Gives the moment of writing, UTC; a moment written without a zone is that of the given zone."""


@dataclass(frozen=True)
class Where:
    """A place to write about.

    `how` says in words how it was found, `path` the event's file; `guessed` tells that nobody named
    it. `remarks` are lines about files that could not be read and were not needed. `doubt` is a
    question about the place, "" where it is sure; `missing` says how to name a place where there is
    none for more than words.
    """

    venue: str
    event: str
    zone: tzinfo
    sessions: tuple[Session, ...] = ()
    garage: Garage | None = None
    path: Path | None = None
    how: str = ""
    guessed: bool = False
    remarks: tuple[str, ...] = ()
    doubt: str = ""
    missing: str = ""

    @property
    def days(self) -> tuple[date, ...]:
        """The event's dates, earliest first."""
        days = {session.start.astimezone(self.zone).date() for session in self.sessions}
        return tuple(sorted(days))

    def context(self, as_of: datetime, units: UnitSystem, stock: Iterable[StockSet]) -> JotContext:
        """Give what is known beside a line that is written at a moment."""
        return JotContext(
            as_of=as_of,
            zone=self.zone,
            units=units,
            venue=self.venue,
            event=self.event,
            sessions=self.sessions,
            tire_sets=tire_sets(self.garage, stock),
        )


@dataclass(frozen=True)
class _Span:
    """An event file with its first and last date."""

    path: Path
    name: str
    first: date
    last: date

    def holds(self, day: date, *, before: timedelta = timedelta()) -> bool:
        return self.first - before <= day <= self.last


def title_of(event: str, venue: str) -> str:
    """Name an event and its venue: "Spring Double at Tamarack Hollow"."""
    if venue.casefold() in event.casefold():
        return event or "No event or venue"
    return " at ".join(filter(None, (event, venue)))


def tire_sets(garage: Garage | None, stock: Iterable[StockSet]) -> dict[str, RanOn]:
    """Map the sets of the garage and of the stock to what they run as; retired ones are left out.

    A set that the garage and the stock both know is grooved if one of them says so.
    """
    found: dict[str, RanOn] = {}
    in_stock = {each.name.casefold(): each for each in stock}
    for each in garage.tires if garage is not None else ():
        kept = in_stock.pop(each.name.casefold(), None)
        cut = each.grooved or (kept is not None and kept.grooved_on is not None)
        found[each.name] = _ran_as(each.kind, cut=cut)
    for kept in in_stock.values():
        if kept.kind is not None and kept.retired_on is None:
            found[kept.name] = _ran_as(kept.kind, cut=kept.grooved_on is not None)
    return found


def _ran_as(kind: str, *, cut: bool) -> RanOn:
    if kind == "wet":
        return "wet"
    return "grooved" if cut else "dry"


def at_event(path: Path) -> Where:
    """Read the event that was named; TrackdayError has a line for each fault."""
    return _of_weekend(load_weekend(path), how="as you said", guessed=False)


def near_event(folder: Path, moment: Moment) -> Where | None:
    """Find the event at hand in the folder `events`: today's, tomorrow's, or the last one before.

    Of several, the newest. None where there is no event that has begun or begins tomorrow. An event
    that cannot be read is passed over with a remark, unless it is the one at hand.
    """
    spans, remarks = _spans(folder)
    roughly = moment(UTC).date()
    slack = timedelta(days=1)  # no clock is further from UTC's date
    near = [
        (span, weekend, moment(weekend.venue.zone).astimezone(weekend.venue.zone).date())
        for span in spans
        if span.holds(roughly, before=ARRIVES_BEFORE + slack) or span.holds(roughly - slack)
        for weekend in (load_weekend(span.path),)
    ]
    for before, how in ((timedelta(), "today's event"), (ARRIVES_BEFORE, "tomorrow's event")):
        for span, weekend, day in near:
            if span.holds(day, before=before):
                return _of_weekend(weekend, how=how, guessed=True, remarks=remarks)
    over = [span for span in spans if span.last <= roughly]
    if not over:
        return None
    last = load_weekend(max(over, key=lambda span: span.last).path)
    return _of_weekend(last, how="your last event", guessed=True, remarks=remarks)


def next_event(folder: Path, moment: Moment) -> tuple[Path, date] | None:
    """Find the first event in the folder `events` that is still to come: its file and first day."""
    spans, _ = _spans(folder)
    today = moment(UTC).date()
    coming = [(span.first, span.path) for span in spans if span.first > today]
    return min(coming)[::-1] if coming else None


def no_place(coming: tuple[Path, date] | None, home: tzinfo) -> Where:
    """Give what stands for a place where nobody named one and no event is at hand.

    `coming` is the next event, None without one; `home` is this computer's clock.
    """
    if coming is None:
        said = "there is no event in ./events"
        mend = "go to the folder of your season, name the event's file, or a venue with --venue"
    else:
        path, day = coming
        said = f"your next event is on {day:%a %b} {day.day}"
        mend = f"to write about it, add --event {shown_path(path)}; else name a venue with --venue"
    return Where("", "", home, how=said, guessed=True, missing=f"--event: {said}; {mend}")


def of_entry(venue: str, event: str, day: date, *, folder: Path, home: tzinfo) -> Where:
    """Find the place of an entry again: its event's file, else its venue's, else `home`'s clock."""
    spans, _ = _spans(folder)
    for span in spans:
        if event and span.name.casefold() == event.casefold() and span.holds(day):
            return _of_weekend(load_weekend(span.path), how="", guessed=False)
    found = at_venue(venue, folder=folder, home=home)
    return Where(venue, event, found.zone, garage=found.garage, remarks=found.remarks)


def at_venue(name: str, *, folder: Path, home: tzinfo) -> Where:
    """Give a venue by its name or its file's, without an event.

    Its clock is that of its file in the folder `venues`, or `home` where there is none. A garage
    that cannot be read is passed over with a remark.
    """
    remarks: list[str] = []
    garage = None
    if (folder / GARAGE_FILE).exists():
        try:
            garage = read_garage(folder / GARAGE_FILE)
        except TrackdayError as error:
            remarks.append(f"{error.lines[0]} (written without the names of your sets)")
    file = venue_file(name, folder)
    if file is None:
        how = "no file in venues: times are by this computer's clock"
        return Where(name, "", home, garage=garage, how=how, remarks=tuple(remarks))
    venue = read_venue(file)
    return Where(
        venue.name, "", venue.zone, garage=garage, how="as you said", remarks=tuple(remarks)
    )


def venue_doubt(name: str, folder: Path, written: Iterable[str]) -> str:
    """Word the question about a new venue that is called much like a known one; "" without one.

    Known are those in the folder `venues` and those `written` in the logbook.
    """
    known = [*_venue_names(folder), *written]
    sought = folded(name)
    if any(sought == folded(each) for each in known) or venue_file(name, folder) is not None:
        return ""
    begins = [
        each
        for each in known
        if sought and (folded(each).startswith(sought) or sought.startswith(f"{folded(each)} "))
    ]
    by_word = {folded(each): each for each in known}
    alike = [by_word[each] for each in difflib.get_close_matches(sought, by_word, cutoff=ALIKE)]
    found = next(iter((*alike, *begins)), None)
    if found is None:
        return ""
    return one_line(
        f'There is no venue "{name}" yet. Did you mean {found}? If not, "{name}" is kept.'
    )


def zone_of(name: str, *, folder: Path, home: tzinfo) -> tzinfo:
    """Give a venue's clock by its file in the folder `venues`; `home` where there is none."""
    file = venue_file(name, folder) if name else None
    return home if file is None else read_venue(file).zone


def venue_of_file(path: Path) -> Venue:
    """Give the venue that an event or venue file is about; TrackdayError for faults in it."""
    return load_weekend(path).venue if is_event(path) else read_venue(path)


def garage_and_venue(path: Path) -> tuple[Garage, Venue]:
    """Give the venue of an event or venue file, and the nearest garage above it.

    TrackdayError for faults in them, and where there is no garage.
    """
    if is_event(path):
        weekend = load_weekend(path)
        return weekend.garage, weekend.venue
    venue = read_venue(path)
    above = (folder / GARAGE_FILE for folder in path.resolve().parents)
    garage = next((each for each in above if each.exists()), None)
    if garage is None:
        raise TrackdayError(
            f"{shown_path(path)}: there is no {GARAGE_FILE} beside it or in a folder above; move "
            "the venue, or run `trackday init DIR`"
        )
    return read_garage(garage), venue


def _venue_names(folder: Path) -> list[str]:
    """List the names of the venues in the folder `venues`; a file that cannot be read has none."""
    names = []
    for path in sorted((folder / VENUES_FOLDER).glob("*.toml")):
        try:
            data: Mapping[str, object] = read_toml(path)
        except TrackdayError:  # told when it is needed
            continue
        names.append(str(data.get("name", "")).strip())
    return [name for name in names if name]


def venue_file(name: str, folder: Path) -> Path | None:
    """Find the file of a venue by its name or the file's own, in any case; None without one."""
    for path in sorted((folder / VENUES_FOLDER).glob("*.toml")):
        if path.stem.casefold() == name.casefold():
            return path
        try:
            data: Mapping[str, object] = read_toml(path)
        except TrackdayError:  # it is not known to be the one that is looked for
            continue
        if str(data.get("name", "")).strip().casefold() == name.casefold():
            return path
    return None


def _spans(folder: Path) -> tuple[list[_Span], tuple[str, ...]]:
    """List the events of a folder, newest first, and say which files could not be read."""
    spans, remarks = [], []
    for path in sorted((folder / EVENTS_FOLDER).glob("*.toml")):
        try:
            event = read_event(path)
        except TrackdayError as error:
            remarks.append(f"{error.lines[0]} (this event is left out)")
            continue
        days = [session.date for session in event.sessions]
        spans.append(_Span(path, event.name, min(days), max(days)))
    spans.sort(key=lambda span: (span.first, span.last), reverse=True)
    return spans, tuple(remarks)


def _of_weekend(
    weekend: Weekend, *, how: str, guessed: bool, remarks: tuple[str, ...] = ()
) -> Where:
    said = ", ".join(filter(None, (how, shown_path(weekend.event_path))))
    return Where(
        venue=weekend.venue.name,
        event=weekend.event.name,
        zone=weekend.venue.zone,
        sessions=weekend.sessions,
        garage=weekend.garage,
        path=weekend.event_path,
        how=said,
        guessed=guessed,
        remarks=remarks,
    )
