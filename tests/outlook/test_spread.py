"""Weighted quantiles and the range of a share."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.outlook.spread import (
    effective_count,
    share_range,
    spread,
    weighted_mean,
    weighted_quantiles,
)

values = st.lists(st.floats(-50, 50), min_size=1, max_size=30).map(np.array)


@given(values, st.floats(0.0, 1.0))
def test_equal_weights_are_hazens_quantiles(sample, level):
    """Protects the plain case: numpy's method "hazen" is the outside oracle."""
    (got,) = weighted_quantiles(sample, np.ones(len(sample)), (level,))
    assert got == pytest.approx(np.quantile(sample, level, method="hazen"), abs=1e-9)


@given(values)
def test_a_weight_of_two_keeps_the_order(sample):
    """Protects p10 ≤ p50 ≤ p90 whatever the weights."""
    weights = np.linspace(1, 3, len(sample))
    got = spread(sample, weights / weights.sum())
    assert got.p10 <= got.p50 <= got.p90
    assert sample.min() <= got.p10
    assert got.p90 <= sample.max()


def test_unknown_members_are_counted_not_guessed():
    """Protects missing values from being taken as zero."""
    got = spread(np.array([1.0, np.nan, 3.0, np.nan]), np.full(4, 0.25))
    assert got.p50 == pytest.approx(2.0)
    assert got.unknown_share == pytest.approx(0.5)
    assert np.isnan(spread(np.array([np.nan]), np.ones(1)).p50)


def test_a_member_without_weight_has_no_say():
    """Protects ranges and means from stretches and centers that were told to be silent."""
    heard, weights = np.array([10.0, 11.0]), np.array([0.5, 0.5])
    values, with_silent = np.array([0.0, 10.0, 11.0]), np.array([0.0, 0.5, 0.5])
    assert spread(values, with_silent) == spread(heard, weights)
    assert weighted_mean(values, with_silent) == weighted_mean(heard, weights)


def test_what_only_the_silent_know_is_unknown():
    """Protects from a division by no weight at all, and from taking their word."""
    values, weights = np.array([1.0, np.nan]), np.array([0.0, 1.0])
    got = spread(values, weights)
    assert np.isnan([got.p10, got.p50, got.p90, weighted_mean(values, weights)]).all()
    assert got.unknown_share == 1.0


def test_wilson_interval_of_the_published_example():
    """Protects the range formula: scipy's own Wilson interval is the outside oracle."""
    from scipy.stats import binomtest

    oracle = binomtest(8, 40).proportion_ci(confidence_level=0.8, method="wilson")
    assert share_range(0.2, 40) == pytest.approx((oracle.low, oracle.high), abs=1e-9)


def test_one_opinion_leaves_a_wide_range():
    """Protects a single dry forecast from looking certain."""
    assert share_range(0.0, 1)[1] > 0.5
    assert share_range(0.0, 80)[1] < 0.05


def test_effective_count_of_equal_weights_is_the_count():
    """Protects Kish's sample size."""
    assert effective_count(np.full(51, 1 / 51)) == pytest.approx(51)
