"""Options of the logbook's commands, and what they have in common: moment, place, book."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trackday.errors import TrackdayError

if TYPE_CHECKING:
    from trackday.log_where import Moment, Where
    from trackday.logbook.store import Book

EventOption = Annotated[
    Path | None,
    typer.Option(metavar="EVENT.toml", help="Event. Default: the one at hand in ./events."),
]
VenueOption = Annotated[str | None, typer.Option(help="Name of a venue, without an event.")]
ToEvent = Annotated[
    Path | None, typer.Option("--event", metavar="EVENT.toml", help="Event that it belongs to.")
]
ToVenue = Annotated[
    str | None, typer.Option("--venue", help="Venue that it belongs to, without an event.")
]
Number = Annotated[int, typer.Argument(metavar="NUMBER", help="Number of the entry.")]


def _field(name: str, help_: str, metavar: str = "TEXT") -> Any:
    """Make an option that fills a field of the entry."""
    return typer.Option(f"--{name}", metavar=metavar, help=help_, show_default=False)


Day = Annotated[str | None, _field("day", "Sat or 2027-06-12. Default: the session's, or today.")]
ToDay = Annotated[str | None, _field("day", "Day that it is of, as Sat or 2027-06-12.")]
At = Annotated[str | None, _field("at", "When it was measured, venue time.", "HH:MM")]
Session = Annotated[str | None, _field("session", "Session, as Q1 or Race.")]
Cold = Annotated[str | None, _field("cold", 'Cold pressures, as "24 24 23.5 23.5".')]
ColdAir = Annotated[str | None, _field("cold-air", "Air when they were set, as 60F.")]
Hot = Annotated[str | None, _field("hot", 'Hot pressures, as "31.5 31 29.8 30.2".')]
After = Annotated[str | None, _field("after", "Minutes from the stop to the hot ones.")]
Track = Annotated[str | None, _field("track", "Track temperature, as 41C.")]
Air = Annotated[str | None, _field("air", "Air temperature, as 27C.")]
State = Annotated[str | None, _field("state", 'Track and sky, as "damp, no rain".')]
Tires = Annotated[str | None, _field("tires", "Set that ran, or its kind, as wets.")]
RanOn = Annotated[str | None, _field("ran-on", "What it ran as: dry, grooved or wet.")]
RightTire = Annotated[str | None, _field("right-tire", "What would have been right.")]
Laps = Annotated[str | None, _field("laps", "Laps.")]
Minutes = Annotated[str | None, _field("minutes", "Minutes driven.")]
Alignment = Annotated[str | None, _field("alignment", "Alignment.")]
Changed = Annotated[str | None, _field("changed", "What was changed on the car.")]
Decided = Annotated[str | None, _field("decided", "What was decided.")]
Todo = Annotated[str | None, _field("todo", "What to do before the next weekend.")]
Note = Annotated[str | None, _field("note", "Note.")]


def given_fields(parameters: Mapping[str, object]) -> dict[str, str | None]:
    """Take the options that fill a field out of a command's parameters, by their names."""
    from trackday.log_line import OPTIONS

    names = {option.name.replace("-", "_"): option.name for option in OPTIONS}
    return {
        names[key]: value
        for key, value in parameters.items()
        if key in names and isinstance(value, str)
    }


def moment_given(as_of: str | None) -> Moment:
    """Give what reads --as-of by a zone's clock; the clock is read once."""
    from trackday.options import parse_as_of

    now = datetime.now(UTC)
    return lambda zone: parse_as_of(as_of, zone=zone, now=now)


def home_zone() -> tzinfo:
    """Give this computer's clock."""
    return datetime.now().astimezone().tzinfo or UTC


def where_given(
    event: Path | None, venue: str | None, moment: Moment, *, written: Iterable[str]
) -> Where:
    """Find the event or venue that the options name, or the event at hand in ./events.

    Without any it is no place. `written` are the venues in the logbook; a new one that is called
    much like one of them is doubted. TrackdayError where both are named.
    """
    from trackday.log_where import (
        at_event,
        at_venue,
        near_event,
        next_event,
        no_place,
        venue_doubt,
    )

    folder, home = Path(), home_zone()
    if event is not None and venue is not None:
        raise TrackdayError("--venue: an event has its own venue; give one of them")
    if event is not None:
        return at_event(event)
    if venue is not None:
        where = at_venue(venue, folder=folder, home=home)
        return replace(where, doubt=venue_doubt(venue, folder, written))
    return near_event(folder, moment) or no_place(next_event(folder, moment), home)


def logbook_path() -> Path:
    """Give the path of the user's logbook."""
    from trackday.settings import load_settings, settings_path

    return load_settings(os.environ, settings_path()).logbook


def the_book(*, create: bool = False) -> Book:
    """Open the user's logbook; without `create` it has to be there."""
    from trackday.logbook.store import open_book

    return open_book(logbook_path(), create=create)
