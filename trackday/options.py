"""Reading of option values that are moments and days; the clock is passed in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta, tzinfo

from trackday.errors import TrackdayError
from trackday.logbook.jot_when import weekday_number
from trackday.weekend.localtime import to_utc, within_years

SATURDAY = 5


def parse_as_of(text: str | None, *, zone: tzinfo, now: datetime) -> datetime:
    """Turn --as-of into UTC, `now` without it; a moment without a zone is the venue's time.

    Raises TrackdayError for what is no moment, one that the venue's clocks do not show, and a year
    that no weekend has.
    """
    if text is None:
        return now
    try:
        moment = within_years(datetime.fromisoformat(text))
        if moment.tzinfo is None:
            return to_utc(moment, zone)
        return moment.astimezone(UTC)
    except ValueError as error:
        raise TrackdayError(
            f"--as-of: {text!r} is not a moment ({error}); write it like 2027-05-15T06:10"
        ) from error


def parse_day(text: str, option: str) -> date:
    """Read a date such as 2027-05-15; TrackdayError for anything else, or a year of no weekend."""
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise TrackdayError(
            f"{option}: {text!r} is not a date; write it like 2027-05-15"
        ) from error
    try:
        return within_years(day)
    except ValueError as error:
        raise TrackdayError(f"{option}: {error}") from error


def parse_event_day(text: str, option: str, *, days: Sequence[date]) -> date:
    """Read a date, or a weekday such as "Sat" that `days` of an event hold once.

    Raises TrackdayError as `parse_day` does, and for a weekday that they hold not at all or twice.
    """
    number = weekday_number(text.strip().casefold())
    if number is None:
        return parse_day(text, option)
    found = [day for day in days if day.weekday() == number]
    if len(found) == 1:
        return found[0]
    fault = f"is {' and '.join(map(str, found))}" if found else "is no day of this event"
    shown = ", ".join(f"{day:%a} {day}" for day in days)
    raise TrackdayError(f"{option}: {text!r} {fault}; write the date, of {shown}")


def parse_first_day(text: str | None, *, today: date) -> date:
    """Read the day that --date names, the next Saturday without it (today counts)."""
    if text is not None:
        return parse_day(text, "--date")
    return today + timedelta(days=(SATURDAY - today.weekday()) % 7)
