"""Regression from a prior that doubts the odd reading."""

import numpy as np
import pytest
from scipy.optimize import minimize

from trackday.learning.robust import TAIL_DEGREES, Belief, learn

PRIOR = Belief(np.array([1.0, 0.5]), np.array([[4.0, 0.3], [0.3, 0.25]]))


def line(count, *, seed=3):
    draw = np.random.default_rng(seed)
    rows = np.column_stack([np.ones(count), draw.uniform(-3, 3, count)])
    return rows, rows @ np.array([2.0, 0.9]) + draw.normal(0.0, 0.4, count)


def test_the_answer_has_the_highest_posterior():
    """Protects the algebra: a general optimizer on prior and t likelihood finds the same place.

    scipy.optimize, at the noise that was learned.
    """
    rows, seen = line(12)
    seen[4] += 5.0
    got = learn(rows, seen, prior=PRIOR, noise_sd=0.5)

    def lost(mean):
        off = (seen - rows @ mean) / got.noise_sd
        tail = 0.5 * (TAIL_DEGREES + 1.0) * np.log1p(off**2 / TAIL_DEGREES).sum()
        away = mean - PRIOR.mean
        return tail + 0.5 * away @ np.linalg.solve(PRIOR.covariance, away)

    best = minimize(lost, PRIOR.mean, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-12})
    assert got.belief.mean == pytest.approx(best.x, abs=1e-5)


def test_no_reading_leaves_the_prior():
    """Protects the start: nothing seen, nothing learned."""
    got = learn(np.empty((0, 2)), np.empty(0), prior=PRIOR, noise_sd=0.5)
    assert got.belief.mean == pytest.approx(PRIOR.mean)
    assert got.belief.covariance == pytest.approx(PRIOR.covariance)
    assert got.noise_sd == pytest.approx(0.5)


def test_an_odd_reading_loses_its_pull():
    """Protects against a slip of the pen: ten spreads off, it moves the line by less than one."""
    rows, seen = line(10)
    clean = learn(rows, seen, prior=PRIOR, noise_sd=0.4)
    seen[0] += 40.0
    got = learn(rows, seen, prior=PRIOR, noise_sd=0.4)
    assert got.pull[0] < 0.1
    assert np.abs(got.belief.mean - clean.belief.mean).max() < 0.4


def test_a_reading_that_counts_for_nothing_changes_nothing():
    """Protects the weights of old and shared readings."""
    rows, seen = line(6)
    less = learn(rows[:5], seen[:5], prior=PRIOR, noise_sd=0.5)
    none = learn(rows, seen, prior=PRIOR, noise_sd=0.5, say=np.array([1.0] * 5 + [0.0]))
    assert none.belief.mean == pytest.approx(less.belief.mean)
    assert none.noise_sd == pytest.approx(less.noise_sd)


def test_the_scatter_is_learned():
    """Protects the range: many readings set the noise, whatever was expected."""
    rows, seen = line(200)
    assert learn(rows, seen, prior=PRIOR, noise_sd=2.0).noise_sd == pytest.approx(0.4, rel=0.35)


def test_unknown_numbers_are_refused():
    """Protects against NaN running through the whole fit."""
    with pytest.raises(ValueError, match="finite"):
        learn(np.ones((1, 2)), np.array([np.nan]), prior=PRIOR, noise_sd=0.5)
