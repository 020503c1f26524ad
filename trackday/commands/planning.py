"""What the commands that look ahead have in common: files, weather, logbook, and the look kept."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from trackday.commands.shared import progress, say
from trackday.errors import TrackdayError

if TYPE_CHECKING:
    from trackday.changes import Changes
    from trackday.logbook.store import Book
    from trackday.morning import Morning
    from trackday.plan import Plan
    from trackday.weekend.reading import Weekend
    from trackday.weekend.readings import TrackReading

NOTHING_CHANGED = 4
"""Exit code of --if-changed where no decision flipped and no chance moved."""


@dataclass(frozen=True)
class Request:
    """What the options of a command that looks ahead ask for."""

    command: str
    event: Path
    as_of: str | None
    offline: bool = False
    wait_s: float = 20.0
    replay: bool = False
    measured: Sequence[str] = ()
    day: str | None = None
    with_courses: bool = False


@dataclass(frozen=True)
class Seen:
    """One look: the weekend's files, the plan, and what changed; `changes` is None without a book.

    `morning` is there where the command asks about one day.
    """

    weekend: Weekend
    plan: Plan
    morning: Morning | None
    changes: Changes | None

    @property
    def over_since(self) -> datetime | None:
        """The later of the last session's end and the way home, local; None until then."""
        ends = [self.weekend.sessions[-1].end, self.weekend.travel.return_home]
        last = max(end for end in ends if end is not None)
        return last.astimezone(self.weekend.venue.zone) if last <= self.plan.as_of else None


@dataclass(frozen=True)
class _When:
    """The moment of a look, the day it asks about (None: the moment's), and if it is to come."""

    moment: datetime
    day: date | None
    is_rehearsal: bool


def look_ahead(request: Request) -> Seen:
    """Plan an event as a command asks, keep the look, and tell what has changed.

    A look at a moment that is still to come is a rehearsal: it is not kept, since its forecast is
    older than that moment and would be judged, and compared with, as if it were not.
    Raises TrackdayError for files and options to mend, NoWeatherError without any weather. A
    logbook that cannot be written costs a line on stderr, not the plan.
    """
    from trackday.weekend.reading import load_weekend

    weekend = load_weekend(request.event)
    when = _when(request, weekend, now=datetime.now(UTC))
    with open_logbook(needed=request.replay) as book:
        if request.replay:
            return _replayed(request, weekend, book, when)
        return _planned(request, weekend, book, when)


def end_if_unchanged(seen: Seen) -> None:
    """End the program quietly where nothing is worth telling; without a book all is."""
    if seen.changes is not None and not seen.changes.worth_telling:
        raise typer.Exit(NOTHING_CHANGED)


@contextmanager
def open_logbook(*, needed: bool) -> Iterator[Book | None]:
    """Open the user's logbook; where it is not `needed`, a fault is said and gives None."""
    from trackday.logbook.store import open_book
    from trackday.settings import load_settings, settings_path

    path = load_settings(os.environ, settings_path()).logbook
    try:
        book = open_book(path)
    except TrackdayError as error:
        if needed:
            raise
        say(f"{error.lines[0]} (planned without the logbook)")
        yield None
        return
    with book:
        yield book


def _when(request: Request, weekend: Weekend, *, now: datetime) -> _When:
    """Read --as-of by the venue's clock, and --day by the days on which there are sessions."""
    from trackday.options import parse_as_of, parse_event_day

    zone = weekend.venue.zone
    moment = parse_as_of(request.as_of, zone=zone, now=now)
    days = sorted({session.start.astimezone(zone).date() for session in weekend.sessions})
    day = None if request.day is None else parse_event_day(request.day, "--day", days=days)
    return _When(moment, day, is_rehearsal=moment > now)


def _planned(request: Request, weekend: Weekend, book: Book | None, when: _When) -> Seen:
    from trackday.live import live_gather
    from trackday.looks import Asked, Recorder, earlier_changes, event_key, keep_look, plan_asked
    from trackday.recall import BookKnowledge
    from trackday.weekend.own_list import own_list_of
    from trackday.weekend.reading import elevations_beside

    asked = Asked(
        event=weekend.event,
        garage=weekend.garage,
        venue=weekend.venue,
        as_of=when.moment,
        readings=_readings(request, weekend, book, when),
        own_list=own_list_of(weekend),
    )
    gather = live_gather(os.environ, offline=request.offline, wait_s=request.wait_s, warn=say)
    knows = None if book is None else BookKnowledge(book, elevations_beside(weekend.event_path))
    recorder = Recorder(gather, knows)
    with progress("Asking the weather services …", quiet=request.offline):
        plan = plan_asked(
            asked,
            recorder.gather,
            None if book is None else recorder,
            with_courses=request.with_courses,
        )
    morning = _morning(request, plan, when.day)
    if book is None:
        return Seen(weekend, plan, morning, None)
    key = event_key(weekend)
    if when.is_rehearsal:
        say("--as-of is still to come: a rehearsal, this look is not kept")
        return Seen(weekend, plan, morning, earlier_changes(book, key, plan, morning))
    try:
        changes = keep_look(book, key, request.command, asked, recorder, plan=plan, morning=morning)
    except TrackdayError as error:
        say(f"{error.lines[0]} (this look is not kept)")
        changes = earlier_changes(book, key, plan, morning)
    return Seen(weekend, plan, morning, changes)


def _replayed(request: Request, weekend: Weekend, book: Book | None, when: _When) -> Seen:
    from trackday.looks import earlier_changes, event_key, find_look, replay

    if book is None:
        raise TypeError("a replay needs a logbook")
    if request.measured:
        raise TrackdayError("--track: a replay follows the readings it had; leave it out")
    key = event_key(weekend)
    plan = replay(book, find_look(book, key, when.moment), with_courses=request.with_courses)
    morning = _morning(request, plan, when.day)
    return Seen(weekend, plan, morning, earlier_changes(book, key, plan, morning))


def _morning(request: Request, plan: Plan, day: date | None) -> Morning | None:
    from trackday.morning import make_morning

    return make_morning(plan, day=day) if request.command == "morning" else None


def _readings(
    request: Request, weekend: Weekend, book: Book | None, when: _When
) -> tuple[TrackReading, ...]:
    """Give the day's track readings: those of the option, and those in the logbook."""
    from trackday.weekend.readings import TrackReading, parse_track_reading

    venue = weekend.venue
    day = when.day or when.moment.astimezone(venue.zone).date()
    given = [parse_track_reading(text, day=day, zone=venue.zone) for text in request.measured]
    written = [
        TrackReading(line.entry.track_temp_c, line.entry.at)
        for line in (book.entries(venue=venue.name, since=day) if book is not None else ())
        if line.entry.day == day
        and line.entry.at is not None
        and line.entry.at <= when.moment
        and line.entry.track_temp_c is not None
    ]
    return tuple(dict.fromkeys((*written, *given)))
