"""Raw layers of the US weather service's grid, against real replies and laws."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from junk_json import ANY_JSON, spoilt

from trackday.weather.failures import SourceError
from trackday.weather.nws_grid import parse_gridpoint
from trackday.weather.series import MEMBER_FIELDS

NOW = datetime(2027, 6, 12, 12, 0, tzinfo=UTC)
START = datetime(2027, 6, 12, 6, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
KMH = 1.0 / 3.6

RECORDED = {
    "gridpoints_MPX_1_1": datetime(2026, 5, 15, 12, 0, tzinfo=UTC),
    "gridpoints_TAE_untouched_2022": datetime(2022, 2, 4, 4, 0, tzinfo=UTC),
}
"""Recorded replies, and a moment at which each was the latest."""


def grid(updated=NOW - HOUR, **layers):
    """Make a reply of the given layers: (uom, [(hours after START, duration, value), …])."""
    return {
        "properties": {"updateTime": updated.isoformat()}
        | {
            name: {
                "uom": uom,
                "values": [
                    {
                        "validTime": f"{(START + after * HOUR).isoformat()}/{duration}",
                        "value": value,
                    }
                    for after, duration, value in values
                ],
            }
            for name, (uom, values) in layers.items()
        }
    }


def parse(**layers):
    """Read a reply of the given layers."""
    return parse_gridpoint(grid(**layers), as_of=NOW)


def at(parsed, field, hours_after_start):
    """One value of a field."""
    place = list(parsed.weather.times).index(START + hours_after_start * HOUR)
    values = getattr(parsed.weather, field)
    return values[place] if values.ndim == 1 else values[0, place]


@pytest.fixture(params=sorted(RECORDED))
def real(recorded, request):
    """Read a recorded reply: its layers, and what the parser makes of it."""
    data = json.loads((recorded / "nws" / f"{request.param}.json").read_text("utf-8"))
    return data["properties"], parse_gridpoint(data, as_of=RECORDED[request.param])


def intervals(layer):
    """Take a layer apart by hand: (start, whole hours, value) of each interval."""
    for entry in layer["values"]:
        start, duration = entry["validTime"].split("/")
        days, hours = re.fullmatch(r"P(?:(\d+)D)?(?:T(\d+)H)?", duration).groups("0")
        yield datetime.fromisoformat(start), 24 * int(days) + int(hours), entry["value"]


@pytest.mark.parametrize(
    ("layer", "field", "to_si", "later"),
    [
        ("temperature", "air_temp_c", 1.0, 0),
        ("dewpoint", "dew_point_c", 1.0, 0),
        ("windSpeed", "wind_ms", KMH, 0),
        ("skyCover", "cloud_fraction", 0.01, 0),
        ("windGust", "gust_ms", KMH, 1),
    ],
)
def test_every_hour_of_a_real_grid(real, layer, field, to_si, later):
    """Protects values, units and stamps: an instant at its hour, a gust in the hour that ends."""
    properties, parsed = real
    expected = {
        start + (hour + later) * HOUR: value * to_si
        for start, length, value in intervals(properties[layer])
        for hour in range(length)
    }
    assert len(expected) > 150
    got = dict(zip(parsed.weather.times, getattr(parsed.weather, field)[0], strict=True))
    for time, value in expected.items():
        assert got.pop(time) == pytest.approx(value, abs=1e-9), time
    assert all(np.isnan(value) for value in got.values())


def test_rain_of_a_real_grid_is_conserved_per_interval(real):
    """Protects amounts: an interval's millimeters are spread over its hours, never repeated."""
    properties, parsed = real
    got = dict(zip(parsed.weather.times, parsed.weather.rain_mm[0], strict=True))
    for start, length, value in intervals(properties["quantitativePrecipitation"]):
        hours = [got.pop(start + (hour + 1) * HOUR) for hour in range(length)]
        assert sum(hours) == pytest.approx(value, abs=0.01)
        assert np.ptp(hours) < 1e-9
    assert all(np.isnan(value) for value in got.values())


def test_chances_of_a_real_grid_are_brought_to_the_hour(real):
    """Protects the odds: 87 % over six hours is no hour's 87 %."""
    properties, parsed = real
    got = dict(zip(parsed.weather.times, parsed.weather.rain_probability, strict=True))
    for start, length, value in intervals(properties["probabilityOfPrecipitation"]):
        for hour in range(length):
            hourly = got.pop(start + (hour + 1) * HOUR)
            assert hourly == pytest.approx(value / 100.0 / min(length, 12) ** 0.515)
    assert all(np.isnan(value) for value in got.values())


def test_a_real_grid_by_eye(recorded):
    """Protects against a mistake shared by parser and tests: values read off the reply by hand.

    Recorded reply for 45, −93: 45 °F at 12:00 on May 15; 0.09 in from 23:00 on May 16 over six
    hours; 87 % from 05:00 on May 17 over six hours; gusts of 6 kt from 05:00 on May 15.
    """
    data = json.loads((recorded / "nws" / "gridpoints_MPX_1_1.json").read_text("utf-8"))
    weather = parse_gridpoint(data, as_of=RECORDED["gridpoints_MPX_1_1"]).weather
    times = list(weather.times)
    assert times[0] == datetime(2026, 5, 15, 5, tzinfo=UTC)
    assert times[-1] == datetime(2026, 5, 22, 23, tzinfo=UTC)
    noon = times.index(datetime(2026, 5, 15, 12, tzinfo=UTC))
    assert weather.air_temp_c[0, noon] == pytest.approx((45 - 32) / 1.8, abs=0.01)
    midnight = times.index(datetime(2026, 5, 17, tzinfo=UTC))
    assert weather.rain_mm[0, midnight : midnight + 6].sum() == pytest.approx(2.286, abs=0.01)
    assert weather.rain_mm[0, midnight - 1] == 0.0
    assert weather.rain_probability[midnight + 6] == pytest.approx(0.3458, abs=1e-4)
    assert np.isnan(weather.gust_ms[0, 0])
    assert weather.gust_ms[0, 1] == pytest.approx(6 * 0.514444, abs=0.01)
    assert np.isnan(weather.pressure_pa).all()
    assert np.isnan(weather.ghi_wm2).all()


def test_half_an_hour_of_twelve_as_it_was_measured():
    """Protects the duration law: a wet 12-hour period leaves .22 for one 30-minute slot.

    Measured by this project on public gauges, and not used in the fit of the exponent.
    """
    parsed = parse(probabilityOfPrecipitation=("wmoUnit:percent", [(0, "PT12H", 100)]))
    half_hour = at(parsed, "rain_probability", 5) * 0.5**0.515
    assert half_hour == pytest.approx(0.22, abs=0.03)


def test_a_long_interval_is_several_periods():
    """Protects against a merged run of equal chances that would seem harmless hour by hour."""
    parsed = parse(probabilityOfPrecipitation=("wmoUnit:percent", [(0, "P2D", 50)]))
    twelve = parse(probabilityOfPrecipitation=("wmoUnit:percent", [(0, "PT12H", 50)]))
    assert at(parsed, "rain_probability", 20) == at(twelve, "rain_probability", 5)


@pytest.mark.parametrize(
    ("duration", "hours"), [("PT1H", 1), ("PT6H", 6), ("P1D", 24), ("P1DT2H", 26), ("P7DT13H", 181)]
)
def test_durations(duration, hours):
    """Protects the interval's end, for every form that the service sends."""
    parsed = parse(temperature=("wmoUnit:degC", [(0, duration, 11.5)]))
    assert list(parsed.weather.times) == [START + hour * HOUR for hour in range(hours + 1)]
    assert (parsed.weather.air_temp_c[0, :-1] == 11.5).all()
    assert np.isnan(parsed.weather.air_temp_c[0, -1])


@pytest.mark.parametrize(
    "duration", ["", "6H", "PT", "P", "PT0H", "-PT1H", "P-1D", "P1Y", "P99D", "PT1H/PT1H", "1 day"]
)
def test_an_odd_duration_is_refused(duration):
    """Protects against an interval of no or any length."""
    with pytest.raises(SourceError, match="temperature is not understood"):
        parse(temperature=("wmoUnit:degC", [(0, duration, 11.5)]))


@pytest.mark.parametrize(
    ("layer", "uom", "sent", "field", "stamp", "si"),
    [
        ("temperature", "unit:degC", 20.0, "air_temp_c", 0, 20.0),
        ("temperature", "wmoUnit:degF", 68.0, "air_temp_c", 0, 20.0),
        ("temperature", "wmoUnit:K", 293.15, "air_temp_c", 0, 20.0),
        ("windSpeed", "wmoUnit:km_h-1", 36.0, "wind_ms", 0, 10.0),
        ("windSpeed", "unit:m_s-1", 10.0, "wind_ms", 0, 10.0),
        ("windGust", "wmoUnit:kt", 10.0, "gust_ms", 1, 5.14444),
        ("quantitativePrecipitation", "unit:m", 0.002, "rain_mm", 1, 2.0),
        ("skyCover", "wmoUnit:percent", 100, "cloud_fraction", 0, 1.0),
        ("pressure", "wmoUnit:hPa", 980.0, "pressure_pa", 0, 98_000.0),
    ],
)
def test_units(layer, uom, sent, field, stamp, si):
    """Protects the units, by old and new vocabulary; definitions of the units are the source."""
    parsed = parse(**{layer: (uom, [(0, "PT1H", sent)])})
    assert at(parsed, field, stamp) == pytest.approx(si, rel=1e-5)


@pytest.mark.parametrize("uom", ["wmoUnit:degR", "degc", None, 7, "wmoUnit:"])
def test_an_unknown_unit_is_named(uom):
    """Protects against a number that would be read in the wrong unit."""
    with pytest.raises(SourceError, match=f"unit {re.escape(repr(uom))} of temperature"):
        parse(temperature=(uom, [(0, "PT1H", 20.0)]))


def test_nulls_and_empty_layers_are_unknown():
    """Protects against a missing amount or gust that would read as dry or calm."""
    parsed = parse(
        temperature=("wmoUnit:degC", [(0, "PT1H", 20.0), (1, "PT2H", None), (3, "PT1H", 21.0)]),
        quantitativePrecipitation=("wmoUnit:mm", [(0, "PT2H", None), (2, "PT2H", 1.0)]),
        windGust=(None, []),
        probabilityOfPrecipitation=(None, [(0, "PT4H", None)]),
    )
    np.testing.assert_equal(parsed.weather.air_temp_c[0], [20.0, np.nan, np.nan, 21.0, np.nan])
    np.testing.assert_equal(parsed.weather.rain_mm[0], [np.nan, np.nan, np.nan, 0.5, 0.5])
    for values in (parsed.weather.gust_ms, parsed.weather.rain_probability):
        assert np.isnan(values).all()


@pytest.mark.parametrize(
    "data",
    [
        grid(),
        grid(temperature=("wmoUnit:degC", [])),
        grid(temperature=(None, [(0, "PT6H", None)]), windGust=("wmoUnit:km_h-1", [])),
    ],
)
def test_a_grid_without_any_value_is_refused(data):
    """Protects against a source that seems to have answered, and says nothing."""
    with pytest.raises(SourceError, match="none of the values"):
        parse_gridpoint(data, as_of=NOW)


def test_the_higher_of_two_parts_of_an_hour_counts():
    """Protects gusts and chances of an hour that two intervals share; amounts are added."""
    parsed = parse(
        windGust=("wmoUnit:m_s-1", [(0, "PT30M", 9.0), (0.5, "PT30M", 4.0)]),
        quantitativePrecipitation=("wmoUnit:mm", [(0, "PT30M", 0.2), (0.5, "PT30M", 0.5)]),
        probabilityOfPrecipitation=("wmoUnit:percent", [(0, "PT30M", 20), (0.5, "PT30M", 60)]),
    )
    assert at(parsed, "gust_ms", 1) == 9.0
    assert at(parsed, "rain_mm", 1) == pytest.approx(0.7)
    assert at(parsed, "rain_probability", 1) == pytest.approx(0.6)


def test_an_hour_known_in_part_is_unknown():
    """Protects against half an hour's rain or gust that would pass for the whole hour's."""
    parsed = parse(
        windGust=("wmoUnit:m_s-1", [(0.5, "PT1H", 4.0)]),
        quantitativePrecipitation=("wmoUnit:mm", [(0.5, "PT2H", 1.0)]),
    )
    np.testing.assert_equal(parsed.weather.rain_mm[0], [np.nan, np.nan, 0.5, np.nan])
    assert np.isnan(parsed.weather.gust_ms).all()


def test_impossible_values_are_unknown_and_told():
    """Protects against 300 °C or a negative amount that would be planned with."""
    parsed = parse(
        temperature=("wmoUnit:degC", [(0, "PT1H", 300.0), (1, "PT1H", 20.0)]),
        quantitativePrecipitation=("wmoUnit:mm", [(0, "PT1H", -1.0), (1, "PT1H", 1.0)]),
    )
    np.testing.assert_equal(parsed.weather.air_temp_c[0], [np.nan, 20.0, np.nan])
    np.testing.assert_equal(parsed.weather.rain_mm[0], [np.nan, np.nan, 1.0])
    assert parsed.notes == (
        "1 impossible values of temperature ignored",
        "1 impossible values of quantitativePrecipitation ignored",
    )


def test_intervals_out_of_order_repeated_or_overlapping_are_mended_and_told():
    """Protects against amounts counted twice, and a late interval read as an early one."""
    parsed = parse(
        temperature=("wmoUnit:degC", [(1, "PT1H", 21.0), (0, "PT1H", 20.0)]),
        quantitativePrecipitation=(
            "wmoUnit:mm",
            [(0, "PT1H", 9.0), (0, "PT1H", 1.0), (1, "PT6H", 6.0), (4, "PT3H", 0.3)],
        ),
    )
    np.testing.assert_allclose(parsed.weather.air_temp_c[0, :2], [20.0, 21.0])
    np.testing.assert_allclose(parsed.weather.rain_mm[0, 1:], [1.0, 1.0, 1.0, 1.0, 0.1, 0.1, 0.1])
    assert parsed.notes == (
        "intervals of temperature were out of order and have been sorted",
        "overlapping intervals of quantitativePrecipitation: the later of each counts",
    )


@pytest.mark.parametrize(
    ("age_h", "note"),
    [
        (0, None),
        (12, None),
        (13, "the grid is 13 h old"),
        (24, "the grid is 24 h old"),
        (-3, "the grid was made 3 h after the moment asked about"),
    ],
)
def test_the_age_of_a_grid_is_told(age_h, note):
    """Protects against yesterday's forecast that looks like today's."""
    data = grid(updated=NOW - age_h * HOUR, temperature=("wmoUnit:degC", [(0, "PT1H", 20.0)]))
    assert parse_gridpoint(data, as_of=NOW).notes == (() if note is None else (note,))


@pytest.mark.parametrize("age_h", [25, 300])
def test_too_old_a_grid_is_refused(age_h):
    """Protects against the 25-hour-old grids that the service has been seen to send."""
    data = grid(updated=NOW - age_h * HOUR, temperature=("wmoUnit:degC", [(0, "PT1H", 20.0)]))
    with pytest.raises(SourceError, match=f"the grid is {age_h} h old"):
        parse_gridpoint(data, as_of=NOW)


@pytest.mark.parametrize("updated", [None, "yesterday", "2027-06-12T11:00:00", 1_800_000_000])
def test_a_grid_of_unknown_age_is_refused(updated):
    """Protects against taking what doesn't tell its age for fresh."""
    data = grid(temperature=("wmoUnit:degC", [(0, "PT1H", 20.0)]))
    data["properties"]["updateTime"] = updated
    with pytest.raises(SourceError, match="does not tell when it was made"):
        parse_gridpoint(data, as_of=NOW)


def test_an_endless_grid_is_refused():
    """Protects memory: intervals that lie decades apart make no axis of hours."""
    with pytest.raises(SourceError, match="not credible"):
        parse(temperature=("wmoUnit:degC", [(0, "PT1H", 20.0), (90_000, "PT1H", 20.0)]))
    with pytest.raises(SourceError, match="more than a grid can have"):
        parse(temperature=("wmoUnit:degC", [(0, "PT1H", 20.0)] * 2001))


amounts = st.lists(
    st.tuples(
        st.integers(0, 5),  # hours of nothing before the interval
        st.integers(1, 30),  # hours of the interval
        st.one_of(st.none(), st.floats(0.0, 60.0)),
    ),
    min_size=1,
    max_size=8,
)


@settings(max_examples=150, deadline=None)
@given(amounts)
def test_rain_is_conserved_for_any_intervals(spans):
    """Protects amounts by law: what is known comes out once, and gaps stay unknown."""
    values, after, known_hours = [], 0, 0
    for gap, length, value in spans:
        after += gap
        values.append((after, f"PT{length}H", value))
        after += length
        known_hours += 0 if value is None else length
    parsed = parse(
        temperature=("wmoUnit:degC", [(0, "PT1H", 20.0)]),
        quantitativePrecipitation=("wmoUnit:mm", values),
    )
    rain = parsed.weather.rain_mm[0]
    total = sum(value for _, _, value in spans if value is not None)
    assert np.nansum(rain) == pytest.approx(total, abs=0.01)
    assert np.isfinite(rain).sum() == known_hours


@settings(max_examples=150, deadline=None)
@given(st.integers(1, 72), st.floats(0.0, 100.0))
def test_an_hour_s_chance_is_never_above_its_interval_s(length, percent):
    """Protects the odds by law, for any length of interval."""
    parsed = parse(probabilityOfPrecipitation=("wmoUnit:percent", [(0, f"PT{length}H", percent)]))
    hourly = parsed.weather.rain_probability[1:]
    assert len(hourly) == length
    assert (hourly <= percent / 100.0 + 1e-12).all()
    assert (hourly >= 0.27 * percent / 100.0).all()


GOOD = grid(
    temperature=("wmoUnit:degC", [(0, "PT2H", 20.0), (2, "PT1H", 21.0)]),
    windGust=("wmoUnit:km_h-1", [(0, "PT3H", 20.0)]),
    quantitativePrecipitation=("wmoUnit:mm", [(0, "PT3H", 1.0)]),
    probabilityOfPrecipitation=("wmoUnit:percent", [(0, "PT3H", 40)]),
)


@settings(max_examples=150, deadline=None)
@given(st.one_of(ANY_JSON, spoilt(GOOD)))
def test_any_reply_is_read_or_refused(data):
    """Protects the run from a reply gone wrong: refused, or weather without impossible values."""
    try:
        weather = parse_gridpoint(data, as_of=NOW).weather
    except SourceError:
        return
    for name in MEMBER_FIELDS:
        values = getattr(weather, name)
        assert np.isfinite(values[~np.isnan(values)]).all()
    assert not (weather.rain_mm < 0.0).any()
    assert not ((weather.rain_probability < 0.0) | (weather.rain_probability > 1.0)).any()
