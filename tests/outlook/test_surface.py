"""The track through an event: shade, the model's own error, readings."""

from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, session, venue, weather

from trackday.outlook.session import session_outlook
from trackday.outlook.surface import run_track
from trackday.weather.series import at_times
from trackday.weekend.garage import FilmLimits
from trackday.weekend.readings import TrackReading

SUNNY = {"ghi_wm2": 700.0, "cloud_fraction": 0.1, "hours": 48, "members": 3}


def track(readings=(), **fields):
    return run_track(weather(**(SUNNY | fields)), venue(), traffic=[], readings=readings)


def temp(runs, hours):
    when = NOON + timedelta(hours=hours)
    return at_times(runs.open_air.surface_temp_c, runs.open_air.times, [when])[:, 0]


def test_shade_is_run_only_where_rain_is_about():
    """Protects the time that a plan takes on dry weekends."""
    assert track().shaded is None
    assert track(rain_mm=0.5).shaded is not None


def test_a_shaded_track_is_cooler_and_dries_later():
    """Protects the direction of shade by day."""
    rain = np.zeros((3, 48))
    rain[:, 20:23] = 2.0
    got = track(rain_mm=rain, ghi_wm2=500.0)
    assert np.nanmean(got.shaded.surface_temp_c) < np.nanmean(got.open_air.surface_temp_c)
    assert got.shaded.film_mm[0].sum() > got.open_air.film_mm[0].sum()


def test_a_reading_pulls_the_next_hours_and_lets_go():
    """Protects `--track`: near the reading at once, back at the model after twelve hours."""
    plain = track()
    reading = TrackReading(float(temp(plain, 0)[0]) + 6.0, NOON)
    got = track([reading])
    pull = temp(got, 0.01) - temp(plain, 0.01)
    assert 3.0 < pull[0] < 6.0
    assert temp(got, 2)[0] - temp(plain, 2)[0] < pull[0]
    assert abs(temp(got, 12)[0] - temp(plain, 12)[0]) < 0.25
    assert temp(got, -2) == pytest.approx(temp(plain, -2))
    assert got.followed[0].expected_c == pytest.approx(temp(plain, 0).mean(), abs=0.1)


def test_a_reading_narrows_the_range_for_a_while():
    """Protects the range: surer after a reading, as unsure as before by evening."""
    plain, got = track(), track([TrackReading(45.0, NOON)])
    after = at_times(got.error_c, got.open_air.times, [NOON + timedelta(hours=1)])
    before = at_times(plain.error_c, plain.open_air.times, [NOON + timedelta(hours=1)])
    assert (after < before).all()


def test_a_reading_from_before_the_weather_changes_nothing():
    """Protects against a reading of another weekend."""
    got = track([TrackReading(60.0, NOON - timedelta(days=9))])
    assert got.followed == ()


def test_the_models_own_error_widens_the_range():
    """Protects the range by day: three members that agree are not three degrees of certainty."""
    sky = weather(**SUNNY)
    got = session_outlook(
        session(),
        weather=sky,
        track=run_track(sky, venue(), traffic=[]),
        basis="ensemble",
        limits=FilmLimits(),
    )
    assert got.track.temp_c.p90 - got.track.temp_c.p10 > 3.0
    assert np.ptp(got.track.member_temp_c) == pytest.approx(0.0, abs=1e-6)


def test_an_unknown_sun_is_as_unsure_as_a_clear_one():
    """Protects the range where no radiation is known: never narrower than under a clear sky."""
    known, unknown = track(), track(ghi_wm2=np.nan)
    noon = [NOON + timedelta(minutes=30)]
    at_noon = [at_times(run.error_c, run.open_air.times, noon)[0, 0] for run in (known, unknown)]
    assert at_noon[1] >= at_noon[0]


def test_readings_are_followed_in_the_order_of_their_times():
    """Protects readings given out of order: the later one corrects what the earlier one left."""
    early, late = TrackReading(50.0, NOON), TrackReading(40.0, NOON + timedelta(hours=2))
    got = track([late, early])
    assert temp(got, 6) == pytest.approx(temp(track([early, late]), 6))
    assert [followed.reading for followed in got.followed] == [early, late]
    assert got.followed[1].expected_c > temp(track(), 2).mean()
