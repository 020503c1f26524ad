"""A venue or an event, whichever file is named: the sessions to look at, and where."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Final

from trackday.errors import TrackdayError
from trackday.weekend.localtime import to_utc
from trackday.weekend.reading import GARAGE_FILE, load_weekend, read_toml, read_venue
from trackday.weekend.sessions import Session
from trackday.weekend.showing import shown_path
from trackday.weekend.venue import Venue

FIRST_HOUR: Final = 8
LAST_HOUR: Final = 18
"""Local hours between which a day without a schedule is looked at (common practice)."""


@dataclass(frozen=True)
class Target:
    """What a file stands for: `name` is the event's, None for a venue alone."""

    name: str | None
    venue: Venue
    sessions: tuple[Session, ...]


def is_event(path: Path) -> bool:
    """Whether a file is an event rather than a venue; TrackdayError where it is neither.

    Only the telling fields are looked at, so that reading the file can word what is wrong with it.
    """
    fields = read_toml(path).keys()
    if path.name == GARAGE_FILE or {"car", "tires"} & fields:
        raise TrackdayError(f"{shown_path(path)}: is a garage; name a venue or an event")
    return bool({"venue", "sessions", "sessions_csv"} & fields)


def read_event_target(path: Path) -> Target:
    """Read an event with its venue; TrackdayError has a line for each fault."""
    weekend = load_weekend(path)
    return Target(weekend.event.name, weekend.venue, weekend.sessions)


def read_venue_target(path: Path, *, day: date) -> Target:
    """Read a venue, and make a session of each hour from `FIRST_HOUR` to `LAST_HOUR` of a day.

    TrackdayError has a line for each fault, and one for an hour that the clock skips that day.
    """
    venue = read_venue(path)
    return Target(None, venue, hours_of(day, venue))


def hours_of(day: date, venue: Venue) -> tuple[Session, ...]:
    """Make one session of each full hour of a day at a venue."""
    return tuple(_hour(day, hour, venue) for hour in range(FIRST_HOUR, LAST_HOUR))


def _hour(day: date, hour: int, venue: Venue) -> Session:
    try:
        start = to_utc(datetime.combine(day, time(hour)), venue.zone)
    except ValueError as error:
        raise TrackdayError(f"--date: {error}") from error
    return Session(f"{hour:02d}–{hour + 1:02d} h", "practice", start, start + timedelta(hours=1))
