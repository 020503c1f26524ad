"""Clear sky, cloud and the split of sunshine against published values and their own laws."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.physics.irradiance import (
    clear_sky_ghi_wm2,
    cloudy_ghi_wm2,
    mean_clear_ghi_wm2,
)
from trackday.physics.sun import sun_position

PLACE = {"latitude": 45.0, "longitude": 5.0}
DAY = pd.date_range("2024-05-01 01:00", periods=24, freq="h", tz="UTC")


def test_haurwitz_values() -> None:
    """Guards the clear sky: values in pvlib's own tests of Haurwitz."""
    found = clear_sky_ghi_wm2([5.0, 10.0, 30.0, 50.0, 90.0])
    expected = [48.62987, 135.74175, 487.89413, 778.76669, 1035.09203]
    assert found == pytest.approx(expected, abs=1e-4)


def test_clear_sky_of_night_and_of_unknown() -> None:
    """Guards that night is zero and an unknown sun is not night, in any shape."""
    found = clear_sky_ghi_wm2([[-5.0, np.nan], [0.0, 40.0]])
    assert found.shape == (2, 2)
    assert found[0, 0] == 0.0
    assert np.isnan(found[0, 1])
    assert found[1, 1] > 500.0
    assert clear_sky_ghi_wm2(30.0).shape == ()


def test_kasten_czeplak_oktas() -> None:
    """Guards the cloud law, octa by octa: Kasten & Czeplak 1980, values from memory."""
    factors = cloudy_ghi_wm2(1.0, np.arange(9) / 8.0)
    expected = [1.0, 0.9994, 0.9933, 0.9733, 0.9290, 0.8483, 0.7180, 0.5237, 0.2500]
    assert factors == pytest.approx(expected, abs=1e-3)


def test_unknown_cloud_is_not_clear() -> None:
    """Guards that a missing cloud cover does not become full sun."""
    assert np.isnan(cloudy_ghi_wm2([500.0, np.nan], [np.nan, 0.5])).all()


@pytest.mark.parametrize("cloud", [-0.01, 1.01, 50.0])
def test_cloud_in_percent_is_refused(cloud: float) -> None:
    """Guards against a percentage taken for a fraction."""
    with pytest.raises(ValueError, match="cloud_fraction"):
        cloudy_ghi_wm2(800.0, [0.5, cloud])


@given(st.lists(st.floats(0.0, 1.0), min_size=2, max_size=2).map(sorted))
def test_more_cloud_less_sun(pair: list[float]) -> None:
    """Guards the direction of the cloud law."""
    few, many = cloudy_ghi_wm2(800.0, pair)
    assert many <= few


def test_interval_ends_at_its_stamp() -> None:
    """Guards the stamp: the hour in which the sun rises has a mean, though its middle is dark."""
    times = pd.date_range("2024-05-01 00:00", periods=1441, freq="min", tz="UTC")
    sun = sun_position(times, **PLACE)
    clear = clear_sky_ghi_wm2(sun["apparent_elevation_deg"].to_numpy())
    found = mean_clear_ghi_wm2(DAY, step_hours=1.0, **PLACE)
    # Trapezoids over the 61 minute values of each hour that ends at the stamp.
    hours = [np.trapezoid(clear[60 * k : 60 * k + 61]) / 60.0 for k in range(24)]
    assert found == pytest.approx(hours, abs=0.5)


@pytest.mark.parametrize("step_hours", [0.25, 3.0, 6.0])
def test_steps_share_the_day_evenly(step_hours: float) -> None:
    """Guards other steps: the day's energy is the same however it is cut."""
    count = round(24.0 / step_hours)
    step = pd.Timedelta(hours=step_hours)
    times = pd.date_range(DAY[0].normalize() + step, periods=count, freq=step)
    found = mean_clear_ghi_wm2(times, step_hours=step_hours, **PLACE).mean()
    assert found == pytest.approx(mean_clear_ghi_wm2(DAY, step_hours=1.0, **PLACE).mean(), rel=1e-3)


@pytest.mark.parametrize("step_hours", [0.0, -1.0, float("nan")])
def test_step_must_be_positive(step_hours: float) -> None:
    """Guards against an interval that does not exist."""
    with pytest.raises(ValueError, match="step_hours"):
        mean_clear_ghi_wm2(DAY, step_hours=step_hours, **PLACE)


def test_means_refuse_times_without_zone() -> None:
    """Guards against local times silently read as UTC."""
    with pytest.raises(ValueError, match="time zone"):
        mean_clear_ghi_wm2(DAY.tz_localize(None), step_hours=1.0, **PLACE)


def test_means_of_no_times() -> None:
    """Guards the empty axis, which a window without weather has."""
    assert mean_clear_ghi_wm2(DAY[:0], step_hours=1.0, **PLACE).shape == (0,)
