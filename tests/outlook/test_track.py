"""Track state and temperature at one session."""

import numpy as np
import pandas as pd
from builders import NOON, outlook, session
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from trackday.outlook.track import STATES, state_shares, track_outlook
from trackday.weekend.garage import FilmLimits

LIMITS = FilmLimits()

films = arrays(float, (3, 6), elements=st.one_of(st.floats(0, 5), st.just(np.nan)))


@given(films)
def test_shares_sum_to_one(film):
    """Protects conservation: every minute is in exactly one state, unknown included."""
    np.testing.assert_allclose(state_shares(film, LIMITS).sum(axis=1), 1.0)


@given(films, st.floats(0, 3))
def test_more_water_never_makes_it_drier(film, more):
    """Protects monotony: the share of dry never rises with the film."""
    assert (state_shares(film + more, LIMITS)[:, 0] <= state_shares(film, LIMITS)[:, 0]).all()


def test_a_missing_film_is_unknown():
    """Protects missing water from being dry."""
    got = outlook(film_mm=[0.0, 0.0, np.nan, np.nan])
    assert got.track.state_chance["unknown"] == 0.5
    assert got.track.state_chance["dry"] == 0.5


def test_each_state_is_named_by_its_depth():
    """Protects the thresholds' order: dry, damp, wet, standing."""
    got = state_shares(np.array([[0.0], [0.05], [0.5], [2.0], [np.nan]]), LIMITS)
    assert [STATES[i] for i in got.argmax(axis=1)] == list(STATES)


def test_outside_the_run_is_unknown():
    """Protects a session beyond the pavement run."""
    here = session()
    times = pd.date_range(NOON, periods=2, freq="5min")
    got = track_outlook(
        times,
        np.full((1, 2), 30.0),
        np.zeros((1, 2)),
        np.ones(1),
        start=here.start,
        end=here.end,
        limits=LIMITS,
    )
    assert got.state_chance["unknown"] > 0.5
    assert np.isnan(got.temp_c.p50)
