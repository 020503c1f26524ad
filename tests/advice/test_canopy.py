"""Canopy tie-down against the gust, by day."""

from datetime import timedelta

import numpy as np
import pytest
from builders import garage, session, venue, weather
from hypothesis import given
from hypothesis import strategies as st

from trackday.advice.canopy import advise_canopy
from trackday.advice.canopy_ballast import (
    ballast_need,
    gust_table,
    holds_gust_ms,
    needed_per_leg_kg,
)
from trackday.units import US

MPH, LB = 0.44704, 0.45359237


def canopy(**changes):
    base = {
        "width": "10 ft",
        "length": "10 ft",
        "frame_weight": "45 lb",
        "ballast_per_leg": "40 lb",
    }
    return garage(canopy=base | changes).canopy


def advise(tent, *, paddock=None, **fields):
    (day,) = advise_canopy(
        tent, [session()], weather=weather(**fields), zone=venue().zone, paddock=paddock
    )
    return day


def said(say):
    return say.render(US, venue().zone)


@given(st.floats(0, 40), st.floats(0, 20), st.booleans())
def test_more_gust_never_lowers_the_ballast(gust, more, blocked):
    """Protects monotony in the gust, empty and blocked."""
    less = needed_per_leg_kg(canopy(), gust, blocked=blocked)
    assert needed_per_leg_kg(canopy(), gust + more, blocked=blocked) >= less


@given(st.floats(0, 40))
def test_closed_and_slippery_never_need_less(gust):
    """Protects the directions of walls and ground; an unknown paddock is the slipperiest."""
    tent = canopy()
    assert needed_per_leg_kg(tent, gust, blocked=True) >= needed_per_leg_kg(tent, gust)
    unknown = needed_per_leg_kg(tent, gust)
    for paddock in ("grass", "gravel", "paved"):
        assert unknown >= needed_per_leg_kg(tent, gust, paddock=paddock)


def test_never_less_than_against_the_reference_uplift():
    """Protects the sum: 30 mph on 10 × 10 ft, blocked (cf 1.3), lifts 300 lb (check value).

    300 lb with the factor 1.5, less a 45 lb frame, over four legs: 101 lb a leg at the least.
    """
    got = needed_per_leg_kg(canopy(blocked=True), 30 * MPH)
    assert got > (300 * 1.5 - 45) / 4 * LB


def test_tipping_worked_by_hand():
    """Protects the advice's path to physics: 25 mph, empty, gravel, 16.007 m² (by hand; see there).

    0.613 × 11.176² = 76.57 Pa; × 16.007 × 1.5 / 9.80665 = 187.5 kg; less 20.41 kg, over four legs.
    """
    need = ballast_need(canopy(), 25 * MPH, paddock="gravel")
    assert need.governs == "tipping"
    assert need.per_leg_kg == pytest.approx((187.5 - 20.41) / 4, abs=0.05)


def test_never_less_than_the_public_guideline():
    """Protects the floor of 40 lb a leg (Summit County, Ohio, event guideline)."""
    assert needed_per_leg_kg(canopy(), 0.0) == pytest.approx(40 * LB, rel=1e-4)


def test_table_of_gusts_shows_both_coefficients():
    """Protects the table: whole mph, never falling, blocked above empty, the maker's limit seen."""
    rows = gust_table(canopy(wind_limit="25 mph"), paddock="grass")
    assert [round(row.gust_ms / MPH, 6) for row in rows] == [15, 20, 25, 30, 35, 40]
    assert [row.past_makers_limit for row in rows] == [False, False, False, True, True, True]
    for need in ("empty", "blocked"):
        kilograms = [getattr(row, need).per_leg_kg for row in rows]
        assert kilograms == sorted(kilograms)
    assert all(row.blocked.per_leg_kg > row.empty.per_leg_kg for row in rows)
    assert not any(row.past_makers_limit for row in gust_table(canopy()))


def test_a_quiet_day_stands():
    """Protects the plain case."""
    got = advise(canopy(), gust_ms=6.0)
    assert got.action == "stand"
    assert got.decision.urgency == "nothing"
    assert got.decision.chance == 1.0
    assert got.decision.caution is None


def test_a_windy_day_asks_for_more_ballast():
    """Protects the middle case, with both needs, an hour, and the caution about straps.

    By hand: 61.3 Pa at 10 m/s; sliding at 0.35 takes 8.361 + 2.752/0.35 = 16.224 m²; 61.3 × 16.224
    × 1.5 / 9.80665 = 152.1 kg, less 20.4 kg, over four legs 32.9 kg or 73 lb.
    """
    gust = np.full((4, 12), 5.0)
    gust[:, 7:] = 10.0  # from an hour after noon on
    got = advise(canopy(), gust_ms=gust)
    assert got.action == "add ballast"
    assert got.needed_per_leg_kg > got.have_per_leg_kg
    assert got.needed_per_leg_kg == got.empty.per_leg_kg < got.blocked.per_leg_kg
    assert got.decision.by == session().start
    assert said(got.decision.do) == "Hang 73 lb on each leg by 12:00."
    why = "; ".join(said(reason) for reason in got.decision.why)
    assert "with nothing under it" in why
    assert "side walls or a car" in why
    caution = said(got.decision.caution)
    for word in ("trailer", "loaded", "chocked", "trips"):
        assert word in caution


def test_the_guideline_alone_asks_without_odds():
    """Protects the least ballast on a calm day from small odds of a gust that it is not about."""
    got = advise(canopy(ballast_per_leg="30 lb"), gust_ms=4.0)
    assert got.action == "add ballast"
    assert said(got.decision.do).startswith("Hang 40 lb on each leg")
    assert got.decision.chance is None
    assert said(got.reasons[-1]).startswith("at least 40 lb a leg in any wind")
    windy = advise(canopy(ballast_per_leg="30 lb"), gust_ms=9.0)
    assert windy.decision.chance == 1.0
    assert said(windy.reasons[-1]).startswith("that takes 57 lb a leg")


def test_sessions_in_any_order_make_the_same_days():
    """Protects the hours that a canopy stands from the order in which sessions are given."""
    gust = np.full((4, 60), 6.0)
    gust[:, 33] = 22.0  # in the hours of the second session alone
    both = [session(), session(start=session().start + timedelta(hours=3), name="Race")]
    fields = {"weather": weather(hours=60, gust_ms=gust), "zone": venue().zone}
    assert advise_canopy(canopy(), both, **fields) == advise_canopy(canopy(), both[::-1], **fields)


def test_past_the_makers_limit_no_wall_matters():
    """Protects the maker's limit from advice that trades walls for wind."""
    tent = canopy(blocked=True, ballast_per_leg="200 lb", wind_limit="15 mph")
    gust = np.full((4, 12), 5.0)
    gust[:, 8:] = 8.0
    assert said(advise(tent, gust_ms=gust).decision.do) == "Take the canopy down by 13:00."


def test_walls_off_before_more_ballast():
    """Protects the cheaper mend: where an open canopy holds, the walls come off."""
    tent = canopy(blocked=True, ballast_per_leg="80 lb")
    for gust, action in ((7.0, "add ballast"), (8.0, "take down")):
        got = advise(tent, gust_ms=gust, paddock="paved")
        assert got.action == action
        assert "side walls off" in said(got.decision.do)


def test_a_gale_takes_it_down_before_the_hour_that_brings_it():
    """Protects the hour: the gust belongs to the hour before its stamp."""
    gust = np.full((4, 12), 6.0)
    gust[:, 8:] = 22.0  # from two hours after the noon stamp, so from 1 p.m. on
    got = advise(canopy(), gust_ms=gust)
    assert got.action == "take down"
    assert got.down_by.hour == 18  # 1 p.m. in Chicago is 18:00 UTC
    assert said(got.decision.do) == "Take the canopy down by 13:00."
    assert got.decision.chance == 1.0


def test_gusts_that_members_bring_at_different_hours_count_together():
    """Protects the hour by which: two members of twenty, an hour apart, pass 10 % only together."""
    gust = np.full((20, 12), 6.0)
    gust[0, 7] = gust[1, 8] = 22.0
    got = advise(canopy(), gust_ms=gust, members=20)
    assert got.action == "take down"
    assert got.down_by == session().start + timedelta(hours=1)


def test_a_gale_from_the_start_keeps_it_down():
    """Protects the wording: nothing is taken down that never went up."""
    got = advise(canopy(), gust_ms=22.0)
    assert said(got.decision.do).startswith("Keep the canopy down")


def test_the_makers_limit_comes_first():
    """Protects the maker's limit against any amount of ballast."""
    tent = canopy(wind_limit="20 mph", ballast_per_leg="200 lb")
    assert holds_gust_ms(tent, 500.0) == pytest.approx(20 * MPH)
    got = advise(tent, gust_ms=10.0)
    assert got.action == "take down"
    assert said(got.reasons[1]) == "maker's limit 20 mph"
    assert "no ballast counts" in said(got.reasons[2])


def test_unknown_gust_is_not_calm():
    """Protects against reading a missing gust as no wind."""
    got = advise(canopy(), gust_ms=np.nan)
    assert got.action == "unknown"
    assert got.decision.urgency == "unknown"
    assert np.isnan(got.decision.chance)
    assert np.isnan(got.needed_per_leg_kg)
    assert "windy day" in got.reasons[0].template


def test_mostly_unknown_gusts_are_not_calm():
    """Protects against one quiet member speaking for four."""
    gust = np.full((4, 12), np.nan)
    gust[0] = 4.0
    got = advise(canopy(), gust_ms=gust)
    assert got.action == "unknown"
    gust[0] = 25.0
    assert advise(canopy(), gust_ms=gust).action == "take down"


@given(st.floats(0.5, 40.0), st.floats(0.0, 10.0))
def test_more_gust_never_gives_a_milder_call(gust, more):
    """Protects the order stand, add ballast, take down."""
    order = ["stand", "add ballast", "take down"]
    calm, windy = (advise(canopy(), gust_ms=g).action for g in (gust, gust + more))
    assert order.index(windy) >= order.index(calm)
