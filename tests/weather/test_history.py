"""A station's hours as weather: units, limits, cloud, sunshine, height, and gaps that stay gaps."""

from __future__ import annotations

import gzip
import io

import numpy as np
import pandas as pd
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from mirror import invented_year

from trackday.physics.irradiance import mean_clear_ghi_wm2
from trackday.weather.history import history_weather, known_share
from trackday.weather.series import MEMBER_FIELDS


class Place:
    latitude, longitude, elevation_m = 43.6, -91.0, 300.0


def table(hours=24, start="2024-06-15T00:00Z", **columns):
    """A station's table with the columns that are given, constants or lists."""
    index = pd.date_range(start, periods=hours, freq="h")
    return pd.DataFrame(columns, index=index, dtype=float)


def read(data, **options):
    return history_weather(data, place=Place(), **options).weather


def test_units_become_si():
    """Protects wind and gust in m/s (3.6 km/h each), temperature and rain as they come."""
    weather = read(table(temp=21.5, wspd=36.0, wpgt=72.0, prcp=1.4))
    assert weather.air_temp_c[0] == pytest.approx(21.5)
    assert weather.wind_ms[0] == pytest.approx(10.0)
    assert weather.gust_ms[0] == pytest.approx(20.0)
    assert weather.rain_mm[0] == pytest.approx(1.4)


def test_sea_level_pressure_becomes_that_of_the_venue():
    """Protects air density: against PsychroLib's station pressure at 300 m and 15 °C."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetStationPressure(101_325.0, 300.0, 15.0)
    weather = read(table(temp=15.0, pres=1013.25))
    assert weather.pressure_pa[0] == pytest.approx(expected, abs=1.0)
    assert np.isnan(read(table(pres=1013.25)).pressure_pa).all()  # it takes the temperature


def test_dew_point_from_humidity():
    """Protects fog: against PsychroLib's dew point of 20 °C at 60 %."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetTDewPointFromRelHum(20.0, 0.6)
    assert read(table(temp=20.0, rhum=60)).dew_point_c[0] == pytest.approx(expected, abs=0.01)
    assert read(table(temp=20.0, rhum=60, dwpt=9.0)).dew_point_c[0] == pytest.approx(9.0)


def test_temperatures_follow_the_standard_lapse_at_the_same_humidity():
    """Protects a venue below a hilltop: 6.5 K per km (ISO 2533), 3.25 °C for 500 m."""
    data = table(temp=15.0, rhum=80)
    low = history_weather(data, place=Place(), above_m=500.0)
    assert low.weather.air_temp_c[0] == pytest.approx(18.25)
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetTDewPointFromRelHum(18.25, 0.8)
    assert low.weather.dew_point_c[0] == pytest.approx(expected, abs=0.02)
    assert any("far above" in note for note in low.notes)
    high = history_weather(data, place=Place(), above_m=-500.0)
    assert high.weather.air_temp_c[0] == pytest.approx(11.75)
    assert (high.weather.dew_point_c <= high.weather.air_temp_c).all()
    assert any("far below" in note for note in high.notes)


def test_a_small_difference_of_height_is_not_worth_a_note():
    """Protects the reader from noise."""
    assert history_weather(table(temp=15.0), place=Place(), above_m=120.0).notes == ()


def test_an_unknown_height_moves_nothing_and_is_told():
    """Protects against a guess at the station's elevation."""
    parsed = history_weather(table(temp=15.0), place=Place(), above_m=np.nan)
    assert parsed.weather.air_temp_c[0] == pytest.approx(15.0)
    assert any("elevation is not known" in note for note in parsed.notes)


def test_cloud_comes_from_oktas_before_condition_codes():
    """Protects sunshine: oktas over eight, a hidden sky as overcast (WMO code table 2700)."""
    oktas = [0, 2, 4, 8, 9, np.nan, np.nan, -1, 10]
    codes = [8, 8, np.nan, 1, 1, 1, np.nan, np.nan, np.nan]
    cloud = read(table(hours=9, cldc=oktas, coco=codes)).cloud_fraction[0]
    np.testing.assert_allclose(cloud[:5], [0.0, 0.25, 0.5, 1.0, 1.0])
    assert 0.0 <= cloud[5] < 0.1
    assert np.isnan(cloud[6:]).all()


def test_condition_codes_rank_as_their_words_do():
    """Protects the order clear, fair, cloudy, overcast; codes without a meaning say nothing."""
    cloud = read(table(hours=8, coco=[1, 2, 3, 4, 8, 25, 0, 28])).cloud_fraction[0]
    assert cloud[0] < cloud[1] < cloud[2] < cloud[3] == cloud[4]
    assert cloud[5] > 0.7
    assert np.isnan(cloud[6:]).all()


def test_cloud_of_condition_codes_fits_the_recorded_year(recorded):
    """Protects the fitted cloud fractions: mean oktas under each code, recorded hours of 2024."""
    packed = (recorded / "meteostat" / "hourly_2024_10635.csv.gz").read_bytes()
    plain = pd.read_csv(io.BytesIO(gzip.decompress(packed)))
    both = plain.dropna(subset=["coco", "cldc"])
    # As in the fit, without what a forecast model filled in.
    both = both[(both[["coco_source", "cldc_source"]] != "dwd_mosmix").all(axis=1)]
    for codes in ([1], [2], [3], [4], list(range(5, 17))):
        oktas = both[both["coco"].isin(codes)]["cldc"].mean()
        cloud = read(table(hours=1, coco=[codes[0]])).cloud_fraction[0, 0]
        assert cloud == pytest.approx(oktas / 8.0, abs=0.02)


def test_sunshine_comes_from_cloud_and_sun():
    """Protects the track's heat: the clear sky of the sun's path, a quarter of it under overcast.

    1 − 0.75·1^3.4 = 0.25: Kasten & Czeplak 1980, value from memory.
    """
    data = table(hours=48, cldc=[0] * 24 + [8] * 24)
    weather = read(data)
    clear = mean_clear_ghi_wm2(
        weather.times, step_hours=1.0, latitude=43.6, longitude=-91.0, elevation_m=300.0
    )
    np.testing.assert_allclose(weather.ghi_wm2[0, :24], clear[:24])
    np.testing.assert_allclose(weather.ghi_wm2[0, 24:], 0.25 * clear[24:])
    assert 800.0 < clear.max() < 1000.0
    assert clear.min() == 0.0
    assert np.isnan(read(table(temp=10.0)).ghi_wm2).all()  # no cloud known, no sunshine known


def test_gusts_are_never_invented():
    """Protects canopies: a station without gusts has unknown ones, whatever its wind."""
    assert np.isnan(read(table(wspd=40.0)).gust_ms).all()


@pytest.mark.parametrize(
    ("column", "value", "field"),
    [("temp", 75.0, "air_temp_c"), ("prcp", -0.1, "rain_mm"), ("prcp", 900.0, "rain_mm"),
     ("wspd", -5.0, "wind_ms"), ("wpgt", 900.0, "gust_ms"), ("pres", 90.0, "pressure_pa")],
)  # fmt: skip
def test_impossible_values_are_unknown_and_counted(column, value, field):
    """Protects the counts from a stuck sensor: unknown, neither kept nor zero."""
    data = table(temp=10.0).assign(**{column: [value] * 2 + [np.nan] * 22})
    parsed = history_weather(data, place=Place())
    assert np.isnan(getattr(parsed.weather, field)[0, :2]).all()
    assert parsed.notes == (f"2 impossible values of {column} ignored",)


@pytest.mark.parametrize("step", [3, 6, 12, 24])
def test_sums_over_several_hours_are_no_hours_rain(step):
    """Protects the share of wet hours: a six-hour sum says nothing about one hour."""
    rain = [1.0 if hour % step == 0 else np.nan for hour in range(240)]
    parsed = history_weather(table(hours=240, prcp=rain, temp=10.0), place=Place())
    assert np.isnan(parsed.weather.rain_mm).all()
    assert any(f"{step}-hour sums" in note for note in parsed.notes)
    assert known_share(table(hours=240, prcp=rain, temp=10.0)) == 0.0


def test_a_change_of_gauge_costs_only_the_years_before():
    """Protects the years after a station got a recording gauge."""
    old = table(hours=240, start="2010-06-01T00:00Z", prcp=[0.2] + [np.nan] * 239, temp=10.0)
    old.loc[old.index.hour % 6 == 0, "prcp"] = 0.2
    new = table(hours=240, start="2015-06-01T00:00Z", prcp=0.2, temp=10.0)
    weather = read(pd.concat([old, new]))
    assert np.isnan(weather.rain_mm[0, :240]).all()
    assert np.isfinite(weather.rain_mm[0, 240:]).all()
    assert known_share(pd.concat([old, new])) == 0.5


def test_hours_with_gaps_are_kept_as_hours():
    """Protects a good gauge with outages from being taken for one that sums."""
    data = invented_year(2015)[["prcp", "temp"]].copy()
    data.loc[data.index.hour < 10, "prcp"] = np.nan  # out of order every night
    weather = read(data)
    np.testing.assert_array_equal(weather.rain_mm[0], data["prcp"])


@given(st.data())
def test_missing_is_missing(data):
    """Protects the first rule: no cell of any column turns from unknown into a number."""
    columns = {"temp": 12.0, "rhum": 70.0, "prcp": 0.0, "wspd": 10.0, "wpgt": 20.0,
               "pres": 1010.0, "cldc": 3.0, "coco": 3.0}  # fmt: skip
    blank = data.draw(st.lists(st.sampled_from(sorted(columns)), unique=True))
    weather = read(table(hours=3, **(columns | dict.fromkeys(blank, np.nan))))
    needs = {
        "air_temp_c": {"temp"}, "dew_point_c": {"temp", "rhum"}, "wind_ms": {"wspd"},
        "gust_ms": {"wpgt"}, "rain_mm": {"prcp"}, "pressure_pa": {"pres", "temp"},
    }  # fmt: skip
    for field, needed in needs.items():
        unknown = np.isnan(getattr(weather, field))
        assert unknown.all() == bool(needed & set(blank))
        assert unknown.any() == unknown.all()
    no_cloud = {"cldc", "coco"} <= set(blank)
    assert np.isnan(weather.cloud_fraction).all() == no_cloud
    assert np.isnan(weather.ghi_wm2).all() == no_cloud


def test_an_empty_table_is_unknown_everywhere():
    """Protects a station without a single column."""
    weather = read(table(hours=5))
    for name in MEMBER_FIELDS:
        assert np.isnan(getattr(weather, name)).all(), name


@pytest.mark.parametrize(
    "index",
    [
        pd.date_range("2024-06-01", periods=3, freq="h"),
        pd.date_range("2024-06-01", periods=3, freq="h", tz="Europe/Paris"),
        pd.date_range("2024-06-01", periods=3, freq="h", tz="UTC")[::-1],
        pd.date_range("2024-06-01T00:30", periods=3, freq="h", tz="UTC"),
        pd.RangeIndex(3),
    ],
    ids=["no zone", "local", "falling", "half hours", "no times"],
)
def test_other_times_are_refused(index):
    """Protects the hour: a table whose clock is not UTC would shift every session."""
    with pytest.raises(ValueError, match="times"):
        history_weather(pd.DataFrame({"temp": [1.0, 2.0, 3.0]}, index=index), place=Place())
