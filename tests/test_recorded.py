"""The whole trip on real recorded replies, served by a stand-in on the loopback."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest
from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

EVENT = """
name = "Winter test"
venue = "half-hour-hollow"

[[sessions]]
name = "Morning"
date = 2026-07-17
start = "09:00"
minutes = 30
kind = "practice"

[[sessions]]
name = "Afternoon"
date = 2026-07-17
start = "14:00"
minutes = 30
kind = "race"
"""

VENUE = """
name = "Half-Hour Hollow"
latitude = -34.76
longitude = 138.65
elevation_m = 12
timezone = "Australia/Adelaide"
"""


@pytest.fixture
def season(tmp_path, recorded):
    """An invented venue at the place of the recording, which lies in a half-hour zone."""
    from trackday.weekend.starter import _filled

    (tmp_path / "venues").mkdir()
    (tmp_path / "events").mkdir()
    (tmp_path / "venues" / "half-hour-hollow.toml").write_text(VENUE)
    (tmp_path / "events" / "winter.toml").write_text(EVENT)
    (tmp_path / "garage.toml").write_text(_filled("starter_garage.toml", {}))
    return tmp_path


def plan(season, url):
    done = subprocess.run(
        [
            sys.executable, "-m", "trackday", "plan", "events/winter.toml", "--json",
            "--as-of", "2026-07-16T18:00",
        ],
        cwd=season,
        env=os.environ
        | {
            "HOME": str(season),
            "TRACKDAY_CACHE_DIR": str(season / "cache"),
            "TRACKDAY_FORECAST_URL": url,
            "TRACKDAY_ENSEMBLE_URL": url,
        },
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def generated_ensemble(request: Request) -> Response:
    """An ensemble of 31 in the provider's exact format over the recorded days: rain from 03:00Z."""
    names = request.args["hourly"].split(",")
    times = [1784073600 + 3600 * hour for hour in range(96)]  # from 2026-07-15T00:00Z
    values = {
        "temperature_2m": 12.0, "dew_point_2m": 8.0, "cloud_cover": 80, "wind_speed_10m": 4.0,
        "wind_gusts_10m": 9.0, "shortwave_radiation": 120.0, "surface_pressure": 1012.0,
        "cape": 0.0,
    }  # fmt: skip
    units = {
        "temperature_2m": "°C", "dew_point_2m": "°C", "cloud_cover": "%", "wind_speed_10m": "m/s",
        "wind_gusts_10m": "m/s", "shortwave_radiation": "W/m²", "surface_pressure": "hPa",
        "precipitation": "mm", "cape": "J/kg",
    }  # fmt: skip
    start = 1784257200  # 2026-07-17T03:00Z, 12:30 at the venue
    hourly = {"time": times}
    for member in range(31):
        for name in names:
            key = name if member == 0 else f"{name}_member{member:02d}"
            rain = [1.5 if t > start and member % 2 else 0.0 for t in times]
            hourly[key] = rain if name == "precipitation" else [values[name]] * len(times)
    body = {
        "latitude": -34.75, "longitude": 138.75, "generationtime_ms": 1.1, "utc_offset_seconds": 0,
        "timezone": "GMT", "timezone_abbreviation": "GMT", "elevation": 12.0,
        "hourly_units": {"time": "unixtime"}
        | {key: units[key.split("_member")[0]] for key in hourly if key != "time"},
        "hourly": hourly,
    }  # fmt: skip
    return Response(json.dumps(body), content_type="application/json; charset=utf-8")


def test_recorded_forecast_alone_gives_a_plan(season, recorded, loopback: HTTPServer):
    """Protects real input: a half-hour zone, local ISO times, m/s, no dew point, cloud or gust.

    Checked value by value against the recorded body: 09:15 local lies a quarter of the way from
    the 09:00 to the 10:00 value.
    """
    body = (recorded / "open_meteo" / "vinea__forecast.json").read_text("utf-8")
    loopback.expect_request("/v1/forecast").respond_with_data(
        body, content_type="application/json; charset=utf-8"
    )
    loopback.expect_request("/v1/ensemble").respond_with_data(
        '{"error":true,"reason":"no ensemble here"}', status=400, content_type="application/json"
    )
    got = plan(season, loopback.url_for("").rstrip("/"))
    loopback.clear()
    hourly = json.loads(body)["hourly"]
    nine = hourly["time"].index("2026-07-17T09:00")
    for name, key in (("temp_c", "temperature_2m"), ("wind_ms", "wind_speed_10m")):
        expected = 0.75 * hourly[key][nine] + 0.25 * hourly[key][nine + 1]
        # Whole UTC hours lie at half past there, so a straight line is drawn over two halves.
        assert got["sessions"][0]["air"][name] == pytest.approx(expected, abs=0.35)
    assert got["basis"] == "single forecast"
    assert got["sessions"][0]["air"]["gust_ms"] is None
    assert got["canopy"][0]["action"] == "unknown"
    assert [source["status"] for source in got["sources"]][:3] == ["fresh", "failed", "failed"]
    amount = hourly["precipitation"][nine + 1] / 2
    assert got["sessions"][0]["rain"]["amount_mm"]["p50"] == pytest.approx(amount, abs=0.3)


def test_recorded_forecast_with_an_ensemble(season, recorded, loopback: HTTPServer):
    """Protects the odds: half of the members rain from 12:30 on, so the afternoon is even."""
    body = (recorded / "open_meteo" / "vinea__forecast.json").read_text("utf-8")
    loopback.expect_request("/v1/forecast").respond_with_data(
        body, content_type="application/json; charset=utf-8"
    )
    loopback.expect_request("/v1/ensemble").respond_with_handler(generated_ensemble)
    got = plan(season, loopback.url_for("").rstrip("/"))
    loopback.clear()
    morning, afternoon = got["sessions"]
    assert got["basis"] == "ensemble"
    assert morning["rain"]["chance"] < 0.05
    assert afternoon["rain"]["chance"] == pytest.approx(15 / 31, abs=0.03)
    assert afternoon["tire"]["choice"] == "wet"
    assert "dry" in afternoon["tire"]["vetoed"]
