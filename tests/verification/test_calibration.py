"""Calibration: never a loss, never a guess."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from scipy.special import expit
from verification.venues import FRESH, MEMBERS, VENUES, venue

from trackday.verification.brier import brier_score
from trackday.verification.calibration import (
    DRIZZLE_MM,
    MIN_PAIRS,
    Pairs,
    daily_wet_share,
    fit_calibration,
    fit_ridge_logistic,
)


@pytest.mark.parametrize("name", VENUES)
def test_never_worse_on_forecasts_to_come(name):
    """Protects every venue: what is learned is no worse on pairs that it has not seen."""
    for seed in range(6):
        found = fit_calibration(venue(name, count=VENUES[name][0], seed=seed))
        if found is None:
            continue
        assert found.brier < found.raw_brier
        fresh = venue(name, count=FRESH, seed=1000 + seed)
        calibrated = found.apply(fresh.chance, root_mm=fresh.root_mm, threshold_mm=0.1)
        assert brier_score(calibrated, fresh.observed) <= brier_score(fresh.chance, fresh.observed)


@pytest.mark.parametrize("name", ["biased", "drizzling", "sharp", "useless"])
def test_found_where_it_helps(name):
    """Protects against never daring: clear faults are mended from some hundred pairs."""
    found = fit_calibration(venue(name, count=600, seed=1))
    assert found is not None
    assert found.gain > 0.005


def test_declined_where_it_cannot_help():
    """Protects good forecasts, and venues with too few pairs or too few events."""
    assert fit_calibration(venue("too short", count=MIN_PAIRS - 1, seed=1)) is None
    rare = venue("biased", count=200, seed=1)
    few = np.zeros(200)
    few[:9] = 1.0
    assert fit_calibration(replace(rare, observed=few)) is None
    bunched = np.zeros(200)
    bunched[100:112] = 1.0
    assert fit_calibration(replace(rare, observed=bunched)) is None
    honest = np.random.default_rng(3).uniform(size=400)
    came = (np.random.default_rng(4).uniform(size=400) < honest).astype(float)
    days = tuple(date(2020, 1, 1) + timedelta(days=i) for i in range(400))
    assert fit_calibration(Pairs(days, honest, honest, came, 0.1)) is None


def test_what_it_says_of_itself():
    """Protects the record: sample size, events, dates and score, whatever order the pairs have."""
    pairs = venue("biased", count=200, seed=1)
    order = np.random.default_rng(5).permutation(200)
    shuffled = Pairs(
        days=tuple(pairs.days[i] for i in order),
        chance=pairs.chance[order],
        root_mm=pairs.root_mm[order],
        observed=pairs.observed[order],
        threshold_mm=0.1,
    )
    found = fit_calibration(shuffled)
    assert found == fit_calibration(pairs)
    assert (found.count, found.first_day, found.last_day) == (200, pairs.days[0], pairs.days[-1])
    assert found.events == pairs.observed.sum()
    assert found.raw_brier == pytest.approx(brier_score(pairs.chance, pairs.observed))


def test_unknown_pairs_are_left_out():
    """Protects learning from holes in the record."""
    pairs = venue("biased", count=200, seed=1)
    holed = pairs.chance.copy()
    holed[::10] = np.nan
    found = fit_calibration(replace(pairs, chance=holed))
    assert found.count == 180
    assert np.isnan(found.apply([np.nan], root_mm=[np.nan], threshold_mm=0.1)).all()


def test_no_word_on_rarer_events_or_unseen_amounts():
    """Protects from extrapolation: to higher thresholds, and past the range learned on."""
    found = fit_calibration(venue("drizzling", count=400, seed=1))
    with pytest.raises(ValueError, match="nothing is known of 5"):
        found.apply([0.5], root_mm=[1.0], threshold_mm=5.0)
    at_most = found.apply([1.0], root_mm=[max(found.highest, 3.0)], threshold_mm=0.1)
    beyond = found.apply([1.0], root_mm=[99.0], threshold_mm=0.1)
    assert beyond == at_most


def test_ridge_logistic_against_scikit_learn():
    """Protects the fit, against scikit-learn's on the standardized predictor."""
    linear = pytest.importorskip("sklearn.linear_model")
    rng = np.random.default_rng(6)
    x = rng.normal(2.0, 3.0, size=150)
    observed = (rng.uniform(size=150) < expit(0.4 * x - 1.0)).astype(float)
    z = ((x - x.mean()) / x.std())[:, None]
    oracle = linear.LogisticRegression(C=1.0, tol=1e-12, max_iter=10_000).fit(z, observed)
    intercept, slope = fit_ridge_logistic(x, observed, ridge=1.0)
    assert slope * x.std() == pytest.approx(oracle.coef_[0, 0], abs=1e-5)
    assert intercept + slope * x.mean() == pytest.approx(oracle.intercept_[0], abs=1e-5)


def test_a_predictor_that_never_varies_gives_the_base_rate():
    """Protects the fit from dividing by no spread."""
    observed = np.array([0.0, 1.0, 0.0, 0.0])
    intercept, slope = fit_ridge_logistic(np.ones(4), observed)
    assert (expit(intercept), slope) == (pytest.approx(0.25), 0.0)


def test_the_cutoff_counts_known_members_only():
    """Protects the cutoff: 0.7 mm counts, drizzle does not, unknown is neither."""
    got = daily_wet_share([[0.1, 0.6, 0.7, 9.0], [np.nan, 0.0, np.nan, 1.0], [np.nan] * 4])
    assert got[:2].tolist() == [0.5, 0.5]
    assert np.isnan(got[2])
    assert DRIZZLE_MM == 0.7


def test_the_cutoff_mends_drizzle():
    """Protects the use of the cutoff: it scores better than raw shares of a drizzling ensemble."""
    rng = np.random.default_rng(7)
    signal = rng.normal(size=2000)
    truth = 0.8 * signal + 0.6 * rng.normal(size=2000) > 0.5
    told = 0.8 * signal[:, None] + 0.6 * rng.normal(size=(2000, MEMBERS))
    amount = 4.0 * np.square(np.clip(told - 0.5 + 0.42, 0.0, None))
    amount = np.where(rng.uniform(size=amount.shape) < 0.6, np.maximum(amount, 0.2), amount)
    raw, cut = (amount >= 0.1).mean(axis=1), daily_wet_share(amount)
    assert brier_score(cut, truth) < brier_score(raw, truth) - 0.05
