"""Local dates and times as people write them, and their one way to UTC.

A wall clock shows some times twice and skips others when it is changed. Neither is guessed at:
the racer is told what to write instead.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from typing import Annotated, TypeVar

from pydantic import BeforeValidator

from trackday.weekend.showing import shown_value

EARLIEST_YEAR = 1940
"""First year of the weather archives that a past weekend can be compared with."""
LATEST_YEAR = 2100
"""A later year is a slip of the pen (assumption)."""

DateT = TypeVar("DateT", bound=date)

_CLOCK = re.compile(
    r"(?P<hour>[0-2]\d):(?P<minute>[0-5]\d)(?::[0-5]\d)?"
    r"(?P<offset>Z|(?P<sign>[+\-−])(?P<hours>\d\d):?(?P<minutes>[0-5]\d))?"
)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


def read_date(value: object) -> date:
    """Read a date, or text such as "2027-06-12"; ValueError says what to write."""
    if isinstance(value, str) and _DATE.fullmatch(value.strip()):
        try:
            value = date.fromisoformat(value.strip())
        except ValueError:
            raise ValueError(f'{value!r} is not in the calendar; write "2027-06-12"') from None
    if isinstance(value, datetime) or not isinstance(value, date):
        raise ValueError(  # noqa: TRY004  # a fault in a file, which pydantic collects
            f'{shown_value(value)} is not a date; write year-month-day, "2027-06-12"'
        )
    return within_years(value)


def read_clock(value: object) -> time:
    """Read a time of day, or text such as "09:30" or "01:30-05:00"; drops the seconds.

    The result has a time zone only where an offset from UTC was written. ValueError says what
    to write.
    """
    if isinstance(value, time):
        return value.replace(second=0, microsecond=0)
    match = _CLOCK.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None or int(match["hour"]) > 23:
        raise ValueError(
            f'{shown_value(value)} is not a time of day; write 24-hour time, "09:30" or "13:30"'
        )
    return time(int(match["hour"]), int(match["minute"]), tzinfo=_offset(match))


def read_moment(value: object) -> datetime:
    """Read a date with a time, or text such as "2027-06-11 18:00"; ValueError says what to write.

    The result is aware only where an offset from UTC was written.
    """
    if isinstance(value, datetime):
        return within_years(value.replace(second=0, microsecond=0))
    parts = value.replace("T", " ").split(maxsplit=1) if isinstance(value, str) else []
    if len(parts) == 2:
        return datetime.combine(read_date(parts[0]), read_clock(parts[1]))
    raise ValueError(f'{shown_value(value)} is not a date with a time; write "2027-06-11 18:00"')


def _read_plain_clock(value: object) -> time:
    """Read a time of day that is meant on every day, so without an offset."""
    clock = read_clock(value)
    if clock.tzinfo is not None:
        raise ValueError(f'holds an offset from UTC; write only the time, "{clock:%H:%M}"')
    return clock


LocalDate = Annotated[date, BeforeValidator(read_date)]
ClockTime = Annotated[time, BeforeValidator(_read_plain_clock)]
"""A time of day in the venue's zone, naive."""
SettledTime = Annotated[time, BeforeValidator(read_clock)]
"""A time of day in the venue's zone; aware only where an offset was written to settle it."""
SettledMoment = Annotated[datetime, BeforeValidator(read_moment)]
"""A date with a time in the venue's zone; aware only where an offset was written to settle it."""


def to_utc(local: datetime, zone: tzinfo, offset: timedelta | None = None) -> datetime:
    """Convert a naive local time of a zone to an aware UTC time.

    `offset` from UTC tells which of two is meant where the clock shows the time twice; elsewhere
    it has to be the one that the zone has. ValueError, saying what to write, for a time that the
    clock skips or shows twice, and for an offset that the zone does not have then.
    """
    candidates = _times_shown_as(local, zone)
    if not candidates:
        raise ValueError(_skipped(local, zone))
    if offset is None and len(candidates) == 1:
        return candidates[0]
    offsets = [_offset_at(when, zone) for when in candidates]
    if offset in offsets:
        return candidates[offsets.index(offset)]
    choices = " or ".join(f"{local:%H:%M}{offset_text(each)}" for each in offsets)
    if offset is None:
        raise ValueError(
            f"{local:%H:%M} happens twice on {local:%Y-%m-%d} in {zone} (clocks go back); "
            f"write it with its offset, {choices}"
        )
    raise ValueError(
        f"{zone} is not at {offset_text(offset)} at {local:%H:%M on %Y-%m-%d}; write {choices}"
    )


def settled_to_utc(moment: datetime, zone: tzinfo) -> datetime:
    """Convert a local time, whose own offset (if it has one) settles which one is meant, to UTC.

    ValueError as in `to_utc`.
    """
    return to_utc(moment.replace(tzinfo=None), zone, moment.utcoffset())


def offset_text(offset: timedelta) -> str:
    """Write an offset from UTC as "-05:00"."""
    return str(timezone(offset)).removeprefix("UTC") or "+00:00"


def _times_shown_as(local: datetime, zone: tzinfo) -> list[datetime]:
    """List the UTC times, earliest first, at which the zone's clock shows a local time."""
    shown = []
    for fold in (0, 1):
        when = local.replace(tzinfo=zone, fold=fold).astimezone(UTC)
        if when.astimezone(zone).replace(tzinfo=None, fold=0) == local and when not in shown:
            shown.append(when)
    return shown


def _skipped(local: datetime, zone: tzinfo) -> str:
    """Word the fault of a time that the clock skips, with the times on either side of the gap."""
    before, after = (_offset_of(local.replace(tzinfo=zone, fold=fold)) for fold in (0, 1))
    gap = after - before
    choices = " or ".join(
        f"{each:%H:%M}" if each.date() == local.date() else f"{each:%H:%M on %Y-%m-%d}"
        for each in (local - gap, local + gap)
    )
    return (
        f"{local:%H:%M} does not exist on {local:%Y-%m-%d} in {zone} (clocks go forward); "
        f"write {choices}"
    )


def _offset_at(when: datetime, zone: tzinfo) -> timedelta:
    """Give a zone's offset from UTC at an aware time."""
    return _offset_of(when.astimezone(zone))


def _offset_of(aware: datetime) -> timedelta:
    """Give the offset from UTC of an aware time."""
    offset = aware.utcoffset()
    if offset is None:
        raise ValueError(f"{aware} has no offset from UTC")
    return offset


def _offset(match: re.Match[str]) -> timezone | None:
    """Read the offset that a time of day ends with, if any."""
    if match["offset"] is None:
        return None
    if match["offset"] == "Z":
        return UTC
    size = timedelta(hours=int(match["hours"]), minutes=int(match["minutes"]))
    if size >= timedelta(days=1):
        raise ValueError(f'{match["offset"]} is not an offset from UTC; write one like "-05:00"')
    return timezone(size if match["sign"] == "+" else -size)


def within_years(value: DateT) -> DateT:
    """Refuse a date that no weekend can have."""
    if not EARLIEST_YEAR <= value.year <= LATEST_YEAR:
        raise ValueError(
            f"the year {value.year} is out of range; write a year from {EARLIEST_YEAR} "
            f"to {LATEST_YEAR}"
        )
    return value
