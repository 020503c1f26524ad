"""Where a line of the logbook belongs: the event or the venue, its clock, and the tires there."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path

from trackday.errors import TrackdayError
from trackday.logbook.entry import RanOn
from trackday.logbook.jot_when import JotContext
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
from trackday.weekend.showing import shown_path
from trackday.weekend.target import is_event
from trackday.weekend.venue import Venue

ARRIVES_BEFORE = timedelta(days=1)
"""How long before its first day an event counts as the one at hand (assumption: one arrives the
evening before)."""

Moment = Callable[[tzinfo], datetime]
"""Gives the moment of writing, UTC; a moment written without a zone is that of the given zone."""


@dataclass(frozen=True)
class Where:
    """A place to write about.

    `how` says in words how it was found, `path` the event's file; `guessed` tells that nobody named
    it. `remarks` are lines about files that could not be read and were not needed.
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
