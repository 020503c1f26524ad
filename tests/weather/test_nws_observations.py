"""Reports of stations as the US weather service passes them on."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from junk_json import ANY_JSON, spoilt
from standin_nws import collection

from trackday.weather.failures import SourceError
from trackday.weather.nws_observations import parse_observations

NOON = datetime(2027, 6, 12, 12, 0, tzinfo=UTC)
AO2 = "KTMH 121200Z AUTO 18008KT 10SM CLR 20/10 A2992 RMK AO2"


def value(unit, number, quality="V"):
    return {"unitCode": unit, "value": number, "qualityControl": quality}


def report(minutes_before_noon=0, **more):
    """Write the properties of one report."""
    time = NOON - timedelta(minutes=minutes_before_noon)
    return {
        "station": "https://api.weather.gov/stations/KTMH",
        "stationId": "KTMH",
        "timestamp": time.isoformat(),
        "rawMessage": AO2,
        "textDescription": "Clear",
        "presentWeather": [],
        "elevation": value("wmoUnit:m", 300),
        "temperature": value("wmoUnit:degC", 20.0),
    } | more


def phenomenon(weather, raw, *, near=False, modifier=None):
    return {
        "intensity": "light", "modifier": modifier, "weather": weather, "rawString": raw,
        "inVicinity": near,
    }  # fmt: skip


def read(*reports):
    seen = parse_observations(collection(*reports))
    assert seen is not None
    return seen


def test_a_real_report(recorded):
    """Protects units and times of a real reply (KMSP), value by value.

    The reply's pressure is 30.11 inHg, an altimeter setting; the standard atmosphere takes 30.1 hPa
    off it up to 255 m. Without its raw text nobody knows whether the station sees rain.
    """
    data = json.loads((recorded / "nws" / "observations_KMSP.json").read_text("utf-8"))
    seen = parse_observations(data)
    assert seen is not None
    assert seen.station == "KMSP"
    assert seen.time == datetime(2026, 5, 15, 11, 41, 5, tzinfo=UTC)
    assert seen.air_temp_c == 5.0
    assert seen.dew_point_c == 3.0
    assert seen.wind_ms == pytest.approx(4.12)
    assert seen.pressure_pa == pytest.approx(101_964.16 - 3_010.0, abs=40.0)
    assert seen.visibility_m == pytest.approx(12_874.75)
    assert np.isnan(seen.gust_ms)
    assert np.isnan(seen.rain_mm)
    assert seen.raining is None
    assert seen.text == "Mostly Cloudy"


def test_an_older_reply_with_other_units():
    """Protects the vocabulary before 2021: "unit:", m/s, and rain in meters."""
    seen = read(
        report(
            stationId=None,
            temperature=value("unit:degC", 20.6, "qc:V"),
            windSpeed=value("unit:m_s-1", 2.1, "qc:V"),
            precipitationLastHour=value("unit:m", 0.0003, "qc:C"),
            barometricPressure=value("unit:Pa", 101_325, "qc:V"),
        )
    )
    assert seen.station == "KTMH"
    assert seen.air_temp_c == 20.6
    assert seen.wind_ms == 2.1
    assert seen.rain_mm == pytest.approx(0.3)
    assert seen.pressure_pa == pytest.approx(97_773, abs=5.0)  # ISO 2533, 300 m


def test_the_newest_known_value_counts():
    """Protects against nulls of the newest report, and against values that are too old."""
    seen = read(
        report(170, temperature=value("wmoUnit:degC", 14.0), dewpoint=value("wmoUnit:degC", 9.0)),
        report(0, temperature=value("wmoUnit:degC", None), windSpeed=value("wmoUnit:km_h-1", 18)),
        report(60, temperature=value("wmoUnit:degC", 18.0)),
        report(190, visibility=value("wmoUnit:m", 5000)),
    )
    assert seen.time == NOON
    assert seen.air_temp_c == 18.0
    assert seen.dew_point_c == 9.0
    assert seen.wind_ms == pytest.approx(5.0)
    assert np.isnan(seen.visibility_m)


def test_what_comes_and_goes_is_not_taken_from_long_ago():
    """Protects against an hour-old gust or shower that would pass for now."""
    brief = {
        "windGust": value("wmoUnit:km_h-1", 72),
        "precipitationLastHour": value("wmoUnit:mm", 4.0),
        "presentWeather": [phenomenon("rain", "-RA")],
    }
    blind = {"rawMessage": ""}
    lately = read(report(**blind), report(20, **blind, **brief))
    assert (lately.gust_ms, lately.rain_mm, lately.raining) == (pytest.approx(20.0), 4.0, True)
    before = read(report(**blind), report(60, **blind, **brief))
    assert np.isnan([before.gust_ms, before.rain_mm]).all()
    assert before.raining is None


@pytest.mark.parametrize(
    ("seen", "raw", "raining"),
    [
        ([phenomenon("rain", "-RA")], AO2, True),
        ([phenomenon("fog_mist", "BR"), phenomenon("snow", "SN")], "", True),
        ([phenomenon("unknown", "UP")], "", True),
        ([], AO2, False),
        ([phenomenon("fog_mist", "BR")], AO2, False),
        ([phenomenon("snow", "BLSN", modifier="blowing")], AO2, False),
        ([phenomenon("rain", "VCSH", near=True)], AO2, None),
        ([phenomenon("thunderstorms", "VCTS")], AO2, None),
        ([phenomenon("thunderstorms", "TS")], AO2, None),
        ([], "", None),
        (None, "", None),
        ([], AO2.replace("AO2", "AO1"), None),
        ([], f"{AO2} PWINO", None),
        ([], AO2.replace("10SM", "4SM -RA"), True),
    ],
)
def test_whether_it_rains(seen, raw, raining):
    """Protects against "dry" from a station that could not tell, or that has rain beside it."""
    assert read(report(presentWeather=seen, rawMessage=raw)).raining is raining


def test_rain_of_the_last_hour_from_the_remarks():
    """Protects the amount where the service passes none on: hundredths of an inch."""
    seen = read(report(rawMessage=f"{AO2} P0012", precipitationLastHour=value("wmoUnit:mm", None)))
    assert seen.rain_mm == pytest.approx(3.048)
    assert np.isnan(read(report()).rain_mm)


@pytest.mark.parametrize("quality", ["X", "qc:X", "B"])
def test_rejected_values_are_unknown(quality):
    """Protects against values that the service itself has found wrong."""
    seen = read(
        report(temperature=value("wmoUnit:degC", 45.0, quality)),
        report(20, temperature=value("wmoUnit:degC", 21.0)),
    )
    assert seen.air_temp_c == 21.0


def test_impossible_values_and_pressure_without_a_height_are_unknown():
    """Protects against gross errors, and a sea-level value that would pass for the spot's."""
    setting = {"barometricPressure": value("wmoUnit:Pa", 101_325)}
    assert np.isnan(read(report(temperature=value("wmoUnit:degC", 300.0))).air_temp_c)
    assert np.isnan(read(report(**setting, elevation=None)).pressure_pa)
    assert np.isfinite(read(report(**setting)).pressure_pa)


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        ({}, "no list of reports"),
        (collection(report(timestamp="noon")), "do not tell their times"),
        (collection(report(temperature=value("wmoUnit:degR", 1.0))), "unit 'wmoUnit:degR'"),
        ({"features": [{}]}, "one report has no properties"),
    ],
)
def test_what_is_not_understood_is_refused(data, reason):
    """Protects against an observation made of nothing."""
    with pytest.raises(SourceError, match=reason):
        parse_observations(data)


def test_a_silent_station_has_no_observation():
    """Protects against an observation made of nothing."""
    assert parse_observations(collection()) is None


GOOD = collection(
    report(windGust=value("wmoUnit:km_h-1", 40), presentWeather=[phenomenon("rain", "-RA")]),
    report(20, barometricPressure=value("wmoUnit:Pa", 101_325)),
)


@settings(max_examples=150, deadline=None)
@given(st.one_of(ANY_JSON, spoilt(GOOD)))
def test_any_reports_are_read_or_refused(data):
    """Protects the run from a reply gone wrong: refused, or a time and possible values."""
    try:
        seen = parse_observations(data)
    except SourceError:
        return
    assert seen is None or (seen.time.tzinfo is UTC and not seen.gust_ms < 0.0)
