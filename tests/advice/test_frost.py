"""Freezing nights: ice, frost and dew by hand-made hours, what is not known, and which nights."""

import json
from datetime import date, timedelta

import numpy as np
import pytest
from astral import Observer, sun
from builders import NOON, session, venue, weather
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import gathered, plan

from trackday.advice.assumptions_frost import WARMEST_FROST_AIR_C
from trackday.advice.frost import advise_frost
from trackday.advice.frost_nights import frost_nights
from trackday.physics.night_surface import deposits, sheet_temp_c
from trackday.report.data import plan_json
from trackday.report.text_decisions import CHANCE_OF, NAMES
from trackday.units import METRIC
from trackday.weekend.sessions import Travel

PLACE = venue()
HOUR = timedelta(hours=1)
SATURDAY = date(2027, 6, 12)
EVENING = NOON - 20 * HOUR
"""Four in the afternoon of the Friday before, when the rig departs."""

GO = Travel(load_up=None, departure=EVENING, return_home=NOON + 8 * HOUR)
CLEAR = {"cloud_fraction": 0.0, "wind_ms": 0.7, "rain_mm": 0.0}


def nights(*days, travel=GO, as_of=EVENING):
    """The nights around days with one session at noon, by the day they are told with."""
    races = [session(start=NOON + timedelta(days=n), name=f"Race {n}") for n in days or (0,)]
    return frost_nights(races, venue=PLACE, travel=travel, as_of=as_of)


def frost(*, as_of=EVENING, members=4, **fields):
    """Advice for the night before Saturday."""
    (night,) = nights(as_of=EVENING)[SATURDAY]
    sky = weather(members=members, hours=84, **(CLEAR | fields))
    return advise_frost(night, weather=sky, as_of=as_of)


def hours_of(value, *, count, other):
    """A value at so many stamps from local midnight on, another at all others."""
    values = np.full(84, other)
    start = 42 - 12
    values[start : start + count] = value
    return values


def said(decision):
    return decision.do.render(METRIC, PLACE.zone)


def test_a_mild_night_asks_for_nothing():
    """Protects from advice that nobody needs: June, 20 °C."""
    night = frost()
    assert night.decision.urgency == "nothing"
    assert night.decision.chance == 1.0
    assert night.freeze.chance == night.frost.chance == night.dew.chance == 0.0


def test_a_freezing_night_in_words():
    """Protects the evening's line: what to do, how cold, from when, and the frost beside it."""
    night = frost(air_temp_c=-5.0, dew_point_c=-7.0)
    assert night.freeze.chance == night.frost.chance == 1.0
    assert night.decision.urgency == "act"
    # After sunset at 20:45 the third full hour is 23:00, the second 22:00.
    assert said(night.decision) == (
        "Drain plain water for the night or keep it warm: down to −5 °C, ice from 23:00."
    )
    assert [why.render(METRIC, PLACE.zone) for why in night.decision.why] == [
        "air at or below −2 °C for 3 h",
        "frost on the car from 22:00: cover it; scraper and dry cloths for 10:00",
    ]
    assert night.decision.by == night.start
    assert night.decision.caution is not None


def test_at_dawn_it_is_looked_for():
    """Protects six in the morning: nothing is prevented then, and it is due when one is back."""
    dawn = NOON - 6 * HOUR
    night = frost(air_temp_c=-5.0, dew_point_c=-7.0, as_of=dawn)
    assert said(night.decision).startswith("Look for ice in block, pump and washer")
    assert "since 22:00" in night.decision.why[1].render(METRIC, PLACE.zone)
    assert night.decision.by == NOON - 2 * HOUR
    white = frost(air_temp_c=0.0, dew_point_c=-2.0, as_of=dawn)
    assert said(white.decision).startswith("Scrape screen and mirrors")


@pytest.mark.parametrize(
    ("air_c", "count", "chance"), [(-2.3, 3, 1.0), (-2.3, 2, 0.0), (-2.1, 6, 0.0)]
)
def test_ice_takes_a_hard_freeze_and_its_hours(air_c, count, chance):
    """Protects both limits: 28 °F (−2.2 °C), and three hours of it."""
    cold = hours_of(air_c, count=count, other=1.0)
    night = frost(air_temp_c=cold, dew_point_c=-20.0)
    assert night.freeze.chance == chance
    assert night.air_c.p50 == air_c


@pytest.mark.parametrize(
    ("sky", "urgency"),
    [({}, "act"), ({"cloud_fraction": 1.0}, "nothing"), ({"wind_ms": 12.0}, "nothing")],
)
def test_frost_in_air_above_freezing(sky, urgency):
    """Protects the white car at 3 °C: under a clear calm sky, not under cloud or in wind."""
    night = frost(air_temp_c=3.0, dew_point_c=0.0, **sky)
    assert night.freeze.chance == 0.0
    assert night.decision.urgency == urgency
    assert said(night.decision).startswith("Cover the car") is (urgency == "act")


def test_dew_is_told_when_likely_before_it_falls_and_in_no_rain():
    """Protects from dew at every turn: not once it has come, on a wet car, or at even chances."""
    moist = {"air_temp_c": 14.0, "dew_point_c": 13.0}
    night = frost(**moist)
    assert night.decision.urgency == "watch"
    assert night.decision.by is None
    assert said(night.decision) == (
        "Cover the car on Fri night: dew from 22:00; dry cloths for 10:00."
    )
    assert frost(**moist, as_of=NOON - 6 * HOUR).decision.urgency == "nothing"
    assert frost(air_temp_c=14.0, dew_point_c=13.0, rain_mm=0.2).dew.chance == 0.0
    half = np.array([[13.0], [13.0], [2.0], [2.0]])
    even = frost(air_temp_c=14.0, dew_point_c=half)
    assert even.dew.chance == 0.5
    assert even.decision.urgency == "nothing"


@pytest.mark.parametrize("field", ["air_temp_c", "dew_point_c", "wind_ms", "cloud_fraction"])
def test_unknown_is_not_frostless(field):
    """Protects the careful side: without any one of them nothing is ruled out in cool air."""
    night = frost(**({"air_temp_c": 4.0, "dew_point_c": 1.0} | {field: np.nan}))
    assert np.isnan(night.frost.chance)
    assert night.decision.urgency == "unknown"
    assert np.isnan(night.decision.chance)
    assert "drain plain water" in said(night.decision)


def test_a_night_that_is_not_covered_is_unknown():
    """Protects against a forecast that ends before the night does."""
    (night,) = nights()[SATURDAY]
    sky = weather(hours=84, **CLEAR)
    short = sky.between(sky.times[0].to_pydatetime(), night.end - 3 * HOUR)
    advice = advise_frost(night, weather=short, as_of=EVENING)
    assert advice.decision.urgency == "unknown"
    assert np.isnan(advice.freeze.chance)
    assert advice.air_c.unknown_share == 1.0


def test_a_hole_counts_only_where_it_could_matter():
    """Protects both ways: three unknown hours may freeze, two may not, eight frozen hours stay."""
    for hole, other, chance in ((3, 1.0, np.nan), (2, 1.0, 0.0), (2, -5.0, 1.0)):
        air = hours_of(np.nan, count=hole, other=other)
        found = frost(air_temp_c=air, dew_point_c=-20.0).freeze.chance
        assert found == pytest.approx(chance, nan_ok=True)


def test_warm_air_settles_it_without_the_sky():
    """Protects a summer night from "not known": no sheet whitens in air above the limit.

    The limit against the physics: in any moisture, in dead calm without a cloud.
    """
    assert frost(air_temp_c=12.0, cloud_fraction=np.nan).decision.urgency == "nothing"
    airs = np.arange(WARMEST_FROST_AIR_C, 20.0, 0.25)[:, None]
    dews = airs - np.arange(0.0, 30.0, 0.25)
    coldest = sheet_temp_c(airs, dews, wind_ms=0.0, cloud_fraction=0.0)
    assert not (deposits(coldest, dews).frost == 1.0).any()
    just_below = sheet_temp_c(WARMEST_FROST_AIR_C - 0.5, dews, wind_ms=0.0, cloud_fraction=0.0)
    assert (deposits(just_below, dews).frost == 1.0).any()


@settings(max_examples=40, deadline=None)
@given(st.floats(-8.0, 12.0), st.floats(0.0, 6.0), st.floats(0.0, 3.0))
def test_a_colder_night_is_no_less_likely_to_freeze(air_c, spread_k, colder_k):
    """Protects the direction of cold, over members that differ."""
    airs = air_c + spread_k * np.linspace(-1.0, 1.0, 4)[:, None]
    warm, cold = (frost(air_temp_c=airs - k, dew_point_c=airs - k - 3.0) for k in (0.0, colder_k))
    assert 0.0 <= warm.freeze.chance <= cold.freeze.chance <= 1.0
    assert warm.air_c.p50 - cold.air_c.p50 == pytest.approx(colder_k)


def test_the_nights_of_an_event():
    """Protects which nights are told: those at the venue, with the day on which they begin."""
    days = [SATURDAY + timedelta(days=n) for n in range(3)]
    told = nights(0, 1)
    assert [n.evening for n in told[days[0]]] == [SATURDAY - timedelta(days=1), SATURDAY]
    assert told[days[1]] == ()
    first, between = told[days[0]]
    # Another library's sun (astral); by UTC both fall on the Saturday.
    here = Observer(PLACE.latitude, PLACE.longitude)
    assert abs(first.start - sun.sunset(here, SATURDAY)) < timedelta(minutes=2)
    assert abs(first.end - sun.sunrise(here, SATURDAY)) < timedelta(minutes=2)
    assert (first.leave, first.back) == (first.start, NOON - 2 * HOUR)
    assert between.leave == NOON + timedelta(minutes=20) + 2 * HOUR


def test_nights_away_from_the_venue_are_left_out():
    """Protects from covering a car at home: departure on the day itself, return on the last."""
    same_day = Travel(load_up=None, departure=NOON - 8 * HOUR, return_home=NOON + 5 * HOUR)
    assert nights(travel=same_day) == {SATURDAY: ()}
    stays = Travel(load_up=None, departure=NOON - 8 * HOUR, return_home=NOON + 24 * HOUR)
    assert [n.evening for n in nights(travel=stays)[SATURDAY]] == [SATURDAY]
    not_told = Travel(load_up=None, departure=None, return_home=None)
    assert [n.evening for n in nights(travel=not_told)[SATURDAY]] == [SATURDAY - timedelta(days=1)]


def test_after_midnight_a_night_belongs_to_its_morning():
    """Protects the small hours: yesterday is no longer told, its night is, and then is over."""
    sunday = SATURDAY + timedelta(days=1)
    small_hours = nights(0, 1, as_of=NOON + 14 * HOUR)
    assert [n.evening for n in small_hours[sunday]] == [SATURDAY]
    assert small_hours[SATURDAY] == ()
    assert nights(0, 1, as_of=NOON + 23 * HOUR) == {SATURDAY: (), sunday: ()}


def test_a_plan_says_it():
    """Protects the way into every report: decision, its words, and the data."""
    made = plan(gather=gathered(air_temp_c=-5.0, dew_point_c=-7.0, **CLEAR))
    decision = next(d for d in made.decisions if d.topic == "frost")
    assert decision.urgency == "act"
    assert {"frost"} <= set(NAMES) & set(CHANCE_OF)
    (told,) = json.loads(plan_json(made))["frost"]
    assert told["evening"] == "2027-06-11"
    assert told["freeze"]["chance"] == 1.0
    assert told["decision"]["urgency"] == "act"
