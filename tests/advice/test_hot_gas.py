"""What the logbook does to pressures, and what is said of it."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from builders import garage, outlook, venue

from trackday.advice.hot_gas import hot_gas, last_good_readings, learn_rise
from trackday.advice.learned import (
    explain_bias,
    explain_calls,
    explain_rise,
    explain_wet_line,
    rise_reason,
)
from trackday.advice.pressure import advise_pressure
from trackday.learning.hot_reading import HotReading
from trackday.learning.rise import fit_rise
from trackday.learning.tire_calls import TireCall, count_calls
from trackday.learning.venue_bias import TrackCheck, fit_venue_bias
from trackday.learning.wet_line import Limits, Sighting, fit_wet_line
from trackday.physics.tire_gas import pressure_at
from trackday.units import METRIC, US

FOUR = np.full(4, 0.25)
TODAY = date(2027, 6, 12)


def readings(gas_c, count=6):
    """Readings of a car whose gas is `gas_c` on a 35 °C track in 22 °C air, since May."""
    found = []
    for n in range(count):
        track, air = 28.0 + 4 * (n // 2), 20.0
        gas = gas_c + 0.45 * (track - 35) + 0.25 * (air - 22)
        found.append(
            HotReading(
                cold_kpa=165.0,
                hot_kpa=float(pressure_at(165.0, from_c=air, to_c=gas, ambient_kpa=98.0)),
                cold_air_c=air,
                ambient_kpa=98.0,
                track_temp_c=track,
                air_temp_c=air,
                axle=("front", "rear")[n % 2],
                taken_at=date(2027, 5, 8) + timedelta(days=n // 2),
                venue="Tamarack Hollow",
            )
        )
    return found


def pressure(rise, *, settings=None, tire="dry", track_c=45.0):
    return advise_pressure(
        outlook(track_c=track_c, air_temp_c=26.0, pressure_pa=98000.0),
        weights=FOUR,
        setting_air_c=np.full(4, 22.0),
        tire=tire,
        settings=settings or garage().pressure,
        venue=venue(),
        rise=rise,
    )


@pytest.mark.parametrize("tire", ["dry", "wet"])
def test_a_fit_of_nothing_and_no_fit_advise_the_same(tire):
    """Protects agreement of both ways: last good setting alone, with and without an empty fit."""
    settings = garage().pressure
    empty = learn_rise([], settings=settings, venue=venue(), as_of=TODAY)
    here = outlook(track_c=45.0, air_temp_c=26.0)
    for axle in ("front", "rear"):
        plain = hot_gas(here, settings, venue(), axle=axle, tire=tire)
        track, air = here.track.member_temp_c, here.air.member_temp_c
        learned = empty.hot_gas_c(track, air, axle=axle, ran_on=tire)[0]
        assert learned == pytest.approx(plain.temp_c)
    assert pressure(empty, tire=tire) == pressure(None, tire=tire)


def test_a_car_that_runs_hot_is_set_lower():
    """Protects the direction: hotter gas than the last good setting says, lower cold setting."""
    settings = garage().pressure
    good = last_good_readings(settings, venue())
    level = next(reading.hot_gas_c for reading in good if reading.axle == "front")
    hot = learn_rise(readings(level + 12.0), settings=settings, venue=venue(), as_of=TODAY)
    assert pressure(hot).front.cold_kpa < pressure(None).front.cold_kpa


def test_the_reason_names_the_readings():
    """Protects the why: how many readings and since when, beside the last good setting."""
    settings = garage().pressure
    learned = learn_rise(readings(80.0), settings=settings, venue=venue(), as_of=TODAY)
    shown = [reason.render(US, UTC) for reason in pressure(learned).reasons]
    assert shown[1] == "from your 6 hot readings since May"
    without = garage(
        pressure={"target_hot": {"front": "31 psi", "rear": "30 psi"}, "fill_gas": "nitrogen"}
    )
    alone = pressure(fit_rise(readings(80.0), venue="", as_of=TODAY), settings=without.pressure)
    assert alone.reasons[0].render(US, UTC) == "from your 6 hot readings since May"
    assert rise_reason(None) == rise_reason(fit_rise([], venue="", as_of=TODAY)) == ()


def test_what_is_learned_is_said_in_the_readers_units():
    """Protects the words: sentences render both ways and name counts, gain and odd entries."""
    slip = HotReading(165.0, 150.0, 20.0, 98.0, 30.0, 20.0, "rear", taken_at=date(2027, 5, 9))
    rise = fit_rise([*readings(80.0, 8), slip], venue="Tamarack Hollow", as_of=TODAY)
    noon = datetime(2027, 5, 8, 17, tzinfo=UTC)
    bias = fit_venue_bias(
        [TrackCheck(34.0, 40.0, 20.0, noon + timedelta(days=n)) for n in range(4)]
    )
    line = fit_wet_line(
        [Sighting(0.03, "damp", TODAY), Sighting(0.08, "wet", TODAY), Sighting(0.0, "dry", TODAY)]
        * 2,
        limits=Limits(0.05, 0.15, 1.0),
    )
    calls = count_calls([TireCall("dry", "dry", TODAY)] * 3 + [TireCall("dry", "wet", TODAY)])
    says = [
        *explain_rise(rise),
        *explain_bias(bias),
        *explain_wet_line(line),
        *explain_calls(calls),
    ]
    us, metric = ([say.render(units, UTC) for say in says] for units in (US, METRIC))
    assert us[0].startswith("Hot gas from 8 hot readings since May, 8 of them here: front 17")
    assert "on a 95 °F track in 72 °F air" in us[0]
    assert "on a 35 °C track in 22 °C air" in metric[0]
    assert "Not used: May 9, rear hot pressure: hot is not above cold." in us
    assert any(text.endswith("from 4 track readings on 4 days since May.") for text in us)
    assert any("less error than the first guess" in text for text in us)
    assert "Right tire in 3 of 4 sessions since June: too few to lean on." in us
    assert "1 on dry tires where wet was right." in us


def test_nothing_learned_is_said_too():
    """Protects the empty book: each explanation says that there is nothing and what to write."""
    for says in (
        explain_rise(fit_rise([], venue="", as_of=TODAY)),
        explain_bias(fit_venue_bias([])),
        explain_wet_line(fit_wet_line([], limits=Limits(0.05, 0.15, 1.0))),
        explain_calls(count_calls([])),
    ):
        assert len(says) == 1
        assert says[0].render(US, UTC).startswith("No ")
