"""Counts of tire calls, and what the fits take from a logbook's lines."""

import json
from datetime import date, timedelta

import pytest

from trackday.learning.from_entries import hot_readings, tire_calls
from trackday.learning.tire_calls import TireCall, TireCalls, count_calls
from trackday.logbook.entry import Corners, Entry

DAY = date(2027, 5, 1)


def test_calls_are_counted_and_nothing_is_claimed_of_a_few():
    """Protects honesty: nine calls have a count and no share, ten have both."""
    calls = [TireCall("dry", "dry", DAY)] * 7 + [TireCall("dry", "wet", DAY)] * 2
    few = count_calls(calls)
    assert (few.n, few.right, few.share) == (9, 7, None)
    assert few.wrong == (("dry", "wet", 2),)
    more = count_calls([*calls, TireCall("wet", "wet", DAY + timedelta(days=9))])
    assert more.share == 0.8
    assert more.last == DAY + timedelta(days=9)
    assert TireCalls.from_data(json.loads(json.dumps(more.to_data()))) == more
    with pytest.raises(ValueError, match=r"trackday\.tire-calls"):
        TireCalls.from_data({})


def test_lines_become_readings():
    """Protects the way from the book: means of an axle, NaN for what was not written."""
    line = Entry(
        day=DAY,
        venue="Tamarack Hollow",
        cold_kpa=Corners(170.0, 172.0, 165.0, None),
        hot_kpa=Corners(210.0, 212.0, None, None),
        track_temp_c=40.0,
        cold_air_temp_c=15.0,
        ran_on="grooved",
        right_tire="wet",
        minutes_since_stop=2.0,
    )
    (front,) = hot_readings([line, Entry(day=DAY)], ambient_kpa={"Tamarack Hollow": 97.0}.get)
    assert (front.axle, front.cold_kpa, front.hot_kpa) == ("front", 171.0, 211.0)
    assert (front.cold_air_c, front.ambient_kpa, front.ran_on) == (15.0, 97.0, "grooved")
    assert front.air_temp_c != front.air_temp_c  # NaN
    assert hot_readings([line], ambient_kpa=lambda _: 97.0, warmed_to_c=70.0)[0].cold_air_c == 70.0
    assert tire_calls([line, Entry(day=DAY, ran_on="dry")]) == (TireCall("grooved", "wet", DAY),)
