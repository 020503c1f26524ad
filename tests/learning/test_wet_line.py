"""The racer's own damp and wet."""

import json
from datetime import date, timedelta

import numpy as np
import pytest

from trackday.learning.wet_line import Limits, Sighting, WetLine, fit_wet_line

LIMITS = Limits(0.05, 0.15, 1.0)
DAY = date(2027, 5, 1)


def sightings(pairs):
    return [Sighting(film, seen, DAY + timedelta(days=n)) for n, (film, seen) in enumerate(pairs)]


def fit(pairs):
    return fit_wet_line(sightings(pairs), limits=LIMITS)


def test_no_sighting_keeps_the_limits():
    """Protects the start."""
    got = fit([])
    assert got.limits(LIMITS) == LIMITS
    assert got.log_factor == pytest.approx(0.0, abs=1e-9)
    assert got.log_sd == pytest.approx(0.5, abs=0.01)


def test_an_eye_that_calls_wet_early_lowers_the_limits():
    """Protects the direction, and that limits keep their order."""
    early = fit([(0.03, "damp"), (0.08, "wet"), (0.03, "damp"), (0.09, "wet")])
    late = fit([(0.09, "dry"), (0.3, "damp"), (0.08, "dry"), (0.25, "damp")])
    assert early.log_factor < -0.1 < 0.1 < late.log_factor
    moved = late.limits(LIMITS)
    assert moved.damp_mm < moved.wet_mm < moved.standing_mm
    assert moved.damp_mm > LIMITS.damp_mm


def test_a_known_factor_is_found():
    """Protects the estimate: 150 invented sightings with a factor of two lead to two."""
    draw = np.random.default_rng(8)
    films = np.exp(draw.uniform(np.log(0.01), np.log(3.0), 150))
    named = ("dry", "damp", "wet", "standing")
    bounds = np.log([0.05, 0.15, 1.0]) + np.log(2.0)
    seen = [named[int(np.sum(np.log(film) + draw.normal(0, 0.7) > bounds))] for film in films]
    got = fit(list(zip(films.tolist(), seen, strict=True)))
    assert np.exp(got.log_factor) == pytest.approx(2.0, rel=0.25)
    assert abs(got.log_factor - np.log(2.0)) < 3 * got.log_sd
    assert got.hits_with > got.hits_without


def test_one_slip_does_not_decide():
    """Protects against another corner's puddle: "standing" on a dry film moves little, flagged."""
    pairs = [(0.0, "dry"), (0.1, "damp"), (0.4, "wet"), (0.0, "dry"), (0.09, "damp")]
    got = fit([*pairs, (0.0, "standing")])
    assert abs(got.log_factor - fit(pairs).log_factor) < 0.1
    assert [row.seen for row in got.flagged] == ["standing"]


def test_an_unknown_film_is_said_and_not_used():
    """Protects missing: no film, no sighting; stored and read again all the same."""
    got = fit([(float("nan"), "wet"), (0.1, "damp")])
    assert got.n == 1
    assert got.flagged[0].why == "the film is not known"
    again = WetLine.from_data(json.loads(json.dumps(got.to_data(), allow_nan=False)))
    assert again.log_factor == got.log_factor
    assert np.isnan(again.flagged[0].film_mm)


def test_it_is_stored_without_loss():
    """Protects what the logbook keeps."""
    got = fit([(0.1, "damp"), (0.0, "dry"), (0.6, "wet"), (0.0, "standing")])
    assert WetLine.from_data(json.loads(json.dumps(got.to_data()))) == got
    with pytest.raises(ValueError, match=r"trackday\.wet-line"):
        WetLine.from_data({})


def test_limits_that_do_not_rise_are_refused():
    """Protects against states without a film of their own."""
    with pytest.raises(ValueError, match="rise"):
        fit_wet_line([], limits=Limits(0.2, 0.1, 1.0))
