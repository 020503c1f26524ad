"""Daylight and work after dark."""

from datetime import UTC, datetime, timedelta

import pytest
from astral import LocationInfo
from astral.sun import dusk, sunset
from builders import garage, session, venue

from trackday.advice.light import advise_light


def advise(start, *, place=None, finish="21:30"):
    work = garage(work={"usual_finish": finish}).work
    (day,) = advise_light([session(start=start)], venue=place or venue(), work=work)
    return day


def test_usable_light_after_the_last_session():
    """Protects the sum against astral's civil dusk (within 30 s)."""
    start = datetime(2027, 6, 12, 22, 0, tzinfo=UTC)
    here = LocationInfo("x", "y", "America/Chicago", 43.6, -91.0).observer
    outside = dusk(here, date=start.date(), tzinfo=venue().zone)
    got = advise(start)
    expected = (outside - (start + timedelta(minutes=20))) / timedelta(minutes=1)
    assert got.usable_minutes == pytest.approx(expected, abs=0.5)
    assert abs(got.sun.sunset - sunset(here, date=start.date(), tzinfo=venue().zone)) < timedelta(
        seconds=30
    )


def test_lamp_hours_until_the_usual_finish():
    """Protects late work: from civil dusk to the usual finish."""
    got = advise(datetime(2027, 10, 16, 20, 0, tzinfo=UTC))
    finish = datetime(2027, 10, 16, 21, 30, tzinfo=venue().zone)
    assert got.lamp_hours == pytest.approx((finish - got.sun.civil_dusk) / timedelta(hours=1))
    assert got.lamp_hours > 2


def test_a_finish_after_midnight_is_the_next_day():
    """Protects a racer who works until one in the morning."""
    start = datetime(2027, 10, 16, 20, 0, tzinfo=UTC)
    late, evening = advise(start, finish="01:00"), advise(start)
    assert late.lamp_hours == pytest.approx(evening.lamp_hours + 3.5)


def test_the_midnight_sun_needs_no_lamps():
    """Protects polar days: no sunset is not an error."""
    place = venue(latitude=70.0, longitude=25.0, timezone="Europe/Oslo")
    got = advise(datetime(2027, 6, 21, 18, 0, tzinfo=UTC), place=place)
    assert got.sun.sunset is None
    assert got.lamp_hours == 0
    assert got.usable_minutes is None


def test_the_polar_night_needs_lamps_all_day():
    """Protects polar nights."""
    place = venue(latitude=80.0, longitude=25.0, timezone="Europe/Oslo")
    got = advise(datetime(2027, 12, 21, 11, 0, tzinfo=UTC), place=place)
    assert "does not rise" in got.reasons[0].template
    assert got.lamp_hours > 5


def test_a_night_race_ends_in_the_dark():
    """Protects sessions after dusk."""
    got = advise(datetime(2027, 6, 13, 3, 30, tzinfo=UTC), finish="23:59")
    assert got.usable_minutes < 0
    assert "in the dark" in got.reasons[0].template
