"""A reading at the track: its formula, its worth and its limits."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.physics.reading import (
    FADE_HOURS,
    error_after_reading_c,
    reading_weight,
    relax_to_reading,
)

TIMES = pd.date_range("2027-06-05 08:00", periods=49, freq="15min", tz="UTC")
TEMPS = np.stack([30.0 + 0.1 * np.arange(49), 25.0 + 0.2 * np.arange(49)])


def one_after_the_other(pairs):
    """Correct by each reading what the ones before it left, earliest first."""
    temps = TEMPS
    for at, reading_c in sorted(pairs):
        temps = relax_to_reading(TIMES, temps, reading_c=reading_c, at=at)
    return temps


def test_reading_is_met_and_fades_by_the_formula() -> None:
    """Protects the relaxation, by hand: X_model − (X_model(t0) − X_read)·e^(−t/τ)."""
    at = TIMES[8]
    got = relax_to_reading(TIMES, TEMPS, reading_c=36.0, at=at, hours=2.0)
    assert got[:, 8] == pytest.approx([36.0, 36.0])
    # Two hours later 1/e of what was off is left: 36 − 30.8 = 5.2 and 36 − 26.6 = 9.4.
    assert got[:, 16] == pytest.approx([31.6 + 5.2 * np.exp(-1.0), 28.2 + 9.4 * np.exp(-1.0)])
    assert np.array_equal(got[:, :8], TEMPS[:, :8])


@given(minutes=st.floats(0.0, 720.0), reading=st.floats(0.0, 70.0), weight=st.floats(0.0, 1.0))
def test_reading_never_overshoots(minutes: float, reading: float, weight: float) -> None:
    """Protects order: between model and reading's offset, nearer to the model as time goes on."""
    at = TIMES[0] + pd.Timedelta(minutes=minutes)
    got = relax_to_reading(TIMES, TEMPS, reading_c=reading, at=at, weight=weight)
    shift = np.abs(got - TEMPS)
    after = np.asarray(at <= TIMES)
    assert (shift[:, ~after] == 0.0).all()
    assert (np.diff(shift[:, after], axis=1) <= 1e-9).all()
    model = np.array([np.interp(minutes / 15.0, np.arange(49), row) for row in TEMPS])
    assert (shift.max(axis=1) <= weight * np.abs(model - reading) + 1e-9).all()


def test_members_move_each_by_its_own_weight() -> None:
    """Protects weights by member: none stays, half goes half the way."""
    got = relax_to_reading(TIMES, TEMPS, reading_c=40.0, at=TIMES[0], weight=[0.0, 0.5])
    assert np.array_equal(got[0], TEMPS[0])
    assert got[1, 0] == pytest.approx(32.5)


def test_unknown_members_stay_unknown_and_others_move() -> None:
    """Protects missing values: a member that is unknown at the reading is left as it is."""
    temps = TEMPS.copy()
    temps[0, :12] = np.nan
    got = relax_to_reading(TIMES, temps, reading_c=40.0, at=TIMES[8])
    assert np.isnan(got[0, :12]).all()
    assert np.array_equal(got[0, 12:], temps[0, 12:])
    assert got[1, 8] == pytest.approx(40.0)


def test_reading_after_the_run_changes_nothing() -> None:
    """Protects the far end."""
    late = TIMES[-1] + pd.Timedelta(minutes=1)
    assert np.array_equal(relax_to_reading(TIMES, TEMPS, reading_c=10.0, at=late), TEMPS)


def test_later_reading_corrects_what_the_earlier_left() -> None:
    """Protects several readings in any order: the last one holds at its own time."""
    pairs = [(TIMES[16], 33.0), (TIMES[4], 40.0)]
    got = one_after_the_other(pairs)
    first = relax_to_reading(TIMES, TEMPS, reading_c=40.0, at=TIMES[4])
    assert np.array_equal(got[:, :16], first[:, :16])
    assert got[:, 16] == pytest.approx([33.0, 33.0])
    same = one_after_the_other([(TIMES[4], 40.0), (TIMES[4], 40.0)])
    assert same == pytest.approx(first)


@pytest.mark.parametrize(
    ("wrong", "match"),
    [
        ({"at": TIMES[0] - pd.Timedelta(minutes=1)}, "before the run"),
        ({"at": TIMES[3].tz_localize(None)}, "time zone"),
        ({"reading_c": np.nan}, "number"),
        ({"weight": 1.5}, "weight"),
        ({"hours": 0.0}, "hours"),
        ({"temps_c": TEMPS[:, :5]}, "shape"),
    ],
)
def test_wrong_readings_are_refused(wrong: dict[str, object], match: str) -> None:
    """Protects the caller: each fault is refused in words."""
    good = {"temps_c": TEMPS, "reading_c": 30.0, "at": TIMES[3]}
    with pytest.raises(ValueError, match=match):
        relax_to_reading(TIMES, **(good | wrong))  # type: ignore[arg-type]


def test_weight_is_that_of_independent_values() -> None:
    """Protects the weight: equal errors share evenly, a poor forecast follows the gun."""
    assert reading_weight(1.0) == pytest.approx(0.5)
    assert reading_weight([3.0, 0.0]) == pytest.approx([0.9, 0.0])


@pytest.mark.parametrize("weight", [1.0, 0.6])
def test_error_after_a_reading_is_that_of_many_drawn_ones(weight: float) -> None:
    """Protects the growth of the error, against 40 000 drawn first-order autoregressive errors."""
    rng = np.random.default_rng(7)
    model_sd, reading_sd, hours = 2.0, 0.8, np.arange(7)
    kept = np.exp(-1.0 / FADE_HOURS)
    drawn = [rng.normal(0.0, model_sd, 40_000)]
    for _ in hours[1:]:
        drawn.append(kept * drawn[-1] + model_sd * np.sqrt(1.0 - kept**2) * rng.normal(size=40_000))
    truth = 30.0
    model = truth + np.array(drawn).T
    reading = truth + rng.normal(0.0, reading_sd, 40_000)
    # Readings differ between the draws, so each is one member that moves by its own.
    times = pd.date_range("2027-06-05 08:00", periods=7, freq="h", tz="UTC")
    shifted = relax_to_reading(
        times, model - reading[:, np.newaxis], reading_c=0.0, at=times[0], weight=weight
    )
    left = (shifted + reading[:, np.newaxis] - truth).std(axis=0)
    said = error_after_reading_c(model_sd, hours, weight=weight, reading_sd_c=reading_sd)
    assert said == pytest.approx(left, rel=0.02)


def test_error_comes_back_to_that_of_the_model() -> None:
    """Protects the ends: none before the reading, the mean's at once, the model's in the end."""
    got = error_after_reading_c(2.0, [-1.0, 0.0, 100.0], weight=reading_weight(2.0))
    assert got == pytest.approx([2.0, np.sqrt(0.8), 2.0])
    assert (np.diff(error_after_reading_c(2.0, np.arange(12.0))) > 0.0).all()
