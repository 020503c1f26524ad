"""Moments and days as written in options: what is meant, and what cannot be."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from trackday.errors import TrackdayError
from trackday.options import parse_as_of, parse_day, parse_event_day, parse_first_day

CHICAGO = ZoneInfo("America/Chicago")
NOW = datetime(2027, 5, 15, 11, 10, tzinfo=UTC)


def as_of(text):
    return parse_as_of(text, zone=CHICAGO, now=NOW)


@pytest.mark.parametrize("text", ["2027-05-15T06:10", "2027-05-15 06:10", "2027-05-15T11:10Z"])
def test_a_moment_is_the_venues_unless_it_says_otherwise(text):
    """Protects the replay of a morning: venue time (five hours behind UTC in May) or an offset."""
    assert as_of(text) == as_of(None) == NOW


@pytest.mark.parametrize(
    "text",
    [
        "soon",
        "0001-01-01T00:00+14:00",
        "9999-12-31T23:59-12:00",
        "0001-01-01T00:00",
        "2027-03-14T02:30",  # the clock skips it
    ],
)
def test_a_moment_that_cannot_be_is_one_line(text):
    """Protects from a traceback for years that no calendar arithmetic reaches."""
    with pytest.raises(TrackdayError, match="--as-of: ") as error:
        as_of(text)
    assert len(error.value.lines) == 1


def test_a_day_is_a_date_of_a_year_with_weather():
    """Protects from looking back from the year 1, and from a slip of the pen."""
    assert parse_day("2027-05-15", "--day") == date(2027, 5, 15)
    for text, words in (("15.5.2027", "is not a date"), ("0001-01-01", "out of range")):
        with pytest.raises(TrackdayError, match=f"--since: .*{words}"):
            parse_day(text, "--since")


def test_a_weekday_is_the_events():
    """Protects `morning --day Sat`, and from the wrong one of two Saturdays."""
    days = [date(2027, 5, 15), date(2027, 5, 16)]
    for text in ("Sat", "saturday", " SAT ", "2027-05-15"):
        assert parse_event_day(text, "--day", days=days) == days[0]
    assert parse_event_day("2027-05-20", "--day", days=days) == date(2027, 5, 20)
    for text, held, words in (
        ("Fri", days, "'Fri' is no day of this event; write the date, of Sat 2027-05-15"),
        ("Sat", [*days, date(2027, 5, 22)], "is 2027-05-15 and 2027-05-22; write the date"),
        ("soon", days, "is not a date"),
    ):
        with pytest.raises(TrackdayError, match=f"--day: .*{words}"):
            parse_event_day(text, "--day", days=held)


def test_without_a_date_it_is_the_next_saturday_and_today_is_one():
    """Protects the default of `init` and `past`."""
    assert parse_first_day(None, today=date(2027, 5, 14)) == date(2027, 5, 15)
    assert parse_first_day(None, today=date(2027, 5, 15)) == date(2027, 5, 15)
    assert parse_first_day("2027-06-01", today=date(2027, 5, 15)) == date(2027, 6, 1)
