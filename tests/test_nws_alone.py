"""A full plan from the US weather service alone, on its recorded replies, value by value.

The recorded place is 45 N, 93 W; the recording's own "now" is 2026-05-15T12:00Z. The layers are
read here by a second, plain reader, which shares nothing with the adapter.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from importlib.resources import files

import numpy as np
import pandas as pd
import pytest
from standin_nws import NwsStandIn

from trackday.settings import load_settings
from trackday.weather.gather import gather
from trackday.weather.http import open_session
from trackday.weekend.venue import Venue

NOW = datetime(2026, 5, 15, 12, 0, tzinfo=UTC)
NOBODY = "http://127.0.0.1:9"
HOUR = pd.Timedelta(hours=1)
PLACE = {
    "name": "Recorded Hollow",
    "latitude": 45.0,
    "longitude": -93.0,
    "elevation_m": 280.0,
    "timezone": "America/Chicago",
}
STARTS = {"Morning": 15, "Noon": 18, "Afternoon": 21}
"""Hour (UTC) of Saturday 2026-05-16 at which each session of 20 minutes starts."""


@pytest.fixture(scope="module")
def service(recorded, loopback):
    """The stand-in with the recorded replies of one place."""
    folder = recorded / "nws"
    standin = NwsStandIn(loopback, now=NOW)
    standin.cell = ("MPX", 1, 1)
    for endpoint, name in {
        "grid": "gridpoints_MPX_1_1",
        "hourly": "forecast_hourly_MPX_1_1",
        "observations": "observations_KMSP",
        "alerts": "alerts_active",
    }.items():
        standin.replies[endpoint] = json.loads((folder / f"{name}.json").read_text("utf-8"))
    yield standin
    loopback.clear()


@pytest.fixture
def layers(recorded):
    """The raw layers of the recorded grid."""
    text = (recorded / "nws" / "gridpoints_MPX_1_1.json").read_text("utf-8")
    return json.loads(text)["properties"]


def environ(service, folder):
    return {
        **service.environ,
        "TRACKDAY_FORECAST_URL": NOBODY,
        "TRACKDAY_ENSEMBLE_URL": NOBODY,
        "TRACKDAY_ARCHIVE_URL": NOBODY,
        "TRACKDAY_CACHE_DIR": str(folder / "cache"),
        "HOME": str(folder),
    }


def spans(layer):
    """Start, end and value of each entry of a layer."""
    for entry in layer["values"]:
        start, _, length = entry["validTime"].partition("/")
        begin = pd.Timestamp(start)
        yield begin, begin + pd.Timedelta(length), entry["value"]


def valid_at(layer, moment):
    """The value whose span holds the moment."""
    return next(value for begin, end, value in spans(layer) if begin <= moment < end)


def between(layer, moment):
    """On the line between the values at the full hours around a moment."""
    before = moment.floor("h")
    share = (moment - before) / HOUR
    return (1 - share) * valid_at(layer, before) + share * valid_at(layer, before + HOUR)


@pytest.fixture(scope="module")
def plan(service, tmp_path_factory):
    """`trackday plan --json` for three sessions, with Open-Meteo out of reach."""
    tmp_path = tmp_path_factory.mktemp("season")
    for name in ("venues", "events"):
        (tmp_path / name).mkdir()
    starter = files("trackday.weekend") / "starter_garage.toml"
    (tmp_path / "garage.toml").write_text(starter.read_text("utf-8"))
    venue = "\n".join(f"{key} = {json.dumps(value)}" for key, value in PLACE.items())
    (tmp_path / "venues" / "recorded-hollow.toml").write_text(venue)
    sessions = "".join(
        f'[[sessions]]\nname = "{name}"\ndate = 2026-05-16\nstart = "{hour - 5:02d}:00"\n'
        'minutes = 20\nkind = "practice"\n'
        for name, hour in STARTS.items()
    )
    event = tmp_path / "events" / "spring.toml"
    event.write_text(f'name = "Spring"\nvenue = "recorded-hollow"\n{sessions}')
    done = subprocess.run(
        [sys.executable, "-m", "trackday", "plan", event, "--json", "--as-of", NOW.isoformat()],
        env=os.environ | environ(service, tmp_path),
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_office_alone_gives_a_full_plan(plan):
    """Protects the fallback: every source of Open-Meteo down, and still tires and pressures."""
    by_name = {source["name"]: source["status"] for source in plan["sources"]}
    assert by_name["US National Weather Service forecast"] == "fresh"
    assert [s for name, s in by_name.items() if "Open-Meteo" in name or "ensemble" in name] == [
        "failed"
    ] * 3
    assert plan["basis"] == "probability"
    for session in plan["sessions"]:
        assert session["tire"]["choice"] in ("dry", "grooved", "wet")
        assert session["pressure"]["front"]["cold_kpa"] > 100
        assert session["track"]["state_chance"]["unknown"] == 0


def test_temperature_dew_point_and_gust_are_the_layers(plan, layers):
    """Protects every number of the air: equal to the recorded layers at three sessions.

    The station's report of the first hour is a day old by then and has faded to under a thousandth.
    """
    for session in plan["sessions"]:
        middle = pd.Timestamp(session["start"]).tz_convert("UTC") + pd.Timedelta(minutes=10)
        for name, layer in (("temp_c", "temperature"), ("dew_point_c", "dewpoint")):
            expected = between(layers[layer], middle)
            assert session["air"][name] == pytest.approx(expected, abs=0.02), (
                session["name"],
                name,
            )
        gust_ms = valid_at(layers["windGust"], middle.floor("h")) / 3.6
        assert session["air"]["gust_ms"] == pytest.approx(gust_ms, abs=0.01)


@pytest.fixture
def weather(service, tmp_path, monkeypatch):
    """What `gather` makes of the recorded place, without the station's report."""
    settings = load_settings(environ(service, tmp_path), None)
    silent = {"type": "FeatureCollection", "features": []}
    monkeypatch.setitem(service.replies, "observations", silent)
    with open_session(settings.cache_dir, backoff_s=0.0) as session:
        return gather(
            Venue.model_validate(PLACE),
            first_day=date(2026, 5, 15),
            last_day=date(2026, 5, 17),
            as_of=NOW,
            session=session,
            settings=settings,
        ).weather


def test_amounts_are_conserved_over_each_interval(weather, layers):
    """Protects rain amounts: an interval's hours sum to its amount within .01 mm, over all rows.

    Where the office gives a chance but no amount, the wet rows have light rain instead.
    """
    checked = 0
    mean = np.average(weather.rain_mm, axis=0, weights=weather.weights)
    for begin, end, amount in spans(layers["quantitativePrecipitation"]):
        inside = np.asarray((weather.times > begin) & (weather.times <= end))
        if begin < NOW or amount == 0 or inside.sum() != (end - begin) / HOUR:
            continue
        assert mean[inside].sum() == pytest.approx(amount, abs=0.01)
        checked += 1
    assert checked >= 3


def test_hourly_chances_come_from_the_layer(weather, layers):
    """Protects probabilities: one of an interval of L hours is p·(1/L)^.515 in each of them.

    The exponent is that of docs/rain.md; a 12-hour chance is never an hour's own.
    """
    checked = 0
    for begin, end, percent in spans(layers["probabilityOfPrecipitation"]):
        hours = (end - begin) / HOUR
        for stamp in pd.date_range(begin + HOUR, end, freq="h"):
            if stamp <= NOW or stamp not in weather.times or hours > 12:
                continue
            expected = percent / 100 * (1 / hours) ** 0.515
            got = weather.rain_probability[weather.times.get_loc(stamp)]
            assert got == pytest.approx(expected, abs=1e-9), stamp
            checked += 1
    assert checked >= 24


def test_alerts_of_the_place_that_touch_the_weekend_are_shown(plan):
    """Protects warnings: those of the recorded reply that touch the event's day, in their words."""
    assert plan["alerts"]
    for alert in plan["alerts"]:
        assert alert["headline"] or alert["event"]
        onset = datetime.fromisoformat(alert["onset"])
        assert onset < datetime(2026, 5, 17, 5, tzinfo=UTC) + timedelta(hours=1)
