"""Moist air against ASHRAE's tables, PsychroLib, the standard atmosphere and the NWS formula."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from trackday.physics.moist_air import (
    density_altitude_m,
    density_kgm3,
    dew_point_c,
    dew_point_from_vapor_pressure_c,
    relative_humidity,
    saturation_vapor_pressure_pa,
    standard_pressure_pa,
    standard_temp_c,
    station_pressure_pa,
)

FOOT_M = 0.3048
PA_PER_INHG = 3386.389


@pytest.mark.parametrize(
    ("temp_c", "expected_pa"),
    [(-20.0, 103.24), (5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3), (100.0, 101418.0)],
)
def test_saturation_of_ashrae(temp_c: float, expected_pa: float) -> None:
    """Guards saturation: ASHRAE Fundamentals 2017, ch. 1, table 3, within its own 0.03 %."""
    assert saturation_vapor_pressure_pa(temp_c) == pytest.approx(expected_pa, rel=3e-4)


@given(st.floats(-60.0, 120.0))
@example(0.01)
@example(0.05)
def test_table_is_psychrolib(temp_c: float) -> None:
    """Guards the interpolation: within 1e-5 of the library between its knots, ice and water."""
    expected = psychrolib.GetSatVapPres(temp_c)
    assert saturation_vapor_pressure_pa(temp_c) == pytest.approx(expected, rel=1e-5)


def test_saturation_outside_its_range_is_unknown() -> None:
    """Guards against extrapolating beyond the table, and against NaN read as a number."""
    found = saturation_vapor_pressure_pa([-60.1, 120.1, np.nan])
    assert np.isnan(found).all()
    assert saturation_vapor_pressure_pa([[-60.0], [120.0]]).shape == (2, 1)


@pytest.mark.parametrize(
    ("temp_c", "humidity", "expected_c"),
    [(20.0, 0.90, 18.31), (25.0, 0.60, 16.70), (15.0, 0.95, 14.21), (25.0, 0.50, 13.86)],
)
def test_dew_points(temp_c: float, humidity: float, expected_c: float) -> None:
    """Guards the dew point: computed with PsychroLib, to its two decimals."""
    assert dew_point_c(temp_c, humidity) == pytest.approx(expected_c, abs=0.005)


def test_example_of_ashrae() -> None:
    """Guards the chain of humidities: ASHRAE 2017, ch. 1, example 1, 40 °C dry and 20 °C wet bulb.

    The example reads a dew point of 7 °C and 14 % off a chart; PsychroLib's exact humidity ratio
    of the wet bulb stands between.
    """
    ratio = psychrolib.GetHumRatioFromTWetBulb(40.0, 20.0, 101325.0)
    vapor_pa = psychrolib.GetVapPresFromHumRatio(ratio, 101325.0)
    dew_point = dew_point_from_vapor_pressure_c(vapor_pa)
    assert dew_point == pytest.approx(7.0, abs=0.5)
    assert dew_point == pytest.approx(
        psychrolib.GetTDewPointFromHumRatio(40.0, ratio, 101325.0), abs=1e-3
    )
    assert relative_humidity(40.0, dew_point) == pytest.approx(0.14, abs=0.005)


def test_moist_air_density_of_ashrae() -> None:
    """Guards the density: 30 °C, W 0.02, 95461 Pa (ASHRAE 2017 by way of PsychroLib's tests)."""
    vapor_pa = psychrolib.GetVapPresFromHumRatio(0.02, 95461.0)
    dew_point = dew_point_from_vapor_pressure_c(vapor_pa)
    assert density_kgm3(30.0, dew_point, 95461.0) == pytest.approx(1.08412, rel=1e-5)


@pytest.mark.parametrize(
    ("elevation_m", "expected_pa"),
    [(0.0, 101325.0), (500.0, 95461.0), (1000.0, 89875.0), (4000.0, 61640.0)],
)
def test_standard_pressure_of_ashrae(elevation_m: float, expected_pa: float) -> None:
    """Guards the standard atmosphere: ASHRAE 2017, ch. 1, table 1."""
    assert standard_pressure_pa(elevation_m) == pytest.approx(expected_pa, abs=1.0)


def test_standard_atmosphere_at_1000_m() -> None:
    """Guards temperature, pressure and density together.

    The expected values are those of the ambiance and fluids libraries for a *geometric* 1000 m,
    16 cm higher than the geopotential ones taken here.
    """
    pressure = standard_pressure_pa(1000.0)
    assert standard_temp_c(1000.0) + 273.15 == pytest.approx(281.651, abs=0.002)
    assert pressure == pytest.approx(89876.0, abs=2.5)
    dry = density_kgm3(standard_temp_c(1000.0), -60.0, pressure)
    assert dry == pytest.approx(1.11166, rel=5e-5)


@pytest.mark.parametrize("elevation_m", [0.0, 250.0, 1600.0])
@pytest.mark.parametrize("temp_c", [-10.0, 15.0, 38.0])
def test_station_pressure_of_psychrolib(elevation_m: float, temp_c: float) -> None:
    """Guards the reduction from sea level against PsychroLib's."""
    expected = psychrolib.GetStationPressure(101800.0, elevation_m, temp_c)
    found = station_pressure_pa(101800.0, elevation_m, temp_c)
    assert found == pytest.approx(expected, rel=1e-5)


def nws_density_altitude_ft(temp_c: float, dew_point: float, pressure_inhg: float) -> float:
    """Return the density altitude by the formula the National Weather Service publishes."""
    vapor_hpa = 6.11 * 10.0 ** (7.5 * dew_point / (237.7 + dew_point))
    pressure_hpa = pressure_inhg * PA_PER_INHG / 100.0
    virtual_k = (temp_c + 273.15) / (1.0 - (vapor_hpa / pressure_hpa) * (1.0 - 0.622))
    return 145366.0 * (1.0 - (17.326 * pressure_inhg / (1.8 * virtual_k)) ** 0.235)


def test_density_altitude_of_a_hot_day() -> None:
    """Guards the exact inversion: 35 °C, dew point 20 °C, 29.92 inHg is 2569 ft.

    The NWS formula gives 2587 ft; it lies about 20 ft high, as its own 21 ft for dry standard air
    (17 to 21 by how it is rounded on the way to °R) show.
    """
    found_ft = density_altitude_m(35.0, 20.0, 29.92 * PA_PER_INHG) / FOOT_M
    assert found_ft == pytest.approx(2569.0, abs=2.0)
    assert nws_density_altitude_ft(35.0, 20.0, 29.92) == pytest.approx(2587.0, abs=1.0)
    assert nws_density_altitude_ft(15.0, -200.0, 29.921) == pytest.approx(21.0, abs=5.0)


@given(
    temp_c=st.floats(-10.0, 42.0),
    spread_c=st.floats(0.0, 25.0),
    pressure_inhg=st.floats(23.0, 31.0),
)
def test_density_altitude_follows_the_nws_formula(
    temp_c: float, spread_c: float, pressure_inhg: float
) -> None:
    """Guards every race day's weather against the NWS formula, within 60 ft."""
    dew_point = temp_c - spread_c
    found_ft = density_altitude_m(temp_c, dew_point, pressure_inhg * PA_PER_INHG) / FOOT_M
    expected = nws_density_altitude_ft(temp_c, dew_point, pressure_inhg)
    assert found_ft == pytest.approx(expected, abs=60.0)


@given(st.floats(-400.0, 4000.0))
def test_density_altitude_inverts_the_standard_atmosphere(elevation_m: float) -> None:
    """Guards the inversion: dry standard air is at its own height.

    The driest air of the table still holds a little vapor, and the two sources differ by 4e-5 in
    the gas constant, together less than half a meter.
    """
    found = density_altitude_m(
        standard_temp_c(elevation_m), -60.0, standard_pressure_pa(elevation_m)
    )
    assert found == pytest.approx(elevation_m, abs=0.6)


@given(temp_c=st.floats(-30.0, 50.0), humidity=st.floats(0.05, 1.0))
def test_dew_point_and_humidity_are_inverse(temp_c: float, humidity: float) -> None:
    """Guards the round trip, and that a dew point never lies above the air's temperature."""
    dew_point = dew_point_c(temp_c, humidity)
    assert dew_point <= temp_c + 1e-9
    assert relative_humidity(temp_c, dew_point) == pytest.approx(humidity, rel=1e-9)


@given(st.lists(st.floats(-60.0, 120.0), min_size=2, max_size=2, unique=True).map(sorted))
def test_warmer_air_holds_more(pair: list[float]) -> None:
    """Guards that saturation never falls with temperature, across the ice point too."""
    cold, warm = saturation_vapor_pressure_pa(pair)
    assert cold <= warm


@given(temp_c=st.floats(0.0, 40.0), humidity=st.floats(0.1, 0.9))
def test_moist_air_is_lighter(temp_c: float, humidity: float) -> None:
    """Guards the sign of humidity: damp air is thinner, so its density altitude is higher."""
    damp = dew_point_c(temp_c, humidity + 0.1)
    dry = dew_point_c(temp_c, humidity)
    assert density_kgm3(temp_c, damp, 101325.0) < density_kgm3(temp_c, dry, 101325.0)
    assert density_altitude_m(temp_c, damp, 101325.0) > density_altitude_m(temp_c, dry, 101325.0)


@pytest.mark.parametrize("humidity", [60.0, 1.3, -0.1])
def test_humidity_in_percent_is_refused(humidity: float) -> None:
    """Guards against a percentage taken for a fraction."""
    with pytest.raises(ValueError, match="relative_humidity"):
        dew_point_c(20.0, [0.5, humidity])


def test_perfectly_dry_air_has_no_dew_point() -> None:
    """Guards zero humidity, which must be unknown and not a warning or an infinity."""
    assert np.isnan(dew_point_c(20.0, 0.0))
    assert np.isnan(dew_point_from_vapor_pressure_c([0.0, -1.0])).all()


def test_unknown_stays_unknown() -> None:
    """Guards NaN through every function, one argument at a time."""
    nan = np.nan
    results = [
        dew_point_c(nan, 0.5),
        dew_point_c(20.0, nan),
        dew_point_from_vapor_pressure_c(nan),
        relative_humidity(nan, 5.0),
        relative_humidity(5.0, nan),
        density_kgm3(nan, 5.0, 1e5),
        density_kgm3(15.0, nan, 1e5),
        density_kgm3(15.0, 5.0, nan),
        density_altitude_m(15.0, 5.0, nan),
        standard_temp_c(nan),
        standard_pressure_pa(nan),
        station_pressure_pa(nan, 100.0, 15.0),
        station_pressure_pa(1e5, 100.0, nan),
    ]
    assert np.isnan(results).all()


def test_arguments_broadcast() -> None:
    """Guards the (member, time) form with one pressure a time."""
    temp = np.array([[10.0, 20.0, 30.0], [12.0, np.nan, 28.0]])
    found = density_kgm3(temp, temp - 5.0, np.array([1.0e5, 0.99e5, 0.98e5]))
    assert found.shape == (2, 3)
    assert np.isnan(found).sum() == 1
    assert found[0, 2] == pytest.approx(float(density_kgm3(30.0, 25.0, 0.98e5)))
