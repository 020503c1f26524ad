"""Canopy and wind against ASCE 7, EN 1991-1-4 and worked arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.physics.wind_load import (
    ballast_per_leg_kg,
    lift_off_gust_ms,
    uplift_coefficient,
    uplift_n,
    velocity_pressure_pa,
)

MS_PER_MPH = 0.44704
PA_PER_PSF = 47.880259
N_PER_LBF = 4.4482216
KG_PER_LB = 0.45359237
TEN_BY_TEN_FT_M2 = 9.290304


@pytest.mark.parametrize(
    ("mph", "psf"),
    [(10, 0.256), (20, 1.024), (25, 1.600), (30, 2.304), (40, 4.096), (58, 8.612)],
)
def test_velocity_pressure(mph: float, psf: float) -> None:
    """Guards the pressure: ASCE 7, 0.00256 V² in psf and mph."""
    found = velocity_pressure_pa(mph * MS_PER_MPH) / PA_PER_PSF
    assert found == pytest.approx(psf, rel=1e-3)


def test_velocity_pressure_in_its_own_units() -> None:
    """Guards against a mix of units: 12 mph press with 0.369 psf, not with 86."""
    assert velocity_pressure_pa(10.0) == pytest.approx(61.3)
    assert velocity_pressure_pa(12 * MS_PER_MPH) / PA_PER_PSF == pytest.approx(0.369, abs=1e-3)


@pytest.mark.parametrize(
    ("mph", "coefficient", "pounds"),
    [(20, 0.7, 72), (25, 0.7, 112), (30, 0.7, 161), (20, 1.3, 133), (25, 1.3, 208), (30, 1.3, 300)],
)
def test_uplift_on_ten_by_ten_feet(mph: float, coefficient: float, pounds: float) -> None:
    """Guards the lift: arithmetic with ASCE 7's pressure on 100 square feet, in whole pounds."""
    found = uplift_n(mph * MS_PER_MPH, area_m2=TEN_BY_TEN_FT_M2, coefficient=coefficient)
    assert found / N_PER_LBF == pytest.approx(pounds, abs=0.7)


@pytest.mark.parametrize(
    ("leg_lb", "coefficient", "mph"),
    [(40, 0.7, 33.8), (40, 1.3, 24.8), (24, 0.7, 28.1), (24, 1.3, 20.6)],
)
def test_lift_off_with_a_45_lb_frame(leg_lb: float, coefficient: float, mph: float) -> None:
    """Guards the lift-off gust: arithmetic for four legs and an assumed frame of 45 lb."""
    found = lift_off_gust_ms(
        area_m2=TEN_BY_TEN_FT_M2,
        coefficient=coefficient,
        frame_kg=45 * KG_PER_LB,
        ballast_total_kg=4 * leg_lb * KG_PER_LB,
    )
    assert found / MS_PER_MPH == pytest.approx(mph, abs=0.06)


def test_coefficients_of_en_1991_1_4() -> None:
    """Guards the coefficients: EN 1991-1-4 §7.3, duopitch canopy, values from memory.

    Empty 0.6 to 1.0 from 5° to 30°, blocked 1.3, linear in the blockage between.
    """
    assert uplift_coefficient([5.0, 30.0], blockage=0.0) == pytest.approx([0.6, 1.0], abs=0.05)
    assert uplift_coefficient([5.0, 15.0, 30.0], blockage=1.0) == pytest.approx(1.3, abs=0.05)
    ends = uplift_coefficient(10.0, blockage=[0.0, 1.0])
    assert uplift_coefficient(10.0, blockage=0.5) == pytest.approx(ends.mean())
    assert uplift_coefficient([0.0, 60.0], blockage=0.0) == pytest.approx([0.6, 1.0], abs=0.05)


@pytest.mark.parametrize("blockage", [-0.1, 1.1, 50.0])
def test_blockage_in_percent_is_refused(blockage: float) -> None:
    """Guards against a percentage taken for a share."""
    with pytest.raises(ValueError, match="blockage"):
        uplift_coefficient(20.0, blockage=blockage)


@given(
    gust=st.floats(0.0, 40.0),
    area=st.floats(4.0, 40.0),
    coefficient=st.floats(0.5, 1.4),
    frame=st.floats(5.0, 60.0),
    legs=st.integers(3, 8),
)
def test_ballast_just_holds(
    gust: float, area: float, coefficient: float, frame: float, legs: int
) -> None:
    """Guards the balance: with the ballast asked for, lift-off is at or above the gust."""
    roof = {"area_m2": area, "coefficient": coefficient}
    each = ballast_per_leg_kg(gust, **roof, frame_kg=frame, legs=legs, safety_factor=1.0)
    lift_off = lift_off_gust_ms(**roof, frame_kg=frame, ballast_total_kg=legs * each)
    assert each >= 0.0
    assert lift_off >= gust - 1e-6
    if each > 0.0:
        assert lift_off == pytest.approx(gust)


@given(
    gusts=st.lists(st.floats(0.0, 40.0), min_size=2, max_size=2).map(sorted),
    coefficients=st.lists(st.floats(0.5, 1.4), min_size=2, max_size=2).map(sorted),
)
def test_more_wind_more_ballast(gusts: list[float], coefficients: list[float]) -> None:
    """Guards the directions: more gust, lift or caution asks for more ballast, never less."""
    legs = {"area_m2": 9.0, "frame_kg": 20.0, "legs": 4}
    low = ballast_per_leg_kg(gusts[0], coefficient=coefficients[0], **legs)
    assert ballast_per_leg_kg(gusts[1], coefficient=coefficients[0], **legs) >= low
    assert ballast_per_leg_kg(gusts[0], coefficient=coefficients[1], **legs) >= low
    bare = ballast_per_leg_kg(gusts[0], coefficient=coefficients[0], safety_factor=1.0, **legs)
    assert low >= bare


def test_ballast_of_a_weightless_frame_carries_the_safety_factor() -> None:
    """Guards the factor of 1.5 on the wind: EN 1990, table A1.2(A), value from memory."""
    each = ballast_per_leg_kg(15.0, area_m2=9.0, coefficient=1.0, frame_kg=0.0, legs=4)
    lift_kg = 0.613 * 15.0**2 * 9.0 / 9.80665
    assert 4.0 * each == pytest.approx(1.5 * lift_kg)


def test_calm_needs_no_ballast() -> None:
    """Guards the floor: a frame heavier than the lift needs none, not a negative weight."""
    found = ballast_per_leg_kg([0.0, 3.0], area_m2=9.0, coefficient=1.3, frame_kg=20.0, legs=4)
    assert found.tolist() == [0.0, 0.0]


def test_unknown_gust_is_not_calm() -> None:
    """Guards the careful side: NaN gust gives NaN lift and ballast."""
    assert np.isnan(velocity_pressure_pa(np.nan))
    assert np.isnan(uplift_n(np.nan, area_m2=9.0, coefficient=1.0))
    found = ballast_per_leg_kg([np.nan, 20.0], area_m2=9.0, coefficient=1.0, frame_kg=20.0, legs=4)
    assert np.isnan(found).tolist() == [True, False]
    assert np.isnan(uplift_coefficient(np.nan, blockage=0.0))
    assert np.isnan(uplift_coefficient(20.0, blockage=np.nan))


def test_impossible_canopies_are_refused() -> None:
    """Guards the divisions: no legs, no area and no lift are mistakes."""
    with pytest.raises(ValueError, match="legs"):
        ballast_per_leg_kg(10.0, area_m2=9.0, coefficient=1.0, frame_kg=20.0, legs=0)
    for area, coefficient in ((0.0, 1.0), (9.0, 0.0)):
        with pytest.raises(ValueError, match="positive"):
            lift_off_gust_ms(
                area_m2=area, coefficient=coefficient, frame_kg=20.0, ballast_total_kg=60.0
            )
