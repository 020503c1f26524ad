"""Reading the provider's hourly block: recorded replies, units, times, and every kind of junk."""

from __future__ import annotations

import copy
import json
import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st

from trackday.weather.columns import Key, Row, read_hourly, split_key
from trackday.weather.failures import SourceError
from trackday.weather.open_meteo import parse_ensemble, parse_forecast
from trackday.weather.series import MEMBER_FIELDS
from trackday.weather.variables import VARIABLES

HOUR = 3600
START = 1_747_267_200  # 2025-05-15T00:00Z


def block(unit="°C", key="temperature_2m", values=(10.0, 11.0, 12.0), **more):
    """Make a small valid reply with one column."""
    return {
        "utc_offset_seconds": 0,
        "hourly_units": {"time": "unixtime", key: unit},
        "hourly": {
            "time": [START + HOUR * n for n in range(len(values))],
            key: list(values),
        },
        **more,
    }


def test_a_recorded_forecast_in_a_half_hour_zone_hour_for_hour(recorded):
    """Protects times and values of a real reply: recorded Open-Meteo forecast for Adelaide."""
    data = json.loads((recorded / "open_meteo" / "vinea__forecast.json").read_text("utf-8"))
    assert data["utc_offset_seconds"] == 34_200
    weather = parse_forecast(data).weather
    assert len(weather.times) == 72
    zone = ZoneInfo("Australia/Adelaide")
    for number, text in enumerate(data["hourly"]["time"]):
        local = weather.times[number].to_pydatetime().astimezone(zone)
        assert local.replace(tzinfo=None) == datetime.fromisoformat(text)
    np.testing.assert_array_equal(weather.air_temp_c[0], data["hourly"]["temperature_2m"])
    np.testing.assert_array_equal(weather.rain_mm[0], data["hourly"]["precipitation"])
    np.testing.assert_array_equal(weather.wind_ms[0], data["hourly"]["wind_speed_10m"])
    assert np.isnan(weather.gust_ms).all()


@pytest.mark.parametrize("name", ["vinea__forecast", "vinea__archive"])
def test_dew_point_of_recorded_humidity(recorded, name):
    """Protects the dew point where none was sent, against Lawrence 2005's form of Magnus."""
    data = json.loads((recorded / "open_meteo" / f"{name}.json").read_text("utf-8"))
    hourly = data["hourly"]
    temp = np.array(hourly["temperature_2m"], dtype=float)
    gamma = np.log(np.array(hourly["relative_humidity_2m"]) / 100.0) + 17.625 * temp / (
        243.04 + temp
    )
    magnus = 243.04 * gamma / (17.625 - gamma)
    above_zero = magnus > 0.5
    assert above_zero.sum() > 30
    ours = parse_forecast(data).weather.dew_point_c[0]
    np.testing.assert_allclose(ours[above_zero], magnus[above_zero], atol=0.1)


def test_recorded_ensemble_members(recorded):
    """Protects the key names of a real ensemble reply: control and 30 members."""
    data = json.loads((recorded / "open_meteo" / "tempi__ensemble.json").read_text("utf-8"))
    weather = parse_ensemble(data, model="some_model").weather
    assert weather.members == tuple(f"some_model/{n}" for n in range(31))
    assert set(weather.centers) == {"some_model"}
    assert weather.weights.sum() == pytest.approx(1.0)
    for n in range(31):
        key = "temperature_2m" if n == 0 else f"temperature_2m_member{n:02d}"
        assert weather.air_temp_c[n, 0] == data["hourly"][key][0]
    # The reply is local time at UTC+2.
    assert str(weather.times[0]) == "2026-07-10 22:00:00+00:00"


def test_recorded_keys_of_several_models(recorded):
    """Protects against the provider's own naming of several models in one reply."""
    text = (recorded / "open_meteo" / "ruby_vcr__general_more_models.yml").read_text("utf-8")
    (body,) = re.findall(r"string: '(\{.*\})'\n", text, flags=re.DOTALL)
    data = json.loads(re.sub(r"\s*\n\s+", " ", body).replace("''", "'"))
    keys = {split_key(key, ["weather_code"]) for key in data["hourly"]}
    assert keys == {
        None,
        Key("weather_code", 0, "best_match"),
        Key("weather_code", 0, "gfs_seamless"),
    }


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("temperature_2m", Key("temperature_2m", 0, "")),
        ("temperature_2m_member07", Key("temperature_2m", 7, "")),
        ("temperature_2m_icon_seamless_eps", Key("temperature_2m", 0, "icon_seamless_eps")),
        ("precipitation_member12_gfs05", Key("precipitation", 12, "gfs05")),
        ("precipitation_probability", Key("precipitation_probability", 0, "")),
        ("precipitation_probability_x", Key("precipitation_probability", 0, "x")),
        ("time", None),
        ("temperature_80m", None),
        ("temperature_2mx", None),
    ],
)
def test_keys_are_taken_apart(text, key):
    """Protects the chance of rain from being read as rain of a model called "probability"."""
    assert split_key(text, list(VARIABLES)) == key


def test_several_models_give_several_centers():
    """Protects the equal say of each center where one reply holds two."""
    data = block(key="temperature_2m_a", values=[1.0])
    for key, value in (("temperature_2m_b", 2.0), ("temperature_2m_member01_b", 3.0)):
        data["hourly"][key] = [value]
        data["hourly_units"][key] = "°C"
    weather = parse_ensemble(data, model="unused").weather
    assert weather.members == ("a/0", "b/0", "b/1")
    assert weather.air_temp_c[:, 0].tolist() == [1.0, 2.0, 3.0]
    assert weather.weights.tolist() == [0.5, 0.25, 0.25]


def test_other_suffixes_are_no_models():
    """Protects against cloud at one level being taken for a further model."""
    data = block(values=[1.0])
    for key in ("cloud_cover", "cloud_cover_low"):
        data["hourly"][key] = [50]
        data["hourly_units"][key] = "%"
    assert read_hourly(data).rows == (Row("", 0),)


@pytest.mark.parametrize(
    ("key", "unit", "sent", "field", "value"),
    [
        # Conversions by their definitions: ISO 80000, NIST SP 811 appendix B.
        ("temperature_2m", "°F", 212.0 - 112.0, "air_temp_c", 37.77777778),
        ("temperature_2m", "°F", -40.0, "air_temp_c", -40.0),
        ("temperature_2m", "K", 300.0, "air_temp_c", 26.85),
        ("wind_speed_10m", "km/h", 36.0, "wind_ms", 10.0),
        ("wind_speed_10m", "mph", 100.0, "wind_ms", 44.704),
        ("wind_speed_10m", "mp/h", 100.0, "wind_ms", 44.704),
        ("wind_gusts_10m", "kn", 100.0, "gust_ms", 51.44444444),
        ("wind_gusts_10m", "m/s", 7.0, "gust_ms", 7.0),
        ("precipitation", "inch", 1.0, "rain_mm", 25.4),
        ("precipitation", "mm", 500.0, "rain_mm", 500.0),
        ("cloud_cover", "%", 100, "cloud_fraction", 1.0),
        ("cloud_cover", "fraction", 0.25, "cloud_fraction", 0.25),
        ("surface_pressure", "hPa", 1013.25, "pressure_pa", 101_325.0),
        ("surface_pressure", "Pa", 98_000, "pressure_pa", 98_000.0),
        ("shortwave_radiation", "W/m²", 1000.0, "ghi_wm2", 1000.0),
        ("shortwave_radiation", "W/m²", -3.0, "ghi_wm2", 0.0),
    ],
)
def test_units_are_read_and_converted(key, unit, sent, field, value):
    """Protects from taking a self-hosted server's km/h for m/s."""
    weather = parse_forecast(block(unit, key, [sent])).weather
    assert getattr(weather, field)[0, 0] == pytest.approx(value, rel=1e-8)


def test_chance_of_rain_becomes_a_fraction():
    """Protects the scale of the provider's own chance."""
    weather = parse_forecast(block("%", "precipitation_probability", [0, 35, 100])).weather
    assert weather.rain_probability.tolist() == pytest.approx([0.0, 0.35, 1.0])


@pytest.mark.parametrize("unit", ["furlong", None, 3, "", "undefined"])
def test_an_unknown_unit_is_refused_by_name(unit):
    """Protects from guessing a unit."""
    with pytest.raises(SourceError, match=r"unit .* of temperature_2m is not known"):
        parse_forecast(block(unit))


def test_a_variable_that_the_model_lacks_is_unknown_and_no_fault():
    """Protects the rest of a reply from a column of nulls with the unit "undefined"."""
    data = block()
    data["hourly"]["wind_gusts_10m"] = [None] * 3
    data["hourly_units"]["wind_gusts_10m"] = "undefined"
    weather = parse_forecast(data).weather
    assert np.isnan(weather.gust_ms).all()
    assert np.isnan(weather.rain_mm).all()
    assert weather.air_temp_c[0].tolist() == [10.0, 11.0, 12.0]


@pytest.mark.parametrize(
    "junk", [None, "NaN", "12", True, [1], {}, float("inf"), float("nan"), 10**400]
)
def test_junk_in_a_column_is_unknown(junk):
    """Protects from taking text, truth values or infinity for weather."""
    values = parse_forecast(block(values=[10.0, junk, 12.0])).weather.air_temp_c[0]
    assert values[[0, 2]].tolist() == [10.0, 12.0]
    assert np.isnan(values[1])


@pytest.mark.parametrize(
    ("key", "unit", "wrong"),
    [
        ("temperature_2m", "°C", -91),
        ("temperature_2m", "°C", 61),
        ("dew_point_2m", "°C", 99),
        ("precipitation", "mm", -0.1),
        ("precipitation", "mm", 501),
        ("precipitation_probability", "%", 101),
        ("cloud_cover", "%", -1),
        ("wind_speed_10m", "m/s", 121),
        ("wind_gusts_10m", "m/s", -1),
        ("shortwave_radiation", "W/m²", 1501),
        ("shortwave_radiation", "W/m²", -11),
        ("surface_pressure", "hPa", 299),
        ("surface_pressure", "hPa", 1101),
    ],
)
def test_impossible_values_are_unknown_and_counted(key, unit, wrong):
    """Protects every decision from a sensor's or a unit's gross error, and says so."""
    data = block(values=[10.0, 11.0, 12.0])
    data["hourly"][key] = [wrong, wrong, None]
    data["hourly_units"][key] = unit
    if key == "temperature_2m":
        data["hourly"]["surface_pressure"] = [990.0] * 3
        data["hourly_units"]["surface_pressure"] = "hPa"
    columns = read_hourly(data)
    assert np.isnan(columns.values[VARIABLES[key].field]).all()
    assert columns.notes == (f"2 impossible values of {key} ignored",)


def test_a_value_beside_its_limit_by_rounding_is_the_limit():
    """Protects later code from a humidity just below nothing, or rain just below none."""
    data = block(values=[10.0])
    for key, unit in (("relative_humidity_2m", "%"), ("precipitation", "mm")):
        data["hourly"][key] = [-1e-12]
        data["hourly_units"][key] = unit
    columns = read_hourly(data)
    assert columns.values["relative_humidity"].tolist() == [[0.0]]
    assert columns.values["rain_mm"].tolist() == [[0.0]]
    assert columns.notes == ()


def test_a_value_that_overflows_in_conversion_is_impossible():
    """Protects the run from numbers at the end of the float range."""
    columns = read_hourly(block("inch", "precipitation", [1.0, 1e308]))
    assert columns.values["rain_mm"][0, 0] == 25.4
    assert np.isnan(columns.values["rain_mm"][0, 1])
    assert columns.notes == ("1 impossible values of precipitation ignored",)


def test_impossible_humidity_gives_no_dew_point():
    """Protects the dew point from a percentage that is none."""
    data = block(values=[10.0, 10.0])
    data["hourly"]["relative_humidity_2m"] = [50, 106]
    data["hourly_units"]["relative_humidity_2m"] = "%"
    dew = parse_forecast(data).weather.dew_point_c[0]
    # Dew point at 10 °C and 50 %: 0.06 °C (Magnus form of Lawrence 2005).
    assert dew[0] == pytest.approx(0.06, abs=0.05)
    assert np.isnan(dew[1])


def test_times_out_of_order_are_sorted_and_repeats_settled():
    """Protects the time axis: values stay with their times, and the last of a repeat counts."""
    data = block(values=[3.0, 1.0, 2.0, 4.0])
    data["hourly"]["time"] = [START + 2 * HOUR, START, START + HOUR, START + 2 * HOUR]
    parsed = parse_forecast(data)
    assert parsed.weather.air_temp_c[0].tolist() == [1.0, 2.0, 4.0]
    assert parsed.weather.times.as_unit("s").asi8.tolist() == [
        START,
        START + HOUR,
        START + 2 * HOUR,
    ]
    assert parsed.notes == (
        "times were out of order and have been sorted",
        "1 repeated times: the last of each counts",
    )


@pytest.mark.parametrize(
    ("text", "offset", "utc"),
    [
        ("2025-05-15T00:00", 0, START),
        ("2025-05-15T09:30", 34_200, START),
        ("2025-05-14T19:00", -18_000, START),
        ("2025-05-15T02:00+02:00", 34_200, START),
        ("2025-05-15T00:00Z", None, START),
    ],
)
def test_local_times_use_the_one_offset_of_the_reply(text, offset, utc):
    """Protects from daylight saving: the provider shifts a whole series by one offset."""
    data = block(values=[1.0], utc_offset_seconds=offset)
    data["hourly"]["time"] = [text]
    assert parse_forecast(data).weather.times.as_unit("s").asi8.tolist() == [utc]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d.pop("hourly"), "no hourly values"),
        (lambda d: d.update(hourly=[1]), "no hourly values"),
        (lambda d: d.update(hourly_units="°C"), "no hourly values"),
        (lambda d: d.pop("hourly_units"), "unit None of temperature_2m"),
        (lambda d: d["hourly"].pop("time"), "no times"),
        (lambda d: d["hourly"].update(time=[]), "no times"),
        (lambda d: d["hourly"].update(time="2025"), "no times"),
        (lambda d: d["hourly"].update(time=[START, None, START]), "time None is not understood"),
        (lambda d: d["hourly"].update(time=[True] * 3), "not understood"),
        (lambda d: d["hourly"].update(time=[0.5] * 3), "not understood"),
        (lambda d: d["hourly"].update(time=[float("nan")] * 3), "not understood"),
        (lambda d: d["hourly"].update(time=["soon"] * 3), "'soon' is not understood"),
        (lambda d: d["hourly"].update(time=[START * 1000] * 3), "not credible"),
        (lambda d: d["hourly"].update(time=[-(2**31)] * 3), "not credible"),
        (lambda d: d["hourly"].update(time=["0001-01-01"] * 3), "not credible"),
        (lambda d: d["hourly"].update(temperature_2m=[1.0]), "one value for each time"),
        (lambda d: d["hourly"].update(temperature_2m=None), "one value for each time"),
        (lambda d: d["hourly"].pop("temperature_2m"), "none of the values"),
        (lambda d: d["hourly"].update(temperature_2m=[None] * 3), "none of the values"),
        (lambda d: d.update(error=True, reason="Too much"), "reports an error: 'Too much'"),
    ],
)
def test_a_form_that_is_not_understood_is_one_plain_line(change, words):
    """Protects from tracebacks, and from weather made of a misread reply."""
    data = block()
    change(data)
    with pytest.raises(SourceError, match=words) as caught:
        parse_forecast(data)
    assert "\n" not in caught.value.reason


def test_local_times_without_an_offset_are_refused():
    """Protects from guessing a zone."""
    data = block(values=[1.0])
    data["hourly"]["time"] = ["2025-05-15T00:00"]
    del data["utc_offset_seconds"]
    with pytest.raises(SourceError, match="no utc_offset_seconds"):
        parse_forecast(data)


def test_parsing_leaves_the_reply_alone():
    """Protects a cached reply from being changed in memory."""
    data = block(values=[5.0, None, 61.0])
    before = copy.deepcopy(data)
    parse_forecast(data)
    assert data == before


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
    ),
    max_leaves=10,
)
TIME = st.integers(START, START + 9 * HOUR)
VALUE = st.none() | st.floats() | st.integers() | st.text(max_size=3)


@st.composite
def replies(draw):
    """Draw a reply that is good but for a place or two."""
    times = draw(st.lists(TIME, min_size=1, max_size=4))
    hourly, units = {"time": times}, {}
    for name in draw(st.lists(st.sampled_from(list(VARIABLES)), min_size=1, max_size=4)):
        for suffix in draw(st.sampled_from([[""], ["", "_member01"], ["_a", "_b"], ["", "_low"]])):
            key, count = name + suffix, len(times)
            hourly[key] = draw(st.lists(VALUE, min_size=count, max_size=count))
            units[key] = draw(st.sampled_from(list(VARIABLES[name].units)))
    spoiled = draw(st.sampled_from([None, hourly, units]))
    if spoiled:
        spoiled[draw(st.sampled_from(list(spoiled)))] = draw(JSON)
    reply = {"hourly": hourly, "hourly_units": units, "utc_offset_seconds": 0}
    if draw(st.integers(0, 9)) == 0:
        reply[draw(st.sampled_from(list(reply)))] = draw(JSON)
    return reply


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(replies() | st.dictionaries(st.text(max_size=8), JSON, max_size=4))
def test_any_json_gives_weather_or_a_source_error(data):
    """Protects the run from whatever a server may send: no other exception ever comes out."""
    try:
        parsed = parse_forecast(data)
    except SourceError:
        event("refused")
        return
    event("read")
    assert parsed.weather.times.is_monotonic_increasing
    for name in MEMBER_FIELDS:
        assert not np.isinf(getattr(parsed.weather, name)).any()


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.floats(-80, 50) | st.none(), min_size=1, max_size=30),
    st.permutations(range(30)),
)
def test_order_of_the_times_does_not_matter(values, order):
    """Protects the pairing of times and values, whatever order they come in."""
    order = [n for n in order if n < len(values)]
    data = block(values=values)
    mixed = block(values=[values[n] for n in order])
    mixed["hourly"]["time"] = [START + HOUR * n for n in order]
    assume(any(value is not None for value in values))
    ours, theirs = parse_forecast(data).weather, parse_forecast(mixed).weather
    assert ours.times.equals(theirs.times)
    np.testing.assert_array_equal(ours.air_temp_c, theirs.air_temp_c)
    assert ours.times[-1] - ours.times[0] == timedelta(hours=len(values) - 1)
