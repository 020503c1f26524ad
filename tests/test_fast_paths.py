"""What is worked out the fast way is what the plain way gives."""

from __future__ import annotations

import gc
import math
import sys
from dataclasses import replace
from datetime import UTC

import numpy as np
import pandas as pd
import pytest
from builders import garage, session, venue, weather
from scipy.signal import lfilter

from trackday import cli
from trackday.advice import heat_once
from trackday.advice.heat import advise_heat
from trackday.advice.heat_once import remembered_wbgt_c
from trackday.physics import balance, bounds
from trackday.physics.ground import antecedent_precipitation_mm
from trackday.physics.irradiance import clear_sky_ghi_wm2, mean_clear_ghi_wm2
from trackday.physics.pavement import Site, simulate_members, simulate_sites
from trackday.physics.sun import sun_position
from trackday.weather import columns
from trackday.weather.series import at_times

HOURS = 60
TIMES = pd.date_range("2027-06-10", periods=HOURS, freq="h", tz="UTC")
OPEN = Site(43.6, -91.0, 300.0)
SHADE = replace(OPEN, horizon=((0.0, 75.0), (180.0, 75.0)), sky_view=0.6)
NEAR = {"rtol": 0.0, "atol": 1e-9}


def fields(*, holes=True):
    """Three members of invented weather, two of them with holes in it."""
    rng = np.random.default_rng(5)
    made = {
        "air_temp_c": 18.0 + 4.0 * rng.normal(size=(3, HOURS)),
        "dew_point_c": 9.0 + rng.normal(size=(3, HOURS)),
        "wind_ms": np.abs(rng.normal(3.0, 1.0, (3, HOURS))),
        "rain_mm": np.where(rng.random((3, HOURS)) < 0.2, rng.gamma(1.0, 1.0, (3, HOURS)), 0.0),
        "cloud_fraction": rng.random((3, HOURS)),
    }
    if holes:
        made["rain_mm"][1, 30:34] = np.nan
        made["wind_ms"][2, 28:39] = np.nan
    return made


def same_runs(one, other):
    """Both runs know the same, and know it alike."""
    np.testing.assert_allclose(one.surface_temp_c, other.surface_temp_c, **NEAR)
    np.testing.assert_allclose(one.film_mm, other.film_mm, **NEAR)
    np.testing.assert_allclose(one.end.temperatures_c, other.end.temperatures_c, **NEAR)
    assert one.gaps == other.gaps


def test_sites_side_by_side_are_as_each_alone():
    """Protects the track in the shade from the one in the open beside it, holes included."""
    traffic = [(TIMES[14].to_pydatetime(), TIMES[15].to_pydatetime())]
    options = {"surface": "asphalt_aged", "traffic": traffic}
    together = simulate_sites(TIMES, fields(), sites=(OPEN, SHADE), **options)
    for site, run in zip((OPEN, SHADE), together, strict=True):
        same_runs(run, simulate_members(TIMES, **fields(), site=site, **options))
    assert not np.allclose(*(np.nan_to_num(run.surface_temp_c) for run in together))


def test_sites_of_two_places_are_refused():
    """Protects from a sun that stands over another place."""
    with pytest.raises(ValueError, match="one place"):
        simulate_sites(
            TIMES, fields(), sites=(OPEN, replace(OPEN, latitude=40.0)), surface="concrete"
        )


@pytest.mark.parametrize("steps", [1, 7, 10_000])
def test_the_parts_of_a_run_leave_no_seam(monkeypatch, steps):
    """Protects what is unknown and what is known from where a long run is cut."""
    whole = simulate_members(TIMES, **fields(), surface="asphalt_new", site=OPEN)
    assert np.isnan(whole.film_mm[1]).any()
    assert np.isnan(whole.surface_temp_c[2]).any()
    monkeypatch.setattr(bounds, "PART_STEPS", steps)
    monkeypatch.setattr(balance, "AT_ONCE", steps)
    same_runs(simulate_members(TIMES, **fields(), surface="asphalt_new", site=OPEN), whole)


def test_a_hole_changes_nothing_before_it():
    """Protects the known hours: up to the first hole the run is that of whole weather."""
    whole = simulate_members(TIMES, **fields(holes=False), surface="asphalt_new", site=OPEN)
    holed = simulate_members(TIMES, **fields(), surface="asphalt_new", site=OPEN)
    before = holed.times < TIMES[27]
    np.testing.assert_allclose(
        holed.surface_temp_c[:, before], whole.surface_temp_c[:, before], **NEAR
    )
    assert np.isfinite(holed.surface_temp_c[:, before]).all()


def test_reading_between_times_is_that_of_numpy():
    """Guards `at_times` against numpy's own interpolation, bit for bit, gaps and ends included."""
    rng = np.random.default_rng(7)
    for count in (1, 2, 30):
        seconds = np.sort(rng.choice(5000, count, replace=False))
        times = pd.DatetimeIndex(seconds.astype("M8[s]")).tz_localize("UTC")
        asked = np.concatenate([rng.integers(-500, 5500, 40), seconds])
        when = pd.DatetimeIndex(asked.astype("M8[s]")).tz_localize("UTC")
        rows = rng.normal(size=(4, count))
        rows[rng.random(rows.shape) < 0.2] = np.nan
        plain = [np.interp(asked, seconds, row, left=np.nan, right=np.nan) for row in rows]
        np.testing.assert_array_equal(at_times(rows, times, when), np.array(plain))


@pytest.mark.parametrize("latitude", [-78.0, -35.0, 0.0, 43.6, 66.6, 89.0])
@pytest.mark.parametrize("day", ["2024-06-20", "2031-09-22", "2027-12-20"])
def test_nights_that_are_left_out_are_dark(latitude, day):
    """Protects dawn and dusk: leaving out nights takes no light from any hour, bit for bit."""
    times = pd.date_range(day, periods=49, freq="h", tz="UTC")
    place = {"latitude": latitude, "longitude": 151.3, "elevation_m": 900.0}
    middles = [times - pd.Timedelta(minutes=2.5 + 5.0 * n) for n in reversed(range(12))]
    each = [
        clear_sky_ghi_wm2(sun_position(cells, **place)["apparent_elevation_deg"].to_numpy())
        for cells in middles
    ]
    plain = np.stack(each, axis=1).mean(axis=1)
    np.testing.assert_array_equal(mean_clear_ghi_wm2(times, step_hours=1.0, **place), plain)


def test_the_wetness_of_the_ground_is_a_linear_filter():
    """Guards the index against scipy's filter, whose recursion it is, bit for bit."""
    rain = np.random.default_rng(3).gamma(0.5, 2.0, (4, 200))
    rain[1, 50] = np.nan
    filtered = lfilter([1.0], [1.0, -(0.9 ** (1.0 / 24.0))], rain, axis=-1)
    got = antecedent_precipitation_mm(rain, step_hours=1.0)
    np.testing.assert_array_equal(got, filtered)
    assert np.isnan(got[1, 50:]).all()


def test_a_column_without_nulls_is_read_as_one_with():
    """Protects the usual column: what is no credible number is unknown there, too."""
    values = [1.5, math.nan, math.inf, -2.0]
    whole = columns._read_values("rain", values, 4)
    with_null = columns._read_values("rain", [*values, None], 5)
    np.testing.assert_array_equal(whole, with_null[:4])
    assert np.isnan(whole).tolist() == [False, True, True, False]


def test_the_heat_of_a_sky_is_worked_out_once(monkeypatch):
    """Protects the days of an event: other weights share the hours, other hours do not."""
    asked = []
    real = heat_once.hourly_wbgt_c

    def counted(sky, place):
        asked.append(sky)
        return real(sky, place)

    monkeypatch.setattr(heat_once, "hourly_wbgt_c", counted)
    sky, place = weather(members=2, hours=48), venue()
    wbgt_of = remembered_wbgt_c()
    weighed = replace(sky, weights=np.array([1.0, 0.0]))
    warmer = replace(sky, air_temp_c=sky.air_temp_c + 5.0)
    assert wbgt_of(sky, place) is wbgt_of(weighed, place)
    np.testing.assert_array_equal(wbgt_of(warmer, place), real(warmer, place))
    assert len(asked) == 2
    run = session(start=sky.times[20].to_pydatetime().astimezone(UTC), minutes=20)
    given = {"weather": sky, "venue": place, "garage": garage()}
    (once,), (plain,) = advise_heat([run], wbgt_of=wbgt_of, **given), advise_heat([run], **given)
    assert once == plain


def test_garbage_is_collected_again_after_a_command(monkeypatch, capsys):
    """Protects whoever calls `main` in a program of their own."""
    monkeypatch.setattr(sys, "argv", ["trackday", "--version"])
    with pytest.raises(SystemExit):
        cli.main()
    assert gc.isenabled()
    assert capsys.readouterr().out.startswith("trackday ")
