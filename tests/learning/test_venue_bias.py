"""A venue's own correction of the surface model."""

import importlib
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from trackday.learning.venue_bias import TrackCheck, VenueBias, fit_venue_bias

NOON = datetime(2027, 6, 12, 17, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def bench():
    """The benchmark on the measured street, where its table is at hand."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(Path(__file__).parents[1] / "benchmarks"))
        module = importlib.import_module("learning_venue")
        if not module.TABLE.exists():
            pytest.skip(f"the measured street is not at {module.TABLE}")
        yield module


def checks(off, *, count=5, heat=20.0, air=20.0):
    """Readings a day apart on a surface modeled `heat` above the air, off by one or by each."""
    offs = np.broadcast_to(np.asarray(off, dtype=float), count)
    return [
        TrackCheck(air + heat + float(each), air + heat, air, NOON + timedelta(days=n))
        for n, each in enumerate(offs)
    ]


def test_without_readings_nothing_changes():
    """Protects venues that nobody measured."""
    bias = fit_venue_bias([])
    surface = np.array([[30.0, np.nan]])
    assert bias.apply(surface, 20.0) == pytest.approx(surface, nan_ok=True)
    error = bias.error_c(surface, 20.0, by_name_sd_c=1.7, described_sd_c=1.0)
    assert error == pytest.approx(np.full((1, 2), 1.7))


def test_it_leans_toward_the_readings_and_is_held_back():
    """Protects both: five readings move a hot track most of the way, one a part of it."""
    one, five = (fit_venue_bias(checks(-6.0, count=count)) for count in (1, 5))
    assert -6.0 < float(five.correction_c(40.0, 20.0)) < -4.5
    assert float(five.correction_c(40.0, 20.0)) < float(one.correction_c(40.0, 20.0)) < -1.0
    assert abs(float(five.correction_c(20.0, 20.0))) < 0.5


def test_a_truth_of_the_same_form_is_found():
    """Protects the formula: many readings of a known correction lead to it."""
    draw = np.random.default_rng(5)
    heats = draw.uniform(0.0, 25.0, 60)
    seen = [
        TrackCheck(20 + heat - 0.4 - 0.25 * heat, 20 + heat, 20, NOON + timedelta(days=n))
        for n, heat in enumerate(heats)
    ]
    got = fit_venue_bias(seen)
    assert got.per_heat == pytest.approx(-0.25, abs=0.02)
    assert got.level_c == pytest.approx(-0.4, abs=0.2)
    assert got.gain > 0.9


def test_no_gain_no_correction():
    """Protects a good model: readings that scatter about it change nothing."""
    got = fit_venue_bias(checks([2.0, -2.0, 2.0, -2.0, 1.0]))
    assert got.gain <= 0.0
    assert not got.used
    assert float(got.apply(40.0, 20.0)) == 40.0


def test_readings_of_one_hour_count_as_one():
    """Protects against ten readings in a row: the model errs in all of them alike."""
    row = [TrackCheck(34.0, 40.0, 20.0, NOON + timedelta(minutes=n)) for n in range(10)]
    once = float(fit_venue_bias(row[:1]).correction_c(40.0, 20.0))
    assert float(fit_venue_bias(row).correction_c(40.0, 20.0)) > 1.6 * once


def test_an_odd_reading_is_flagged():
    """Protects against a reading of the trailer's roof."""
    got = fit_venue_bias(
        [*checks([-3.0, -3.5, -2.5, -3.0, -3.2, -2.8], count=6), *checks(25.0, count=1)]
    )
    assert [row.off_c > 20.0 for row in got.flagged] == [True]
    assert float(got.correction_c(40.0, 20.0)) < -1.0


def test_unknown_is_left_alone():
    """Protects missing: unknown stays unknown, and unknown air does not blot out a known track."""
    got = fit_venue_bias([*checks(-5.0), TrackCheck(30.0, np.nan, 20.0, NOON)])
    assert (got.n, got.flagged[0].why) == (5, "a number is missing")
    said = got.apply(np.array([np.nan, 40.0]), np.array([20.0, np.nan]))
    assert np.isnan(said[0])
    assert said[1] == 40.0
    error = got.error_c(40.0, np.nan, by_name_sd_c=1.7, described_sd_c=1.0)
    assert float(error) >= 1.7 * 0.99


def test_readings_narrow_the_error_but_not_below_a_described_surface():
    """Protects the range: surer with readings, never surer than the model at a known place."""
    got = fit_venue_bias(checks(-1.0, count=8))
    error = float(got.error_c(40.0, 20.0, by_name_sd_c=2.2, described_sd_c=1.2))
    assert 1.2 <= error < 2.2


def test_it_is_stored_without_loss():
    """Protects what the logbook keeps: JSON and back is the same correction."""
    got = fit_venue_bias([*checks(-4.0), TrackCheck(np.nan, 30.0, 20.0, NOON)], venue="Here")
    assert VenueBias.from_data(json.loads(json.dumps(got.to_data()))) == got
    with pytest.raises(ValueError, match=r"trackday\.venue-bias"):
        VenueBias.from_data({})


def test_five_readings_on_the_measured_street(bench):
    """Protects the worth on measurements: five readings of a weekend, the error of 14 days after.

    With the walls left out they take away 40 %; with the street as described they add under 5 %.
    """
    street = bench.read_street(bench.TABLE).loc["2010-08-25":"2010-10-12"]
    for place, most in (("walls not entered", 0.6), ("as described", 1.05)):
        hours = bench.hours_of(street, *bench.PLACES[place])
        found = list(bench.weekends(hours))
        assert len(found) >= 5
        before = np.mean([weekend.without_c for weekend in found])
        after = np.mean([weekend.with_c for weekend in found])
        assert after < most * before
