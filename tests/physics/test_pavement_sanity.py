"""Hot clear days against the design maxima of the pavement engineers."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest

from trackday.physics.pavement import SURFACES, Site, Surface, simulate, street_horizon


@cache
def hottest(latitude: float, air_max_c: float, surface: Surface | str, wind_ms: float) -> float:
    """Hottest surface of the sixth of six clear July days, °C."""
    times = pd.date_range("2023-07-14 06:00", periods=145, freq="h", tz="UTC")
    hour = times.hour.to_numpy()
    weather = pd.DataFrame(
        {
            "air_temp_c": air_max_c - 7.0 + 7.0 * np.cos(2.0 * np.pi * (hour - 15.0) / 24.0),
            "dew_point_c": 15.0,
            "wind_ms": wind_ms,
            "rain_mm": 0.0,
            "cloud_fraction": 0.0,
        },
        index=times,
    )
    got = simulate(weather, surface=surface, site=Site(latitude, 0.0))
    return float(got["surface_temp_c"].iloc[-24:].max())


DESIGN = Surface(albedo=0.10, emissivity=0.90)
"""Absorptivity and emissivity that the design equations assume."""


@pytest.mark.parametrize(
    ("latitude", "air_max_c", "equilibrium_c"), [(35.0, 35.0, 57.44), (33.4, 40.0, 62.22)]
)
def test_design_day_agrees_with_solaimanian_and_kennedy(
    latitude: float, air_max_c: float, equilibrium_c: float
) -> None:
    """Protects the size of the summer maximum, within the 3 °C of the authors' own error.

    Source: Solaimanian & Kennedy 1993, TRR 1417, at 4.5 m/s (value from memory).
    """
    assert hottest(latitude, air_max_c, DESIGN, 4.5) == pytest.approx(equilibrium_c, abs=3.0)


@pytest.mark.parametrize(("latitude", "air_max_c"), [(30.0, 35.0), (35.0, 35.0), (45.0, 32.0)])
def test_design_day_agrees_with_shrp(latitude: float, air_max_c: float) -> None:
    """Protects the maximum over latitudes: Ta − .00618φ² + .2289φ + 24.4 (value from memory)."""
    shrp = air_max_c - 0.00618 * latitude**2 + 0.2289 * latitude + 24.4
    assert hottest(latitude, air_max_c, DESIGN, 4.5) == pytest.approx(shrp, abs=3.5)


def test_design_day_is_hotter_than_ltpp_two_centimeters_down() -> None:
    """Protects the order of surface and depth.

    Source: Mohseni 1998, FHWA-RD-97-103: 53.53 °C at 20 mm for 35 °C and 35°; the SHRP equations
    put 3.5 °C between the surface and that depth.
    """
    assert hottest(35.0, 35.0, DESIGN, 4.5) == pytest.approx(53.53 + 3.5, abs=3.0)


def test_surfaces_stand_in_the_order_of_their_albedo() -> None:
    """Protects the named surfaces: sealed and new asphalt hottest, concrete coolest."""
    peak = {name: hottest(35.0, 35.0, name, 3.0) for name in SURFACES}
    assert peak["sealed"] > peak["asphalt_new"] > peak["asphalt_aged"] > peak["concrete"] + 5.0
    assert peak["concrete"] > 45.0
    assert peak["sealed"] < 70.0


def test_wet_surface_is_darker() -> None:
    """Protects the wet albedo: .15 dry is .09 wet. Source: Ångström 1925 by hand, n = 1.33."""
    assert Surface(albedo=0.15).wet_albedo == pytest.approx(0.0907, abs=5e-4)
    assert Surface(albedo=0.0).wet_albedo == 0.0


def test_shade_keeps_a_street_cooler_by_day_and_warmer_by_night() -> None:
    """Protects shade and sky view together, against the open site in the same weather."""
    times = pd.date_range("2024-07-10", periods=73, freq="h", tz="UTC")
    hour = times.hour.to_numpy()
    weather = pd.DataFrame(
        {
            "air_temp_c": 20.0 + 6.0 * np.cos(2.0 * np.pi * (hour - 15.0) / 24.0),
            "dew_point_c": 8.0,
            "wind_ms": 2.0,
            "rain_mm": 0.0,
            "cloud_fraction": 0.0,
        },
        index=times,
    )
    walls = street_horizon(width_m=20.0, axis_deg=90.0, left_height_m=20.0, right_height_m=20.0)
    street = simulate(weather, surface="asphalt_aged", site=Site(50.0, 0.0, horizon=walls))
    field = simulate(weather, surface="asphalt_aged", site=Site(50.0, 0.0))
    last = slice(-24, None)
    differs = (street - field)["surface_temp_c"].iloc[last]
    assert differs.min() < -8.0
    assert street["surface_temp_c"].iloc[last].max() < field["surface_temp_c"].iloc[last].max()
