"""The command line as its user meets it: subprocesses, exit codes, one line a fault."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from standin import Fault
from starters import write_weekend

COMMANDS = (
    "demo",
    "init",
    "check",
    "plan",
    "load",
    "morning",
    "light",
    "season",
    "past",
    "score",
    "log",
)


@pytest.fixture
def run(tmp_path, all_environ):
    """Run trackday in its own home and cache, its services on the loopback."""

    def call(*arguments, **environment):
        return subprocess.run(
            [sys.executable, "-m", "trackday", *map(str, arguments)],
            cwd=tmp_path,
            env=os.environ | {"HOME": str(tmp_path), "COLUMNS": "80"} | all_environ | environment,
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )

    return call


@pytest.fixture
def event(tmp_path, standin):
    """Starter files for a weekend that begins in two days."""
    first = standin.today + timedelta(days=2)
    return write_weekend(tmp_path / "season", first, venue_name="Tamarack Hollow")


def test_help_is_quick_and_names_every_command(run):
    """Protects the first second: heavy libraries are not imported for help."""
    best = min(_seconds(run, "--help") for _ in range(3))
    done = run("--help")
    for name in COMMANDS:
        assert re.search(rf"^  {name} ", done.stdout, re.MULTILINE)
    assert best < 0.35 * _slowness()


def _seconds(run, *arguments):
    start = time.perf_counter()
    assert run(*arguments).returncode == 0
    return time.perf_counter() - start


def _slowness():
    """How much slower than usual a bare interpreter starts here now (at least 1)."""
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", "pass"], check=True)
    return max(1.0, (time.perf_counter() - start) / 0.03)


def test_starter_files_pass_check(run, tmp_path):
    """Protects a newcomer's first two commands."""
    done = run(
        "init", tmp_path / "season", "--venue", "Tamarack Hollow", "--lat", 43.6, "--lon", -91.0,
        "--elevation", 300, "--date", "2027-06-12",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    (event,) = (tmp_path / "season" / "events").iterdir()
    files = [event, event.parents[1] / "garage.toml", *(event.parents[1] / "venues").iterdir()]
    done = run("check", *files)
    assert done.returncode == 0, done.stderr
    assert done.stdout.count(": good") == 3


def test_init_without_a_place_leaves_it_to_be_written(run, tmp_path):
    """Protects against planning for a place that nobody chose; each fault is told once."""
    done = run("init", tmp_path / "new")
    assert done.returncode == 0
    assert "latitude, longitude and timezone are not known; write your venue's" in done.stderr
    assert "elevation_m is not known" in done.stderr
    (event,), (venue,) = ((tmp_path / "new" / name).iterdir() for name in ("events", "venues"))
    near = venue.relative_to(tmp_path), event.relative_to(tmp_path)
    for command in (("check", venue, event), ("check", *near), ("plan", event)):
        done = run(*command)
        assert done.returncode == 2
        fields = [line.split(": ")[1] for line in done.stderr.splitlines()]
        assert fields == ["latitude", "longitude", "elevation_m", "timezone"]


def test_init_never_overwrites(run, event):
    """Protects what the racer wrote."""
    before = event.read_text()
    done = run(
        "init", event.parents[1], "--venue", "Tamarack Hollow", "--lat", 43.6, "--lon", -91.0,
        "--date", event.name[:10],
    )  # fmt: skip
    assert done.returncode == 2
    assert all("already" in line for line in done.stderr.splitlines())
    assert event.read_text() == before


def test_plan_as_text(run, event):
    """Protects the whole trip against a live server, piped: 80 columns, no color, no noise."""
    done = run("plan", event)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert "\x1b" not in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80
    for words in (
        "SESSIONS",
        "TO DO, IN ORDER OF TIME",
        "COLD PRESSURES",
        "CANOPY",
        "LIGHT",
        "CAUTION",
        "CC BY 4.0",
    ):
        assert words in done.stdout


def test_plan_as_json_keeps_the_contract(run, event):
    """Protects the schema that other programs read."""
    done = run("plan", event, "--json")
    assert done.returncode == 0, done.stderr
    plan = json.loads(done.stdout)
    assert plan["schema"] == "trackday.plan/1"
    assert plan["basis"] == "ensemble"
    assert [source["role"] for source in plan["sources"]] == [
        "hourly forecast", "rain odds", "rain odds", "local office", "warnings", "weather now",
    ]  # fmt: skip
    assert [source["status"] for source in plan["sources"]] == ["fresh"] * 6
    assert plan["alerts"] == []
    assert plan["observation"]["station"] == "KTMH"
    assert len(plan["sessions"]) == 6
    for session in plan["sessions"]:
        assert set(session) == {
            "name", "kind", "start", "end", "rain", "track", "air", "tire", "pressure", "fog",
            "thunder", "engine", "glare",
        }  # fmt: skip
        assert sum(session["track"]["state_chance"].values()) == pytest.approx(1, abs=1e-3)
        assert session["rain"]["low"] <= session["rain"]["chance"] <= session["rain"]["high"]
        assert session["tire"]["choice"] in ("dry", "grooved", "wet", "undecided")
        assert session["pressure"]["front"]["cold_kpa"] > 100
    assert {
        "canopy", "light", "load", "ground", "tow", "heat", "cold", "thunder", "decisions",
        "changes", "cautions", "attribution",
    } <= set(plan)  # fmt: skip
    assert all(
        plan[part] is not None for part in ("canopy", "light", "load", "ground", "tow", "heat")
    )


def test_units_change_words_not_decisions(run, event):
    """Protects advice from the units it is shown in: same tires, other numbers."""
    us, metric = run("plan", event), run("plan", event, "--units", "metric")
    assert "°F" in us.stdout
    assert "°F" not in metric.stdout
    assert "km/h" in metric.stdout

    def tires(done):
        return re.findall(r"\d\d:\d\d  (dry|grooved|WET|UNKNOWN)", done.stdout)

    assert len(tires(us)) == 6
    assert tires(us) == tires(metric)


def test_offline_uses_what_was_saved(run, event, standin):
    """Protects a paddock without signal: planned at home, read again offline."""
    assert run("plan", event).returncode == 0
    asked = len(standin.asked)
    done = run("plan", event, "--offline", "--json")
    assert done.returncode == 0, done.stderr
    assert len(standin.asked) == asked
    assert json.loads(done.stdout)["basis"] == "ensemble"


def test_offline_without_anything_saved_is_exit_3(run, event):
    """Protects scripts: no weather has its own exit code, one line and a mend."""
    done = run("plan", event, "--offline")
    assert done.returncode == 3
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert "without --offline" in done.stderr


def test_without_ensembles_the_forecast_serves(run, event, standin):
    """Protects the fallback: hourly probabilities in place of members."""
    for model in ("ncep_gefs_seamless", "ecmwf_ifs025_ensemble"):
        standin.fail(Fault(status=400, body='{"error":true,"reason":"no such model"}'), of=model)
    done = run("plan", event, "--json")
    assert done.returncode == 0, done.stderr
    plan = json.loads(done.stdout)
    assert plan["basis"] == "probability"
    statuses = [source["status"] for source in plan["sources"]]
    assert statuses == ["fresh", "failed", "failed", "fresh", "fresh", "fresh"]
    assert all(session["rain"]["basis"] == "probability" for session in plan["sessions"])


def test_everything_failing_is_exit_3(run, event, standin, office):
    """Protects against a plan from nothing."""
    office.fail(Fault(status=400))
    standin.fail(Fault(status=400, body='{"error":true,"reason":"closed today"}'))
    done = run("plan", event)
    assert done.returncode == 3
    assert len(done.stderr.splitlines()) == 1
    assert "closed today" in done.stderr


def test_missing_rain_never_yields_dry(run, event, standin, office):
    """Protects the worst mistake end to end: no rain column anywhere, no dry tire anywhere."""
    office.fail(Fault(status=404))
    standin.absent = {
        "": {"precipitation", "precipitation_probability"},
        "ncep_gefs_seamless": {"precipitation"},
        "ecmwf_ifs025_ensemble": {"precipitation"},
    }
    done = run("plan", event, "--json")
    assert done.returncode == 0, done.stderr
    for session in json.loads(done.stdout)["sessions"]:
        assert session["tire"]["choice"] == "undecided"
        assert session["rain"]["chance"] is None
        assert session["track"]["state_chance"]["unknown"] == 1


def test_morning_answers_first(run, event, standin):
    """Protects the tired reader: the call comes before everything but the title."""
    day = standin.today + timedelta(days=2)
    done = run("morning", event, "--day", day)
    assert done.returncode == 0, done.stderr
    assert any(text.startswith("Rain tires: ") for text in done.stdout.splitlines()[:4])
    data = json.loads(run("morning", event, "--day", day, "--json").stdout)
    assert data["rain_tires"]["answer"] in ("yes", "no", "wait", "unknown", "done")
    assert len(data["sessions"]) == 3


def test_a_track_reading_moves_the_morning(run, event, standin):
    """Protects `--track`: a hot reading warms the next session and is told."""
    day = standin.today + timedelta(days=2)
    base = ("morning", event, "--day", day, "--json")
    plain = json.loads(run(*base).stdout)
    done = run(*base, "--track", "60C@08:40")
    assert done.returncode == 0, done.stderr
    got = json.loads(done.stdout)
    assert got["track_readings"][0]["temp_c"] == 60
    first, before = (data["sessions"][0]["track"]["temp_c"]["p50"] for data in (got, plain))
    assert before + 2 < first < 60
    assert run(*base, "--track", "60@08:40").returncode == 2


def test_morning_on_a_day_without_sessions(run, event, standin):
    """Protects against an answer for the wrong day."""
    done = run("morning", event, "--day", standin.today)
    assert done.returncode == 2
    assert "has no session on" in done.stderr


def test_light_needs_no_network(run, event, standin):
    """Protects the evening: no request, sun times in venue time."""
    done = run("light", event, "--json")
    assert done.returncode == 0, done.stderr
    assert standin.asked == []
    (first, _) = json.loads(done.stdout)["light"]
    assert first["civil_dawn"] < first["sunrise"] < first["sunset"] < first["civil_dusk"]
    assert datetime.fromisoformat(first["sunrise"]).utcoffset() is not None


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--as-of", "yesterday"), "--as-of"),
        (("--as-of", "2027-03-14T02:30"), "does not exist"),
        (("--units", "furlongs"), "--units"),
    ],
)
def test_wrong_options_are_told(run, event, arguments, words):
    """Protects against a plan for another moment than was meant."""
    done = run("plan", event, *arguments)
    assert done.returncode == 2
    assert words in done.stderr
    assert done.stdout == ""


def test_an_unknown_unit_is_told_in_plain_words(run, event):
    """Protects from a library's inner words in place of what to write."""
    done = run("light", event, "--units", "imperial")
    assert done.returncode == 2
    assert "'--units': 'imperial' is not known; write us or metric" in done.stderr
    assert "Value error" not in done.stderr


def test_a_page_that_cannot_be_written_costs_no_plan(run, event):
    """Protects the answer on the screen, and the event from being taken for the page's file."""
    before = event.read_text()
    done = run("load", event, "--page", event)
    assert done.returncode == 2
    assert "[ ]" in done.stdout
    (line,) = done.stderr.splitlines()
    assert f"--page: {event} is there already and is no page of trackday" in line
    assert event.read_text() == before


def test_an_event_that_is_over_says_so_first(run, standin, tmp_path):
    """Protects from loading for last week, and leads to what came; data stays data."""
    event = write_weekend(tmp_path / "season", standin.today - timedelta(days=4))
    sunday = standin.today - timedelta(days=3)
    said = [
        f"This event is over ({sunday:%a %Y-%m-%d}). What came:",
        f"  trackday score {event}",
    ]
    done = run("load", event)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[:2] == said
    done = run("morning", event, "--day", f"{sunday:%a}", "--json")
    assert done.returncode == 0, done.stderr
    assert done.stderr.splitlines()[-2:] == said
    assert json.loads(done.stdout)["day"] == f"{sunday}"


def test_a_broken_event_is_one_line(run, event, standin):
    """Protects the promise for bad input: file, field, mend, exit code 2, nothing asked."""
    event.write_text(event.read_text().replace('"09:00"', '"25:00"', 1))
    done = run("plan", event)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert event.name in done.stderr
    assert "start" in done.stderr
    assert standin.asked == []


def test_output_into_a_closed_pipe_is_quiet(event, standin, tmp_path):
    """Protects `trackday plan … | head`."""
    done = subprocess.run(
        f"{sys.executable} -m trackday light {event} | head -n 1",
        shell=True,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.stderr == ""


def test_as_of_replays_a_moment(run, event, standin):
    """Protects replays: the plan carries the moment that was asked for, in venue time."""
    moment = datetime.combine(standin.today, datetime.min.time(), UTC) + timedelta(hours=30)
    done = run("plan", event, "--json", "--as-of", moment.isoformat())
    assert datetime.fromisoformat(json.loads(done.stdout)["as_of"]) == moment


def test_the_readme_names_every_command():
    """Protects the README from commands that it forgets."""
    readme = (Path(__file__).resolve().parents[1] / "README.md").read_text("utf-8")
    for name in COMMANDS:
        assert f"`trackday {name}" in readme or f"trackday {name}" in readme
