"""The written weekends: every line of the crew holds in the plan that the code makes."""

from __future__ import annotations

import socket
from io import StringIO

import crew_paddock  # noqa: F401  # enters its checks
import crew_sight  # noqa: F401  # enters its checks
import crew_tires  # noqa: F401  # enters its checks
import numpy as np
import pytest
from crew_plans import STORIES, seen
from crew_seen import CHECKS, Check, Seen
from demo_skies import SKIES
from demo_weekends import write_weekend
from reply_format import read_text

from trackday.demo.replaying import replies_folder
from trackday.demo.stories import demo_weekends, find_story, weekends_folder
from trackday.demo.telling import show_list, show_story
from trackday.errors import TrackdayError
from trackday.report.console import open_console
from trackday.weekend.reading import check_file

LINES = [(story.name, line.topic) for story in STORIES.values() for line in story.crew]
ASKED = {
    "steady-rain", "shower-at-noon", "drying-track", "fog-at-dawn", "desert-heat", "gale",
    "thunder-afternoon", "frost", "high-elevation", "half-known", "everything-unknown",
    "perfect-day",
}  # fmt: skip
MOST_CACHE_BYTES = 3_000_000


@pytest.mark.parametrize(("name", "topic"), LINES)
def test_what_the_crew_says_holds(name, topic):
    """Protects each decision of a weekend and the facts behind it: a line without a check fails."""
    assert (name, topic) in CHECKS, f"the crew's line on {topic} in {name} has no check"
    CHECKS[name, topic](seen(name))


def test_every_check_has_its_line():
    """Protects the stories from losing a line that a check still waits for."""
    assert set(CHECKS) == set(LINES)


@pytest.mark.parametrize(("name", "topic"), LINES)
def test_a_check_can_fail(name, topic):
    """Protects the checks from saying what is true of any weekend: each fails on another one."""
    check = CHECKS[name, topic]
    assert any(_fails(check, seen(other)) for other in STORIES if other != name)


def test_all_weekends_are_there():
    """Protects the set of skies, each with its folder of files, table of weather and replies."""
    assert set(STORIES) == set(SKIES) == ASKED
    for name in ASKED:
        assert (replies_folder() / "weekends" / name / "forecast.json").is_file()


def test_files_of_the_weekends_are_good():
    """Protects the garage, venue and event files from faults that `trackday check` would show."""
    with weekends_folder() as folder:
        paths = [path for path in folder.rglob("*.toml") if path.name != "story.toml"]
        assert len(paths) >= 2 * len(ASKED) + 1
        assert [line for path in paths for line in check_file(path)] == []


def test_each_morning_is_looked_at_before_its_first_session():
    """Protects the stories' clock: six in the morning of the first day, after the replies."""
    for name, story in STORIES.items():
        first = seen(name).plan.sessions[0].session.start.astimezone(seen(name).plan.venue.zone)
        local = story.as_of.astimezone(seen(name).plan.venue.zone)
        assert (local.date(), local.hour) == (first.date(), 6)
        assert story.recorded_at < story.as_of


def test_every_member_is_used_where_the_ensembles_answer():
    """Protects the odds from resting on less than the replies hold: 31 and 51 members."""
    for name, sky in SKIES.items():
        members = seen(name).weather.centers
        assert (len([c for c in members if c != "forecast"]) == 82) == sky.ensembles


@pytest.mark.parametrize("name", sorted(SKIES))
def test_shipped_replies_are_what_the_generator_writes(name, tmp_path):
    """Protects the claim that the replies are invented by a seeded generator: byte for byte."""
    written = write_weekend(tmp_path, name)
    assert len(written) == 3
    for path in written:
        shipped = replies_folder() / path.relative_to(tmp_path).as_posix()
        assert read_text(path) == read_text(shipped), path.name


def test_replies_stay_small():
    """Protects the wheel, which carries all replies."""
    folder = replies_folder()
    assert sum(path.stat().st_size for path in folder.rglob("*.*")) < MOST_CACHE_BYTES


@pytest.mark.parametrize("name", ["steady-rain", "everything-unknown"])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_a_weekend_is_shown_without_a_network(name, units, monkeypatch):
    """Protects the text: the crew's every line, "invented", 80 columns, and no socket opened."""

    def refuse(*_, **__):
        raise AssertionError("the demo opened a connection")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    out = StringIO()
    show_story(open_console(out), STORIES[name], units)
    text = out.getvalue()
    flat = " ".join(text.split())
    for line in STORIES[name].crew:
        assert line.do in flat
        assert line.why in flat
    assert "invented" in text
    assert "Rain tires:" in text
    assert "nan" not in text.lower().split()
    assert max(len(row) for row in text.splitlines()) <= 80


def test_the_list_names_every_weekend():
    """Protects `trackday demo --list`: each name once, in the order of the season."""
    out = StringIO()
    show_list(open_console(out), demo_weekends())
    words = out.getvalue().split()
    assert [word for word in words if word in ASKED] == list(STORIES)
    assert max(len(row) for row in out.getvalue().splitlines()) <= 80


def test_stories_come_in_the_order_of_the_season():
    """Protects the order of the list."""
    moments = [story.as_of.timestamp() for story in demo_weekends()]
    assert np.all(np.diff(moments) > 0)


def test_a_weekend_is_found_by_its_name():
    """Protects the name on the command line from capitals and spaces."""
    assert find_story("gale") == STORIES["gale"]
    assert find_story(" Shower at noon ") == STORIES["shower-at-noon"]


@pytest.mark.parametrize(("wrong", "near"), [("perfct-day", "perfect-day"), ("xyz", "steady-rain")])
def test_an_unknown_weekend_is_a_fault_with_a_mend(wrong, near):
    """Protects the mistyped name: one line that says what can be written."""
    with pytest.raises(TrackdayError) as caught:
        find_story(wrong)
    (line,) = caught.value.lines
    assert near in line
    assert "--list" in line


def _fails(check: Check, weekend: Seen) -> bool:
    try:
        check(weekend)
    except (AssertionError, StopIteration):
        return True
    return False
