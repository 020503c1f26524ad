"""Heat and cold in the paddock: published limits, direction, and what is not known."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from builders import NOON, garage, session, venue, weather
from hypothesis import given, settings
from hypothesis import strategies as st

from trackday.advice.cold import advise_cold
from trackday.advice.heat import advise_heat, hourly_wbgt_c
from trackday.units import METRIC, US

CHICAGO = ZoneInfo("America/Chicago")
ORDER = ("nothing", "watch", "act")


def heat(*, rig=None, when=None, **fields):
    (day,) = advise_heat(
        [when or session()],
        weather=weather(hours=24, **fields),
        venue=venue(),
        garage=rig or garage(),
    )
    return day


def cold(**fields):
    (day,) = advise_cold([session()], weather=weather(hours=24, **fields), venue=venue())
    return day


def said(decision, units=US):
    return decision.do.render(units, CHICAGO)


def test_a_mild_day_asks_for_nothing():
    """Protects from advice that nobody needs, and keeps water in the load all the same."""
    day = heat()
    assert day.decision.urgency == day.driver.urgency == "nothing"
    assert day.rest_minutes is None
    assert day.heat_index_class is None
    # 10:00 to 14:20 touches five hours, at a quarter of a liter each.
    assert day.water_l == pytest.approx(1.25)
    assert day.decision.chance > 0.95


PRINTED = ((78.0, 0, 0.75), (82.0, 10, 0.75), (85.0, 20, 0.75), (88.0, 30, 0.75), (90.0, 40, 1.0))
"""From which WBGT, °F, to rest how many minutes of an hour and drink how many quarts: moderate work
on the US Army's work, rest and water card."""


def test_rows_of_the_published_table():
    """Protects work, rest and water: every row of the card is met, at its own WBGT."""
    seen = set()
    for air_c in np.arange(20.0, 40.0, 0.5):
        day = heat(air_temp_c=air_c, dew_point_c=20.0, wind_ms=2.0, ghi_wm2=600.0)
        wbgt_f = 1.8 * day.wbgt_c.p90 + 32.0
        rows = [row for row in PRINTED if wbgt_f >= row[0]]
        if not rows:
            assert day.rest_minutes is None
            continue
        assert day.rest_minutes == rows[-1][1]
        assert day.water_lph == pytest.approx(0.946 * rows[-1][2], abs=0.001)
        seen.add(rows[-1])
    assert seen == set(PRINTED)


def test_a_hot_day_in_words():
    """Protects the line at 6 a.m.: work, rest, water; the same water in both unit systems."""
    day = heat(air_temp_c=34.0, dew_point_c=25.0, wind_ms=2.0, ghi_wm2=850.0)
    assert day.decision.urgency == day.driver.urgency == "act"
    assert day.heat_index_class == "danger"
    assert said(day.decision).startswith("Work 20 min, rest 40 in the shade; drink 0.9 L (4 cups)")
    assert said(day.decision) == said(day.decision, METRIC)
    assert "call the medics" in day.decision.caution.render(US, CHICAGO)
    assert any("danger (NWS)" in why.render(US, CHICAGO) for why in day.decision.why)


def test_the_suit_adds_to_the_driver_and_a_closed_car_more():
    """Protects the clothing adjustment: 3 °C for two layers (ACGIH, value from memory)."""
    hot = {"air_temp_c": 30.0, "dew_point_c": 18.0}
    closed = heat(**hot)
    open_car = heat(rig=garage(car={"name": "No. 61", "cockpit": "open"}), **hot)
    grid = hourly_wbgt_c(weather(hours=24, **hot), venue())[0]
    # The session at noon of 20 minutes touches the hour from 12:00 to 13:00.
    assert open_car.driver_wbgt_c.p50 == pytest.approx(grid[13] + 3.0)
    assert closed.driver_wbgt_c.p50 == pytest.approx(grid[13] + 5.0)
    assert closed.wbgt_c == open_car.wbgt_c


def test_more_people_need_more_water():
    """Protects the load: everybody's water, never above twelve quarts each (US Army)."""
    hot = {"air_temp_c": 34.0, "dew_point_c": 23.0}
    one, two = heat(**hot), heat(rig=garage(crew={"people": 2}), **hot)
    assert two.water_l == pytest.approx(2.0 * one.water_l)
    assert "for 2." in said(two.decision)
    long = heat(rig=garage(crew={"people": 2}), when=session(minutes=400), **hot)
    assert two.water_l < long.water_l <= 24.0 * 0.9464


@settings(deadline=None, max_examples=40)
@given(st.floats(5.0, 40.0), st.floats(0.0, 20.0), st.floats(0.0, 8.0))
def test_a_hotter_day_is_never_called_milder(air_c, depression_c, more):
    """Protects the direction from air to advice, for the crew and in the suit."""
    base = heat(air_temp_c=air_c, dew_point_c=air_c - depression_c)
    hotter = heat(air_temp_c=air_c + more, dew_point_c=air_c - depression_c)
    for name in ("decision", "driver"):
        was, now = getattr(base, name).urgency, getattr(hotter, name).urgency
        assert ORDER.index(now) >= ORDER.index(was)
    assert hotter.water_l >= base.water_l
    assert (hotter.rest_minutes or 0) >= (base.rest_minutes or 0)


@pytest.mark.parametrize("name", ["air_temp_c", "dew_point_c", "wind_ms"])
def test_missing_weather_is_never_cool(name):
    """Protects from silence: what is not known is planned for as heat."""
    day = heat(**{name: np.nan})
    assert day.decision.urgency == day.driver.urgency == "unknown"
    assert np.isnan(day.wbgt_c.p90)
    assert np.isnan(day.water_l)
    assert np.isnan(day.decision.chance)


def test_sun_comes_from_cloud_and_pressure_from_the_elevation():
    """Protects forecasts without sunshine: cloud stands in; without both the heat is unknown."""
    clear = heat(air_temp_c=30.0, ghi_wm2=np.nan, cloud_fraction=0.0, pressure_pa=np.nan)
    overcast = heat(air_temp_c=30.0, ghi_wm2=np.nan, cloud_fraction=1.0)
    assert clear.wbgt_c.p50 > overcast.wbgt_c.p50 + 2.0
    neither = heat(air_temp_c=30.0, ghi_wm2=np.nan, cloud_fraction=np.nan)
    assert neither.decision.urgency == "unknown"


def test_hours_beyond_the_weather_are_unknown():
    """Protects the last days of a forecast from the heat of days before."""
    sky = weather(hours=6, air_temp_c=34.0)
    (day,) = advise_heat(
        [session(start=NOON + timedelta(days=3))], weather=sky, venue=venue(), garage=garage()
    )
    assert day.decision.urgency == "unknown"
    (chill,) = advise_cold([session(start=NOON + timedelta(days=3))], weather=sky, venue=venue())
    assert chill.decision.urgency == "unknown"


def test_each_day_has_its_own_heat():
    """Protects the days from each other, by the venue's calendar."""
    air = np.where(np.arange(72) < 36, 20.0, 36.0)
    sky = weather(hours=72, air_temp_c=air, dew_point_c=18.0)
    days = advise_heat(
        [session(start=NOON - timedelta(days=1)), session(start=NOON + timedelta(days=1))],
        weather=sky,
        venue=venue(),
        garage=garage(),
    )
    assert [day.day.day for day in days] == [11, 13]
    assert [day.decision.about for day in days] == ["Fri", "Sun"]
    assert [day.decision.urgency for day in days] == ["nothing", "act"]


@pytest.mark.parametrize(
    ("air_c", "wind_ms", "urgency"),
    [(20.0, 8.0, "nothing"), (4.0, 8.0, "watch"), (-8.0, 8.0, "act"), (-20.0, 15.0, "act")],
)
def test_cold_by_what_it_feels_like(air_c, wind_ms, urgency):
    """Protects hands: the wind decides as much as the air."""
    assert cold(air_temp_c=air_c, wind_ms=wind_ms).decision.urgency == urgency


def test_wind_chill_is_named_only_where_it_holds():
    """Protects the word: above 50 °F or in calm air there is none (NWS)."""
    windy, calm = cold(air_temp_c=-2.0, wind_ms=6.0), cold(air_temp_c=-2.0, wind_ms=0.5)
    assert windy.is_wind_chill
    assert not calm.is_wind_chill
    assert calm.felt_c.p50 == -2.0
    assert windy.decision.why[0].render(US, CHICAGO).startswith("wind chill down to")
    assert calm.decision.why[0].render(US, CHICAGO).startswith("air down to 28 °F")
    assert "Frostbite" in said(cold(air_temp_c=-20.0, wind_ms=15.0).decision)


@settings(deadline=None, max_examples=40)
@given(st.floats(-30.0, 15.0), st.floats(0.0, 10.0), st.floats(0.0, 15.0))
def test_a_colder_day_is_never_called_milder(air_c, less, wind_ms):
    """Protects the direction of cold."""
    base = cold(air_temp_c=air_c, wind_ms=wind_ms).decision.urgency
    colder = cold(air_temp_c=air_c - less, wind_ms=wind_ms).decision.urgency
    assert ORDER.index(colder) >= ORDER.index(base)


def test_unknown_cold_is_packed_for():
    """Protects from silence about a night that nobody knows."""
    for name in ("air_temp_c", "wind_ms"):
        fields = {"air_temp_c": 0.0} | {name: np.nan}
        assert cold(**fields).decision.urgency == "unknown"
