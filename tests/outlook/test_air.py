"""Air and gusts at one session."""

from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, weather

from trackday.outlook.air import air_outlook, strongest_gust

WINDOW = {"start": NOON + timedelta(minutes=10), "end": NOON + timedelta(minutes=40)}


def test_instants_are_read_between_the_hours():
    """Protects interpolation: mid-session lies 25 minutes into the hour."""
    temp = np.tile(np.arange(12.0), (4, 1))
    got = air_outlook(weather(air_temp_c=temp), **WINDOW)
    assert got.temp_c.p50 == pytest.approx(6 + 25 / 60)


def test_the_gust_of_the_hour_that_ends_later_counts():
    """Protects the stamp's meaning: a gust belongs to the hour before its stamp."""
    gust = np.full((4, 12), 5.0)
    gust[:, 7] = 18.0  # the hour from noon to one
    gust[:, 6] = 25.0  # the hour before noon: over when the session starts
    assert strongest_gust(weather(gust_ms=gust), **WINDOW) == pytest.approx(np.full(4, 18.0))


def test_a_missing_gust_is_not_calm():
    """Protects against a maximum that skips what it does not know."""
    gust = np.full((4, 12), 5.0)
    gust[0, 7] = np.nan
    got = strongest_gust(weather(gust_ms=gust), **WINDOW)
    assert np.isnan(got[0])
    assert got[1] == 5.0


def test_gusts_past_the_series_are_unknown():
    """Protects windows that the forecast does not reach."""
    late = NOON + timedelta(hours=5, minutes=30)
    got = strongest_gust(weather(), start=late, end=late + timedelta(hours=2))
    assert np.isnan(got).all()
