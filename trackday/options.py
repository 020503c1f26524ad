"""Reading of option values that are moments and days; the clock is passed in."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, tzinfo

from trackday.errors import TrackdayError
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


def parse_first_day(text: str | None, *, today: date) -> date:
    """Read the day that --date names, the next Saturday without it (today counts)."""
    if text is not None:
        return parse_day(text, "--date")
    return today + timedelta(days=(SATURDAY - today.weekday()) % 7)
