"""Fog on a pane against worked examples, published breath water and its own laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from trackday.physics.fogging import (
    breath_water_gph,
    cabin_dew_point_c,
    fogs,
    inner_surface_temp_c,
    mixed_dew_point_c,
    outer_coefficient_wm2k,
)
from trackday.physics.moist_air import dew_point_c, saturation_vapor_pressure_pa


@pytest.mark.parametrize(
    ("outside_c", "humidity", "h_out", "surface_c", "inside_dew_c", "fog"),
    [
        (15.0, 0.60, 60.0, 17.02, 16.70, 0.0),
        (15.0, 0.60, 120.0, 16.57, 16.70, 1.0),
        (5.0, 0.80, 8.0, 15.57, 21.31, 1.0),
    ],
)
def test_worked_examples(
    outside_c: float,
    humidity: float,
    h_out: float,
    surface_c: float,
    inside_dew_c: float,
    fog: float,
) -> None:
    """Guards the pane at 25 °C inside: heat flow worked by hand, dew points by PsychroLib."""
    surface = inner_surface_temp_c(25.0, outside_c, h_out_wm2k=h_out)
    dew_point = dew_point_c(25.0, humidity)
    assert surface == pytest.approx(surface_c, abs=0.006)
    assert dew_point == pytest.approx(inside_dew_c, abs=0.006)
    assert fogs(surface, dew_point) == fog


def test_unknown_pane_is_not_clear() -> None:
    """Guards the careful side: NaN on either side is unknown, neither fog nor clear."""
    found = fogs([10.0, np.nan, 10.0, 20.0], [12.0, 12.0, np.nan, 12.0])
    assert found[[0, 3]].tolist() == [1.0, 0.0]
    assert np.isnan(found[[1, 2]]).all()
    assert np.isnan(inner_surface_temp_c([np.nan, 20.0], [5.0, np.nan], h_out_wm2k=30.0)).all()


@given(
    inside_c=st.floats(0.0, 45.0),
    outside_c=st.floats(-15.0, 45.0),
    h_out=st.floats(5.0, 300.0),
)
def test_surface_lies_between_the_airs(inside_c: float, outside_c: float, h_out: float) -> None:
    """Guards the resistances: the inner surface is never beyond either air."""
    surface = float(inner_surface_temp_c(inside_c, outside_c, h_out_wm2k=h_out))
    assert min(inside_c, outside_c) - 1e-9 <= surface <= max(inside_c, outside_c) + 1e-9


@given(st.lists(st.floats(0.0, 90.0), min_size=2, max_size=2).map(sorted))
@example([4.999, 5.001])
def test_faster_air_cools_the_pane(pair: list[float]) -> None:
    """Guards the direction of speed, across the change of formula at 5 m/s too."""
    slow, fast = outer_coefficient_wm2k(pair)
    assert slow <= fast
    surfaces = inner_surface_temp_c(25.0, 5.0, h_out_wm2k=np.array([slow, fast]))
    assert surfaces[1] <= surfaces[0]


def test_outer_coefficient_of_mcadams() -> None:
    """Guards the two forms: McAdams, 5.6 + 4 U and 7.2 U^0.78, values from memory."""
    found = outer_coefficient_wm2k([0.0, 2.0, 10.0, 40.0, np.nan])
    assert found[:4] == pytest.approx([5.6, 13.6, 43.4, 128.0], rel=0.01)
    assert np.isnan(found[4])


def test_thicker_pane_is_warmer_inside() -> None:
    """Guards the pane's own resistance: a double visor is warmer within than a single one."""
    single = inner_surface_temp_c(25.0, 5.0, h_out_wm2k=60.0)
    double = inner_surface_temp_c(25.0, 5.0, h_out_wm2k=60.0, thickness_m=0.006)
    assert double > single


@pytest.mark.parametrize(
    ("outside_c", "expected"), [(25.0, [10.0, 30.0, 60.0]), (0.0, [13.0, 40.0, 80.0])]
)
def test_breath_water_of_the_institute_of_medicine(outside_c: float, expected: list[float]) -> None:
    """Guards the table: Institute of Medicine 1996, table 9-2, at 100, 300 and 600 W."""
    assert breath_water_gph([100.0, 300.0, 600.0], outside_c) == pytest.approx(expected)


def test_breath_water_between_and_beyond_the_table() -> None:
    """Guards the interpolation, the held ends and the unknowns."""
    assert breath_water_gph(300.0, 12.5) == pytest.approx(35.0)
    assert breath_water_gph(200.0, 25.0) == pytest.approx(20.0)
    assert breath_water_gph([50.0, 900.0], [-10.0, 40.0]) == pytest.approx([13.0, 60.0])
    assert np.isnan(breath_water_gph([np.nan, 300.0], [10.0, np.nan])).all()


def test_expired_air() -> None:
    """Guards the breath: 33.2 °C at 88 % (published measurements) has a dew point near 31 °C."""
    pure = mixed_dew_point_c(5.0, expired_fraction=1.0)
    assert pure == pytest.approx(float(dew_point_c(33.2, 0.88)), abs=1e-6)
    assert pure == pytest.approx(31.0, abs=0.3)


@given(
    ambient=st.floats(-20.0, 28.0),
    shares=st.lists(st.floats(0.0, 1.0), min_size=2, max_size=2).map(sorted),
)
def test_more_breath_more_dew(ambient: float, shares: list[float]) -> None:
    """Guards the mixing: between ambient and breath, and never less with more breath."""
    less, more = mixed_dew_point_c(ambient, expired_fraction=shares)
    assert ambient - 1e-6 <= less <= more + 1e-9
    assert more <= mixed_dew_point_c(ambient, expired_fraction=1.0) + 1e-6


@pytest.mark.parametrize("share", [-0.1, 1.1, 20.0])
def test_share_in_percent_is_refused(share: float) -> None:
    """Guards against a percentage taken for a share."""
    with pytest.raises(ValueError, match="expired_fraction"):
        mixed_dew_point_c(10.0, expired_fraction=share)


def test_cabin_balance() -> None:
    """Guards the balance of vapor, worked by hand with R/M = 461.5 J/(kg·K).

    40 g/h into 20 m³/h are 2 g/m³, at 20 °C 270.6 Pa above the 1000 Pa outside.
    """
    found = cabin_dew_point_c(1000.0, water_gph=40.0, ventilation_m3h=20.0, inside_c=20.0)
    assert saturation_vapor_pressure_pa(found) == pytest.approx(1270.6, abs=0.2)


@given(
    water=st.floats(0.1, 200.0),
    flows=st.lists(st.floats(0.0, 500.0), min_size=2, max_size=2).map(sorted),
    inside_c=st.floats(5.0, 45.0),
)
def test_ventilation_dries_the_cabin(water: float, flows: list[float], inside_c: float) -> None:
    """Guards the direction of ventilation and the ceiling at saturation, without a flow too."""
    stuffy, airy = cabin_dew_point_c(
        700.0, water_gph=water, ventilation_m3h=flows, inside_c=inside_c
    )
    assert airy <= stuffy + 1e-9
    assert stuffy <= inside_c + 1e-9


def test_unknown_cabin_is_not_dry() -> None:
    """Guards NaN in every argument of the balance."""
    nan = np.nan
    results = [
        cabin_dew_point_c(nan, water_gph=40.0, ventilation_m3h=20.0, inside_c=20.0),
        cabin_dew_point_c(1000.0, water_gph=nan, ventilation_m3h=20.0, inside_c=20.0),
        cabin_dew_point_c(1000.0, water_gph=40.0, ventilation_m3h=nan, inside_c=20.0),
        cabin_dew_point_c(1000.0, water_gph=40.0, ventilation_m3h=20.0, inside_c=nan),
        mixed_dew_point_c(nan, expired_fraction=0.2),
        mixed_dew_point_c(10.0, expired_fraction=nan),
    ]
    assert np.isnan(results).all()
