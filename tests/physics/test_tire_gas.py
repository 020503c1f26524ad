"""Tire pressure against published worked examples and the laws of an ideal gas."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.physics.moist_air import saturation_vapor_pressure_pa, standard_pressure_pa
from trackday.physics.tire_gas import (
    cold_pressure_kpa,
    gas_temp_c,
    gauge_at_other_elevation,
    moist_pressure_at,
    pressure_at,
)

KPA_PER_PSI = 6.894757
SEA_LEVEL_KPA = 101.325

gauges = st.floats(80.0, 350.0)
temps = st.floats(-20.0, 110.0)
ambients = st.floats(70.0, 106.0)


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def psi_at(psi: float, from_f: float, to_f: float) -> float:
    """Return the gauge pressure in psi after a change of temperature in °F, at sea level."""
    found = pressure_at(
        psi * KPA_PER_PSI,
        from_c=celsius(from_f),
        to_c=celsius(to_f),
        ambient_kpa=SEA_LEVEL_KPA,
    )
    return float(found) / KPA_PER_PSI


@pytest.mark.parametrize(("to_f", "expected_psi"), [(50.0, 18.7), (130.0, 23.9)])
def test_published_worked_example(to_f: float, expected_psi: float) -> None:
    """Guards the law: 20 psi at 70 °F, a published worked example of 2002, to its one decimal."""
    assert psi_at(20.0, 70.0, to_f) == pytest.approx(expected_psi, abs=0.05)


@pytest.mark.parametrize(
    ("psi", "expected_psi"), [(20.0, 0.655), (25.0, 0.749), (30.0, 0.844), (35.0, 0.938)]
)
def test_rise_in_ten_degrees_fahrenheit(psi: float, expected_psi: float) -> None:
    """Guards the slope: arithmetic of the ideal gas at 70 °F."""
    assert psi_at(psi, 70.0, 80.0) - psi == pytest.approx(expected_psi, abs=6e-4)


def test_one_psi_in_ten_degrees_holds_near_38_psi_only() -> None:
    """Guards against the rule of thumb (common practice, no source) slipping in as the law."""
    assert psi_at(38.2, 70.0, 80.0) - 38.2 == pytest.approx(1.0, abs=5e-3)
    assert psi_at(25.0, 70.0, 80.0) - 25.0 < 0.8


def test_gauge_pressure_is_not_scaled() -> None:
    """Guards the common mistake: 32 psi from 75 to 65 °F is 31.13, not the 31.4 of scaled gauge."""
    found = psi_at(32.0, 75.0, 65.0)
    assert found == pytest.approx(31.13, abs=0.005)
    scaled_gauge = 32.0 * (celsius(65.0) + 273.15) / (celsius(75.0) + 273.15)
    assert scaled_gauge == pytest.approx(31.4, abs=0.01)
    assert abs(found - scaled_gauge) > 0.2


@pytest.mark.parametrize(("cold_c", "expected_psi"), [(10.0, 21.14), (20.0, 22.41), (30.0, 23.67)])
def test_cold_pressure_for_30_psi_hot(cold_c: float, expected_psi: float) -> None:
    """Guards the cold setting: arithmetic of the ideal gas for 30 psi at 80 °C."""
    found = cold_pressure_kpa(
        30.0 * KPA_PER_PSI, hot_c=80.0, cold_c=cold_c, ambient_kpa=SEA_LEVEL_KPA
    )
    assert found / KPA_PER_PSI == pytest.approx(expected_psi, abs=0.006)


@pytest.mark.parametrize(
    ("elevation_m", "expected_psi"), [(500.0, 30.85), (1000.0, 31.66), (1500.0, 32.43)]
)
def test_sealed_tire_carried_uphill(elevation_m: float, expected_psi: float) -> None:
    """Guards the gauge's reference: 30 psi at sea level, in the standard atmosphere."""
    found = gauge_at_other_elevation(
        30.0 * KPA_PER_PSI,
        ambient_kpa=SEA_LEVEL_KPA,
        ambient_after_kpa=standard_pressure_pa(elevation_m) / 1000.0,
    )
    assert found / KPA_PER_PSI == pytest.approx(expected_psi, abs=0.006)


def test_gas_temperature_of_a_hot_tire() -> None:
    """Guards the gas temperature: 22.41 psi at 20 °C that now shows 30 psi is at 80 °C."""
    found = gas_temp_c(
        30.0 * KPA_PER_PSI,
        cold_gauge_kpa=22.41 * KPA_PER_PSI,
        cold_c=20.0,
        ambient_kpa=SEA_LEVEL_KPA,
    )
    assert found == pytest.approx(80.0, abs=0.1)


def test_moisture_raises_the_hot_pressure() -> None:
    """Guards the moist bound: 24 psi from 20 to 80 °C, dry 31.92, liquid throughout 38.39.

    Steam tables give 6.88 psi of saturated vapor at 80 °C.
    """
    warming = {"from_c": 20.0, "to_c": 80.0, "ambient_kpa": SEA_LEVEL_KPA}
    dry = pressure_at(24.0 * KPA_PER_PSI, **warming) / KPA_PER_PSI
    moist = moist_pressure_at(24.0 * KPA_PER_PSI, **warming) / KPA_PER_PSI
    assert dry == pytest.approx(31.92, abs=0.01)
    assert moist == pytest.approx(38.39, abs=0.01)
    vapor_psi = saturation_vapor_pressure_pa(80.0) / 1000.0 / KPA_PER_PSI
    assert vapor_psi == pytest.approx(6.88, abs=0.01)


@given(gauge=gauges, cold_c=temps, hot_c=temps, ambient=ambients)
def test_there_and_back(gauge: float, cold_c: float, hot_c: float, ambient: float) -> None:
    """Guards the round trip: the cold setting, warmed again, is the hot target."""
    cold = cold_pressure_kpa(gauge, hot_c=hot_c, cold_c=cold_c, ambient_kpa=ambient)
    hot = pressure_at(cold, from_c=cold_c, to_c=hot_c, ambient_kpa=ambient)
    assert hot == pytest.approx(gauge, rel=1e-9)


@given(cold_gauge=gauges, cold_c=temps, hot_c=temps, ambient=ambients)
def test_gas_temperature_from_pressures(
    cold_gauge: float, cold_c: float, hot_c: float, ambient: float
) -> None:
    """Guards the inverse: the pressure that a temperature gives, gives that temperature back."""
    hot = pressure_at(cold_gauge, from_c=cold_c, to_c=hot_c, ambient_kpa=ambient)
    found = gas_temp_c(hot, cold_gauge_kpa=cold_gauge, cold_c=cold_c, ambient_kpa=ambient)
    assert found == pytest.approx(hot_c, abs=1e-6)


@given(gauge=gauges, from_c=temps, to_c=temps, ambient=ambients)
def test_warming_raises_and_moisture_raises_more(
    gauge: float, from_c: float, to_c: float, ambient: float
) -> None:
    """Guards the direction of the law and that the moist bound lies on the far side of it."""
    change = {"from_c": from_c, "to_c": to_c, "ambient_kpa": ambient}
    dry = float(pressure_at(gauge, **change))
    moist = float(moist_pressure_at(gauge, **change))
    if to_c >= from_c:
        assert dry >= gauge - 1e-9
        assert moist >= dry - 1e-9
    else:
        assert dry <= gauge + 1e-9
        assert moist <= dry + 1e-9


@given(gauge=gauges, temp_c=temps, before=ambients, after=ambients)
def test_change_of_elevation_alone(
    gauge: float, temp_c: float, before: float, after: float
) -> None:
    """Guards that both ways to state a change of ambient pressure agree."""
    moved = gauge_at_other_elevation(gauge, ambient_kpa=before, ambient_after_kpa=after)
    same_temp = {
        "from_c": temp_c,
        "to_c": temp_c,
        "ambient_kpa": before,
        "ambient_after_kpa": after,
    }
    assert pressure_at(gauge, **same_temp) == pytest.approx(float(moved))
    assert moist_pressure_at(gauge, **same_temp) == pytest.approx(float(moved))


def test_arrays_and_unknowns() -> None:
    """Guards arrays of members, and NaN in any argument staying NaN."""
    hot = np.array([[60.0, 70.0], [np.nan, 80.0]])
    found = pressure_at(165.0, from_c=20.0, to_c=hot, ambient_kpa=100.0)
    assert found.shape == (2, 2)
    assert np.isnan(found).tolist() == [[False, False], [True, False]]
    nan = np.nan
    results = [
        pressure_at(nan, from_c=20.0, to_c=60.0, ambient_kpa=100.0),
        pressure_at(165.0, from_c=nan, to_c=60.0, ambient_kpa=100.0),
        pressure_at(165.0, from_c=20.0, to_c=60.0, ambient_kpa=nan),
        pressure_at(165.0, from_c=20.0, to_c=60.0, ambient_kpa=100.0, ambient_after_kpa=nan),
        moist_pressure_at(165.0, from_c=20.0, to_c=nan, ambient_kpa=100.0),
        gauge_at_other_elevation(165.0, ambient_kpa=nan, ambient_after_kpa=90.0),
        gas_temp_c(nan, cold_gauge_kpa=140.0, cold_c=20.0, ambient_kpa=100.0),
        gas_temp_c(165.0, cold_gauge_kpa=nan, cold_c=20.0, ambient_kpa=100.0),
    ]
    assert np.isnan(results).all()
