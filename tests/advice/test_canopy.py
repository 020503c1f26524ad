"""Canopy tie-down against the gust."""

import numpy as np
import pytest
from builders import garage, session, venue, weather
from hypothesis import given
from hypothesis import strategies as st

from trackday.advice.canopy import advise_canopy, holds_gust_ms, needed_per_leg_kg

MPH, LB = 0.44704, 0.45359237


def canopy(**changes):
    base = {
        "width": "10 ft",
        "length": "10 ft",
        "frame_weight": "45 lb",
        "ballast_per_leg": "40 lb",
    }
    return garage(canopy=base | changes).canopy


def advise(tent, **fields):
    (day,) = advise_canopy(tent, [session()], weather=weather(**fields), zone=venue().zone)
    return day


@given(st.floats(0, 40), st.floats(0, 20))
def test_more_gust_never_lowers_the_ballast(gust, more):
    """Protects monotony in the gust."""
    assert needed_per_leg_kg(canopy(), gust + more) >= needed_per_leg_kg(canopy(), gust)


def test_ballast_of_the_reference_uplift():
    """Protects the sum: 30 mph on 10 × 10 ft, blocked (cf 1.3), lifts 300 lb (check value).

    300 lb with the factor 1.5, less a 45 lb frame, over four legs: 101 lb a leg.
    """
    got = needed_per_leg_kg(canopy(blocked=True), 30 * MPH)
    assert got == pytest.approx((300 * 1.5 - 45) / 4 * LB, rel=0.005)


def test_never_less_than_the_public_guideline():
    """Protects the floor of 40 lb a leg (Summit County, Ohio, event guideline)."""
    assert needed_per_leg_kg(canopy(), 0.0) == pytest.approx(40 * LB, rel=1e-4)


def test_a_quiet_day_stands():
    """Protects the plain case."""
    assert advise(canopy(), gust_ms=6.0).action == "stand"


def test_a_windy_day_asks_for_more_ballast():
    """Protects the middle case."""
    got = advise(canopy(), gust_ms=13.0)
    assert got.action == "add ballast"
    assert got.needed_per_leg_kg > got.have_per_leg_kg


def test_a_gale_takes_it_down_before_the_hour_that_brings_it():
    """Protects the hour: the gust belongs to the hour before its stamp."""
    gust = np.full((4, 12), 6.0)
    gust[:, 8:] = 22.0  # from two hours after the noon stamp, so from 1 p.m. on
    got = advise(canopy(), gust_ms=gust)
    assert got.action == "take down"
    assert got.down_by.hour == 18  # 1 p.m. in Chicago is 18:00 UTC


def test_the_makers_limit_comes_first():
    """Protects the maker's limit against any amount of ballast."""
    tent = canopy(wind_limit="20 mph", ballast_per_leg="200 lb")
    assert holds_gust_ms(tent, 500.0) == pytest.approx(20 * MPH)
    assert advise(tent, gust_ms=10.0).action == "take down"


def test_unknown_gust_is_not_calm():
    """Protects against reading a missing gust as no wind."""
    got = advise(canopy(), gust_ms=np.nan)
    assert got.action == "unknown"
    assert np.isnan(got.needed_per_leg_kg)
    assert "windy day" in got.reasons[0].template
