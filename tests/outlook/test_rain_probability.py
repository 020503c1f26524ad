"""A window's chance from a provider's own hourly and half-day chances."""

from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
from builders import NOON
from hypothesis import given
from hypothesis import strategies as st

from trackday.outlook.rain_probability import half_day_window_chance, probability_window_chance

HOURS = pd.date_range(NOON - timedelta(hours=3), periods=8, freq="h")
HALF_DAYS = pd.date_range(NOON - timedelta(hours=12), periods=4, freq="12h")
chances = st.lists(st.floats(0, 1), min_size=8, max_size=8).map(np.array)


def after_noon(first: float, last: float) -> dict:
    return {"start": NOON + timedelta(minutes=first), "end": NOON + timedelta(minutes=last)}


@given(chances, st.integers(0, 7), st.floats(0, 1))
def test_monotone_and_bounded(row, place, to):
    """Protects the joined chance: within [0, 1], and no hour's higher chance ever lowers it."""
    higher = row.copy()
    higher[place] = max(row[place], to)
    got = [probability_window_chance(r, HOURS, **after_noon(-30, 70)) for r in (row, higher)]
    assert 0 <= got[0] <= got[1] + 1e-9 <= 1 + 1e-9


def test_three_hours_stay_below_independence():
    """Protects against 1−∏(1−p) over many hours, which says far too much."""
    row = np.full(8, 0.3)
    got = probability_window_chance(row, HOURS, **after_noon(-60, 120))
    assert 0.3 < got < 1 - 0.7**3 - 0.05


def test_half_day():
    """Protects the half-day share, .22 for 30 minutes, and its scaling with length.

    Source: fitted by this project on public gauge data (docs/rain.md).
    """
    row = np.full(4, 0.5)
    assert half_day_window_chance(row, HALF_DAYS, **after_noon(10, 40)) == pytest.approx(0.11)
    got = half_day_window_chance(row, HALF_DAYS, **after_noon(10, 70))
    assert got == pytest.approx(0.11 * 2**0.515)
    assert half_day_window_chance(row, HALF_DAYS, **after_noon(0, 720)) == pytest.approx(0.5)


def test_half_days_join():
    """Protects a window over the border of two half days: below the sum, above either."""
    row = np.array([1.0, 0.9, 0.9, 1.0])
    part = half_day_window_chance(np.full(4, 0.9), HALF_DAYS, **after_noon(0, 15))
    assert part < half_day_window_chance(row, HALF_DAYS, **after_noon(-15, 15)) < 2 * part


@pytest.mark.parametrize("way", [probability_window_chance, half_day_window_chance])
def test_unknown_is_not_dry(way):
    """Protects windows over a missing chance, and past the end of the series."""
    index = HOURS if way is probability_window_chance else HALF_DAYS
    assert np.isnan(way(np.full(len(index), np.nan), index, **after_noon(0, 20)))
    last = index[-1]
    window = {"start": last - timedelta(minutes=5), "end": last + timedelta(minutes=5)}
    assert np.isnan(way(np.zeros(len(index)), index, **window))
