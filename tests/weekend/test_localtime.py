"""Local times: one way to UTC, and no guess where the clock is changed."""

# ruff: noqa: DTZ001 - local times of a wall clock are naive on purpose

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz
from hypothesis import given
from hypothesis import strategies as st

from trackday.weekend.localtime import (
    offset_text,
    read_clock,
    read_date,
    read_moment,
    settled_to_utc,
    to_utc,
)

# Source of the change-over days: the IANA time zone database's rules. United States: second Sunday
# of March, first Sunday of November at 02:00. South Australia and Lord Howe Island: first Sunday
# of April and of October; the island's clock moves by half an hour.
SKIPPED = [
    ("America/Chicago", datetime(2027, 3, 14, 2, 30), "write 01:30 or 03:30"),
    ("Australia/Adelaide", datetime(2027, 10, 3, 2, 10), "write 01:10 or 03:10"),
    ("Australia/Lord_Howe", datetime(2027, 10, 3, 2, 15), "write 01:45 or 02:45"),
    ("Pacific/Apia", datetime(2011, 12, 30, 9, 0), "09:00 on 2011-12-29 or 09:00 on 2011-12-31"),
]
TWICE = [
    ("America/Chicago", datetime(2027, 11, 7, 1, 30), "01:30-05:00 or 01:30-06:00"),
    ("Australia/Adelaide", datetime(2027, 4, 4, 2, 30), "02:30+10:30 or 02:30+09:30"),
    ("Australia/Lord_Howe", datetime(2027, 4, 4, 1, 45), "01:45+11:00 or 01:45+10:30"),
]
ZONES = [
    "America/Chicago",
    "Australia/Adelaide",
    "Australia/Lord_Howe",
    "Asia/Kathmandu",
    "Europe/Dublin",
    "UTC",
]


@pytest.mark.parametrize(("zone", "local", "mend"), SKIPPED)
def test_a_skipped_time_names_the_times_beside_the_gap(
    zone: str, local: datetime, mend: str
) -> None:
    """Protects against a session at a time that no clock shows."""
    with pytest.raises(ValueError, match=r"does not exist on .* \(clocks go forward\)") as refusal:
        to_utc(local, ZoneInfo(zone))
    assert mend in str(refusal.value)
    assert zone in str(refusal.value)


@pytest.mark.parametrize(("zone", "local", "mend"), TWICE)
def test_a_time_shown_twice_asks_for_its_offset(zone: str, local: datetime, mend: str) -> None:
    """Protects against an hour's error in the night the clock is set back."""
    with pytest.raises(ValueError, match="happens twice") as refusal:
        to_utc(local, ZoneInfo(zone))
    assert mend in str(refusal.value)
    texts = mend.split(" or ")
    settled = [
        settled_to_utc(datetime.combine(local, read_clock(text)), ZoneInfo(zone)) for text in texts
    ]
    offsets = [read_clock(text).utcoffset() for text in texts]
    assert settled == [(local - offset).replace(tzinfo=UTC) for offset in offsets if offset]
    assert settled[0] < settled[1]


def test_an_offset_has_to_be_one_that_the_zone_has() -> None:
    """Protects against an offset that was carried over from another season or place."""
    chicago = ZoneInfo("America/Chicago")
    noon = datetime(2027, 7, 1, 12, 0)
    assert to_utc(noon, chicago, timedelta(hours=-5)) == datetime(2027, 7, 1, 17, tzinfo=UTC)
    with pytest.raises(ValueError, match=r"not at -06:00 at 12:00 .*; write 12:00-05:00"):
        to_utc(noon, chicago, timedelta(hours=-6))
    with pytest.raises(ValueError, match="does not exist"):
        to_utc(datetime(2027, 3, 14, 2, 30), chicago, timedelta(hours=-6))


@given(
    zone=st.sampled_from(ZONES),
    day=st.dates(date(2027, 1, 1), date(2027, 12, 31)),
    minute=st.integers(0, 1439),
)
def test_every_time_of_a_year_goes_to_utc_and_back(zone: str, day: date, minute: int) -> None:
    """Protects all days of a year; dateutil, another implementation, says which times exist."""
    local = datetime.combine(day, time(minute // 60, minute % 60))
    other = tz.gettz(zone)
    assert other is not None
    once = tz.datetime_exists(local, other) and not tz.datetime_ambiguous(local, other)
    if once:
        when = to_utc(local, ZoneInfo(zone))
        assert when.astimezone(ZoneInfo(zone)).replace(tzinfo=None) == local
        assert when == local.replace(tzinfo=other)
    else:
        with pytest.raises(ValueError, match="write"):
            to_utc(local, ZoneInfo(zone))


def test_every_night_of_a_year_is_covered() -> None:
    """Protects the half hours in which clocks are changed, which chance seldom meets."""
    for name in ZONES:
        zone, other = ZoneInfo(name), tz.gettz(name)
        for number in range(365 * 8):
            local = datetime(2027, 1, 1, 0, 15) + timedelta(
                days=number // 8, minutes=30 * (number % 8)
            )
            once = tz.datetime_exists(local, other) and not tz.datetime_ambiguous(local, other)
            try:
                to_utc(local, zone)
            except ValueError:
                assert not once, (name, local)
            else:
                assert once, (name, local)


@pytest.mark.parametrize(
    ("text", "clock"),
    [
        ("09:30", time(9, 30)),
        ("09:30:59", time(9, 30)),
        ("01:30-05:00", time(1, 30, tzinfo=timezone(timedelta(hours=-5)))),
        ("01:30+0930", time(1, 30, tzinfo=timezone(timedelta(hours=9.5)))),
        ("12:00Z", time(12, 0, tzinfo=UTC)),
        (time(9, 30, 12), time(9, 30)),
    ],
)
def test_clock_times_are_read(text: object, clock: time) -> None:
    """Protects the ways to write a time of day."""
    assert read_clock(text) == clock


@pytest.mark.parametrize(
    "text", ["9:30", "24:00", "1:30 pm", "09.30", "", 930, None, "09:60", "01:30+24:00", "٠٩:٣٠"]
)
def test_unclear_clock_times_are_refused(text: object) -> None:
    """Protects against half past one in the night for half past one in the afternoon."""
    with pytest.raises(ValueError, match="write"):
        read_clock(text)


def test_dates_and_moments_are_read() -> None:
    """Protects the ways to write a date, alone and with a time."""
    assert read_date(" 2027-06-12 ") == read_date(date(2027, 6, 12)) == date(2027, 6, 12)
    assert read_moment("2027-06-11T18:00") == datetime(2027, 6, 11, 18)
    assert read_moment(datetime(2027, 6, 11, 18, 0, 7)) == datetime(2027, 6, 11, 18)
    assert read_moment("2027-11-07 01:30-06:00").utcoffset() == timedelta(hours=-6)


@pytest.mark.parametrize(
    "value",
    ["2027-02-29", "12/06/2027", "27-06-12", 20270612, datetime(2027, 6, 12), "1927-06-12", None],
)
def test_unclear_dates_are_refused(value: object) -> None:
    """Protects against the day that is meant as a month, and a year that is a slip."""
    with pytest.raises(ValueError, match="write"):
        read_date(value)


@pytest.mark.parametrize("value", ["18:00", "2027-06-11", date(2027, 6, 11), "", 3])
def test_half_a_moment_is_refused(value: object) -> None:
    """Protects against loading at midnight because the time was left out."""
    with pytest.raises(ValueError, match="write"):
        read_moment(value)


def test_offsets_are_written_as_they_are_read() -> None:
    """Protects the offsets that messages tell the racer to write."""
    assert offset_text(timedelta(0)) == "+00:00"
    assert offset_text(timedelta(hours=-3.5)) == "-03:30"
