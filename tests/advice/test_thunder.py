"""Thunder by session and day: direction, equal say, and what is not known."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from builders import NOON, session, venue, weather
from hypothesis import given, settings
from hypothesis import strategies as st

from trackday.advice.lightning import advise_thunder, session_thunder, thunder_chance
from trackday.units import US

CHICAGO = ZoneInfo("America/Chicago")
END = NOON + timedelta(hours=1)


def chance(**fields):
    return thunder_chance(weather(**fields), start=NOON, end=END)


def test_a_storm_by_hand():
    """Protects the chain from CAPE and rain: 1000 J/kg and 0.1 mm in the hour (arithmetic).

    1.3e-11 · 1000 · 0.1 kg/m² · π · 1e8 m² = 0.408 flashes within 10 km; 1 − e^−0.408 = 0.335.
    """
    assert chance(cape_jkg=1000.0, rain_mm=0.1) == pytest.approx(0.335, abs=0.001)
    # A quarter of the members has it: a quarter of the chance.
    rain = np.array([[0.1], [0.0], [0.0], [0.0]])
    assert chance(cape_jkg=1000.0, rain_mm=rain) == pytest.approx(0.335 / 4.0, abs=0.001)


def test_rain_uses_up_the_energy_that_was_there_before():
    """Protects a storm whose hour ends in air that it has stabilized."""
    cape = np.where(np.arange(12) <= 6, 1000.0, 0.0)
    assert chance(cape_jkg=cape, rain_mm=0.1) == pytest.approx(0.335, abs=0.001)


@settings(max_examples=60)
@given(st.floats(0, 5000), st.floats(0, 20), st.floats(0, 2000), st.floats(0, 10))
def test_more_energy_or_rain_is_never_less_thunder(cape, rain, more_cape, more_rain):
    """Protects the direction."""
    base = chance(cape_jkg=cape, rain_mm=rain)
    assert chance(cape_jkg=cape + more_cape, rain_mm=rain) >= base - 1e-12
    assert chance(cape_jkg=cape, rain_mm=rain + more_rain) >= base - 1e-12
    longer = thunder_chance(
        weather(cape_jkg=cape, rain_mm=rain), start=NOON, end=END + timedelta(hours=2)
    )
    assert longer >= base - 1e-12


@pytest.mark.parametrize("fields", [{"cape_jkg": np.nan}, {"rain_mm": np.nan, "cape_jkg": 500.0}])
def test_not_known_is_not_no(fields):
    """Protects from "no thunder" without CAPE or rain, dry as the rest may look."""
    assert np.isnan(chance(**fields))
    day = session_thunder(session(), weather=weather(**fields), venue=venue())
    assert day.decision.urgency == "unknown"
    assert np.isnan(day.decision.chance)
    assert "not known" in day.decision.do.render(US, CHICAGO)


def test_a_center_that_knows_speaks_for_itself():
    """Protects half an answer: one center's energy counts, the other's silence is not calm."""
    fields = {"centers": ("a", "a", "b", "b"), "rain_mm": 0.1}
    cape = np.array([[1000.0], [1000.0], [np.nan], [np.nan]])
    assert chance(cape_jkg=cape, **fields) == pytest.approx(0.335, abs=0.001)


def test_the_office_has_one_say_beside_each_center():
    """Protects equal say: two centers at 0 and the office at 0.6 give 0.2.

    The office's rows, made from its rain, do not speak twice.
    """
    fields = {"centers": ("a", "b", "nws", "nws"), "thunder_probability": 0.6}
    found = chance(rain_mm=np.array([[0.0], [0.0], [9.0], [9.0]]), cape_jkg=2000.0, **fields)
    assert found == pytest.approx(0.2)
    assert chance(cape_jkg=np.nan, **fields) == pytest.approx(0.6)
    # Without its own chance its rain and the energy of others speak for it.
    alone = chance(centers=("a", "b", "nws", "nws"), rain_mm=[9.0] * 12, cape_jkg=2000.0)
    assert alone > 0.95


def test_a_day_of_storms_in_words():
    """Protects the advice: when, what to do, and the 30-minute rule (NWS lightning safety)."""
    rain = np.where(np.arange(24) == 15, 0.3, 0.0)
    sky = weather(hours=24, cape_jkg=1000.0, rain_mm=rain)
    (day,) = advise_thunder([session()], weather=sky, venue=venue())
    assert day.decision.urgency == "act"
    assert day.chance == pytest.approx(1.0 - np.exp(-0.4084), abs=0.005)
    # Rain in the interval from 14:00 to 15:00; the crew leaves at 14:20, and takes a third of it.
    assert day.likely_from == NOON + timedelta(hours=2)
    assert day.likely_to == NOON + timedelta(hours=2, minutes=20)
    assert day.decision.do.render(US, CHICAGO).startswith("Expect thunder from 14:00 on")
    caution = day.decision.caution.render(US, CHICAGO)
    for words in ("car or building", "canopy", "30 minutes", "Officials decide"):
        assert words in caution


def test_a_quiet_day_keeps_the_rule():
    """Protects people on a day with little chance: heard thunder counts, not the forecast."""
    sky = weather(hours=24)
    (day,) = advise_thunder([session()], weather=sky, venue=venue())
    assert day.decision.urgency == "nothing"
    assert day.decision.chance == pytest.approx(1.0)
    assert day.likely_from is None
    assert "Thunder heard" in day.decision.caution.render(US, CHICAGO)


def test_a_session_is_called_by_its_name():
    """Protects the plan's table: the chance of one session, without the standing caution."""
    sky = weather(hours=24, thunder_probability=0.15, cape_jkg=np.nan)
    found = session_thunder(session(name="Race 2"), weather=sky, venue=venue())
    assert found.decision.about == "Race 2"
    assert found.decision.urgency in ("nothing", "watch")
    assert found.chance < 0.15
    assert found.decision.caution is None


def test_hours_beyond_the_weather_are_unknown():
    """Protects the last days of a forecast."""
    sky = weather(hours=6, cape_jkg=0.0)
    assert np.isnan(thunder_chance(sky, start=NOON, end=NOON + timedelta(hours=9)))
