"""METAR reports as JSON, their language, and what their pressure is."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from junk_json import ANY_JSON, spoilt

from trackday.physics.moist_air import standard_pressure_pa, station_pressure_pa
from trackday.weather.altimeter import altimeter_to_station_pa
from trackday.weather.failures import SourceError
from trackday.weather.metar import parse_metar
from trackday.weather.metar_text import falling, hourly_rain_mm

KNOT_MS = 1852.0 / 3600.0
NOON = 1_812_801_600  # 2027-06-12T12:00Z
RAW = "METAR KTMH 121153Z AUTO 18008KT 10SM CLR 20/10 A2992 RMK AO2"


def report(**more):
    """Write one report."""
    return {
        "icaoId": "KTMH", "obsTime": NOON - 420, "temp": 20.0, "dewp": 10.0, "wdir": 180,
        "wspd": 8, "visib": "10+", "altim": 1013.25, "elev": 300, "metarType": "METAR",
        "rawOb": RAW,
    } | more  # fmt: skip


def read(*reports, station="KTMH"):
    seen = parse_metar(list(reports), station=station)
    assert seen is not None
    return seen


@pytest.fixture
def real(recorded):
    """Recorded reports of three airfields."""
    return json.loads((recorded / "metar" / "awc_metar.json").read_text("utf-8"))


def test_real_reports_value_by_value(real):
    """Protects units and times, against the recorded reports' own raw text.

    35009KT 10SM 38/08 with T03780083 at 01:54Z, and so on; a mile is 1609.344 m.
    """
    for station, minute, wind_kt, temp_c, dew_c in (
        ("KBFL", 54, 9, 37.8, 8.3), ("kffz", 54, 8, 38.3, 13.9), ("KSTS", 53, 7, 23.3, 12.8),
    ):  # fmt: skip
        seen = parse_metar(real, station=station)
        assert seen is not None
        assert seen.station == station.upper()
        assert seen.time == datetime(2026, 7, 21, 1, minute, tzinfo=UTC)
        assert seen.wind_ms == pytest.approx(wind_kt * KNOT_MS)
        assert (seen.air_temp_c, seen.dew_point_c) == (temp_c, dew_c)
        assert seen.visibility_m == pytest.approx(16_093.44)
        assert np.isnan([seen.gust_ms, seen.rain_mm]).all()
        assert seen.raining is False
        assert seen.text.startswith(f"METAR {station.upper()} 2101{minute}Z")
    assert parse_metar(real, station="KTMH") is None


def test_real_pressures_agree_with_the_sea_level_pressure(real):
    """Protects the pressure, by a second way: the reports' own sea-level pressure, reduced back.

    That uses the air's temperature in place of the standard atmosphere's; 1.5 hPa is what a warm
    column of some hundred meters makes of it.
    """
    for sent in real:
        seen = parse_metar(real, station=sent["icaoId"])
        assert seen is not None
        back = station_pressure_pa(100.0 * sent["slp"], sent["elev"], sent["temp"])
        assert seen.pressure_pa == pytest.approx(float(back), abs=150.0)


def test_altimeter_setting():
    """Protects the conversion, against the test values of MetPy's altimeter_to_station_pressure.

    Those allow for 0.3 hPa of cockpit height, which is left out here (Unidata/MetPy, BSD-3-Clause).
    """
    for setting_pa, elevation_m, expected_pa in (
        (29.8 * 3386.389, 500.0, 95_096.498),
        (101_300.0, 500.0, 95_463.9265),
        (101_000.0, 1000.0, 89_603.7821),
        (100_000.0, 2000.0, 78_426.2996),
    ):
        got = altimeter_to_station_pa(setting_pa, elevation_m)
        assert got + 30.0 == pytest.approx(expected_pa, abs=15.0)


def test_altimeter_setting_shifts_the_standard_atmosphere():
    """Protects the law: a setting that is the standard pressure at a height is the pressure there.

    By definition the setting belongs to a standard atmosphere moved up or down (ISO 2533).
    """
    for moved_m in (-400.0, 0.0, 500.0):
        setting_pa = float(standard_pressure_pa(moved_m))
        for elevation_m in (-50.0, 0.0, 300.0, 1500.0, 3000.0):
            expected = float(standard_pressure_pa(moved_m + elevation_m))
            assert altimeter_to_station_pa(setting_pa, elevation_m) == pytest.approx(
                expected, abs=0.5
            )
    assert np.isnan(altimeter_to_station_pa(np.nan, 300.0))
    assert np.isnan(altimeter_to_station_pa(101_325.0, np.nan))


def test_the_newest_report_of_the_station_counts():
    """Protects against another airfield's report, and an older one."""
    seen = read(
        report(temp=18.0, obsTime=NOON - 7200),
        report(temp=21.0),
        report(temp=30.0, icaoId="KELM", obsTime=NOON),
        report(temp=19.0, obsTime=NOON - 3600),
    )
    assert seen.air_temp_c == 21.0


@pytest.mark.parametrize(
    ("visibility", "meters"),
    [("10+", 16_093.44), ("6+", 9_656.064), (2.5, 4_023.36), ("0.25", 402.336), (0, 0.0),
     ("P6SM", np.nan), (None, np.nan), ("nan", np.nan), ("1e999", np.nan), (-1, np.nan)],
)  # fmt: skip
def test_visibility(visibility, meters):
    """Protects the forms of visibility: numbers, texts, and "at least"."""
    seen = read(report(visib=visibility))
    assert seen.visibility_m == pytest.approx(meters, nan_ok=True)


def test_variable_wind_and_gusts():
    """Protects the wind where its direction is a word."""
    seen = read(report(wdir="VRB", wspd=4, wgst=17))
    assert seen.wind_ms == pytest.approx(4 * KNOT_MS)
    assert seen.gust_ms == pytest.approx(17 * KNOT_MS)


def test_missing_values_are_unknown():
    """Protects against a missing wind that would read as calm."""
    seen = read({"icaoId": "KTMH", "obsTime": NOON})
    known = [seen.air_temp_c, seen.dew_point_c, seen.wind_ms, seen.gust_ms, seen.pressure_pa,
             seen.visibility_m, seen.rain_mm]  # fmt: skip
    assert np.isnan(known).all()
    assert seen.raining is None
    assert np.isnan(read(report(elev=None)).pressure_pa)


@pytest.mark.parametrize(
    ("groups", "raining"),
    [
        ("RA", True), ("-RA BR", True), ("+TSRA", True), ("SHRA", True), ("DZ", True),
        ("FZDZ", True), ("-SN", True), ("SHSN", True), ("RASN", True), ("GR", True), ("UP", True),
        ("TSGR", True), ("BR", False), ("FG", False), ("HZ FU", False), ("MIFG", False),
        ("BLSN", False), ("DRSN", False), ("TS", None), ("VCTS", None), ("VCSH", None),
        ("-RA VCTS", True), ("", False),
    ],
)  # fmt: skip
def test_whether_precipitation_falls(groups, raining):
    """Protects the meaning of present weather, as a field and inside the report itself."""
    assert falling(groups, RAW) is raining
    assert falling("", RAW.replace("10SM", f"10SM {groups}")) is raining
    assert read(report(wxString=groups or None)).raining is raining


@pytest.mark.parametrize(
    "raw",
    [
        "METAR KTMH 121153Z AUTO 18008KT 10SM CLR 20/10 A2992 RMK AO1",
        "METAR KTMH 121153Z 18008KT 10SM CLR 20/10 A2992 RMK AO1",
        "METAR KTMH 121153Z AUTO 18008KT 10SM CLR 20/10 A2992 RMK AO2 PWINO $",
        "METAR EZZZ 121150Z AUTO 18008KT 9999 // CLR 20/10 Q1013",
        "METAR EZZZ 121150Z AUTO 18008KT 9999 NCD 20/10 Q1013",
        "",
    ],
)
def test_a_station_that_cannot_tell_does_not_say_dry(raw):
    """Protects against "dry" from a station without a sensor for precipitation."""
    assert falling("", raw) is None
    assert falling("-RA", raw) is True


def test_what_a_report_says_of_other_times_is_not_now():
    """Protects against rain in the trend, in the remarks, or in the name of an airfield."""
    observer = "METAR EZZZ 121150Z 18008KT 9999 FEW030 20/10 Q1013"
    assert falling("", observer) is False
    assert falling("", f"{observer} TEMPO SHRA") is False
    assert falling("", f"{observer} BECMG -RA") is False
    assert falling("", RAW.replace("AO2", "AO2 RAB05E31")) is False
    assert falling("", RAW.replace("KTMH", "SNRA")) is False


@pytest.mark.parametrize(
    ("remark", "mm"), [("P0009", 2.286), ("P0000", 0.0), ("P0125", 31.75), ("", np.nan)]
)
def test_rain_of_the_last_hour(remark, mm):
    """Protects the amount: hundredths of an inch, in the remarks of an hourly report alone."""
    raw = f"{RAW} SLP132 {remark} T02000100"
    assert hourly_rain_mm(raw) == pytest.approx(mm, nan_ok=True)
    assert read(report(rawOb=raw)).rain_mm == pytest.approx(mm, nan_ok=True)
    assert np.isnan(read(report(rawOb=raw, metarType="SPECI")).rain_mm)


def test_an_amount_outside_the_remarks_is_none():
    """Protects against a word that looks like an amount before the remarks."""
    assert np.isnan(hourly_rain_mm(f"P0100 {RAW}"))


@pytest.mark.parametrize("data", [{}, None, "METAR", [None], [report(), 7]])
def test_what_is_no_list_of_reports_is_refused(data):
    """Protects against "no report" where nothing was understood."""
    with pytest.raises(SourceError, match="no list of reports"):
        parse_metar(data, station="KTMH")


def test_reports_without_times_are_refused():
    """Protects against a report of any age that would pass for now."""
    with pytest.raises(SourceError, match="times"):
        parse_metar([report(obsTime=None), report(obsTime="noon")], station="KTMH")


@settings(max_examples=150, deadline=None)
@given(st.one_of(ANY_JSON, spoilt([report(wgst=20, wxString="-RA"), report()])))
def test_any_list_of_reports_is_read_or_refused(data):
    """Protects the run from a reply gone wrong: refused, or a time and possible values."""
    try:
        seen = parse_metar(data, station="KTMH")
    except SourceError:
        return
    assert seen is None or (seen.time.tzinfo is UTC and not seen.gust_ms < 0.0)
