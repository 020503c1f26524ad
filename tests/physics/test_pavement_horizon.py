"""Sky view, shade and walls against geometry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.physics.horizon import (
    Site,
    horizon_elevation_deg,
    on_walls_wm2,
    reflected_wm2,
    sky_view,
    street_horizon,
    sunlit,
    sunlit_steps,
    wall_excess_c,
    walls_per_ground,
)


@given(edge=st.floats(0.0, 89.0))
def test_sky_view_in_a_round_hollow_is_the_squared_cosine(edge: float) -> None:
    """Protects the sky view of a uniform horizon. Source: Oke 1987, cos² of its elevation."""
    site = Site(45.0, 0.0, horizon=[(0.0, edge), (90.0, edge), (200.0, edge)])
    assert sky_view(site) == pytest.approx(np.cos(np.radians(edge)) ** 2, abs=1e-9)


@given(left=st.floats(0.0, 60.0), right=st.floats(0.0, 60.0), axis=st.floats(0.0, 359.0))
def test_sky_view_in_a_long_street_is_the_known_view_factor(
    left: float, right: float, axis: float
) -> None:
    """Protects the sky view of a street, whichever way it runs.

    Source: view factors of long walls (Hottel's crossed strings), (cos β₁ + cos β₂)/2.
    """
    pairs = street_horizon(width_m=20.0, axis_deg=axis, left_height_m=left, right_height_m=right)
    exact = sum(np.cos(np.arctan2(height, 10.0)) for height in (left, right)) / 2.0
    assert sky_view(Site(45.0, 0.0, horizon=pairs)) == pytest.approx(exact, abs=0.012)


def test_open_site_sees_all_of_the_sky() -> None:
    """Protects that nothing is shaded where no horizon is given, and that a given view stands."""
    assert sky_view(Site(45.0, 0.0)) == 1.0
    assert sky_view(Site(45.0, 0.0, sky_view=0.6)) == 0.6
    assert sunlit(Site(45.0, 0.0), np.array([-1.0, 0.0, 1.0]), np.zeros(3)).tolist() == [0, 0.5, 1]


def test_horizon_is_interpolated_around_the_circle() -> None:
    """Protects the seam at north and the order of the pairs."""
    site = Site(45.0, 0.0, horizon=[(350.0, 10.0), (10.0, 30.0), (180.0, 0.0)])
    assert horizon_elevation_deg(site, [0.0, 360.0, 10.0, 95.0]) == pytest.approx([20, 20, 30, 15])


def test_sun_behind_a_wall_is_gone_and_along_the_street_is_not() -> None:
    """Protects left and right: an east–west street, a wall on its south side only."""
    pairs = street_horizon(width_m=20.0, axis_deg=90.0, left_height_m=0.0, right_height_m=20.0)
    site = Site(45.0, 0.0, horizon=pairs)
    assert sunlit(site, [40.0, 70.0, 40.0, 40.0], [180.0, 180.0, 90.0, 0.0]).tolist() == [
        0,
        1,
        1,
        1,
    ]


@given(
    view=st.floats(0.05, 1.0),
    beam=st.floats(0.0, 900.0),
    diffuse=st.floats(0.0, 400.0),
    lit=st.floats(0.0, 1.0),
)
def test_walls_never_give_more_light_than_comes_in(
    view: float, beam: float, diffuse: float, lit: float
) -> None:
    """Protects energy: what ground and walls get is no more than falls into the street."""
    walls = on_walls_wm2(np.array([beam]), np.array([diffuse]), np.array([lit]), view=view)
    direct = beam * lit + diffuse * view
    assert direct + walls[0] * walls_per_ground(view) <= beam + diffuse + 1e-6
    assert 0.0 <= reflected_wm2(walls, view=view)[0] <= beam + diffuse - direct + 1e-6


def test_walls_warm_in_the_sun_and_cool_under_a_clear_night() -> None:
    """Protects the sign of the walls' heat, and that an open site has none."""
    assert wall_excess_c(np.array([300.0]), np.array([90.0]), view=0.4)[0] > 2.0
    assert wall_excess_c(np.array([0.0]), np.array([90.0]), view=0.4)[0] < -0.3
    assert on_walls_wm2(np.array([500.0]), np.array([100.0]), np.array([1.0]), view=1.0)[0] == 0.0


@pytest.mark.parametrize(
    "wrong",
    [
        {"latitude": 91.0},
        {"sky_view": 1.2},
        {"wind_height_m": 0.0},
        {"wind_factor": -0.1},
        {"horizon": [(0.0, -5.0)]},
    ],
)
def test_impossible_places_are_refused(wrong: dict[str, object]) -> None:
    """Protects against swapped and mistyped numbers."""
    with pytest.raises(ValueError, match="must"):
        Site(**({"latitude": 45.0, "longitude": 0.0} | wrong))  # type: ignore[arg-type]


def test_a_step_in_which_the_sun_comes_out_counts_for_its_part() -> None:
    """Protects the mean over a step against a hundred times finer steps."""
    site = Site(45.0, 0.0, horizon=[(0.0, 20.0)])
    fine = np.arange(0.0, 40.0, 0.01)
    coarse = np.arange(0.5, 40.0, 1.0)
    exact = sunlit(site, fine + 0.005, np.zeros_like(fine)).reshape(-1, 100).mean(axis=1)
    got = sunlit_steps(site, coarse, np.zeros_like(coarse))
    assert got == pytest.approx(exact, abs=1e-3)
    assert sunlit_steps(site, np.full(3, 25.0), np.zeros(3)).tolist() == [1.0, 1.0, 1.0]
