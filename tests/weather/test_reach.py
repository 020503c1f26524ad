"""Who speaks for a session: centers that reach it, and nobody where none does."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, weather

from trackday.weather.reach import reaching

START, END = NOON + timedelta(minutes=15), NOON + timedelta(minutes=45)


def rain(*rows):
    """Rain at NOON −6 h … +5 h: dry as far as each row's hours go, then unknown."""
    return np.array([[0.0] * known + [np.nan] * (12 - known) for known in rows])


def test_a_center_that_ends_before_has_no_say():
    """Protects the track's state from "unknown" where a center just does not reach so far."""
    sky = weather(centers=("a", "a", "b", "c"), members=4, rain_mm=rain(12, 12, 7, 12))
    got = reaching(sky, start=START, end=END)
    assert got.weights.tolist() == [0.25, 0.25, 0.0, 0.5]
    assert got.members == sky.members


def test_a_member_with_a_gap_keeps_its_say():
    """Protects the unknown: a hole inside a forecast is not the end of it."""
    amounts = rain(12, 12, 12)
    amounts[0, 7] = np.nan
    sky = weather(centers=("a", "b", "b"), members=3, rain_mm=amounts)
    got = reaching(sky, start=START, end=END)
    np.testing.assert_array_equal(got.weights, sky.weights)


def test_nobody_reaches_past_the_end():
    """Protects sessions beyond the horizon: no member knows the whole window."""
    sky = weather(rain_mm=rain(7, 7, 7, 7))
    assert reaching(sky, start=START, end=END) is None
    assert reaching(sky, start=START - timedelta(hours=1), end=NOON) is not None


@pytest.mark.parametrize("hours", [-200, 200])
def test_a_time_outside_the_series_is_reached_by_nobody(hours):
    """Protects from reading the nearest hour for another day."""
    shift = timedelta(hours=hours)
    assert reaching(weather(), start=START + shift, end=END + shift) is None


def test_without_any_rain_nobody_speaks():
    """Protects the worst mistake: unknown rain is no forecast of dry."""
    assert reaching(weather(rain_mm=np.nan), start=START, end=END) is None
