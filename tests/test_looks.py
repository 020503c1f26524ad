"""Looks: kept with all they were made from, made again exactly, and compared."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from builders import garage, venue, weather
from plans import AS_OF, EVENT, HOURS, gathered, on_days
from starters import write_weekend

from trackday.changes import answer_of
from trackday.errors import TrackdayError
from trackday.knowledge import Knowledge, LastVisit, knowledge_data, knowledge_from
from trackday.log_expected import keep_expected
from trackday.logbook.entry import Entry
from trackday.logbook.looks import looks
from trackday.logbook.store import open_book
from trackday.looks import (
    Asked,
    Recorder,
    earlier_changes,
    find_look,
    keep_look,
    plan_asked,
    replay,
)
from trackday.recall import BookKnowledge
from trackday.report.console import open_console
from trackday.report.data import plan_json
from trackday.report.text_changes import print_changes
from trackday.weather.sources import Gathered
from trackday.weekend.own_list import OwnItem
from trackday.weekend.readings import TrackReading
from trackday.wording import day_clock

KEY = "Tamarack Hollow | Summer Double | 2027-06-12"
ODD = np.random.default_rng(11)


def odd_gather(place, *, first_day, last_day, as_of):
    """A weather with many digits, holes, and rain in some members."""
    rain = np.where(ODD.random((3, HOURS)) < 0.2, ODD.gamma(0.7, 1.3, (3, HOURS)), 0.0)
    sky = weather(
        members=3,
        hours=HOURS,
        rain_mm=rain,
        air_temp_c=18.0 + ODD.normal(size=(3, HOURS)),
        gust_ms=np.where(ODD.random((3, HOURS)) < 0.02, np.nan, 9.0),
    )
    return Gathered(on_days(sky, first_day), (), "ensemble")


@pytest.fixture
def book(tmp_path):
    with open_book(tmp_path / "logbook.sqlite") as opened:
        yield opened


def asked(**changes):
    """A request with readings and a list of the racer's own."""
    full = Asked(
        event=EVENT,
        garage=garage(),
        venue=venue(),
        as_of=AS_OF,
        readings=(TrackReading(21.25, AS_OF - timedelta(minutes=7)),),
        own_list=(OwnItem(item="Torque wrench", quantity="1"),),
    )
    return replace(full, **changes)


def keep(book, request, gather, logbook=None):
    """Plan and keep a look; returns the plan."""
    recorder = Recorder(gather, logbook)
    plan = plan_asked(request, recorder.gather, recorder)
    keep_look(book, KEY, "plan", request, recorder, plan=plan)
    return plan


def test_a_replay_says_the_same_to_the_letter(book):
    """Protects replays: the same JSON from what was kept, odd numbers and holes included."""
    plan = keep(book, asked(), odd_gather)
    again = replay(book, find_look(book, KEY, AS_OF))
    assert plan_json(again) == plan_json(plan)


def test_a_replay_knows_what_the_logbook_knew_then(book):
    """Protects replays from what was learned, or mended in the files, since."""

    class Then:
        def knowledge(self, rig, place, *, as_of):
            visit = LastVisit(
                AS_OF.date(), "Race", (150.0, 149.5), None, 31.5, None, "A", ("x",), ()
            )
            return Knowledge(grooved={"Dry A": AS_OF.date()}, last_visit=visit)

    plan = keep(book, asked(), gathered(), Then())
    again = replay(book, find_look(book, KEY, AS_OF))
    assert again.last_visit == plan.last_visit
    assert plan_json(again) == plan_json(plan)


def test_knowledge_survives_being_written():
    """Protects what is kept beside a look: nothing is lost on the way through JSON."""
    known = Knowledge(grooved={"Dry A": AS_OF.date()})
    assert knowledge_from(json.loads(json.dumps(knowledge_data(known)))) == known
    assert knowledge_from(knowledge_data(Knowledge())) == Knowledge()


def test_the_look_before_is_named_by_its_command(book):
    """Protects a first plan from "nothing has changed" since a look that nobody remembers."""
    then = asked(as_of=AS_OF - timedelta(hours=6))
    recorder = Recorder(gathered(), None)
    plan = plan_asked(then, recorder.gather, recorder)
    keep_look(book, KEY, "load", then, recorder, plan=plan)
    changes = earlier_changes(book, KEY, plan_asked(asked(), gathered(), None))
    out = io.StringIO()
    print_changes(open_console(out), changes, ZoneInfo("America/Chicago"))
    when = day_clock(AS_OF - timedelta(hours=6), ZoneInfo("America/Chicago"))
    assert out.getvalue().strip() == f"Nothing has changed since `load`, {when}."


def test_the_newest_look_before_a_moment_is_found(book):
    """Protects --as-of: a moment between two looks means the earlier of them."""
    for hours in (0, 6, 24):
        keep(book, asked(as_of=AS_OF - timedelta(hours=hours)), gathered())
    assert find_look(book, KEY, AS_OF - timedelta(hours=5)).as_of == AS_OF - timedelta(hours=6)
    with pytest.raises(TrackdayError, match="--replay: no look"):
        find_look(book, KEY, AS_OF - timedelta(days=9))
    with pytest.raises(TrackdayError, match="plan it once"):
        find_look(book, "another event", AS_OF)


def test_a_look_of_another_version_is_refused_in_one_line(book):
    """Protects from a wrong replay: what cannot be read is said, and nothing is guessed."""
    keep(book, asked(), gathered())
    look = find_look(book, KEY, AS_OF)
    broken = replace(look, said={**look.said, "made_from": {"event": {}}})
    with pytest.raises(TrackdayError, match="cannot be read") as caught:
        replay(book, broken)
    assert len(caught.value.lines) == 1


def test_what_changed_is_told_from_look_to_look(book):
    """Protects the line of changes: the looks in the book are what a new one is compared with."""
    keep(book, asked(as_of=AS_OF - timedelta(days=2)), gathered())
    recorder = Recorder(gathered(rain_mm=2.0), None)
    plan = plan_asked(asked(), recorder.gather, None)
    changes = keep_look(book, KEY, "plan", asked(), recorder, plan=plan)
    assert changes.any_flip
    assert len(looks(book, KEY)) == 2
    assert answer_of(plan)["sessions"][0]["tire"] == "wet"


def test_a_reading_is_set_beside_the_look_that_was_kept(book):
    """Protects learning end to end: what a plan keeps is what a later reading is compared with."""
    keep(book, asked(), gathered())
    at = AS_OF + timedelta(hours=3)
    line = Entry(
        day=AS_OF.date(),
        venue="Tamarack Hollow",
        event="Summer Double",
        session="Practice",
        at=at,
        track_temp_c=41.0,
        track_state="dry",
    )
    stored = book.get(book.add(line, when=at))
    assert keep_expected(book, [stored], when=at)["compared"] == 1
    learned = BookKnowledge(book, with_today=True).knowledge(garage(), venue(), as_of=at)
    assert (learned.bias.n, learned.wet_line.n) == (1, 1)


@pytest.fixture
def season(tmp_path, standin, all_environ):
    """Starter files and a way to run the command line on them."""
    environ = os.environ | {"HOME": str(tmp_path), "COLUMNS": "80"} | all_environ

    def run(*arguments):
        return subprocess.run(
            [sys.executable, "-m", "trackday", *map(str, arguments)],
            cwd=tmp_path, env=environ, capture_output=True, text=True, check=False, timeout=60,
        )  # fmt: skip

    return run, write_weekend(tmp_path / "s", standin.today + timedelta(days=2))


def test_replay_and_if_changed_from_the_command_line(season, standin):
    """Protects schedulers and replays end to end: exit 4 when nothing changed, the same JSON."""
    run, event = season
    moment = datetime.combine(standin.today, datetime.min.time(), UTC)
    first = run("plan", event, "--json", "--as-of", moment.isoformat())
    assert first.returncode == 0, first.stderr
    later = (moment + timedelta(hours=2)).isoformat()
    quiet = run("plan", event, "--if-changed", "--offline", "--as-of", later)
    assert (quiet.returncode, quiet.stdout) == (4, "")
    rig = event.parents[1] / "garage.toml"
    rig.write_text(rig.read_text().replace('cockpit = "closed"', 'cockpit = "open"'))
    again = run("plan", event, "--json", "--replay", "--as-of", moment.isoformat())
    assert again.returncode == 0, again.stderr
    assert again.stdout == first.stdout


def test_a_rehearsal_is_no_look(season, tmp_path):
    """Protects scores: what was said beforehand as of a later moment is not judged as said then."""
    run, event = season
    later = (datetime.now(UTC) + timedelta(hours=30)).isoformat()
    done = run("plan", event, "--as-of", later)
    assert done.returncode == 0, done.stderr
    assert "--as-of is still to come: a rehearsal, this look is not kept" in done.stderr
    assert run("plan", event, "--replay", "--as-of", later).returncode == 2
    done = run("plan", event, "--offline")
    assert (done.returncode, done.stderr) == (0, "")
    with open_book(tmp_path / "book" / "logbook.sqlite") as book:
        (key,) = {row["event_key"] for row in book.file.read("SELECT event_key FROM look", ())}
        assert len(looks(book, key)) == 1


def test_a_logbook_that_cannot_be_had_costs_no_plan(season, tmp_path):
    """Protects the plan: a damaged logbook is one line on stderr and a plan without it."""
    run, event = season
    path = tmp_path / "book" / "logbook.sqlite"
    path.parent.mkdir()
    path.write_text("this is no database, however long it may be " * 40)
    done = run("plan", event)
    assert done.returncode == 0, done.stderr
    assert "planned without the logbook" in done.stderr
    assert run("plan", event, "--replay").returncode == 2
