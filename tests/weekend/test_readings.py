"""Track readings as written on the command line."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from trackday.errors import TrackdayError
from trackday.weekend.readings import parse_track_reading

ZONE = ZoneInfo("America/Chicago")
DAY = date(2027, 5, 15)


def read(text):
    return parse_track_reading(text, day=DAY, zone=ZONE)


@pytest.mark.parametrize("text", ["31C@09:10", " 31 °C @ 09:10", "87.8F@09:10", "31,0c@09:10"])
def test_as_people_write_it(text):
    """Protects cold hands: spaces, units and commas do not matter."""
    got = read(text)
    assert got.temp_c == pytest.approx(31.0)
    assert got.at == datetime(2027, 5, 15, 14, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("31C", "has no time"),
        ("31@09:10", "has no unit"),
        ("C@09:10", "not a number"),
        ("31C@25:00", "25:00"),
        ("31C@", "--track"),
        ("310C@09:10", "no track temperature"),
        ("31psi@09:10", "psi"),
    ],
)
def test_what_cannot_be_meant_is_told(text, words):
    """Protects against a reading that is taken for another."""
    with pytest.raises(TrackdayError) as error:
        read(text)
    assert words in str(error.value)
    assert len(error.value.lines) == 1


def test_the_limits_are_told_in_both_units():
    """Protects a racer who reads °F from a range in °C alone."""
    with pytest.raises(TrackdayError, match="write one of −40 to 194 °F or −40 to 90 °C"):
        read("310F@09:10")


def test_a_time_that_does_not_exist_that_day_is_told():
    """Protects the night the clocks change."""
    with pytest.raises(TrackdayError, match="does not exist"):
        parse_track_reading("5C@02:30", day=date(2027, 3, 14), zone=ZONE)
