"""Steps, grids and time axes do not change what the pavement model says."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import pandas as pd
import pytest

from trackday.outlook.surface import STEP_SECONDS as PLAN_STEP_SECONDS
from trackday.physics.balance import run_balance
from trackday.physics.conduction import make_grid
from trackday.physics.forcing import make_clock, make_forcing
from trackday.physics.pavement import (
    FIELDS,
    STEP_SECONDS,
    SURFACES,
    WET_FILM_MM,
    Site,
    State,
    Surface,
    simulate,
    simulate_members,
)

SITE = Site(35.0, -100.0, horizon=[(90.0, 8.0), (180.0, 0.0), (270.0, 20.0), (0.0, 5.0)])


def changeable(days: int = 5, freq: str = "h", members: int = 1) -> tuple[pd.DatetimeIndex, Any]:
    """Summer weather with fast cloud, showers and wind, (M, T)."""
    times = pd.date_range("2024-07-10", periods=24 * days + 1, freq="h", tz="UTC")
    rng = np.random.default_rng(3)
    shape = (members, len(times))
    hour = np.arange(len(times)) - 6.0
    fields = {
        "air_temp_c": 24.0
        + 7.0 * np.cos(2.0 * np.pi * (hour - 15.0) / 24.0)
        + rng.normal(0.0, 0.5, shape),
        "dew_point_c": 12.0 + rng.normal(0.0, 1.0, shape),
        "wind_ms": rng.gamma(3.0, 1.0, shape),
        "rain_mm": rng.gamma(0.05, 3.0, shape),
        "cloud_fraction": rng.beta(0.7, 0.7, shape),
    }
    if freq != "h":
        keep = slice(None, None, int(pd.Timedelta(freq) / pd.Timedelta("1h")))
        fields["rain_mm"] = np.add.reduceat(fields["rain_mm"], np.arange(1, len(times), 3), axis=1)
        fields["rain_mm"] = np.concatenate([np.zeros((members, 1)), fields["rain_mm"]], axis=1)
        fields = {n: v if n == "rain_mm" else v[:, keep] for n, v in fields.items()}
        times = times[keep]
    return times, fields


@pytest.mark.parametrize("surface", ["asphalt_aged", "concrete"])
def test_half_the_step_changes_the_surface_by_less_than_a_tenth(surface: str) -> None:
    """Protects the step: 3 min against half and a sixth of it, in sun, cloud and showers."""
    times, fields = changeable(days=3)
    steps = [
        simulate_members(times, **fields, surface=surface, site=SITE, step_seconds=seconds)
        for seconds in (STEP_SECONDS, STEP_SECONDS / 2.0, STEP_SECONDS / 6.0)
    ]
    assert np.abs(steps[0].surface_temp_c - steps[1].surface_temp_c).max() < 0.1
    assert np.abs(steps[0].film_mm - steps[1].film_mm).max() < 0.02
    assert np.sqrt(np.mean((steps[0].surface_temp_c - steps[2].surface_temp_c) ** 2)) < 0.03


@pytest.mark.parametrize("surface", ["asphalt_aged", "concrete"])
def test_the_longer_step_of_a_plan_says_the_same(surface: str) -> None:
    """Protects plans: 5 min against half a minute, over forty members in showers and sun."""
    times, fields = changeable(days=3, members=40)
    long, short = (
        simulate_members(times, **fields, surface=surface, site=SITE, step_seconds=seconds)
        for seconds in (PLAN_STEP_SECONDS, 30.0)
    )
    differs = np.abs(long.surface_temp_c - short.surface_temp_c)
    assert np.sqrt(np.mean(differs**2)) < 0.04
    assert np.quantile(differs, 0.999) < 0.3
    wet, really = (run.film_mm >= WET_FILM_MM for run in (long, short))
    assert really.mean() > 0.1
    assert (wet != really).mean() < 1 / 500


def test_finer_grid_changes_the_surface_by_less_than_a_tenth() -> None:
    """Protects the grid: every cell cut in three, in sun and cloud without rain."""
    times, fields = changeable()
    weather = {name: np.full((1, len(times)), np.nan) for name in FIELDS} | fields
    weather["rain_mm"] = np.zeros((1, len(times)))
    clock = make_clock(times, seconds=STEP_SECONDS)
    forcing = make_forcing(clock, weather, site=SITE, traffic=np.zeros(len(clock.part), dtype=bool))
    surface = SURFACES["asphalt_aged"]
    runs = []
    for refine in (1, 3):
        depth = make_grid(surface.layers, refine=refine).depth_m
        column = np.full((1, len(depth)), 25.0)
        done = run_balance(forcing, column, np.zeros(1), surface=surface, refine=refine)
        # A uniform start is a jump at the surface, which the first hours forget.
        runs.append(done.surface_temp_c[40:])
    assert np.abs(runs[0] - runs[1]).max() < 0.1


def test_members_do_not_touch_each_other() -> None:
    """Protects vectorization: a member alone is the same as among others."""
    times, fields = changeable(days=2, members=7)
    together = simulate_members(times, **fields, surface="asphalt_new", site=SITE)
    for row in (0, 4):
        one = {name: values[row] for name, values in fields.items()}
        alone = simulate_members(times, **one, surface="asphalt_new", site=SITE)
        assert together.surface_temp_c[row] == pytest.approx(alone.surface_temp_c[0], abs=1e-9)
        assert together.film_mm[row] == pytest.approx(alone.film_mm[0], abs=1e-9)


def test_a_run_goes_on_from_the_state_another_ended_in() -> None:
    """Protects the state: two halves are the whole, cut at night (06 UTC at 100° west).

    By day the split of sunshine behind a horizon counts on all of the day's.
    """
    times, fields = changeable(days=4)
    whole = simulate_members(times, **fields, surface="asphalt_aged", site=SITE)
    cut = 54
    first = {name: values[:, : cut + 1] for name, values in fields.items()}
    rest = {name: values[:, cut:] for name, values in fields.items()}
    before = simulate_members(times[: cut + 1], **first, surface="asphalt_aged", site=SITE)
    after = simulate_members(
        times[cut:], **rest, surface="asphalt_aged", site=SITE, start=before.end
    )
    late = whole.surface_temp_c[0, cut * 4 :]
    assert after.surface_temp_c[0] == pytest.approx(late, abs=1e-6)
    assert after.film_mm[0] == pytest.approx(whole.film_mm[0, cut * 4 :], abs=1e-6)


def test_table_and_arrays_agree_on_any_time_zone() -> None:
    """Protects the table form, on the caller's own index."""
    times, fields = changeable(days=2)
    local = times.tz_convert("America/Chicago")
    table = pd.DataFrame({name: values[0] for name, values in fields.items()}, index=local)
    got = simulate(table, surface="asphalt_aged", site=SITE)
    arrays = simulate_members(times, **fields, surface="asphalt_aged", site=SITE, output_minutes=60)
    assert got.index.equals(local)
    assert got["surface_temp_c"].to_numpy() == pytest.approx(arrays.surface_temp_c[0], abs=1e-9)
    assert got["film_mm"].to_numpy() == pytest.approx(arrays.film_mm[0], abs=1e-9)
    assert got.attrs["gaps"] == []


def test_weather_in_three_hour_steps_tells_nearly_the_same() -> None:
    """Protects coarse forecasts: smooth 3 h steps lie within 1 °C RMSE of hourly ones."""
    times, fields = changeable(days=4)
    smooth = fields | {
        "cloud_fraction": np.full((1, len(times)), 0.2),
        "wind_ms": np.full((1, len(times)), 3.0),
        "rain_mm": np.zeros((1, len(times))),
    }
    coarse = {name: values[:, ::3] for name, values in smooth.items()}
    hourly = simulate_members(times, **smooth, surface="asphalt_aged", site=SITE)
    third = simulate_members(times[::3], **coarse, surface="asphalt_aged", site=SITE)
    assert third.surface_temp_c.shape == hourly.surface_temp_c.shape
    assert np.sqrt(np.mean((third.surface_temp_c - hourly.surface_temp_c) ** 2)) < 1.0


@pytest.mark.parametrize("freq", ["1min", "7min", "15min", "1h", "6h"])
def test_rain_and_sunshine_are_the_same_in_any_step(freq: str) -> None:
    """Protects amounts: what falls and shines in a day does not hang on the weather's step."""
    times = pd.date_range(
        "2024-07-10", periods=1 + int(pd.Timedelta("2D") / pd.Timedelta(freq)), freq=freq, tz="UTC"
    )
    hours = pd.Timedelta(freq) / pd.Timedelta("1h")
    weather = {name: np.full((1, len(times)), np.nan) for name in FIELDS}
    for name, value in (("air_temp_c", 20.0), ("dew_point_c", 10.0), ("wind_ms", 3.0)):
        weather[name][:] = value
    weather["rain_mm"][:] = 0.5 * hours
    weather["ghi_wm2"][:] = 300.0
    clock = make_clock(times, seconds=min(STEP_SECONDS, hours * 3600.0))
    forcing = make_forcing(
        clock, weather, site=Site(35.0, -100.0), traffic=np.zeros(len(clock.part), dtype=bool)
    )
    span_h = (times[-1] - times[0]) / pd.Timedelta("1h")
    assert forcing.rain_kgm2s.sum() * clock.seconds == pytest.approx(0.5 * span_h)
    assert forcing.sunshine_wm2.mean() == pytest.approx(300.0, rel=0.01)


def test_a_whole_ensemble_takes_half_a_second() -> None:
    """Protects the speed of a plan: 82 members over 7 days in half a second.

    And that members share their steps: a tenth of the time each that one alone takes.
    """
    times, fields = changeable(days=7, members=82)
    one = {name: values[:1] for name, values in fields.items()}
    took = np.full((2, 2), np.inf)
    for row, some in enumerate((fields, one) * 2):
        begin = time.perf_counter()
        simulate_members(times, **some, surface="asphalt_aged", site=SITE)
        took[row // 2, row % 2] = time.perf_counter() - begin
    whole, alone = took.min(axis=0)
    # Three times the aim, so that a busy machine does not fail it.
    assert whole < 1.5
    assert whole / 82 < alone / 10


def test_a_reading_at_the_start_is_kept_and_then_forgotten() -> None:
    """Protects the measured start: the surface begins there, and a week later does not know it."""
    times, fields = changeable(days=7)
    plain = simulate_members(times, **fields, surface="asphalt_aged", site=SITE)
    read = simulate_members(times, **fields, surface="asphalt_aged", site=SITE, start=45.0)
    assert read.surface_temp_c[0, 0] == pytest.approx(45.0)
    gap = np.abs(read.surface_temp_c - plain.surface_temp_c)[0]
    assert gap[4] < gap[0]
    assert gap[-96:].max() < 0.5


def test_wrong_input_is_named() -> None:
    """Protects the caller: each fault is refused in words."""
    times, fields = changeable(days=1)
    good: dict[str, Any] = {"surface": "asphalt_aged", "site": SITE}
    with pytest.raises(ValueError, match="asphalt_aged"):
        simulate_members(times, **fields, surface="gravel", site=SITE)
    with pytest.raises(ValueError, match="time zone"):
        simulate_members(times.tz_localize(None), **fields, **good)
    with pytest.raises(ValueError, match="rise"):
        simulate_members(times[::-1], **fields, **good)
    with pytest.raises(ValueError, match="shape"):
        simulate_members(times[:-1], **fields, **good)
    with pytest.raises(ValueError, match="cloud_fraction"):
        simulate_members(times, **(fields | {"cloud_fraction": fields["wind_ms"] * 10}), **good)
    with pytest.raises(ValueError, match="negative"):
        simulate_members(times, **(fields | {"rain_mm": fields["rain_mm"] - 1.0}), **good)
    table = pd.DataFrame({name: values[0] for name, values in fields.items()}, index=times)
    with pytest.raises(ValueError, match="ghi_wm2 or cloud_fraction"):
        simulate(table.drop(columns="cloud_fraction"), **good)
    state = State(np.array([0.0, 1.0]), np.zeros((3, 2)), np.zeros(3))
    with pytest.raises(ValueError, match="members"):
        simulate_members(times, **fields, **good, start=state)
    with pytest.raises(ValueError, match="albedo"):
        Surface(albedo=1.5)
    with pytest.raises(ValueError, match="emissivity"):
        Surface(emissivity=0.0)
