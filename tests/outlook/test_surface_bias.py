"""What a venue's correction does to the track of a plan."""

from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, venue, weather

from trackday.learning.venue_bias import TrackCheck, fit_venue_bias
from trackday.outlook.hindsight import hindsight
from trackday.outlook.surface import run_track
from trackday.weather.series import at_times
from trackday.weekend.readings import TrackReading

SUNNY = {"ghi_wm2": 700.0, "cloud_fraction": 0.1, "hours": 48, "members": 3}


def cooler(count=6):
    return fit_venue_bias(
        [TrackCheck(36.0, 40.0, 20.0, NOON - timedelta(days=n)) for n in range(count)]
    )


def track(bias=None, readings=(), **fields):
    return run_track(weather(**(SUNNY | fields)), venue(), traffic=[], readings=readings, bias=bias)


def temp(runs, hours=0):
    when = [NOON + timedelta(hours=hours)]
    return float(at_times(runs.open_air.surface_temp_c, runs.open_air.times, when)[0, 0])


def test_the_correction_reaches_open_and_shaded_track():
    """Protects both runs: each is what the correction makes of the bare run; films stay."""
    rain = np.zeros((3, 48))
    rain[:, 40] = 1.0
    plain, got = track(rain_mm=rain), track(cooler(), rain_mm=rain)
    for name in ("open_air", "shaded"):
        bare, moved = getattr(plain, name), getattr(got, name)
        assert moved.surface_temp_c == pytest.approx(cooler().apply(bare.surface_temp_c, 20.0))
        assert moved.film_mm == pytest.approx(bare.film_mm)
    assert temp(got) < temp(plain) - 1.0


def test_an_empty_correction_changes_nothing():
    """Protects venues without readings: temperatures and errors stay as they are."""
    plain, got = track(), track(fit_venue_bias([]))
    assert got.open_air.surface_temp_c == pytest.approx(plain.open_air.surface_temp_c)
    assert got.error_c == pytest.approx(plain.error_c)


def test_the_error_shrinks_where_readings_settle_something():
    """Protects the range by day: surer with readings of the place, in every member."""
    plain, got = track(), track(cooler())
    noon = [NOON]
    after, before = (at_times(run.error_c, run.open_air.times, noon) for run in (got, plain))
    assert (after < before).all()
    assert (got.error_c > 0.0).all()


def test_todays_reading_is_followed_from_the_corrected_track():
    """Protects the order: a reading that agrees with the corrected track moves nothing."""
    bias = cooler()
    agreed = TrackReading(temp(track(bias)), NOON)
    got = track(bias, [agreed])
    assert temp(got, 2) == pytest.approx(temp(track(bias), 2), abs=0.05)
    assert got.followed[0].expected_c == pytest.approx(agreed.temp_c, abs=0.05)


def test_hindsight_reads_the_bare_model():
    """Protects what is learned from: the model without correction, air and film at that moment."""
    seen, lost = hindsight(weather(**SUNNY), venue(), [NOON, NOON + timedelta(days=30)])
    assert seen.surface_c == pytest.approx(temp(track()), abs=0.01)
    assert (seen.air_c, seen.film_mm) == (20.0, 0.0)
    assert np.isnan([lost.surface_c, lost.air_c, lost.film_mm]).all()
