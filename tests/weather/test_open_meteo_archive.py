"""The archive: a recorded reply, days that are not there yet, and how it is asked."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from types import SimpleNamespace

import numpy as np
import psychrolib
import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st
from pytest_httpserver import HTTPServer
from standin import generate
from werkzeug import Request, Response

from trackday.settings import load_settings
from trackday.weather.failures import SourceError
from trackday.weather.open_meteo_archive import get_archive, parse_archive

PLACE = SimpleNamespace(latitude=43.612549, longitude=-91.0375, elevation_m=230.4)
START = 1_747_267_200  # 2025-05-15T00:00Z
UNITS = {
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "precipitation": "mm",
    "cloud_cover": "%",
    "wind_speed_10m": "m/s",
    "wind_gusts_10m": "m/s",
    "shortwave_radiation": "W/m²",
    "surface_pressure": "hPa",
}


@pytest.fixture
def archive(loopback: HTTPServer):
    """Serve generated weather in the provider's form; the last `late` hours are null."""
    state = SimpleNamespace(asked=[], late=0, url=loopback.url_for("").rstrip("/"))

    def answer(request: Request) -> Response:
        state.asked.append(dict(request.args))
        days = [date.fromisoformat(request.args[key]) for key in ("start_date", "end_date")]
        hours = ((days[1] - days[0]).days + 1) * 24
        start = datetime.combine(days[0], datetime.min.time(), UTC).timestamp()
        stamps = start + 3600 * np.arange(hours)
        hourly = generate(stamps, seed=[7])
        names = request.args["hourly"].split(",")
        columns = {name: hourly[name][: hours - state.late] + [None] * state.late for name in names}
        body = {
            "utc_offset_seconds": 0,
            "hourly_units": {"time": "unixtime"} | {name: UNITS[name] for name in names},
            "hourly": {"time": stamps.astype(int).tolist(), **columns},
        }
        return Response(json.dumps(body), content_type="application/json")

    loopback.expect_request("/v1/archive").respond_with_handler(answer)
    yield state
    loopback.clear()


@pytest.fixture
def ask(archive, new_session, tmp_path):
    """Ask the stand-in, always over the same session."""
    environ = {"TRACKDAY_ARCHIVE_URL": archive.url, "TRACKDAY_CACHE_DIR": str(tmp_path)}
    session, at_standin = new_session(), load_settings(environ, None)

    def call(first_day, last_day, *, place=PLACE, offline=False):
        return get_archive(
            session, at_standin, place, first_day=first_day, last_day=last_day, offline=offline
        )

    return call


def test_the_recorded_archive_hour_for_hour(recorded):
    """Protects values, times and the dew point of a real reply (Adelaide, January 2025).

    The wet-bulb temperature that was sent beside them is the check on our dew point: it comes back
    from it by psychrolib's humidity and Stull 2011 (doi 10.1175/JAMC-D-11-0143.1).
    """
    data = json.loads((recorded / "open_meteo" / "vinea__archive.json").read_text("utf-8"))
    parsed = parse_archive(data)
    weather, hourly = parsed.weather, data["hourly"]
    assert parsed.notes == ()
    assert weather.members == ("reanalysis/0",)
    assert weather.centers == ("reanalysis",)
    # The reply says local times at +9:30 throughout, though daylight saving was in force.
    assert str(weather.times[0]) == "2025-01-09 14:30:00+00:00"
    assert len(weather.times) == 72
    np.testing.assert_array_equal(weather.air_temp_c[0], hourly["temperature_2m"])
    np.testing.assert_array_equal(weather.rain_mm[0], hourly["precipitation"])
    np.testing.assert_array_equal(weather.wind_ms[0], hourly["wind_speed_10m"])
    assert np.isnan(weather.gust_ms).all()
    psychrolib.SetUnitSystem(psychrolib.SI)
    temp, dew = weather.air_temp_c[0], weather.dew_point_c[0]
    humidity = np.array(
        [psychrolib.GetRelHumFromTDewPoint(*pair) for pair in zip(temp, dew, strict=True)]
    )
    np.testing.assert_allclose(
        stull_wet_bulb_c(temp, 100.0 * humidity), hourly["wet_bulb_temperature_2m"], atol=0.2
    )


def stull_wet_bulb_c(temp_c, humidity_percent):
    """Wet-bulb temperature, °C, by the formula of Stull 2011."""
    rh = humidity_percent
    return (
        temp_c * np.arctan(0.151977 * np.sqrt(rh + 8.313659))
        + np.arctan(temp_c + rh)
        - np.arctan(rh - 1.676331)
        + 0.00391838 * rh**1.5 * np.arctan(0.023101 * rh)
        - 4.686035
    )


def test_days_that_are_not_there_yet_are_unknown(ask, archive):
    """Protects from dry weather where the reanalysis has not come yet, and says how much."""
    archive.late = 30
    parsed = parse_archive(ask(date(2025, 5, 1), date(2025, 5, 4)).data)
    assert parsed.notes == ("nothing yet for the last 30 hours",)
    assert len(parsed.weather.times) == 96
    assert np.isfinite(parsed.weather.rain_mm[0, :-30]).all()
    assert np.isnan(parsed.weather.rain_mm[0, -30:]).all()


def test_one_known_field_is_not_nothing():
    """Protects the note: an hour counts as reached when anything at all is known of it."""
    data = {
        "hourly_units": {"temperature_2m": "°C", "precipitation": "mm"},
        "hourly": {
            "time": [START, START + 3600, START + 7200],
            "temperature_2m": [10.0, 11.0, None],
            "precipitation": [0.0, None, None],
        },
    }
    parsed = parse_archive(data)
    assert parsed.notes == ("nothing yet for the last 1 hours",)
    np.testing.assert_array_equal(parsed.weather.rain_mm[0], [0.0, np.nan, np.nan])


def test_only_impossible_values_are_nothing():
    """Protects the note where every value that was sent had to be ignored."""
    data = {
        "hourly_units": {"temperature_2m": "°C"},
        "hourly": {"time": [START, START + 3600], "temperature_2m": [99.0, 99.0]},
    }
    assert parse_archive(data).notes == (
        "2 impossible values of temperature_2m ignored",
        "nothing yet for the last 2 hours",
    )


def test_the_request_is_fixed_text(ask, archive):
    """Protects the saved reply: same days and place, same address, whatever the clock says."""
    ask(date(2025, 5, 1), date(2025, 5, 2))
    nearly = SimpleNamespace(latitude=43.61251, longitude=-91.03752, elevation_m=229.9)
    again = ask(date(2025, 5, 1), date(2025, 5, 2), place=nearly, offline=True)
    assert again.from_cache
    assert archive.asked == [
        {
            "latitude": "43.6125",
            "longitude": "-91.0375",
            "elevation": "230",
            "start_date": "2025-05-01",
            "end_date": "2025-05-02",
            "hourly": "temperature_2m,dew_point_2m,precipitation,cloud_cover,wind_speed_10m,"
            "wind_gusts_10m,shortwave_radiation,surface_pressure",
            "models": "era5",
            "wind_speed_unit": "ms",
            "timezone": "GMT",
            "timeformat": "unixtime",
        }
    ]


def test_days_before_the_reanalysis_are_not_asked(ask, archive):
    """Protects from a question that can have no answer: ERA5 begins in 1940 (provider)."""
    with pytest.raises(SourceError, match="begins in 1940"):
        ask(date(1939, 12, 31), date(1940, 1, 2))
    assert archive.asked == []
    assert len(parse_archive(ask(date(1940, 1, 1), date(1940, 1, 1)).data).weather.times) == 24


def test_offline_without_anything_saved(ask, archive):
    """Protects a run without network from asking."""
    with pytest.raises(SourceError, match="nothing saved"):
        ask(date(2025, 5, 1), date(2025, 5, 2), offline=True)
    assert archive.asked == []


VALUES = st.lists(st.none() | st.floats(-1e3, 1e3) | st.text(max_size=2), min_size=1, max_size=9)


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(list(UNITS)), VALUES, st.integers(0, 5))
def test_hours_never_become_known_by_parsing(name, values, late):
    """Protects unknown hours: what was sent as null, text or nonsense stays unknown."""
    values = [*values, *[None] * late]
    data = {
        "hourly_units": {name: UNITS[name]},
        "hourly": {"time": [START + 3600 * n for n in range(len(values))], name: values},
    }
    try:
        parsed = parse_archive(data)
    except SourceError:
        event("refused")
        assert not any(isinstance(value, float) for value in values)
        return
    number = [isinstance(value, float) for value in values]
    for field in ("air_temp_c", "rain_mm", "gust_ms", "cloud_fraction", "pressure_pa"):
        known = np.isfinite(getattr(parsed.weather, field)[0])
        assert not (known & ~np.array(number)).any()
    missing = [note for note in parsed.notes if note.startswith("nothing yet")]
    assert bool(missing) or late == 0
