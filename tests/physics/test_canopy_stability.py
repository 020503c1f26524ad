"""Sliding and tipping of a canopy against moments and forces worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.physics.canopy_stability import (
    CanopyShape,
    leg_ballast_kg,
    stability,
    standing_gust_ms,
)

TEN_FEET_M = 3.048
MS_PER_MPH = 0.44704
TEN_BY_TEN = CanopyShape(TEN_FEET_M, TEN_FEET_M, 2.2, legs=4, pitch_deg=20.0)

sides = st.floats(2.0, 8.0)
gusts = st.floats(0.0, 40.0)
blockages = st.floats(0.0, 1.0)
frictions = st.floats(0.2, 0.8)


def test_lifting_is_the_uplift_alone() -> None:
    """Guards the vertical balance: cf·A, EN 1991-1-4 table 7.7 (0.9 empty, 1.3 blocked; memory)."""
    area_m2 = TEN_FEET_M**2
    empty, blocked = (stability(TEN_BY_TEN, blockage=b, friction=0.4) for b in (0.0, 1.0))
    assert empty.lifting_m2 == pytest.approx(0.9 * area_m2)
    assert blocked.lifting_m2 == pytest.approx(1.3 * area_m2)


def test_empty_canopy_worked_by_hand() -> None:
    """Guards forces and moments about the downwind legs, worked with a pocket calculator.

    10 × 10 ft, eaves 2.2 m, cf 0.9: lift 8.361 m². Two valances 0.25 m deep at 1.1: 1.676 m²; cloth
    2 × 0.02 × 9.290: 0.372; four legs 0.04 × 2.2 m at 2.0: 0.704; together 2.752 m². Sliding at
    0.4: 8.361 + 6.880 = 15.241. Tipping, lift at 3/4 of the span: 8.361 × 2.286 = 19.114 m³; top
    (1.676 + 0.372) × 2.2 = 4.507; legs 0.704 × 1.1 = 0.774; 24.395 / 1.524 = 16.007 m².
    """
    found = stability(TEN_BY_TEN, blockage=0.0, friction=0.4)
    assert found.sliding_m2 == pytest.approx(15.241, abs=0.005)
    assert found.tipping_m2 == pytest.approx(16.007, abs=0.005)
    assert found.governs == "tipping"
    assert found.worst_m2 == found.tipping_m2


def test_a_wall_worked_by_hand() -> None:
    """Guards the wall: 1.1 × 2.2 × 3.048 m = 7.376 m² more, at half the height; lift 12.077 m².

    Sliding: 12.077 + (2.752 + 7.376)/0.4 = 37.397. Tipping: 12.077 × 1.5 + (5.281 + 8.114)/1.524.
    """
    found = stability(TEN_BY_TEN, blockage=1.0, friction=0.4)
    assert found.sliding_m2 == pytest.approx(37.397, abs=0.01)
    assert found.tipping_m2 == pytest.approx(18.116 + 13.395 / 1.524, abs=0.01)
    assert found.governs == "sliding"


@pytest.mark.parametrize(("mph", "pounds"), [(20, 72), (25, 112), (30, 161)])
def test_never_less_than_against_lift_off(mph: float, pounds: float) -> None:
    """Guards against forgetting uplift: cf 0.7 on 10 × 10 ft, check values 72, 112 and 161 lb.

    A pitch of 10° has the 0.7 (EN 1991-1-4 table 7.7, value from memory).
    """
    low_roof = CanopyShape(TEN_FEET_M, TEN_FEET_M, 2.2, legs=4, pitch_deg=10.0)
    holding = stability(low_roof, blockage=0.0, friction=0.4)
    gust = mph * MS_PER_MPH
    lift_lb = 0.613 * gust**2 * holding.lifting_m2 / 4.4482216
    assert lift_lb == pytest.approx(pounds, abs=0.7)
    each = leg_ballast_kg(gust, holding=holding, frame_kg=0.0, legs=4, safety_factor=1.0)
    assert 4 * each / 0.45359237 >= pounds


@given(side=sides, other=sides, height=st.floats(1.8, 3.0), blockage=blockages, friction=frictions)
def test_directions(
    side: float, other: float, height: float, blockage: float, friction: float
) -> None:
    """Guards directions: more lift needs more than lift-off; grip and lower eaves never hurt."""
    shape = CanopyShape(side, other, height, legs=4, pitch_deg=20.0)
    found = stability(shape, blockage=blockage, friction=friction)
    assert found.sliding_m2 > found.lifting_m2
    assert found.tipping_m2 > found.lifting_m2
    grippy = stability(shape, blockage=blockage, friction=friction + 0.1)
    assert grippy.worst_m2 <= found.worst_m2
    lowered = CanopyShape(side, other, height - 0.5, legs=4, pitch_deg=20.0)
    low = stability(lowered, blockage=blockage, friction=friction)
    assert low.worst_m2 <= found.worst_m2
    assert low.lifting_m2 == found.lifting_m2
    turned = CanopyShape(other, side, height, legs=4, pitch_deg=20.0)
    assert stability(turned, blockage=blockage, friction=friction).worst_m2 == pytest.approx(
        found.worst_m2
    )


@given(side=sides, other=sides, scale=st.floats(1.0, 3.0), gust=gusts, more=st.floats(0.0, 20.0))
def test_ballast_rises_with_area_and_gust(
    side: float, other: float, scale: float, gust: float, more: float
) -> None:
    """Guards monotony: a larger canopy of the same shape, or more gust, never needs less."""
    small = stability(
        CanopyShape(side, other, 2.2, legs=4, pitch_deg=20.0), blockage=0.0, friction=0.4
    )
    large = stability(
        CanopyShape(scale * side, scale * other, 2.2, legs=4, pitch_deg=20.0),
        blockage=0.0,
        friction=0.4,
    )
    frame = {"frame_kg": 20.0, "legs": 4}
    needed = leg_ballast_kg(gust, holding=small, **frame)
    assert leg_ballast_kg(gust, holding=large, **frame) >= needed - 1e-9
    assert leg_ballast_kg(gust + more, holding=small, **frame) >= needed


@given(gust=st.floats(8.0, 40.0), blockage=blockages)
def test_ballast_and_gust_are_inverse(gust: float, blockage: float) -> None:
    """Guards the pair: with the ballast asked for, the canopy stands exactly that gust."""
    holding = stability(TEN_BY_TEN, blockage=blockage, friction=0.4)
    each = float(leg_ballast_kg(gust, holding=holding, frame_kg=1.0, legs=4))
    assert standing_gust_ms(holding, frame_kg=1.0, ballast_total_kg=4 * each) == pytest.approx(gust)


def test_unknown_gust_needs_unknown_ballast() -> None:
    """Guards the careful side: NaN stays NaN."""
    holding = stability(TEN_BY_TEN, blockage=0.0, friction=0.4)
    assert np.isnan(leg_ballast_kg(np.nan, holding=holding, frame_kg=20.0, legs=4))


@pytest.mark.parametrize("friction", [0.0, -0.4, float("nan")])
def test_ground_without_friction_is_refused(friction: float) -> None:
    """Guards the division."""
    with pytest.raises(ValueError, match="friction"):
        stability(TEN_BY_TEN, blockage=0.0, friction=friction)
