"""The hourly forecast in words, which stands in for the grid."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from junk_json import ANY_JSON, spoilt

from trackday.weather.failures import SourceError
from trackday.weather.nws_grid import parse_gridpoint
from trackday.weather.nws_hourly import parse_hourly
from trackday.weather.regrid import to_whole_hours

NOW = datetime(2027, 6, 12, 12, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)


def period(hour, **more):
    """Write one period, `hour` after NOW."""
    return {
        "startTime": (NOW + hour * HOUR).isoformat(),
        "endTime": (NOW + (hour + 1) * HOUR).isoformat(),
        "temperature": 68,
        "temperatureUnit": "F",
        "probabilityOfPrecipitation": {"unitCode": "wmoUnit:percent", "value": 10 * hour},
        "dewpoint": {"unitCode": "wmoUnit:degC", "value": 10.0},
        "windSpeed": "10 mph",
    } | more


def hourly(*periods, updated=NOW):
    """Make a reply of the given periods."""
    return {"properties": {"updateTime": updated.isoformat(), "periods": list(periods)}}


def test_a_real_forecast_agrees_with_the_real_grid(recorded):
    """Protects both readers: the service made both recorded replies from the same grid.

    Temperatures are rounded to whole °F, wind to 5 mph; chances are copied into each hour.
    """
    as_of = datetime(2026, 5, 15, 12, tzinfo=UTC)

    def read(name, parse):
        path = recorded / "nws" / f"{name}.json"
        return parse(json.loads(path.read_text("utf-8")), as_of=as_of).weather

    words = read("forecast_hourly_MPX_1_1", parse_hourly)
    grid = read("gridpoints_MPX_1_1", parse_gridpoint)
    assert len(words.times) == 157
    # The recording's clock was shifted by 21 minutes, as its maker tells.
    first = list(grid.times).index(words.times[0].floor("h"))
    there = slice(first, first + 156)
    np.testing.assert_allclose(words.air_temp_c[0, :-1], grid.air_temp_c[0, there], atol=0.28)
    np.testing.assert_allclose(words.dew_point_c[0, :-1], grid.dew_point_c[0, there], atol=0.01)
    np.testing.assert_allclose(words.wind_ms[0, :-1], grid.wind_ms[0, there], atol=1.12)
    # The first and the last run of equal chances are cut off, so shorter than in the grid.
    ends = slice(first + 12, first + 150)
    np.testing.assert_allclose(words.rain_probability[12:150], grid.rain_probability[ends])
    assert np.isnan(words.rain_mm).all()
    assert np.isnan(words.gust_ms).all()
    assert len(to_whole_hours(words).times) == 156


def test_stamps_and_units():
    """Protects the hour that a chance belongs to, and the definitions of °F and mph."""
    parsed = parse_hourly(hourly(period(1), period(2), period(3)), as_of=NOW)
    weather = parsed.weather
    assert list(weather.times) == [NOW + hour * HOUR for hour in (1, 2, 3, 4)]
    np.testing.assert_allclose(weather.air_temp_c[0, :3], 20.0)
    np.testing.assert_allclose(weather.wind_ms[0, :3], 4.4704)
    np.testing.assert_allclose(weather.rain_probability, [np.nan, 0.1, 0.2, 0.3])
    assert np.isnan(weather.air_temp_c[0, 3])
    assert parsed.notes == ("hourly forecast: no gusts, no amounts of rain",)


def test_a_second_early_is_the_same_hour():
    """Protects the axis from periods that begin a second before the hour."""
    early = (NOW + 2 * HOUR - timedelta(seconds=1)).isoformat()
    data = hourly(period(1, endTime=early), period(2, startTime=early))
    weather = parse_hourly(data, as_of=NOW).weather
    assert list(weather.times) == [NOW + hour * HOUR for hour in (1, 2, 3)]


@pytest.mark.parametrize(
    ("text", "mph"), [("5 mph", 5.0), ("10 to 15 mph", 12.5), ("0 mph", 0.0), (None, np.nan)]
)
def test_wind_in_words(text, mph):
    """Protects the wind, in every form that the service writes."""
    weather = parse_hourly(hourly(period(1, windSpeed=text)), as_of=NOW).weather
    assert weather.wind_ms[0, 0] == pytest.approx(mph * 0.44704, nan_ok=True)


@pytest.mark.parametrize("text", ["breezy", "10 kt", "10 to mph", 10, {"value": 10}])
def test_other_words_are_refused(text):
    """Protects against wind in a unit or form that is not known."""
    with pytest.raises(SourceError, match="is not understood"):
        parse_hourly(hourly(period(1, windSpeed=text)), as_of=NOW)


def test_repeated_and_unsorted_periods_are_put_in_order():
    """Protects the axis of hours."""
    first = hourly(period(2), period(1, temperature=50), period(1, temperature=59))
    weather = parse_hourly(first, as_of=NOW).weather
    np.testing.assert_allclose(weather.air_temp_c[0, :2], [15.0, 20.0])


@pytest.mark.parametrize(
    ("periods", "reason"),
    [
        ([period(1), period(3)], "missing or out of step"),
        ([period(1, endTime=(NOW + 13 * HOUR).isoformat())], "not hours"),
        ([period(1, startTime="noon")], "times of the hourly forecast"),
        ([period(1, temperatureUnit="R")], "unit 'wmoUnit:degR' of temperature"),
        ([], "no periods"),
        ([None], "no list of periods"),
        (
            [period(1, temperature=None, dewpoint=None, windSpeed="")],
            "none of the values",
        ),
    ],
)
def test_what_is_no_hourly_forecast_is_refused(periods, reason):
    """Protects against twelve-hour periods and holes that would be read as hours."""
    with pytest.raises(SourceError, match=reason):
        parse_hourly(hourly(*periods), as_of=NOW)


def test_too_old_a_forecast_is_refused():
    """Protects against a stand-in that is as old as the grid it stands in for."""
    with pytest.raises(SourceError, match="the hourly forecast is 25 h old"):
        parse_hourly(hourly(period(1), updated=NOW - 25 * HOUR), as_of=NOW)


@settings(max_examples=150, deadline=None)
@given(st.one_of(ANY_JSON, spoilt(hourly(period(1), period(2)))))
def test_any_hourly_reply_is_read_or_refused(data):
    """Protects the run from a reply gone wrong: refused, or weather without impossible values."""
    try:
        weather = parse_hourly(data, as_of=NOW).weather
    except SourceError:
        return
    assert not ((weather.rain_probability < 0.0) | (weather.rain_probability > 1.0)).any()
    assert not (weather.wind_ms < 0.0).any()
    assert np.isnan(weather.rain_mm).all()
