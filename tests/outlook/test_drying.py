"""When a wet track is dry again."""

from datetime import timedelta

import numpy as np
import pandas as pd
from builders import NOON
from hypothesis import given
from hypothesis import strategies as st

from trackday.outlook.drying import drying_outlook

TIMES = pd.date_range(NOON, periods=9, freq="15min")
UNTIL = NOON + timedelta(hours=2)


def drying(films, damp_mm=0.02):
    rows = np.atleast_2d(np.asarray(films, dtype=float))
    weights = np.full(len(rows), 1 / len(rows))
    return drying_outlook(TIMES, rows, weights, since=NOON, until=UNTIL, damp_mm=damp_mm)


def falling(steps):
    """A film that falls below the limit at this step."""
    return np.where(np.arange(9) < steps, 0.5, 0.0)


def test_the_first_step_below_the_limit_that_lasts():
    """Protects the time of the dry line: three quarters of an hour after noon."""
    got = drying(falling(3))
    assert got.p50 == NOON + timedelta(minutes=45)
    assert got.chance == 1


def test_a_second_shower_counts():
    """Protects against a dry call between two showers."""
    film = falling(2)
    film[5] = 0.3
    assert drying(film).p50 == NOON + timedelta(minutes=90)


def test_a_track_that_stays_wet_has_no_time():
    """Protects against a made-up end."""
    got = drying(np.full(9, 0.5))
    assert got.p50 is None
    assert got.chance == 0


def test_the_range_comes_from_the_members():
    """Protects the order p10 ≤ p50 ≤ p90, with an open end where some members stay wet."""
    got = drying([falling(1), falling(2), falling(3), falling(4), np.full(9, 0.5)])
    assert got.p10 <= got.p50
    assert got.p90 is None
    assert got.chance == 0.8


def test_an_unknown_film_is_not_dry():
    """Protects against drying by missing data."""
    film = falling(2)
    film[6:] = np.nan
    assert drying(film).p50 is None


@given(st.lists(st.floats(0, 1), min_size=9, max_size=9), st.floats(0, 0.5))
def test_more_water_never_dries_sooner(film, more):
    """Protects monotony."""
    before, after = drying(film).p50, drying(np.array(film) + more).p50
    assert after is None or (before is not None and before <= after)
