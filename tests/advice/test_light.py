"""Daylight and work after dark."""

from datetime import UTC, datetime, timedelta

import astral.moon
import pytest
from astral import LocationInfo
from astral.sun import dusk, sunset
from builders import garage, session, venue

from trackday.advice.light import advise_light
from trackday.units import US
from trackday.weekend.sessions import Travel


def advise(start, *, place=None, finish="21:30", leaves=None):
    work = garage(work={"usual_finish": finish}).work
    travel = None if leaves is None else Travel(None, None, leaves)
    (day,) = advise_light([session(start=start)], venue=place or venue(), work=work, travel=travel)
    return day


def said(say):
    return say.render(US, venue().zone)


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
    assert got.decision.by == got.sun.civil_dusk


def test_work_by_daylight_needs_no_lamps():
    """Protects the plain case, and the light that is left."""
    got = advise(datetime(2027, 6, 12, 20, 0, tzinfo=UTC), finish="19:00")
    assert got.decision.urgency == "nothing"
    assert said(got.decision.do) == "No lamps needed: the work ends by daylight."
    assert got.moon is None
    assert "usable light" in said(got.decision.why[-1])


def test_lamps_are_asked_for_by_dusk():
    """Protects the hour and the length: dusk 18:48 (astral), usual finish 21:30."""
    got = advise(datetime(2027, 10, 16, 19, 0, tzinfo=UTC))
    here = LocationInfo("x", "y", "America/Chicago", 43.6, -91.0).observer
    outside = dusk(here, date=datetime(2027, 10, 16, tzinfo=UTC).date(), tzinfo=UTC)
    assert abs(got.decision.by - outside) < timedelta(seconds=30)
    assert said(got.decision.do) == "Have lamps up by 18:48: 2 h 42 min of work after dark."


def test_load_out_in_the_dark_is_said():
    """Protects the last evening: 90 minutes of packing (assumption) after 17:50 pass dusk."""
    got = advise(datetime(2027, 10, 16, 22, 30, tzinfo=UTC))
    assert got.load_out_end == datetime(2027, 10, 17, 0, 20, tzinfo=UTC)
    assert said(got.decision.do).startswith("Pack the small things and tie-downs by 18:48")
    assert "load-out until 19:20 is in the dark" in said(got.reasons[1])


def test_a_load_out_past_the_usual_finish_takes_lamps_along():
    """Protects the load from "no work in the dark" where only the load-out runs into it."""
    got = advise(datetime(2027, 10, 16, 22, 30, tzinfo=UTC), finish="18:00")
    assert got.load_out_end > got.sun.civil_dusk
    in_the_dark = got.load_out_end - got.sun.civil_dusk
    assert got.lamp_hours == pytest.approx(in_the_dark / timedelta(hours=1))


def test_the_rigs_departure_ends_the_work():
    """Protects the event's own time of return against the assumed packing time and late work."""
    start = datetime(2027, 10, 16, 20, 0, tzinfo=UTC)
    early = advise(start, leaves=datetime(2027, 10, 16, 22, 0, tzinfo=UTC))
    assert early.decision.urgency == "nothing"
    assert early.lamp_hours == 0.0
    late = advise(start, leaves=datetime(2027, 10, 17, 1, 0, tzinfo=UTC))
    assert late.load_out_end == datetime(2027, 10, 17, 1, 0, tzinfo=UTC)
    assert "until 20:00 is in the dark" in said(late.reasons[1])


def test_only_the_last_day_has_a_load_out():
    """Protects the evenings between from being packed away."""
    start = datetime(2027, 10, 16, 22, 30, tzinfo=UTC)
    sessions = [session(start=start), session(start=start + timedelta(days=1))]
    first, last = advise_light(sessions, venue=venue(), work=garage().work)
    assert first.load_out_end is None
    assert last.load_out_end is not None
    assert first.decision.about == "Sat"


def test_the_moon_rises_when_astral_says():
    """Protects the moon's time: three days after full it comes up in the evening's work.

    In Chicago's evening, which is the next day in UTC.
    """
    start = datetime(2027, 10, 17, 20, 0, tzinfo=UTC)
    got = advise(start)
    observer = LocationInfo("x", "y", "America/Chicago", 43.6, -91.0).observer
    rises = astral.moon.moonrise(observer, (start + timedelta(days=1)).date(), tzinfo=UTC)
    assert abs(got.moon.up[0][0] - rises) < timedelta(minutes=10)
    assert got.moon.lit_share > 0.9
    spoken = said(got.reasons[-1])
    assert (
        spoken
        == f"moon 95 % lit, up from {got.moon.up[0][0].astimezone(venue().zone):%H:%M}, cloud apart"
    )


def test_a_thin_moon_is_no_lamp():
    """Protects from counting on a crescent: four days after new moon (phase 4 of 28 by astral)."""
    start = next(
        day
        for day in (datetime(2027, 10, n, 20, 0, tzinfo=UTC) for n in range(1, 31))
        if 3.0 < astral.moon.phase(day.date()) < 5.0
    )
    spoken = said(advise(start).reasons[-1])
    assert "no help" in spoken or "no moon" in spoken
