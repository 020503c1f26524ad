"""Blending an ensemble's chance with other years by lead."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr, ndtri

from trackday.outlook.rain_blend import (
    DAILY_SKILL,
    LEAD_DAYS,
    LEAST_CHANCE,
    TRUSTED_WEIGHT,
    blend,
    ensemble_weight,
    is_trusted,
    trusted_days,
)
from trackday.verification.brier import brier_score

chances = st.floats(LEAST_CHANCE, 1 - LEAST_CHANCE)
leads = st.floats(0, 24 * 20)


@given(chances, chances, leads)
def test_between_the_two(ensemble, climatology, lead):
    """Protects the blend: it lies between its two chances, and agreement stays agreement."""
    got = blend(ensemble, climatology, lead_hours=lead)
    low, high = sorted((ensemble, climatology))
    assert low - 1e-12 <= got <= high + 1e-12


@given(leads, leads)
def test_the_ensemble_loses_weight_with_lead(one, other):
    """Protects the order of leads: further ahead never counts more."""
    near, far = sorted((one, other))
    assert 0 <= ensemble_weight(far) <= ensemble_weight(near) <= 1


def test_the_ends():
    """Protects both ends: a day ahead the ensemble alone, past the horizon other years alone."""
    assert blend(0.0, 0.1, lead_hours=12) == 0.0
    assert blend(0.9, 0.1, lead_hours=16 * 24) == 0.1
    assert blend(0.9, 0.1, lead_hours=400) == 0.1


def test_unknown():
    """Protects what is missing: the other chance speaks, and past the horizon nobody may."""
    assert blend(np.nan, 0.1, lead_hours=24) == 0.1
    assert blend(0.6, np.nan, lead_hours=100) == 0.6
    assert np.isnan(blend(0.6, np.nan, lead_hours=400))
    assert np.isnan(blend(np.nan, np.nan, lead_hours=24))
    with pytest.raises(ValueError, match="between 0 and 1"):
        blend(60.0, 0.1, lead_hours=100)
    with pytest.raises(ValueError, match="not negative"):
        blend(0.6, 0.1, lead_hours=-1)


@pytest.mark.parametrize(("days", "skill"), list(zip(LEAD_DAYS, DAILY_SKILL, strict=True))[1:5])
def test_better_than_either_alone(days, skill):
    """Protects the weights: the blend beats the ensemble and the base rate at every lead.

    The ensemble is as sure as on day 1 but no longer as right; truth and signal are normal,
    correlated as the measured skill asks for.
    """
    rng = np.random.default_rng(round(days))
    base, sure = 0.1, 0.75
    right = sure * np.sqrt(skill / DAILY_SKILL[0])
    signal = rng.normal(size=60_000)
    truth = right * signal + np.sqrt(1 - right**2) * rng.normal(size=len(signal))
    came = truth > ndtri(1 - base)
    told = ndtr((sure * signal - ndtri(1 - base)) / np.sqrt(1 - sure**2))
    mixed = np.array([blend(p, base, lead_hours=24 * days) for p in told])
    assert brier_score(mixed, came) < brier_score(told, came)
    assert brier_score(mixed, came) < base * (1 - base)


def test_an_ensemble_is_trusted_as_far_as_its_weight_allows():
    """Protects tires from a forecast that says less of the rain than other years do."""
    days = trusted_days()
    assert ensemble_weight(24 * days) >= TRUSTED_WEIGHT > ensemble_weight(24 * (days + 1))
    assert is_trusted(24 * days)
    assert is_trusted(-0.5)
    assert not is_trusted(24 * days + 1)
