"""Turbulent exchange and the film's own laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.physics.film import (
    after_traffic_mm,
    drained_mm,
    mean_wet_share,
    saturation_pa,
    wet_share,
)
from trackday.physics.moist_air import saturation_vapor_pressure_pa
from trackday.physics.turbulence import exchange_wm2k, neutral_coefficient, wind_at_reference

RHO_CP = 1.12 * 1006.0


def exchange(surface_c: float, air_c: float, wind_10m_ms: float, damping: float = 1.0) -> float:
    """Exchange coefficient for the wind 10 m above ground."""
    wind = np.maximum(wind_at_reference(np.array([wind_10m_ms]), height_m=10.0), 0.3)
    neutral = RHO_CP * neutral_coefficient() * wind
    got = exchange_wm2k(np.array([surface_c]), np.array([air_c]), neutral, wind, damping=damping)
    return float(got[0])


@pytest.mark.parametrize("wind", [1.5, 2.0, 3.0, 4.5, 6.0])
def test_hot_pavement_agrees_with_vehrencamp_and_dempsey(wind: float) -> None:
    """Protects the size of the exchange over hot pavement in wind, within a fifth.

    Source: 698.24·(.00144·Tm^.3·U^.7 + .00097·ΔT^.3), the empirical formula of the pavement models
    of Solaimanian & Kennedy 1993 and Hermansson 2001 (value from memory).
    """
    known = 698.24 * (0.00144 * (273.15 + 46.0) ** 0.3 * wind**0.7 + 0.00097 * 22.0**0.3)
    assert exchange(57.0, 35.0, wind) == pytest.approx(known, rel=0.2)


@given(
    surface=st.floats(-20.0, 70.0),
    air=st.floats(-20.0, 45.0),
    wind=st.floats(0.0, 20.0),
    more=st.floats(0.01, 10.0),
)
def test_exchange_is_positive_and_grows_with_wind_and_warmth(
    surface: float, air: float, wind: float, more: float
) -> None:
    """Protects order: never zero, more over a warmer surface and, when stable, in more wind."""
    value = exchange(surface, air, wind)
    assert value > 0.0
    assert exchange(surface + more, air, wind) >= value * (1.0 - 1e-9)
    if surface < air:
        assert exchange(surface, air, wind + more) >= value * (1.0 - 1e-9)


def test_calm_hot_surface_still_convects() -> None:
    """Protects free convection: some 1.5·ΔT^⅓ or more in calm.

    Source: McAdams 1954, horizontal plate (value from memory).
    """
    assert exchange(60.0, 35.0, 0.0) > 1.52 * 25.0 ** (1.0 / 3.0)


def test_cold_surface_is_damped_only_where_air_can_lie() -> None:
    """Protects the damping of stable air and its share."""
    free, half, full = (exchange(5.0, 10.0, 2.0, share) for share in (0.0, 0.5, 1.0))
    assert full < half < free
    assert half == pytest.approx((full + free) / 2.0)


def test_wind_falls_toward_the_ground_as_in_fao56() -> None:
    """Protects the height of the wind. Source: FAO-56, table and eq. 47: .748 from 10 m."""
    assert wind_at_reference([1.0], height_m=10.0)[0] == pytest.approx(0.748, abs=1e-3)
    assert wind_at_reference([1.0], height_m=2.0)[0] == pytest.approx(1.0, abs=2e-3)


def test_saturation_over_water_agrees_with_the_moist_air_module() -> None:
    """Protects the quick formula inside the loop against PsychroLib, within .7 % up to 70 °C."""
    temps = np.linspace(0.1, 70.0, 50)
    assert saturation_pa(temps) == pytest.approx(saturation_vapor_pressure_pa(temps), rel=0.007)


@given(film=st.floats(0.0, 20.0), hours=st.floats(0.01, 24.0))
def test_runoff_and_traffic_only_take_water_away(film: float, hours: float) -> None:
    """Protects that films never grow nor turn negative by draining, and parts add up."""
    left = float(drained_mm(np.array([film]), hours=hours)[0])
    assert 0.0 <= left <= film
    halves = drained_mm(drained_mm(np.array([film]), hours=hours / 2.0), hours=hours / 2.0)[0]
    assert halves == pytest.approx(left, rel=1e-9, abs=1e-12)
    dried = float(after_traffic_mm(np.array([film]), hours=hours)[0])
    assert min(film, 0.05) - 1e-12 <= dried <= film


def test_runoff_rate_is_the_cube_of_the_film() -> None:
    """Protects the law of runoff: 10 mm/h at 1 mm. Source: Falk & Niemczynowicz 1978."""
    for film in (0.3, 1.0, 2.0):
        lost = film - float(drained_mm(np.array([film]), hours=1e-6)[0])
        assert lost / 1e-6 == pytest.approx(10.0 * film**3, rel=1e-3)


def test_wet_share_runs_from_dry_to_covered() -> None:
    """Protects the ends of the wet share and its power, without evaporation, and the unknown."""
    film = np.array([0.0, 0.15 / 8.0, 0.15, 3.0])
    assert wet_share(film, texture_mm=0.15) == pytest.approx([0.0, 0.25, 1.0, 1.0])
    assert np.isnan(wet_share(np.nan, texture_mm=0.15))
    for demand in (-0.2, 0.0):
        got = mean_wet_share(film, np.full(4, demand), texture_mm=0.15)
        assert got == pytest.approx([0.0, 0.25, 1.0, 1.0], abs=1e-6)


@pytest.mark.parametrize(("film", "demand"), [(0.4, 0.1), (0.4, 0.35), (0.1, 0.05), (0.1, 2.0)])
def test_mean_wet_share_is_that_of_many_small_steps(film: float, demand: float) -> None:
    """Protects the exact drying of a film within one step, against a hundred thousand parts."""
    left, parts = film, 100_000
    for _ in range(parts):
        share = min(left / 0.15, 1.0) ** (2.0 / 3.0)
        left = max(left - demand / parts * share, 0.0)
    got = mean_wet_share(np.array([film]), np.array([demand]), texture_mm=0.15)[0]
    assert got * demand == pytest.approx(film - left, rel=1e-3)
