"""`trackday past` as text, JSON and CSV, and from the command line."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache

import numpy as np
import pytest
from astral import Observer
from astral.sun import sun
from builders import venue
from mirror import invented_summer, mirror_on, packed_summer, serve_archive
from rich.console import Console
from typer.testing import CliRunner

from trackday.cli import app
from trackday.errors import TrackdayError
from trackday.past import make_past
from trackday.plan import weather_window
from trackday.report.past_data import past_csv, past_json
from trackday.report.text_past import print_past
from trackday.weather.climatology import asked_hours
from trackday.weather.history import history_weather
from trackday.weather.history_source import History
from trackday.weather.station_hours import MonthlyMeans
from trackday.weather.stations import Station
from trackday.weekend.starter import write_starter
from trackday.weekend.target import hours_of

YEARS = (2014, 2015)


def made(*, blank=(), **changes):
    """What two invented years brought on a June day, with columns of the record taken out.

    `changes` are those of the history, which touch no number.
    """
    past = computed(tuple(blank))
    return replace(past, history=replace(past.history, **changes))


@cache
def computed(blank):
    place = venue()
    sessions = hours_of(date(2027, 6, 12), place)[:3]
    first_day, last_day = weather_window(sessions)
    asked = asked_hours(first_day=first_day, last_day=last_day, zone=place.zone, years=YEARS)
    table = invented_summer(2014).combine_first(invented_summer(2015)).reindex(asked)
    table[list(blank)] = np.nan
    history = History(
        weather=history_weather(table, place=place).weather,
        kind="station",
        station=Station("72001", "Lone Ridge", 43.7, -91.0, 420.0, 11.12, 120.0),
        normals={6: MonthlyMeans(12.0, 25.0, 101.6)},
        fetched_at=datetime(2026, 1, 1, tzinfo=UTC),
        stale=False,
        notes=(),
        attribution="Station history: Meteostat (https://meteostat.net/), CC BY 4.0",
    )
    return make_past(sessions, venue=place, history=history, years=YEARS, name="June double")


def text(past, units="us"):
    out = io.StringIO()
    print_past(Console(file=out, width=80, markup=False, emoji=False, highlight=False), past, units)
    return out.getvalue()


def test_text_tells_who_measured_and_how_much_is_missing():
    """Protects trust: station, distance, height, years, hours, shares, license, in 80 columns."""
    shown = text(made(notes=("saved earlier: no network",)))
    assert max(map(len, shown.splitlines())) <= 80
    one_line = " ".join(shown.split())
    for words in (
        "June double at Tamarack Hollow in other years",
        "station Lone Ridge (72001), 7 mi away, 394 ft higher",
        "2 years with rain, 2014–2015",
        "none of them counts as dry",
        "days that follow each other are alike",
        "June, 1991–2020: mean low 54 °F, mean high 77 °F, 4.00 in of rain",
        "saved earlier: no network",
        "CC BY 4.0",
    ):
        assert words in one_line
    almanac = sun(Observer(43.6, -91.0), date=date(2027, 6, 12), tzinfo=venue().zone)
    shown_times = re.search(r"Sat: sunrise (\d\d):(\d\d), sunset (\d\d):(\d\d)", one_line)
    minutes = [60 * int(shown_times[i]) + int(shown_times[i + 1]) for i in (1, 3)]
    expected = [60 * almanac[name].hour + almanac[name].minute for name in ("sunrise", "sunset")]
    assert minutes == pytest.approx(expected, abs=1)


def test_text_in_metric_units():
    """Protects the other half of the readers: the same counts, other units."""
    us, metric = text(made()), text(made(), "metric")
    assert "11 km away, 120 m higher" in metric
    assert "°F" not in metric
    days = r"\d+ of \d+"
    assert re.findall(days, us) == re.findall(days, metric)


def test_nothing_known_reads_unknown_and_never_dry():
    """Protects the worst mistake: a record without rain shows no share and no zero."""
    past = made(blank=("prcp",))
    rows = [row for row in text(past).splitlines() if row.startswith("  08–09 h")]
    assert "unknown" in rows[0]
    assert "0 %" not in rows[0]
    data = json.loads(past_json(past))
    for session in data["sessions"]:
        assert session["rain"]["share"] is None
        assert session["rain"]["high"] is None
        assert session["rain"]["known_days"] == 0
    assert all(row["rain_share"] == "" for row in csv.DictReader(io.StringIO(past_csv(past))))


def test_unknown_gusts_are_told():
    """Protects the canopy: a station without gusts does not read as calm."""
    shown = " ".join(text(made(blank=("wpgt",))).split())
    assert "the rest is unknown: gust 0 %" in shown
    assert re.search(r"mph +unknown", text(made(blank=("wpgt",))))


def test_reanalysis_is_called_so():
    """Protects the reader from taking a model for a gauge."""
    shown = text(made(kind="reanalysis", station=None, normals={}))
    assert "from reanalysis (a model's memory of the past, not a gauge)" in shown


def test_json_and_csv_say_what_the_computation_says():
    """Protects programs that read along: same numbers in both, SI, and the promised fields."""
    past = made()
    data = json.loads(past_json(past))
    assert data["schema"] == "trackday.past/1"
    assert set(data) == {
        "schema", "event", "venue", "years_asked", "window_days", "source", "normals", "sessions",
        "light", "attribution",
    }  # fmt: skip
    assert data["source"]["station"]["above_venue_m"] == 120.0
    assert data["source"]["hours_rain_known"] < data["source"]["hours_asked"]
    assert data["normals"]["rain_mm"] == 101.6
    rows = list(csv.DictReader(io.StringIO(past_csv(past))))
    assert len(rows) == len(data["sessions"]) == len(past.sessions) == 3
    for row, session, each in zip(rows, data["sessions"], past.sessions, strict=True):
        assert row["name"] == session["name"] == each.session.name
        assert session["start"].endswith("-05:00")
        assert int(row["rain_wet_days"]) == session["rain"]["wet_days"] == each.rain.wet
        assert float(row["rain_share"]) == session["rain"]["share"]
        assert float(row["track_temp_c_p50"]) == session["track"]["temp_c"]["p50"]
        assert session["track"]["temp_c"]["p50"] == pytest.approx(each.track_temp_c.p50, abs=1e-4)
        assert session["air"]["gust_ms"]["p90"] == pytest.approx(each.air.gust_ms.p90, abs=1e-4)


def test_an_unknown_height_is_said():
    """Protects against "0 ft higher" where nobody knows."""
    station = replace(made().history.station, elevation_m=np.nan, above_m=np.nan)
    assert "elevation unknown" in text(made(station=station))
    assert json.loads(past_json(made(station=station)))["source"]["station"]["elevation_m"] is None


@pytest.fixture
def mirror(loopback, monkeypatch):
    """Give a mirror with two years of one station near the starter's venue."""
    with mirror_on(loopback, monkeypatch) as ready:
        ready.add_station("72001", latitude=43.7, longitude=-91.0)
        for year in YEARS:
            ready.add_year("72001", year, packed_summer(year))
        yield ready


@pytest.fixture
def run(tmp_path, mirror, loopback):
    """Run trackday in its own home and cache, everything it asks on the loopback."""

    def call(*arguments, **environment):
        return subprocess.run(
            [sys.executable, "-m", "trackday", *map(str, arguments)],
            cwd=tmp_path,
            env=os.environ
            | mirror.environ
            | {
                "HOME": str(tmp_path),
                "TRACKDAY_CACHE_DIR": str(tmp_path / "cache"),
                "TRACKDAY_ARCHIVE_URL": loopback.url_for("/v1/archive"),
                "COLUMNS": "80",
            }
            | environment,
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )

    return call


@pytest.fixture
def files(tmp_path):
    """Give starter files for June 2016, the summer after the mirror's."""
    write_starter(
        tmp_path / "season", venue_name="Tamarack Hollow", latitude=43.6, longitude=-91.0,
        elevation_m=300.0, timezone=None, first_day=date(2016, 6, 11),
    )  # fmt: skip
    (event,) = (tmp_path / "season" / "events").iterdir()
    (place,) = (tmp_path / "season" / "venues").iterdir()
    return event, place


def test_the_command_from_fetch_to_offline(run, files, mirror):
    """Protects the whole trip: text of an event, then CSV of its venue from what was saved."""
    event, place = files
    done = run("past", event, "--years", 2)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert "2014–2015" in done.stdout
    asked = len(mirror.asked)
    again = run("past", place, "--date", "2016-06-11", "--years", 2, "--csv", "--offline")
    assert again.returncode == 0, again.stderr
    assert len(list(csv.DictReader(io.StringIO(again.stdout)))) == 10
    assert len(mirror.asked) == asked


def test_the_command_falls_back_on_the_reanalysis(run, files, loopback, mirror):
    """Protects venues far from any station: labeled data, and a reason why."""
    mirror.stations.clear()
    serve_archive(loopback)
    done = run("past", files[0], "--years", 2, "--json")
    assert done.returncode == 0, done.stderr
    data = json.loads(done.stdout)
    assert data["source"]["kind"] == "reanalysis"
    assert any("there is none near" in note for note in data["source"]["notes"])
    assert any("Open-Meteo" in text for text in data["attribution"])


def test_no_other_year_is_exit_3_and_one_line(run, files):
    """Protects scripts: neither station nor reanalysis, told in one line."""
    done = run("past", files[0], "--offline")
    assert done.returncode == 3
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert "run it once without --offline" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("event", "--date", "2016-06-11"), "--date: an event has its own dates"),
        (("event", "--json", "--csv"), "--json and --csv"),
        (("venue", "--date", "June"), "--date"),
        (("event", "--years", "0"), "--years"),
    ],
)
def test_options_that_do_not_fit_are_told(files, mirror, arguments, words):
    """Protects against an answer to another question; nothing is asked meanwhile."""
    which, *options = arguments
    done = CliRunner().invoke(app, ["past", str(files[which == "venue"]), *options])
    told = str(done.exception) if isinstance(done.exception, TrackdayError) else done.output
    assert words in told
    assert done.exit_code != 0
    assert mirror.asked == []
