"""MET Norway's forecast: what is asked, and what each number of a reply becomes.

The replies are invented in the format of the service's documentation (its general forecast format
and its data model).
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import numpy as np
import pandas as pd
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from junk_json import ANY_JSON, spoilt
from standin import Fault
from standin_met_norway import HOURLY, HOURS, OWN_UNITS, UNITS, forecast

from trackday.settings import load_settings
from trackday.weather import http
from trackday.weather.failures import SourceError
from trackday.weather.met_norway import get_forecast, parse_forecast
from trackday.weather.series import MEMBER_FIELDS

NOW = datetime(2027, 6, 12, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
NAN = np.nan


def step(hour, *, one=None, six=None, twelve=None, **instant):
    """Write a step some hours after `NOW`, with details of its instant and its periods."""
    periods = {"next_1_hours": one, "next_6_hours": six, "next_12_hours": twelve}
    parts = {"instant": instant} | {name: d for name, d in periods.items() if d is not None}
    time = f"{NOW + hour * HOUR:%Y-%m-%dT%H:%M:%SZ}"
    return {"time": time, "data": {name: {"details": each} for name, each in parts.items()}}


def reply(*steps, **units):
    """Write a reply made at `NOW` of some steps; `units` replace the service's own."""
    meta = {"updated_at": NOW.isoformat(), "units": UNITS | OWN_UNITS | units}
    return {"type": "Feature", "properties": {"meta": meta, "timeseries": list(steps)}}


def read(data, *, elevation_m=300.0, as_of=NOW):
    return parse_forecast(data, elevation_m=elevation_m, as_of=as_of)


def rain(amount=None, chance=None, thunder=None):
    names = ("precipitation_amount", "probability_of_precipitation", "probability_of_thunder")
    told = zip(names, (amount, chance, thunder), strict=True)
    return {name: value for name, value in told if value is not None}


def test_instants_stand_at_their_step_in_our_units():
    """Protects the path of single numbers: field, hour and unit."""
    first = step(0, air_temperature=20.5, dew_point_temperature=9.5, wind_speed=2.5,
                 cloud_area_fraction=58.0, air_pressure_at_sea_level=1020.5)  # fmt: skip
    weather = read(reply(first, step(1, air_temperature=21.0))).weather
    assert weather.times.tolist() == [pd.Timestamp(NOW), pd.Timestamp(NOW + HOUR)]
    assert weather.air_temp_c.tolist() == [[20.5, 21.0]]
    for name, value in (("dew_point_c", 9.5), ("wind_ms", 2.5), ("cloud_fraction", 0.58)):
        np.testing.assert_allclose(getattr(weather, name), [[value, NAN]])
    assert weather.centers == ("met_norway",)
    assert weather.weights.tolist() == [1.0]


def test_pressure_is_that_of_the_place():
    """Protects air density: sea-level pressure is brought up to the venue (PsychroLib's figure)."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    here = psychrolib.GetStationPressure(101_000.0, 700.0, 25.0)
    sky = reply(step(0, air_temperature=25.0, air_pressure_at_sea_level=1010.0), step(1))
    found = read(sky, elevation_m=700.0).weather.pressure_pa[0, 0]
    assert found == pytest.approx(here, rel=1e-4)


def test_humidity_stands_in_for_a_missing_dew_point():
    """Protects the chance of fog where only humidity is sent (9.3 °C: value from memory)."""
    found = read(reply(step(0, air_temperature=20.0, relative_humidity=50.0), step(1))).weather
    assert found.dew_point_c[0, 0] == pytest.approx(9.3, abs=0.1)


def test_six_hourly_steps_are_spread_and_their_instants_are_not():
    """Protects the days ahead: amounts are conserved, and no temperature is made up between."""
    six = step(0, six=rain(2.4, 44.0), air_temperature=10.0)
    weather = read(reply(six, step(6, air_temperature=16.0))).weather
    np.testing.assert_allclose(weather.rain_mm, [[NAN] + [0.4] * 6])
    # By hand: 0.44 / 6^0.515, the growth of chances that docs/rain.md tells.
    np.testing.assert_allclose(weather.rain_probability, [NAN] + [0.1749] * 6, atol=1e-4)
    np.testing.assert_allclose(weather.air_temp_c, [[10.0, *[NAN] * 5, 16.0]])


def test_the_shortest_period_counts_until_the_next_step():
    """Protects an hour from being told twice: its own amount and chance, not those of six."""
    steps = [
        step(0, one=rain(0.5, 70.0, 12.0), six=rain(9.0, 95.0), air_temperature=1.0),
        step(1, six=rain(6.0), twelve=rain(chance=60.0), air_temperature=1.0),
        step(2, air_temperature=1.0),
    ]
    weather = read(reply(*steps)).weather
    np.testing.assert_allclose(weather.rain_mm, [[NAN, 0.5, 1.0]])
    np.testing.assert_allclose(weather.rain_probability, [NAN, 0.7, 0.6 / 12.0**0.515], atol=1e-3)
    np.testing.assert_allclose(weather.thunder_probability, [NAN, 0.12, NAN])


def test_six_hours_told_at_every_hour_are_not_added_up():
    """Protects from rain that is counted six times where no step tells its own hour."""
    steps = [step(hour, six=rain(6.0, 60.0)) for hour in range(4)]
    weather = read(reply(*steps)).weather
    np.testing.assert_allclose(weather.rain_mm, [[NAN, 1.0, 1.0, 1.0]])
    np.testing.assert_allclose(weather.rain_probability[1:], 0.6 / 6.0**0.515)


def test_a_gust_is_the_higher_one_of_both_ends_of_its_hour():
    """Protects the canopy: the service does not say to which hour a gust belongs."""
    gusts = [step(n, wind_speed_of_gust=gust) for n, gust in enumerate((5.0, 9.0, 4.0))]
    weather = read(reply(*gusts, step(3, wind_speed=1.0))).weather
    np.testing.assert_allclose(weather.gust_ms, [[NAN, 9.0, 9.0, NAN]])


def test_what_is_not_sent_is_unknown():
    """Protects from dry, calm or certain out of nothing: away from home much is left out."""
    weather = read(forecast(NOW, at_home=False)).weather
    for name in ("gust_ms", "ghi_wm2", "cape_jkg"):
        assert np.isnan(getattr(weather, name)).all(), name
    assert np.isnan(weather.rain_probability).all()
    assert np.isnan(weather.thunder_probability).all()
    assert np.isfinite(weather.rain_mm[0, 1:]).all()


def test_a_whole_reply_says_what_its_steps_say():
    """Protects the adapter with a second, plain reader of every step of a generated reply."""
    data = forecast(NOW)
    weather = read(data).weather
    assert len(weather.times) == HOURS + 1
    for each in data["properties"]["timeseries"]:
        at = weather.times.get_loc(pd.Timestamp(each["time"]))
        details = each["data"]["instant"]["details"]
        assert weather.air_temp_c[0, at] == details["air_temperature"]
        assert weather.wind_ms[0, at] == details["wind_speed"]
        if "next_1_hours" in each["data"]:
            hour = each["data"]["next_1_hours"]["details"]
            assert weather.rain_mm[0, at + 1] == pytest.approx(hour["precipitation_amount"])
            chance = hour["probability_of_precipitation"] / 100.0
            assert weather.rain_probability[at + 1] == pytest.approx(chance)
        elif "next_6_hours" in each["data"]:
            amount = each["data"]["next_6_hours"]["details"]["precipitation_amount"]
            assert weather.rain_mm[0, at + 1 : at + 7].sum() == pytest.approx(amount)
    assert np.isfinite(weather.gust_ms[0, 1:HOURLY]).all()
    assert np.isnan(weather.gust_ms[0, HOURLY:]).all()


def test_order_and_repeats_are_mended_and_said():
    """Protects from a reply that was put together wrongly: the last word counts."""
    steps = [step(1, air_temperature=2.0), step(0, air_temperature=9.0), step(0, air_temperature=1)]
    weather, notes = read(reply(*steps))
    assert weather.air_temp_c.tolist() == [[1.0, 2.0]]
    assert any("1 repeated step" in note for note in notes)
    assert any("out of order" in note for note in notes)


def test_impossible_values_are_unknown_and_counted():
    """Protects from a hundred degrees, minus rain and 120 %."""
    odd = step(0, one=rain(-1.0, 120.0), air_temperature=91.6, wind_speed=3.0)
    weather, notes = read(reply(odd, step(1)))
    assert np.isnan(weather.air_temp_c).all()
    assert np.isnan(weather.rain_mm).all()
    assert np.isnan(weather.rain_probability).all()
    assert "1 impossible values of air_temperature ignored" in notes


GOOD = step(0, air_temperature=1.0, wind_speed=1.0)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({}, "has no properties"),
        ({"properties": {"timeseries": [GOOD]}}, "units"),
        (reply(), "no steps"),
        (reply({"time": "soon", "data": {}}), "not understood"),
        (reply({"time": NOW.isoformat()}), "not understood"),
        (reply(GOOD, step(24 * 40)), "more than a month"),
        (reply(*[GOOD] * 2001), "2001 steps"),
        (reply(GOOD, air_temperature="fathom"), "unit 'fathom'"),
        (reply(step(0), step(1)), "none of the values"),
    ],
)
def test_what_is_not_understood_is_refused(data, words):
    """Protects from guesses: each fault ends in one plain reason."""
    with pytest.raises(SourceError, match=words):
        read(data)


def test_age_is_told_and_at_last_refused():
    """Protects from yesterday's forecast under a fresh reply."""
    assert read(reply(GOOD), as_of=NOW + 13 * HOUR).notes == ("the forecast is 13 h old",)
    with pytest.raises(SourceError, match="25 h old"):
        read(reply(GOOD), as_of=NOW + 25 * HOUR)
    ageless = reply(GOOD)
    del ageless["properties"]["meta"]["updated_at"]
    with pytest.raises(SourceError, match="when it was made"):
        read(ageless)


@given(st.one_of(ANY_JSON, spoilt(reply(GOOD, step(1, one=rain(1.0, 50.0)), step(7)))))
def test_any_reply_is_read_or_refused(data):
    """Protects the run from a reply gone wrong: refused, or weather without impossible values."""
    try:
        weather = read(data).weather
    except SourceError:
        return
    for name in MEMBER_FIELDS:
        values = getattr(weather, name)
        assert np.isfinite(values[~np.isnan(values)]).all()
    assert not (weather.rain_mm < 0.0).any()
    assert not ((weather.rain_probability < 0.0) | (weather.rain_probability > 1.0)).any()


PLACE = SimpleNamespace(latitude=60.123456, longitude=-0.00001, elevation_m=180.4)


@pytest.fixture
def ask(met_norway, new_session, tmp_path):
    """Ask the stand-in; sessions share a cache."""

    def do(*, session=None, offline=False, **environ):
        settings = load_settings(met_norway.environ | environ, None)
        return get_forecast(session or new_session(), settings, PLACE, offline=offline)

    return do


def test_the_question_tells_a_place_and_who_asks(ask, met_norway):
    """Protects the terms: four decimals at most, a name, and a contact where there is one."""
    assert ask().data == met_norway.reply()
    ask(TRACKDAY_CONTACT="mail@example.org\nX: 1")
    (params, headers), *_ = met_norway.asked
    assert params == {"lat": "60.1235", "lon": "0.0000", "altitude": "180"}
    assert headers["User-Agent"].startswith("trackday/")


def test_a_contact_is_told_on_one_line(ask, met_norway):
    """Protects the service's wish to know whom to write to, however the contact was written."""
    ask(TRACKDAY_CONTACT="mail@exämple.org\nX: 1")
    agent = met_norway.asked[0][1]["User-Agent"]
    assert agent.startswith("trackday/")
    assert agent.endswith("(mail@ex?mple.org X: 1)")


def test_who_has_no_name_is_refused(ask, new_session):
    """Protects from silence: a refusal (status 403) is one plain reason."""
    session = new_session()
    session.headers["User-Agent"] = "python-requests/2"
    with pytest.raises(SourceError, match="refused access") as caught:
        ask(session=session)
    assert caught.value.status == 403


def test_nothing_is_asked_twice_within_half_an_hour(ask, met_norway):
    """Protects the service from needless questions; offline, the saved reply serves."""
    first = ask()
    assert ask().from_cache
    assert ask(offline=True).data == first.data
    assert len(met_norway.asked) == 1


def test_after_that_only_what_is_newer_is_sent(ask, met_norway, monkeypatch):
    """Protects the service's lines: it is asked for what has changed, and "nothing" is no fault."""
    monkeypatch.setattr(http, "EXPIRY", timedelta(seconds=-1))
    before = ask()
    again = ask()
    assert "If-Modified-Since" in met_norway.asked[1][1]
    assert again.data == before.data
    assert again.problem is None
    assert again.fetched_at >= before.fetched_at


def test_too_many_questions_leave_the_saved_reply(ask, met_norway, monkeypatch):
    """Protects the plan where the service slows us down (status 429)."""
    monkeypatch.setattr(http, "EXPIRY", timedelta(seconds=-1))
    ask()
    met_norway.fail(Fault(status=429, body="slow down"))
    reply_again = ask()
    assert reply_again.stale
    assert "asked too often" in reply_again.problem
