"""Brier score and its parts against published values and a second implementation."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from verification.niamey import EMOS, OBSERVED

from trackday.verification.brier import (
    brier_score,
    brier_skill,
    decompose,
    decompose_isotonic,
    decompose_table,
)
from trackday.verification.reliability import TENTHS, ReliabilityTable, reliability_table

pairs = st.lists(
    st.tuples(st.integers(0, 20).map(lambda k: k / 20), st.sampled_from([0.0, 1.0])),
    min_size=2,
    max_size=60,
).map(lambda rows: np.array(rows).T)

WILKS = np.array(
    [
        # forecast chance, share of forecasts, observed frequency
        (0.00, 0.4112, 0.006), (0.05, 0.0671, 0.019), (0.10, 0.1833, 0.059), (0.20, 0.0986, 0.150),
        (0.30, 0.0616, 0.277), (0.40, 0.0366, 0.377), (0.50, 0.0303, 0.511), (0.60, 0.0275, 0.587),
        (0.70, 0.0245, 0.723), (0.80, 0.0220, 0.779), (0.90, 0.0170, 0.934), (1.00, 0.0203, 0.933),
    ]
)  # fmt: skip
"""Reliability table of probability-of-precipitation forecasts, after Wilks, Statistical Methods in
the Atmospheric Sciences; two figures mended, as the sum of the shares asks for."""


def test_wilks_table():
    """Protects the decomposition from a table of counts (value from memory of the table's rows)."""
    chance, share, observed = WILKS.T
    assert share.sum() == pytest.approx(1.0, abs=1e-12)
    got = decompose_table(ReliabilityTable(share, chance, observed))
    assert got.reliability == pytest.approx(0.000828, abs=5e-7)
    assert got.resolution == pytest.approx(0.062787, abs=5e-7)
    assert got.uncertainty == pytest.approx(0.135420, abs=5e-7)
    assert got.score == pytest.approx(0.073461, abs=5e-7)
    assert got.skill == pytest.approx(0.4575, abs=5e-5)


@given(pairs)
def test_the_terms_add_up(rows):
    """Protects Murphy's identity, with equal chances and with bins."""
    chance, observed = rows
    for edges in (None, TENTHS):
        got = decompose(chance, observed, edges=edges)
        total = got.reliability - got.resolution + got.uncertainty + got.within
        assert total == pytest.approx(got.score, abs=1e-12)
        assert got.count == len(chance)
        if edges is None:
            assert got.within == pytest.approx(0.0, abs=1e-12)


@given(pairs)
def test_isotonic_terms(rows):
    """Protects the isotonic terms: they add up, neither is negative, each bounds Murphy's."""
    chance, observed = rows
    got = decompose_isotonic(chance, observed)
    total = got.miscalibration - got.discrimination + got.uncertainty
    assert total == pytest.approx(got.score, abs=1e-12)
    assert min(got.miscalibration, got.discrimination) >= -1e-12
    assert got.discrimination <= decompose(chance, observed).resolution + 1e-12


@settings(deadline=None)  # the first case pays for an import
@given(pairs)
def test_score_against_scikit_learn(rows):
    """Protects the score itself, against scikit-learn."""
    oracle = pytest.importorskip("sklearn.metrics")
    chance, observed = rows
    expected = oracle.brier_score_loss(observed, chance, pos_label=1.0)
    assert brier_score(chance, observed) == pytest.approx(expected, abs=1e-12)


def test_score_against_scores():
    """Protects the score itself, against the package scores."""
    oracle = pytest.importorskip("scores.probability")
    xarray = pytest.importorskip("xarray")
    rng = np.random.default_rng(1)
    chance = rng.uniform(size=200)
    observed = (rng.uniform(size=200) < chance).astype(float)
    expected = oracle.brier_score(xarray.DataArray(chance), xarray.DataArray(observed))
    assert brier_score(chance, observed) == pytest.approx(float(expected), abs=1e-9)


def test_isotonic_terms_against_scikit_learn():
    """Protects the isotonic decomposition, against scikit-learn's isotonic regression."""
    isotonic = pytest.importorskip("sklearn.isotonic")
    rng = np.random.default_rng(2)
    chance = np.round(rng.uniform(size=300), 2)
    observed = (rng.uniform(size=300) < chance**2).astype(float)
    fitted = isotonic.IsotonicRegression().fit_transform(chance, observed)
    recalibrated = np.mean((fitted - observed) ** 2)
    got = decompose_isotonic(chance, observed)
    assert got.miscalibration == pytest.approx(got.score - recalibrated, abs=1e-9)
    assert got.discrimination == pytest.approx(got.uncertainty - recalibrated, abs=1e-9)


def test_niamey():
    """Protects the isotonic decomposition with a published one.

    Source: Dimitriadis, Gneiting and Jordan (2021), on 92 days at Niamey, forecast EMOS.
    """
    got = decompose_isotonic(EMOS, OBSERVED)
    assert got.count == 92
    assert got.score == pytest.approx(0.232025, abs=1e-6)
    assert got.miscalibration == pytest.approx(0.0183, abs=5e-5)
    assert got.discrimination == pytest.approx(0.0305, abs=5e-5)
    assert got.uncertainty == pytest.approx(0.2442, abs=5e-5)


def test_missing_is_neither_a_hit_nor_a_miss():
    """Protects scores from unknown chances and unknown events."""
    chance, observed = [0.2, np.nan, 0.9, 0.4], [0.0, 1.0, np.nan, 1.0]
    assert brier_score(chance, observed) == pytest.approx((0.04 + 0.36) / 2)
    assert brier_skill(chance, observed, reference=[0.5, 0.5, 0.5, np.nan]) == pytest.approx(0.84)
    with pytest.raises(ValueError, match="no pair"):
        brier_score([np.nan], [1.0])


def test_skill():
    """Protects the meaning of skill: perfect 1, the base rate 0, unknown where nothing varied."""
    observed = np.array([0.0, 0.0, 1.0, 0.0])
    assert brier_skill(observed, observed) == 1.0
    assert brier_skill(np.full(4, 0.25), observed) == pytest.approx(0.0)
    assert np.isnan(brier_skill(np.full(4, 0.25), np.zeros(4)))


@pytest.mark.parametrize(
    ("chance", "observed"), [([1.2], [1.0]), ([-0.1], [1.0]), ([0.5], [0.5]), ([0.5, 0.5], [1.0])]
)
def test_refused(chance, observed):
    """Protects against percent instead of shares, half events and columns of unequal length."""
    with pytest.raises(ValueError, match=r"chance|event"):
        brier_score(chance, observed)


def test_bins():
    """Protects the bins' edges: a bin holds its lower edge, the last also 1; empty ones are NaN."""
    table = reliability_table([0.0, 0.1, 0.19, 1.0], [0, 1, 0, 1], edges=TENTHS)
    assert table.count.tolist() == [1, 2, 0, 0, 0, 0, 0, 0, 0, 1]
    assert table.observed_share[1] == 0.5
    assert np.isnan(table.observed_share[2])
    tenths = np.arange(10) / 10
    assert reliability_table(tenths, np.zeros(10), edges=TENTHS).count.tolist() == [1] * 10
    with pytest.raises(ValueError, match="edges"):
        reliability_table([0.5], [1], edges=[0.2, 1.0])
