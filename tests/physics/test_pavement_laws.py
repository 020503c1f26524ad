"""The pavement model keeps the laws of physics, whatever the weather."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from trackday.physics.balance import run_balance
from trackday.physics.conduction import make_grid, stored_heat_jm2
from trackday.physics.film import drained_mm, mean_wet_share, saturation_pa
from trackday.physics.forcing import make_clock, make_forcing
from trackday.physics.longwave import sky_longwave_wm2
from trackday.physics.pavement import (
    FIELDS,
    STEP_SECONDS,
    PavementRun,
    Site,
    State,
    Surface,
    simulate_members,
)
from trackday.physics.surfaces import SURFACES
from trackday.physics.turbulence import exchange_wm2k, neutral_coefficient, wind_at_reference

SITE = Site(40.0, -3.0)
DAYS = settings(max_examples=6, deadline=None)


def weather(hours: int = 72, **fields: Any) -> dict[str, Any]:
    """Fields (M, T) of plain summer weather, hourly, from noon; `fields` replace some."""
    hour = np.arange(hours + 1)
    daily = np.cos(2.0 * np.pi * (hour - 3.0) / 24.0)
    plain: dict[str, Any] = {
        "air_temp_c": 20.0 + 7.0 * daily,
        "dew_point_c": np.full(hours + 1, 8.0),
        "wind_ms": np.full(hours + 1, 3.0),
        "rain_mm": np.zeros(hours + 1),
        "cloud_fraction": np.full(hours + 1, 0.3),
    }
    return plain | fields


def run(fields: dict[str, Any], **options: Any) -> PavementRun:
    """Run members from noon UTC of a summer day at 40° north."""
    length = np.asarray(fields["air_temp_c"]).shape[-1]
    times = pd.date_range("2024-06-20 12:00", periods=length, freq="h", tz="UTC")
    given_options: dict[str, Any] = {"surface": "asphalt_aged", "site": SITE} | options
    return simulate_members(times, **fields, **given_options)


@DAYS
@given(
    wind=st.floats(0.0, 15.0),
    cloud=st.floats(0.0, 1.0),
    rain=st.floats(0.0, 20.0),
    air=st.floats(-15.0, 35.0),
)
def test_energy_is_conserved(wind: float, cloud: float, rain: float, air: float) -> None:
    """Protects the budget: heat stored over a day is the sum of the fluxes, to .1 % of them.

    The fluxes are summed from their own terms at the states before and after each step, not taken
    from the solver: sunshine, longwave, convection, evaporation (what the water balance misses) and
    rain.
    """
    times = pd.date_range("2024-06-20 12:00", periods=25, freq="h", tz="UTC")
    fields = {name: np.full((1, 25), np.nan) for name in FIELDS}
    fields["air_temp_c"][:] = air + 5.0 * np.cos(2.0 * np.pi * (np.arange(25) - 3.0) / 24.0)
    fields["dew_point_c"][:] = air - 10.0
    fields["wind_ms"][:] = wind
    fields["cloud_fraction"][:] = cloud
    fields["rain_mm"][:] = rain * (np.arange(25) == 6)
    clock = make_clock(times, seconds=STEP_SECONDS)
    still = np.zeros(len(clock.part), dtype=bool)
    forcing = make_forcing(clock, fields, site=SITE, traffic=still)
    surface = Surface()
    grid = make_grid(surface.layers)
    start = np.full((1, len(grid.depth_m)), air)
    done = run_balance(forcing, start, np.zeros(1), surface=surface)
    stored = stored_heat_jm2(done.temperatures_c, grid) - stored_heat_jm2(start, grid)
    assert stored == pytest.approx(done.flux_wm2.sum(axis=0) * STEP_SECONDS, rel=1e-3, abs=100.0)

    old, new = done.surface_temp_c[:-1], done.surface_temp_c[1:]
    middle = (old + new) / 2.0
    half_h = STEP_SECONDS / 7200.0
    film = drained_mm(done.film_mm[:-1], hours=half_h)
    fallen = forcing.rain_kgm2s * STEP_SECONDS
    # What was there before the second half of the runoff, from its exact solution backward.
    after = done.film_mm[1:] / np.sqrt(1.0 - 20.0 * half_h * done.film_mm[1:] ** 2)
    latent = (film + fallen - after) * 2.501e6 / STEP_SECONDS
    exchange = exchange_wm2k(old, forcing.air_temp_c, forcing.neutral_wm2k, forcing.wind_ms)
    demand = exchange / forcing.psychrometric_pak * (saturation_pa(old) - forcing.vapor_pa)
    share = mean_wet_share(
        film + fallen / 2.0, demand * STEP_SECONDS / 2.501e6, texture_mm=surface.texture_mm
    )
    absorbed = 1.0 - surface.albedo + share * (surface.albedo - surface.wet_albedo)
    radiated = surface.emissivity * 5.670374419e-8 * (middle + 273.15) ** 4
    convected = exchange * (middle - forcing.air_temp_c)
    rained = 4186.0 * forcing.rain_kgm2s * (forcing.air_temp_c - middle)
    terms = [
        absorbed * forcing.sunshine_wm2,
        surface.emissivity * forcing.longwave_wm2,
        -radiated,
        -convected,
        -latent,
        rained,
    ]
    net = np.sum(terms) * STEP_SECONDS
    turnover = sum(np.abs(term).sum() for term in terms) * STEP_SECONDS
    assert abs(net - stored[0]) < 1e-3 * turnover


def test_steady_weather_ends_at_the_analytic_equilibrium() -> None:
    """Protects the balance itself: the root of the energy equation in weather that never changes.

    The steady equation is solved apart (brentq) from radiation and convection alone.
    """
    hours = 24 * 15
    surface = Surface(layers=(SURFACES["asphalt_aged"].layers[0],))
    steady = weather(
        hours,
        air_temp_c=np.full(hours + 1, 10.0),
        dew_point_c=np.full(hours + 1, -5.0),
        wind_ms=np.full(hours + 1, 4.0),
        cloud_fraction=np.full(hours + 1, 0.5),
    )
    times = pd.date_range("2024-11-20", periods=hours + 1, freq="h", tz="UTC")
    # North of the polar circle the sun stays away, so that night weather can last.
    night = simulate_members(times, **steady, surface=surface, site=Site(80.0, 0.0))
    vapor = saturation_pa(-5.0)
    sky = float(sky_longwave_wm2(10.0, vapor, 0.42))
    wind = wind_at_reference(np.array([4.0]), height_m=10.0)
    density = 101325.0 / (287.042 * 283.15)

    def net(temp_c: float) -> float:
        neutral = density * 1006.0 * neutral_coefficient() * wind
        exchange = exchange_wm2k(np.array([temp_c]), np.array([10.0]), neutral, wind)[0]
        radiated = 5.670374419e-8 * (temp_c + 273.15) ** 4
        return float(surface.emissivity * (sky - radiated) - exchange * (temp_c - 10.0))

    assert night.surface_temp_c[0, -1] == pytest.approx(brentq(net, -20.0, 30.0), abs=0.01)
    assert night.film_mm[0, -1] == 0.0


@DAYS
@given(sun=st.floats(0.2, 1.0), less=st.floats(0.05, 0.95), wind=st.floats(0.0, 10.0))
def test_more_sun_never_cools(sun: float, less: float, wind: float) -> None:
    """Protects order in sunshine, at every time, with the sky's heat held."""
    hour = (np.arange(73) + 12) % 24
    ghi = 900.0 * sun * np.maximum(np.sin(np.pi * (hour - 5.5) / 14.0), 0.0) * (hour > 5)
    pair = np.stack([ghi * less, ghi])
    fields = weather(ghi_wm2=pair, longwave_wm2=np.full(73, 330.0), wind_ms=np.full(73, wind))
    temps = run(fields).surface_temp_c
    assert np.all(temps[1] >= temps[0] - 1e-6)
    assert temps[1].max() > temps[0].max()


@DAYS
@given(step=st.floats(0.5, 15.0), wind=st.floats(0.0, 10.0), cloud=st.floats(0.0, 1.0))
def test_warmer_air_never_cools(step: float, wind: float, cloud: float) -> None:
    """Protects order in air temperature, at every time."""
    plain = weather(wind_ms=np.full(73, wind), cloud_fraction=np.full(73, cloud))
    pair = np.stack([plain["air_temp_c"], plain["air_temp_c"] + step])
    temps = run(plain | {"air_temp_c": pair}).surface_temp_c
    assert np.all(temps[1] > temps[0])


@DAYS
@given(cloud=st.floats(0.0, 0.9), more=st.floats(0.05, 0.5), wind=st.floats(0.0, 10.0))
def test_cloud_never_cools_at_night(cloud: float, more: float, wind: float) -> None:
    """Protects order in cloud where the sun is away: the polar night."""
    pair = np.stack([np.full(73, cloud), np.full(73, min(cloud + more, 1.0))])
    fields = weather(cloud_fraction=pair, wind_ms=np.full(73, wind))
    times = pd.date_range("2024-12-20", periods=73, freq="h", tz="UTC")
    temps = simulate_members(times, **fields, surface="concrete", site=Site(80.0, 0.0))
    assert np.all(np.diff(temps.surface_temp_c, axis=0) > -1e-9)


@DAYS
@given(
    dew=st.floats(-5.0, 12.0),
    wind=st.floats(0.5, 10.0),
    cloud=st.floats(0.0, 1.0),
    film=st.floats(0.02, 2.0),
)
def test_wet_is_never_warmer_than_dry_by_day(
    dew: float, wind: float, cloud: float, film: float
) -> None:
    """Protects evaporation against the darker albedo of a wet surface, in the same weather."""
    plain = weather(
        36,
        dew_point_c=np.full(37, dew),
        wind_ms=np.full(37, wind),
        cloud_fraction=np.full(37, cloud),
    )
    # From noon through the night to sunrise, dry; then the same day with and without a film.
    night = {name: values[:18] for name, values in plain.items()}
    day = {name: values[17:31] for name, values in plain.items()}
    times = pd.date_range("2024-06-20 12:00", periods=37, freq="h", tz="UTC")
    dawn = simulate_members(times[:18], **night, surface="asphalt_aged", site=SITE).end
    assert dawn is not None

    def daytime(film_mm: float) -> Any:
        state = State(dawn.depth_m, dawn.temperatures_c, np.array(film_mm))
        done = simulate_members(
            times[17:31], **day, surface="asphalt_aged", site=SITE, start=state, output_minutes=5
        )
        return done.surface_temp_c[0]

    assert np.all(daytime(film) <= daytime(0.0) + 1e-6)


def test_dew_falls_only_below_the_dew_point() -> None:
    """Protects the sign of condensation: a humid clear night wets the track, a dry one does not."""
    times = pd.date_range("2024-12-20", periods=25, freq="h", tz="UTC")
    air = np.full(25, 10.0)
    calm = weather(24, air_temp_c=air, wind_ms=np.full(25, 1.0), cloud_fraction=np.zeros(25))

    def dew(depression_c: float) -> float:
        fields = calm | {"dew_point_c": air - depression_c}
        done = simulate_members(
            times, **fields, surface="asphalt_aged", site=Site(80.0, 0.0), start=8.0
        )
        return float(done.film_mm.max())

    assert 0.01 < dew(0.3) < 0.7
    assert dew(15.0) == 0.0


@DAYS
@given(rain=st.floats(0.05, 30.0))
def test_water_never_comes_from_nowhere(rain: float) -> None:
    """Protects the water balance: the film stays between nothing and what has fallen."""
    shower = weather(24, rain_mm=rain * (np.arange(25) == 14))
    film = run(shower, output_minutes=5).film_mm[0]
    assert film.min() >= 0.0
    assert 0.1 * min(rain, 0.3) < film.max() <= rain
    assert film[-1] == 0.0


def test_drying_is_quicker_in_sun_wind_and_traffic() -> None:
    """Protects order in drying: each of the three shortens the time to dry."""
    times = pd.date_range("2024-06-20 08:00", periods=13, freq="h", tz="UTC")
    base = weather(
        12,
        dew_point_c=np.full(13, 11.0),
        air_temp_c=np.full(13, 15.0),
        cloud_fraction=np.ones(13),
        rain_mm=4.0 * (np.arange(13) == 1),
    )

    def wet_minutes(traffic: Any = (), **fields: Any) -> float:
        done = simulate_members(
            times,
            **(base | fields),
            surface="asphalt_aged",
            site=SITE,
            output_minutes=5,
            traffic=traffic,
        )
        return float((done.film_mm[0] > 0.05).sum() * 5)

    plain = wet_minutes()
    assert wet_minutes(cloud_fraction=np.zeros(13)) < plain
    assert wet_minutes(wind_ms=np.full(13, 8.0)) < plain
    assert wet_minutes(traffic=[(times[1], times[3])]) < plain
