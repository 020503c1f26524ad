"""The drive out and home: the racer's limit, NWS criteria, ice, and calmer hours."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from builders import NOON, garage, session, weather
from hypothesis import given, settings
from hypothesis import strategies as st

from trackday.advice.tow import advise_tow
from trackday.units import US
from trackday.weekend.sessions import Travel

CHICAGO = ZoneInfo("America/Chicago")
MPH = 0.44704
HOUR = timedelta(hours=1)
ORDER = ("nothing", "watch", "act")
GO = Travel(load_up=None, departure=NOON - 20 * HOUR, return_home=NOON + 5 * HOUR)
EARLY = NOON - 40 * HOUR


def trailer(limit):
    own = {} if limit is None else {"crosswind_limit": limit}
    return garage(trailer={"tire_slots": 8, "length": "20 ft", **own}).trailer


def tow(*, travel=GO, limit="35 mph", as_of=EARLY, **fields):
    return advise_tow(
        travel,
        [session()],
        weather=weather(hours=96, **fields),
        trailer=trailer(limit),
        zone=CHICAGO,
        as_of=as_of,
    )


def home(**kwargs):
    return tow(**kwargs)[-1]


def said(decision):
    return decision.do.render(US, CHICAGO)


def at(hours_after_noon, value, *, other):
    """A value in the interval that ends so many hours after noon, another in all others."""
    values = np.full(96, other)
    values[48 + hours_after_noon] = value
    return values


def test_a_calm_drive_goes_as_planned():
    """Protects the plain case, both ways."""
    out, back = tow()
    assert (out.leg, back.leg) == ("out", "home")
    assert out.decision.urgency == back.decision.urgency == "nothing"
    assert said(out.decision) == "Tow at Fri 16:00 as planned."
    assert said(back.decision) == "Tow at Sat 17:00 as planned."
    assert (back.start, back.end) == (GO.return_home, GO.return_home + 3 * HOUR)
    assert len(back.hours) == 3
    assert back.criterion == "none"


@pytest.mark.parametrize(
    ("gust_mph", "wind_mph", "criterion"),
    [(45, 20, "none"), (46.1, 20, "advisory"), (57, 20, "advisory"), (58.1, 20, "warning"),
     (40, 31.1, "advisory"), (50, 40.1, "warning")],
)  # fmt: skip
def test_criteria_of_the_weather_service(gust_mph, wind_mph, criterion):
    """Protects the words: NWS advises from 31 mph or gusts of 46, and warns from 40 or 58."""
    found = home(gust_ms=gust_mph * MPH, wind_ms=wind_mph * MPH)
    assert found.criterion == criterion
    named = f"({criterion} level)" in found.decision.why[0].render(US, CHICAGO)
    assert named == (criterion != "none")


def test_the_racer_s_own_limit_comes_first():
    """Protects the racer's word: 40 mph is too much for 35, and no advisory yet."""
    gusty = {"gust_ms": 40 * MPH}
    own, without = home(**gusty), home(limit=None, **gusty)
    assert own.decision.urgency == "act"
    assert own.is_own_limit
    assert own.over_chance == 1.0
    assert without.decision.urgency == "watch"
    assert without.limit_ms == pytest.approx(46 * MPH)
    assert "no crosswind_limit in garage.toml" in without.decision.why[0].render(US, CHICAGO)


def test_a_calmer_hour_is_found_and_never_before_the_last_session():
    """Protects the drive home: the gale of the first hour has passed at 18:00."""
    found = home(gust_ms=at(6, 25.0, other=5.0))
    assert found.better_start == NOON + 6 * HOUR
    assert said(found.decision) == "Too much wind at Sat 17:00: leave later, at Sat 18:00."
    assert [hour.over_chance for hour in found.hours] == [1.0, 0.0, 0.0]
    assert found.hours[0].start == NOON + 5 * HOUR
    # With a gale from 18:00 on, only leaving earlier helps; the race ends at 12:20.
    late = np.where(np.arange(96) > 48 + 6, 25.0, 5.0)
    assert home(gust_ms=late).better_start == NOON + 3 * HOUR
    race_long = np.where(np.arange(96) > 48 + 2, 25.0, 5.0)
    assert home(gust_ms=race_long).better_start is None


def test_the_drive_out_arrives_before_the_first_session():
    """Protects the event: no calmer hour is offered that misses it, nor one that has passed."""
    windy_friday = np.where(np.arange(96) < 48 - 4, 25.0, 5.0)
    out, _ = tow(gust_ms=windy_friday)
    assert out.better_start is None
    assert "no calmer hour near" in said(out.decision)
    windy_evening = np.where((np.arange(96) > 48 - 20) & (np.arange(96) < 48 - 16), 25.0, 5.0)
    out, _ = tow(gust_ms=windy_evening)
    assert out.better_start == NOON - 23 * HOUR
    assert said(out.decision) == "Too much wind at Fri 16:00: leave earlier, at Fri 13:00."
    out, _ = tow(gust_ms=windy_evening, as_of=NOON - 21 * HOUR)
    assert out.better_start == NOON - 17 * HOUR
    assert out.decision.by == out.start


def test_a_drive_just_before_the_first_session_ends_with_it():
    """Protects the hours: what blows during the session is not on the road."""
    travel = Travel(load_up=None, departure=NOON - 2 * HOUR, return_home=None)
    out, _ = tow(travel=travel, gust_ms=at(1, 25.0, other=5.0))
    assert out.end == NOON
    assert out.decision.urgency == "nothing"


@pytest.mark.parametrize(
    ("air_c", "dew_c", "rain_mm", "chance"),
    [
        (5.0, 4.5, 1.0, 0.0),  # wet, and warm
        (0.5, -6.0, 0.0, 0.0),  # cold, dry road, dry air
        (0.5, -6.0, 0.2, 1.0),  # cold and wet
        (-3.0, -3.4, 0.0, 1.0),  # frost
    ],
)
def test_ice_needs_cold_and_water(air_c, dew_c, rain_mm, chance):
    """Protects from black ice: cold air on a wet road, or air at its dew point (assumption)."""
    found = home(air_temp_c=air_c, dew_point_c=dew_c, rain_mm=rain_mm)
    assert found.ice_chance == chance
    assert (found.decision.urgency == "act") == (chance == 1.0)
    if chance:
        assert said(found.decision).startswith("Ice likely on the Sat 17:00 drive")


def test_rain_hours_before_still_wets_a_cold_road():
    """Protects from a road that was rained on before the rig leaves."""
    rain = at(2, 1.0, other=0.0)
    found = home(air_temp_c=0.0, dew_point_c=-6.0, rain_mm=rain)
    assert found.ice_chance == 1.0
    assert found.rain_chance < 0.2


@pytest.mark.parametrize("name", ["gust_ms", "air_temp_c", "rain_mm", "dew_point_c"])
def test_what_is_not_known_is_no_drive_as_planned(name):
    """Protects from "as planned" on half a forecast; warm air settles ice without the rest."""
    found = home(**({"air_temp_c": 0.0, "dew_point_c": -6.0} | {name: np.nan}))
    assert found.decision.urgency == "unknown"
    assert np.isnan(found.decision.chance)
    assert "not known" in said(found.decision)
    warm = home(air_temp_c=20.0, rain_mm=np.nan, dew_point_c=np.nan)
    assert warm.ice_chance == 0.0


def test_known_wind_over_the_limit_speaks_whatever_else_is_unknown():
    """Protects from "unknown" that hides a gale."""
    found = home(gust_ms=30.0, air_temp_c=np.nan)
    assert found.decision.urgency == "act"
    assert found.decision.chance == 1.0


def test_no_times_are_not_assessed():
    """Protects from silence about a drive that the event does not give."""
    out, back = tow(travel=Travel(None, None, None))
    assert said(out.decision).startswith("No departure in the event file")
    assert said(back.decision).startswith("No return_home in the event file")
    for leg in (out, back):
        assert leg.decision.urgency == "unknown"
        assert leg.hours == ()
        assert np.isnan(leg.over_chance)


def test_a_drive_that_is_over_is_left_out():
    """Protects Saturday's morning from advice on Friday's drive."""
    assert [leg.leg for leg in tow(as_of=NOON - 6 * HOUR)] == ["home"]
    assert [leg.leg for leg in tow(as_of=NOON - 19 * HOUR)] == ["out", "home"]
    no_departure = Travel(None, None, GO.return_home)
    assert [leg.leg for leg in tow(travel=no_departure, as_of=NOON + HOUR)] == ["home"]
    assert tow(as_of=NOON + 9 * HOUR) == ()


def test_the_venue_s_weather_is_said_to_be_the_venue_s():
    """Protects from trust in a forecast for one end of the road."""
    caution = home().decision.caution.render(US, CHICAGO)
    assert "at the venue only" in caution
    assert "whole gust" in caution


@settings(max_examples=40, deadline=None)
@given(st.floats(0, 40), st.floats(0, 20))
def test_more_gust_is_never_a_milder_call(gust, more):
    """Protects the direction."""
    base, gustier = home(gust_ms=gust), home(gust_ms=gust + more)
    assert ORDER.index(gustier.decision.urgency) >= ORDER.index(base.decision.urgency)
    assert gustier.over_chance >= base.over_chance
