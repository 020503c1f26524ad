"""The sky's heat and what sunshine tells about cloud."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.physics.film import saturation_pa
from trackday.physics.longwave import (
    carried_cloud_effect,
    clear_sky_emissivity,
    cloud_effect_of_fraction,
    cloud_effect_of_sunshine,
    sky_longwave_wm2,
)


def test_clear_sky_emissivity_is_pratas() -> None:
    """Protects the formula. Source: .8196 at 35 °C and dew point 15 °C, computed independently."""
    assert float(clear_sky_emissivity(35.0, saturation_pa(15.0))) == pytest.approx(0.8196, abs=2e-4)


@given(
    air=st.floats(-30.0, 45.0),
    depression=st.floats(0.0, 30.0),
    cloud=st.floats(0.0, 1.0),
    more=st.floats(0.0, 1.0),
)
def test_sky_is_colder_than_air_and_warmer_under_cloud(
    air: float, depression: float, cloud: float, more: float
) -> None:
    """Protects bounds and order: clear < cloudy ≤ black body at air temperature."""
    vapor = saturation_pa(air - depression)
    less, rest = sorted((cloud, more))
    sky = [float(sky_longwave_wm2(air, vapor, e)) for e in (0.0, less, rest, 1.0)]
    assert 0.0 < sky[0] <= sky[1] <= sky[2] <= sky[3] + 1e-9
    assert sky[3] == pytest.approx(5.670374e-8 * (air + 273.15) ** 4, rel=1e-6)


def test_cloud_effect_of_total_cloud_and_of_no_cloud() -> None:
    """Protects both ends, and that missing stays missing."""
    assert cloud_effect_of_fraction([0.0, 1.0]).tolist() == [0.0, 0.84]
    assert np.isnan(cloud_effect_of_fraction(np.nan))


def test_low_sun_and_missing_sunshine_tell_nothing() -> None:
    """Protects that dusk is never taken for cloud or clear sky."""
    told = cloud_effect_of_sunshine(
        [0.0, 5.0, 200.0, 900.0, np.nan], [0.0, 20.0, 800.0, 800.0, 800]
    )
    assert np.isnan(told[[0, 1, 4]]).all()
    assert told[2:4] == pytest.approx([0.75, 0.0])


def test_night_lies_between_its_days_and_fades_to_the_mean() -> None:
    """Protects the carrying of cloud through the night."""
    told = np.array([0.2, 0.4, np.nan, 0.6])
    at = np.array([12.0, 36.0, 40.0, 400.0])
    assert carried_cloud_effect(told, at, np.array([12.0, 36.0])) == pytest.approx([0.2, 0.4])
    night = carried_cloud_effect(told, at, np.array([24.0]))[0]
    assert 0.3 < night < 0.4
    assert carried_cloud_effect(told, at, np.array([218.0]))[0] == pytest.approx(0.4, abs=0.01)
    nothing = carried_cloud_effect(np.array([np.nan]), at[:1], np.array([5.0]))
    assert nothing[0] == pytest.approx(0.84 * 0.67)
