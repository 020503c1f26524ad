"""The model's error and the ranges made of it, against scipy's distributions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from trackday.physics.pavement_error import model_error_c, widen

TEMPS = st.lists(st.floats(-20.0, 70.0), min_size=1, max_size=40)


def test_error_grows_with_sun_and_is_smaller_when_wet() -> None:
    """Protects the order of errors: night, sun, wet, and a surface known by name only."""
    dry = model_error_c([0.0, 300.0, 900.0], 0.0, surface_known=True)
    assert (np.diff(dry) > 0.0).all()
    assert (model_error_c([0.0, 300.0, 900.0], 0.8, surface_known=True) < dry).all()
    assert (model_error_c([0.0, 300.0, 900.0], 0.0) > dry).all()


def test_error_lies_where_others_find_it() -> None:
    """Protects the size: no less than a road sensor's .2 °C, no more than others err by day.

    Source: road-weather models err by 1 °C on winter nights (Chapman, Thornes & Bradley 2001) and
    by up to 4.5–6 °C by day with forecast weather, which is not in this error.
    """
    assert 0.2 < model_error_c(0.0, 1.0, surface_known=True) < model_error_c(0.0, 0.0) < 1.5
    assert 1.0 < model_error_c(1000.0, 0.0) < 4.5


def test_unknown_film_counts_as_dry_and_unknown_sun_stays_unknown() -> None:
    """Protects the careful side: missing never narrows a range."""
    assert model_error_c(500.0, np.nan) == model_error_c(500.0, 0.0)
    assert np.isnan(model_error_c(np.nan, 0.0))
    assert model_error_c(-3.0, 0.0) == model_error_c(0.0, 0.0)
    with pytest.raises(ValueError, match="wet_share"):
        model_error_c(0.0, 1.2)


@given(temp=st.floats(-20.0, 70.0), sd=st.floats(0.01, 10.0))
def test_one_member_has_the_normal_percentiles(temp: float, sd: float) -> None:
    """Protects the range of a single forecast. Source: scipy's normal distribution."""
    expected = norm.ppf([0.1, 0.5, 0.9], temp, sd)
    assert widen([temp], [1.0], sd) == pytest.approx(expected, abs=1e-5)


@given(temps=TEMPS, sd=st.floats(0.05, 5.0), seed=st.integers(0, 99))
def test_percentiles_are_roots_of_the_mixture(temps: list[float], sd: float, seed: int) -> None:
    """Protects exactness: scipy's distribution function of the mixture gives the levels back."""
    rng = np.random.default_rng(seed)
    weights = rng.uniform(0.1, 1.0, len(temps))
    errors = sd * rng.uniform(0.5, 1.5, len(temps))
    found = widen(temps, weights, errors)
    share = weights / weights.sum()
    for value, level in zip(found, (0.1, 0.5, 0.9), strict=True):
        assert share @ norm.cdf(value, temps, errors) == pytest.approx(level, abs=1e-4)


def test_spread_and_error_add_as_variances() -> None:
    """Protects the mixture: members of a normal spread of 2 °C and an error of 1.5 °C make 2.5."""
    members = norm.ppf((np.arange(200) + 0.5) / 200.0, 40.0, 2.0)
    found = widen(members, np.ones(200), 1.5)
    assert found == pytest.approx(norm.ppf([0.1, 0.5, 0.9], 40.0, 2.5), abs=0.02)


def test_members_that_do_not_know_are_left_out() -> None:
    """Protects missing members and weights: they neither narrow nor shift, nor stand for zero."""
    both = widen([30.0, np.nan, 50.0, 10.0], [1.0, 5.0, 1.0, 0.0], [1.0, 1.0, 1.0, 1.0])
    assert both == pytest.approx(widen([30.0, 50.0], [1.0, 1.0], 1.0))
    assert both[1] == pytest.approx(40.0, abs=1e-3)
    assert np.isnan(widen([np.nan, 20.0], [1.0, 0.0], 1.0)).all()
    assert np.isnan(widen([20.0], [1.0], np.nan)).all()


def test_levels_may_be_chosen() -> None:
    """Protects other ranges than p10 to p90."""
    assert widen([20.0], [1.0], 2.0, levels=(0.05, 0.95)) == pytest.approx(
        norm.ppf([0.05, 0.95], 20.0, 2.0), abs=1e-5
    )


def test_impossible_errors_and_weights_are_refused() -> None:
    """Protects against swapped arguments."""
    with pytest.raises(ValueError, match="sd_c"):
        widen([20.0], [1.0], 0.0)
    with pytest.raises(ValueError, match="weights"):
        widen([20.0, 21.0], [1.0, -1.0], 1.0)
