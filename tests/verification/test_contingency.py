"""Yes–no scores and relative value against published figures and a second implementation."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trackday.verification.contingency import Contingency, contingency
from trackday.verification.cost_loss import act, mean_expense, relative_value, value_curve

FINLEY = Contingency(hits=28, false_alarms=72, misses=23, correct_negatives=2680)
"""Finley's tornado forecasts of 1884, as in Wilks, Statistical Methods in the Atmospheric Sciences,
and in Murphy (1996), Wea. Forecasting 11, 3–20."""

counts = st.integers(1, 50).map(float)


@pytest.mark.parametrize(
    ("score", "value"),
    [
        ("pod", 0.54902), ("far", 0.72), ("pofd", 0.026163), ("csi", 0.22764), ("gss", 0.21605),
        ("hss", 0.35532), ("pss", 0.52286), ("bias", 1.96078),
    ],
)  # fmt: skip
def test_finley(score, value):
    """Protects each score with Finley's table."""
    assert getattr(FINLEY, score) == pytest.approx(value, abs=5e-6)


def test_value_at_the_base_rate_is_peirce():
    """Protects the value: at C/L = base rate it is the Peirce skill score (Richardson 2000)."""
    assert relative_value(FINLEY, cost_loss=FINLEY.base_rate) == pytest.approx(FINLEY.pss)


@settings(deadline=None)  # the first case pays for an import
@given(counts, counts, counts, counts)
def test_against_scores(a, b, c, d):
    """Protects each score, against the package scores."""
    categorical = pytest.importorskip("scores.categorical")
    xarray = pytest.importorskip("xarray")
    table = Contingency(a, b, c, d)
    oracle = categorical.BasicContingencyManager(
        {
            "tp_count": xarray.DataArray(a),
            "fp_count": xarray.DataArray(b),
            "fn_count": xarray.DataArray(c),
            "tn_count": xarray.DataArray(d),
            "total_count": xarray.DataArray(a + b + c + d),
        }
    )
    for mine, theirs in (
        (table.pod, oracle.probability_of_detection()),
        (table.far, oracle.false_alarm_ratio()),
        (table.pofd, oracle.probability_of_false_detection()),
        (table.csi, oracle.critical_success_index()),
        (table.gss, oracle.gilberts_skill_score()),
        (table.hss, oracle.heidke_skill_score()),
        (table.pss, oracle.peirce_skill_score()),
        (table.bias, oracle.frequency_bias()),
    ):
        assert mine == pytest.approx(float(theirs), abs=1e-9)


def test_counting():
    """Protects the threshold: the event is forecast above it, not at it; unknown pairs are out."""
    got = contingency([0.3, 0.5, 0.6, 0.9, np.nan], [0, 1, 0, 1, 1], threshold=0.5)
    assert (got.hits, got.false_alarms, got.misses, got.correct_negatives) == (1, 1, 1, 1)


def test_scores_without_cases_are_unknown():
    """Protects rare events: a forecast that never said yes has no false alarm ratio."""
    never = Contingency(0, 0, 0, 10)
    assert np.isnan([never.pod, never.far, never.csi, never.gss, never.hss, never.bias]).all()
    assert np.isnan(relative_value(never, cost_loss=0.2))
    with pytest.raises(ValueError, match="at least one case"):
        Contingency(0, 0, 0, 0)


@given(counts, counts, counts, counts, st.floats(0.01, 0.99))
def test_value_bounds(a, b, c, d, ratio):
    """Protects the value: nobody beats foresight, and foresight is worth 1."""
    assert relative_value(Contingency(a, b, c, d), cost_loss=ratio) <= 1 + 1e-9
    perfect = Contingency(a + c, 0, 0, b + d)
    assert relative_value(perfect, cost_loss=ratio) == pytest.approx(1.0)


def test_expense_by_hand():
    """Protects the expense: 3 of 10 protected at .2, one of them needlessly, one loss taken."""
    table = Contingency(hits=2, false_alarms=1, misses=1, correct_negatives=6)
    assert mean_expense(table, cost_loss=0.2) == pytest.approx((3 * 0.2 + 1) / 10)


def test_act():
    """Protects the rule p > C/L, and that an unknown chance protects."""
    assert act([0.2, 0.3, 0.31, np.nan], cost_loss=0.3).tolist() == [False, False, True, True]
    with pytest.raises(ValueError, match="cost over loss"):
        act([0.2], cost_loss=1.0)


def test_reliable_chances_are_worth_something_to_everybody():
    """Protects the curve: reliable chances are worth no less than the base rate (Murphy 1977)."""
    rng = np.random.default_rng(4)
    chance = rng.beta(0.3, 2.0, size=40_000)
    observed = rng.uniform(size=40_000) < chance
    assert (value_curve(chance, observed, cost_loss=np.arange(0.05, 0.95, 0.1)) > -0.02).all()
