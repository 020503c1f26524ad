"""The course of a day, hour by hour."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from builders import venue, weather

from trackday.outlook.course import day_course, fan, shown_hours
from trackday.outlook.skies import Sky
from trackday.outlook.surface import run_track
from trackday.weekend.garage import FilmLimits

CHICAGO = ZoneInfo("America/Chicago")
DAY = date(2027, 6, 12)


MORNING = (datetime(2027, 6, 12, 15, tzinfo=UTC), datetime(2027, 6, 12, 16, tzinfo=UTC))


def course(*, busy=(MORNING,), **fields):
    """A day under a made-up sky of a few days."""
    sky = weather(members=3, hours=96, **fields)
    start = pd.Timestamp("2027-06-10", tz="UTC")
    sky = replace(sky, times=pd.date_range(start, periods=96, freq="h", unit="s"))
    return day_course(
        DAY,
        Sky(sky, "ensemble", run_track(sky, venue(), traffic=())),
        zone=CHICAGO,
        busy=busy,
        limits=FilmLimits(),
    )


def test_a_day_is_shown_from_five_to_ten_at_the_venue():
    """Protects the common time axis: venue time, and every step that touches it."""
    made = course()
    assert made.start == datetime(2027, 6, 12, 5, tzinfo=CHICAGO)
    assert made.end == datetime(2027, 6, 12, 22, tzinfo=CHICAGO)
    assert len(made.hours) == 17
    assert made.hours[0][0] == made.start
    assert made.moments[0] == made.start
    assert made.moments[-1] == made.end


def test_a_session_at_night_is_shown_whole():
    """Protects endurance events: the axis grows to the session and an hour around it."""
    late = datetime(2027, 6, 13, 3, 30, tzinfo=UTC)
    _, end = shown_hours(DAY, zone=CHICAGO, busy=[(late, late + timedelta(hours=1))])
    assert end == late + timedelta(hours=2)


@pytest.mark.parametrize("hour", [10, 26])
def test_a_session_before_or_after_the_usual_hours_has_its_picture(hour):
    """Protects the page of a day with a session at 05:15 or 21:15, whose times are UTC."""
    start = datetime(2027, 6, 12, 0, 15, tzinfo=UTC) + timedelta(hours=hour)
    made = course(busy=[(start, start + timedelta(minutes=30))])
    assert made.start <= start - timedelta(hours=1)
    assert made.end >= start + timedelta(minutes=90)
    assert {each.utcoffset() for each in made.moments} == {timedelta()}


def test_chances_are_shares_of_members():
    """Protects the bars of rain: one member of three that rains is a third, and none is none."""
    rain = np.zeros((3, 96))
    rain[0] = 1.0
    made = course(rain_mm=rain)
    assert made.rain_chance == pytest.approx(np.full(17, 1 / 3))
    assert (made.rain_mm.p90 >= made.rain_mm.p50).all()
    assert course().rain_chance == pytest.approx(np.zeros(17))


def test_the_unknown_is_a_gap():
    """Protects from a picture of a dry day where nothing is known."""
    made = course(rain_mm=np.nan, gust_ms=np.nan)
    assert np.isnan(made.rain_chance).all()
    assert np.isnan(made.gust_ms.p90).all()
    assert np.isnan(made.wet_track).all()


def test_the_track_fan_holds_the_models_own_error():
    """Protects honesty: equal members still leave the surface model's error."""
    made = course()
    assert (made.track_temp_c.p90 - made.track_temp_c.p10 > 1.0).all()
    assert made.air_temp_c.p90 == pytest.approx(made.air_temp_c.p10)


def test_fans_are_ordered():
    """Protects the fan's edges."""
    values = np.random.default_rng(3).normal(size=(20, 5))
    made = fan(values, np.full(20, 0.05))
    assert (made.p10 < made.p50).all()
    assert (made.p50 < made.p90).all()
