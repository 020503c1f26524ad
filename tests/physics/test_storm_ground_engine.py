"""Flashes, wet ground and engine air against published values and arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from trackday.physics.engine_air import (
    correction_factor,
    dry_pressure_pa,
    is_within_range,
    power_share,
)
from trackday.physics.ground import antecedent_precipitation_mm
from trackday.physics.lightning import chance_of_any, expected_flashes, flash_density

AMOUNT = st.floats(0.0, 50.0)
ENERGY = st.floats(0.0, 6000.0)


def test_flashes_of_the_united_states_in_a_year():
    """Guards units and size: about 25 million flashes strike the United States a year (NOAA).

    Over 8·10⁶ km² with some 800 mm of rain that asks for a mean CAPE, weighted by rain, of hundreds
    of J/kg, an everyday value; a wrong unit would ask for tens of thousands, or for a tenth (values
    from memory).
    """
    hours = 8766.0
    each_j = flash_density(1.0, 800.0 / hours) * hours * 3600.0 * 8e12
    assert 100.0 < 25e6 / each_j < 1000.0


def test_flashes_near_a_venue():
    """Guards the circle: 1000 J/kg and 1 mm in an hour are 4.1 flashes within 10 km (arithmetic).

    1.3e-11 · 1000 · 1 kg/m² · π · 1e8 m² = 4.08; the chance of any is 1 − e^−4.08.
    """
    found = expected_flashes(1000.0, 1.0, hours=1.0, radius_m=10_000.0)
    assert found == pytest.approx(4.084, abs=0.001)
    assert chance_of_any(found) == pytest.approx(0.9832, abs=1e-4)


@given(ENERGY, AMOUNT, st.floats(0.0, 1000.0), st.floats(0.0, 10.0))
def test_more_energy_or_rain_is_never_less_lightning(cape, rain, more_cape, more_rain):
    """Guards the direction in both."""

    def chance(energy, amount):
        return chance_of_any(expected_flashes(energy, amount, hours=0.5, radius_m=1e4))

    assert 0.0 <= chance(cape, rain) <= 1.0
    assert chance(cape + more_cape, rain) >= chance(cape, rain)
    assert chance(cape, rain + more_rain) >= chance(cape, rain)


def test_unknown_energy_or_rain_is_unknown_lightning():
    """Guards against "no thunder" from a source that does not know: not even where it is dry."""
    assert np.isnan(flash_density([np.nan, 1000.0, np.nan], [0.0, np.nan, 2.0])).all()
    assert np.isnan(chance_of_any(np.nan))
    assert flash_density(-10.0, 1.0) == 0.0


def test_antecedent_precipitation():
    """Guards the index against `climate_indices` on a week of rain, k = 0.9."""
    found = antecedent_precipitation_mm([0, 25, 0, 0, 10, 0, 0], kept_a_day=0.9)
    expected = [0, 25, 22.5, 20.25, 28.225, 25.4025, 22.86225]
    np.testing.assert_allclose(found, expected, atol=1e-9)


@given(arrays(float, (2, 48), elements=st.floats(0.0, 20.0)), st.integers(0, 47), AMOUNT)
def test_more_rain_never_dries_the_ground(rain, hour, more):
    """Guards the direction, and that rain does not act before it falls."""
    wetter = rain.copy()
    wetter[:, hour] += more
    before = antecedent_precipitation_mm(rain, step_hours=1.0)
    after = antecedent_precipitation_mm(wetter, step_hours=1.0)
    assert (after >= before - 1e-9).all()
    np.testing.assert_array_equal(after[:, :hour], before[:, :hour])


def test_hours_add_up_to_days():
    """Guards the step: rain in a day's last hour is a day's rain for the days that follow."""
    daily = antecedent_precipitation_mm([12.0, 0.0, 0.0])
    hourly = np.zeros(72)
    hourly[23] = 12.0
    np.testing.assert_allclose(antecedent_precipitation_mm(hourly, step_hours=1.0)[23::24], daily)


def test_a_missing_amount_is_never_dry_ground():
    """Guards against a hole in the rain that would pass for a dry day."""
    found = antecedent_precipitation_mm([[5.0, np.nan, 0.0, 0.0], [5.0, 0.0, 0.0, 0.0]])
    assert np.isnan(found[0, 1:]).all()
    assert np.isfinite(found[1]).all()


@pytest.mark.parametrize("wrong", [{"kept_a_day": 1.1}, {"kept_a_day": -0.1}, {"step_hours": 0.0}])
def test_nonsense_is_refused(wrong):
    """Guards against a percentage for a share, and a series without steps."""
    with pytest.raises(ValueError, match="must"):
        antecedent_precipitation_mm([1.0], **wrong)


@pytest.mark.parametrize(
    ("dry_hpa", "temp_c", "factor"),
    [(990, 25, 1.0), (850, 25, 1.1944), (1013.25, 15, 0.9534), (960, 35, 1.0571)],
)
def test_correction_factor(dry_hpa, temp_c, factor):
    """Guards the factor: SAE J1349 by its formula (values from memory)."""
    assert correction_factor(temp_c, 100.0 * dry_hpa) == pytest.approx(factor, abs=1e-3)
    assert power_share(temp_c, 100.0 * dry_hpa) == pytest.approx(1.0 / factor, abs=1e-3)


def test_vapor_takes_the_place_of_air():
    """Guards the dry pressure: 3169.7 Pa of vapor at a dew point of 25 °C (ASHRAE 2017)."""
    assert dry_pressure_pa(25.0, 100_000.0) == pytest.approx(96_830.3, abs=1.0)


@given(st.floats(-10.0, 45.0), st.floats(70_000.0, 104_000.0), st.floats(0.0, 10.0))
def test_warm_thin_air_never_gives_more_power(temp_c, dry_pa, more):
    """Guards the direction in temperature and pressure."""
    assert power_share(temp_c + more, dry_pa) <= power_share(temp_c, dry_pa)
    assert power_share(temp_c, dry_pa - 100.0 * more) <= power_share(temp_c, dry_pa)


def test_range_of_the_correction():
    """Guards the limits of validity; unknown air is not within them."""
    temps = [25.0, 10.0, 40.0, 25.0, 34.0, np.nan, 25.0]
    dry = [99_000.0, 99_000.0, 99_000.0, 85_000.0, 91_000.0, 99_000.0, np.nan]
    assert is_within_range(temps, dry).tolist() == [True] + [False] * 6
    assert np.isnan(power_share(temps, dry)).tolist() == [False] * 5 + [True] * 2
