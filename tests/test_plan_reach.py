"""Which weather speaks for each session: the forecast, other years, or nobody."""

from __future__ import annotations

import numpy as np
import pytest
from plans import AS_OF, HOURS, climatology, gathered, plan

from trackday.morning import make_morning


def bases(made):
    return [planned.outlook.rain.basis for planned in made.sessions]


def test_the_forecast_speaks_as_far_as_it_reaches():
    """Protects the choice by session: the race lies past the forecast's end."""
    made = plan(gather=gathered(ends_after_h=4.0, rain_mm=2.0, climatology=climatology()))
    assert bases(made) == ["ensemble", "climatology"]
    practice, race = made.sessions
    assert practice.outlook.rain.chance > 0.8
    assert race.outlook.rain.chance < 0.1
    assert made.beyond_forecast == (race,)


def test_without_other_years_a_session_past_the_end_is_unknown():
    """Protects the worst mistake: nothing is known, so nothing is dry."""
    race = plan(gather=gathered(ends_after_h=4.0)).sessions[1]
    assert race.outlook.rain.basis is None
    assert np.isnan(race.outlook.rain.chance)
    assert race.tire.choice == "undecided"


def test_a_session_in_a_hole_of_the_forecast_is_left_to_other_years():
    """Protects a session whose rain no member knows, though the forecast goes on after it."""
    rain = np.zeros((3, HOURS))
    hole = 3 * 24 + int(AS_OF.hour) + 9  # the race's hour, three days into the weather
    rain[:, hole : hole + 2] = np.nan
    made = plan(gather=gathered(rain_mm=rain, climatology=climatology()))
    assert bases(made) == ["ensemble", "climatology"]


def test_a_center_that_ends_early_does_not_make_the_rest_unknown():
    """Protects the track's state: who does not reach has no say, and is not "unknown"."""
    rain = np.zeros((3, HOURS))
    rain[0, 3 * 24 + 16 :] = np.nan  # ends between the sessions
    made = plan(gather=gathered(rain_mm=rain, centers=("local", "gefs", "gefs")))
    for planned in made.sessions:
        assert planned.outlook.track.state_chance["unknown"] == 0
    assert set(made.sessions[0].outlook.rain.by_center) == {"local", "gefs"}
    assert set(made.sessions[1].outlook.rain.by_center) == {"gefs"}


def test_the_range_of_other_years_counts_years():
    """Protects the doubt: four years are four opinions, however many days of each are taken."""
    made = plan(gather=gathered(basis="climatology", sky=climatology()))
    rain = made.sessions[0].outlook.rain
    # Wilson's 80 % interval for 0 of 4: upper end z²/(n + z²) with z = 1.2816.
    assert rain.high == pytest.approx(1.6424 / (4 + 1.6424), abs=0.02)


def test_holes_in_a_stations_record_make_the_sample_smaller_not_the_weather_unknown():
    """Protects from "undecided" because a gauge was out of order in some other year."""
    rain = np.zeros((12, HOURS))
    rain[:9, 60:] = np.nan
    rain[9, 3 * 24 + 14 : 3 * 24 + 17] = 5.0
    made = plan(gather=gathered(basis="climatology", sky=climatology(rain_mm=rain)))
    practice = made.sessions[0].outlook
    assert practice.track.state_chance["unknown"] == 0
    assert practice.rain.chance == pytest.approx(1 / 3, abs=0.1)
    rain[:, 60:] = np.nan
    nothing = plan(gather=gathered(basis="climatology", sky=climatology(rain_mm=rain)))
    assert nothing.sessions[0].outlook.track.state_chance["unknown"] == 1
    assert nothing.sessions[0].tire.choice == "undecided"


def test_a_canopy_is_not_tied_down_by_other_years():
    """Protects from "may stand" and "take down" where nobody has forecast a gust."""
    made = plan(gather=gathered(ends_after_h=-30.0, climatology=climatology(gust_ms=30.0)))
    assert [planned.outlook.rain.basis for planned in made.sessions] == ["climatology"] * 2
    assert made.canopy[0].action == "unknown"


def test_other_years_decide_nothing_in_the_morning():
    """Protects the go/no-go: what other years brought is no answer for today."""
    call = make_morning(plan(gather=gathered(basis="climatology", sky=climatology()))).call
    assert call.answer == "unknown"
    assert "other years decide nothing" in call.reasons[0].template


@pytest.mark.parametrize(("age_h", "answer"), [(0.0, "no"), (11.9, "no"), (12.1, "unknown")])
def test_an_old_forecast_decides_nothing_in_the_morning(age_h, answer):
    """Protects the go/no-go from a forecast that two newer runs have replaced."""
    made = plan(age_h=age_h)
    assert make_morning(made).call.answer == answer
    assert [planned.tire.choice for planned in made.sessions] == ["dry", "dry"]


def test_the_newest_source_of_the_odds_counts():
    """Protects the age: neither a fresh observation nor a fresh warning makes a forecast fresh."""
    made = plan(age_h=20.0)
    assert made.forecast_age_minutes == pytest.approx(20 * 60)
    assert (
        plan(gather=gathered(basis="climatology", sky=climatology())).forecast_age_minutes is None
    )
