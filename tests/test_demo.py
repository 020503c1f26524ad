"""The offline demo: its story, its independence from network and folder, its replies."""

import os
import subprocess
import sys

import demo_replies
import pytest
from reply_format import read_text

from trackday.demo import EVENT, SATURDAY, WEEK_BEFORE, plan_look, replies_folder, scenario
from trackday.morning import make_morning
from trackday.weekend.reading import load_weekend


@pytest.fixture(scope="module")
def weekend():
    with scenario() as folder:
        return load_weekend(folder / "events" / EVENT)


@pytest.fixture(scope="module")
def monday(weekend):
    return plan_look(weekend, WEEK_BEFORE)


@pytest.fixture(scope="module")
def saturday(weekend):
    return plan_look(weekend, SATURDAY)


def choices(plan):
    return {planned.session.name: planned.tire.choice for planned in plan.sessions}


def test_every_member_of_both_ensembles_is_used(monday):
    """Protects the demo from running on less than it ships: 31 and 51 members."""
    assert monday.basis == "ensemble"
    assert [source.status for source in monday.sources] == ["fresh"] * 3
    assert len(monday.sessions[0].outlook.track.member_temp_c) == 31 + 51


def test_the_forecast_shifts_and_the_decision_with_it(monday, saturday):
    """Protects the story: dry tires on Monday's look, wets for qualifying on Saturday's."""
    assert choices(monday)["Sat Qualifying"] == "dry"
    assert choices(saturday)["Sat Qualifying"] == "wet"
    assert choices(saturday)["Sun Race"] == "dry"


def test_monday_says_to_take_the_wets(monday):
    """Protects the week before: a fair chance of a wet track is worth the place in the rig."""
    assert "wet tires" in monday.take_along.template


def test_saturday_morning_has_an_answer_with_a_time(saturday):
    """Protects the morning's question: an answer and until when it holds."""
    call = make_morning(saturday).call
    assert call.answer == "wait"
    assert call.by is not None
    assert call.session.name == "Sat Qualifying"


def test_wets_on_a_cool_track_start_higher(saturday):
    """Protects the direction: a wet tire on a cool track is set above the last good dry setting."""
    qualifying = saturday.sessions[1]
    assert qualifying.outlook.track.temp_c.p50 < 35
    assert qualifying.pressure.front.offset_kpa > 0


def test_the_shipped_replies_are_what_the_generator_writes(tmp_path):
    """Protects the claim that the replies are invented by a seeded generator: byte for byte."""
    written = demo_replies.write(tmp_path)
    assert len(written) == 6
    for path in written:
        shipped = replies_folder() / path.relative_to(tmp_path).as_posix()
        assert read_text(path) == read_text(shipped), path


def test_demo_needs_no_network_and_no_folder(tmp_path):
    """Protects the first try of a newcomer: proxies that nobody answers, an empty folder."""
    nobody = "http://127.0.0.1:9"
    environment = os.environ | {"HTTP_PROXY": nobody, "HTTPS_PROXY": nobody, "HOME": str(tmp_path)}
    tmp_path.chmod(0o500)
    done = subprocess.run(
        [sys.executable, "-m", "trackday", "demo"],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    tmp_path.chmod(0o700)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    for words in ("invented", "Load Dry A", "Rain tires:", "F / R psi", "Sunset"):
        assert words in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 80
    assert list(tmp_path.iterdir()) == []
