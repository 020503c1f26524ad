"""Chance of rain in a session's window."""

from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
from builders import NOON, weather
from hypothesis import given
from hypothesis import strategies as st

from trackday.outlook.rain import (
    member_chances,
    probability_window_chance,
    rain_outlook,
    window_amounts,
    window_chance,
)

ENDS = pd.date_range(NOON - timedelta(hours=3), periods=8, freq="h")
amounts = st.lists(st.floats(0, 20), min_size=8, max_size=8).map(np.array)


def test_even_shares():
    """Protects the coefficients for amounts without intervals, by hand for 0.25 mm.

    σ(−1.258 + 2.891·ln((d + .02)/.1)); fitted by this project on public gauge data (docs/rain.md).
    """
    expected = 1 / (1 + np.exp(1.258 - 2.891 * np.log(2.7)))
    assert member_chances(np.array([0.25]))[0] == pytest.approx(expected, abs=1e-12)


def test_only_the_share_of_the_hour_counts():
    """Protects the meaning of a stamp: the amount belongs to the hour before it."""
    amount = np.arange(8.0)[None, :]
    got = window_amounts(
        amount, ENDS, start=NOON - timedelta(minutes=15), end=NOON + timedelta(minutes=15)
    )
    assert got[0] == pytest.approx(0.25 * 3 + 0.25 * 4)


@given(amounts, st.integers(0, 7), st.floats(0.01, 10))
def test_more_rain_never_lowers_the_chance(amount, hour, more):
    """Protects monotony: rain added anywhere leaves the chance the same or higher."""
    wetter = amount.copy()
    wetter[hour] += more
    window = {"start": NOON + timedelta(minutes=10), "end": NOON + timedelta(minutes=40)}
    assert window_chance(wetter[None, :], ENDS, **window) >= window_chance(
        amount[None, :], ENDS, **window
    )


@given(amounts)
def test_a_longer_window_never_lowers_the_chance(amount):
    """Protects monotony in the window's length."""
    chances = [
        window_chance(amount[None, :], ENDS, start=NOON, end=NOON + timedelta(minutes=m))
        for m in (10, 20, 60, 90)
    ]
    assert (np.diff(chances) >= -1e-12).all()


def test_missing_rain_is_unknown_not_dry():
    """Protects the worst mistake: a missing amount read as no rain."""
    amount = np.zeros((2, 8))
    amount[:, 4] = np.nan
    window = {"start": NOON, "end": NOON + timedelta(minutes=20)}
    assert np.isnan(window_chance(amount, ENDS, **window))
    amount[0, 4] = 0.0
    assert window_chance(amount, ENDS, **window) < 0.01


def test_a_window_past_the_series_is_unknown():
    """Protects sessions beyond the forecast's end from a dry verdict."""
    late = ENDS[-1] + timedelta(minutes=-10)
    got = window_chance(np.zeros((3, 8)), ENDS, start=late, end=late + timedelta(minutes=20))
    assert np.isnan(got)


def test_thresholds_scale():
    """Protects rarer thresholds from being likelier than common ones."""
    amount = np.array([0.3])
    assert member_chances(amount, threshold_mm=1.0) < member_chances(amount, threshold_mm=0.1)


def test_a_window_that_ends_before_it_starts_is_an_error():
    """Protects against swapped arguments."""
    with pytest.raises(ValueError, match="end after"):
        window_chance(np.zeros((1, 8)), ENDS, start=NOON, end=NOON)


def test_hourly_probability_inside_one_hour():
    """Protects formula 2 of the reference: p·(minutes/60)^.515, for 20 minutes of a 60 % hour."""
    got = probability_window_chance(
        np.full(8, 0.6), ENDS, start=NOON + timedelta(minutes=10), end=NOON + timedelta(minutes=30)
    )
    assert got == pytest.approx(0.6 * (20 / 60) ** 0.515)


@given(st.floats(0, 1), st.floats(0, 1))
def test_two_hours_join_between_the_larger_and_the_independent(one, other):
    """Protects against 1−∏(1−p): neighbors are dependent, so the chance is lower than that."""
    chances = np.zeros(8)
    chances[3], chances[4] = one, other
    got = probability_window_chance(
        chances, ENDS, start=NOON - timedelta(minutes=30), end=NOON + timedelta(minutes=30)
    )
    a, b = one * 0.5**0.515, other * 0.5**0.515
    assert max(a, b) - 1e-12 <= got <= a + b - a * b + 1e-12


def test_centers_disagree_and_the_range_says_so():
    """Protects the low–high range: it spans what each center says alone."""
    rain = np.zeros((4, 12))
    rain[2:] = 3.0
    sky = weather(centers=("gefs", "gefs", "ecmwf", "ecmwf"), rain_mm=rain)
    got = rain_outlook(sky, start=NOON, end=NOON + timedelta(minutes=20), basis="ensemble")
    assert got.low <= got.by_center["gefs"] < got.chance < got.by_center["ecmwf"] <= got.high


def test_probability_basis_uses_the_hourly_chances():
    """Protects the fallback without an ensemble."""
    sky = weather(rain_probability=0.6)
    got = rain_outlook(sky, start=NOON, end=NOON + timedelta(minutes=20), basis="probability")
    assert got.chance == pytest.approx(0.6 * (20 / 60) ** 0.515)
    assert got.high - got.low > 0.4


def test_nothing_known_says_nothing():
    """Protects the outlook without any rain data."""
    sky = weather(rain_mm=np.nan)
    got = rain_outlook(sky, start=NOON, end=NOON + timedelta(minutes=20), basis="ensemble")
    assert got.basis is None
    assert np.isnan(got.chance)
