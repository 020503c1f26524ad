"""The examples of the pages: read out of console blocks, run in a folder of their own, refilled.

A line `$ trackday …` is run, and so is `$ cd …`; a line that ends in a backslash goes on below,
after `> `. `$ echo $?` tells how it ended (0 without it). The lines under it are what it prints; a
last line of dots leaves the rest out, and without any line nothing is compared. The comment
`<!-- clock: 2027-05-15T06:10 -->` sets the clock of what follows, at the examples' venue.

`python tests/docs_examples.py` writes all outputs anew; read what it changed.
"""

from __future__ import annotations

import importlib
import io
import logging
import os
import pkgutil
import re
import shlex
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from mirror import invented_summer, mirror_on, packed_summer
from pytest_httpserver import HTTPServer
from rich.console import Console
from standin_places import StandInPlaces, town
from standin_previous import PreviousStandIn
from typer.testing import CliRunner

import trackday.commands
import trackday.live
import trackday.looks
from trackday.cli import app
from trackday.demo import SATURDAY, WEEK_BEFORE, show_demo
from trackday.demo.replaying import replay_gather
from trackday.errors import TrackdayError
from trackday.knowledge import knowledge_data
from trackday.plan import Plan, make_plan
from trackday.weather.sources import Gathered

ROOT = Path(__file__).resolve().parents[1]
PAGES = ("docs/commands.md", "docs/first-weekend.md")
"""The pages whose examples are run, each from its first to its last."""

ZONE = ZoneInfo("America/Chicago")
CLOCK = re.compile(r"<!-- clock: (\S+) -->")
CUT = "…"
SAMPLE = "```\nSpring Double at Tamarack Hollow"
"""How the README's sample begins."""


@dataclass
class Example:
    """One command of a page: where it stands, what it should print (if told) and end with."""

    place: str
    clock: datetime
    command: str
    output: list[str] = field(default_factory=list)
    exit_code: int = 0
    at: int = 0
    """Last line of the command, from 0."""


def read_examples(page: Path) -> list[Example]:
    """Read a page's examples in order."""
    found: list[Example] = []
    clock, inside, asks_code = datetime.max.replace(tzinfo=UTC), False, False
    for number, line in enumerate(page.read_text("utf-8").splitlines()):
        told = CLOCK.fullmatch(line)
        if told is not None:
            clock = datetime.fromisoformat(told[1]).replace(tzinfo=ZONE)
        elif line.startswith("```"):
            inside, asks_code = line == "```console", False
        elif inside and line == "$ echo $?":
            asks_code = True
        elif inside and line.startswith("$ "):
            asks_code = False
            place = f"{page.name}:{number + 1}"
            found.append(Example(place, clock, line.removeprefix("$ "), at=number))
        elif inside and found and found[-1].command.endswith("\\"):
            found[-1].command = found[-1].command[:-1] + line.removeprefix("> ")
            found[-1].at = number
        elif inside and asks_code:
            found[-1].exit_code = int(line)
        elif inside:
            found[-1].output.append(line)
    return found


class Paddock:
    """A folder with a logbook, a cache and weather of its own, in which examples are run."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self._patch = patch

    def run(self, example: Example) -> tuple[int, list[str]]:
        """Run one example at its clock; give its exit code and what it printed."""
        self._set_clock(example.clock)
        words = shlex.split(example.command)
        if words[0] == "cd":
            self._patch.chdir(words[1])
            return 0, []
        assert words[0] == "trackday", example.place
        done = CliRunner().invoke(app, words[1:])
        printed = done.output.splitlines()
        if isinstance(done.exception, TrackdayError):
            return done.exception.exit_code, [*printed, *done.exception.lines]
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            raise done.exception
        return done.exit_code, printed

    def _set_clock(self, moment: datetime) -> None:
        class Stopped(datetime):
            """The clock of the page."""

            @classmethod
            def now(cls, tz=None):
                local = moment.astimezone(tz)
                return local if tz is not None else local.replace(tzinfo=None)

        for module in command_modules():
            if hasattr(module, "datetime"):
                self._patch.setattr(module, "datetime", Stopped)


def command_modules():
    """Give the modules of the commands, which alone read the clock."""
    package = trackday.commands
    return [
        importlib.import_module(f"{package.__name__}.{info.name}")
        for info in pkgutil.iter_modules(package.__path__)
    ]


@contextmanager
def paddock(folder: Path) -> Iterator[Paddock]:
    """Make a paddock in an empty folder and go there."""
    with ExitStack() as stack:
        patch = stack.enter_context(pytest.MonkeyPatch.context())
        stack.enter_context(_quiet("werkzeug"))
        server = stack.enter_context(HTTPServer(threaded=True))
        _settle(folder, patch)
        _serve(server, stack.enter_context(mirror_on(server, patch)), patch)
        patch.setattr(trackday.live, "live_gather", lambda *_, **__: _gather)
        patch.setattr(trackday.looks, "make_plan", _plan_once)
        try:
            yield Paddock(patch)
        finally:
            patch.undo()
            time.tzset()


@contextmanager
def _quiet(logger: str) -> Iterator[None]:
    """Let the server's log not mix with what a command prints."""
    found = logging.getLogger(logger)
    before = found.level
    found.setLevel(logging.ERROR)
    try:
        yield
    finally:
        found.setLevel(before)


def _settle(folder: Path, patch: pytest.MonkeyPatch) -> None:
    patch.chdir(folder)
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME"):
        patch.setenv(name, str(folder / "home"))
    for name in [name for name in os.environ if name.startswith("TRACKDAY_")]:
        patch.delenv(name)
    patch.setenv("TRACKDAY_LOGBOOK", str(folder / "home" / "logbook.sqlite"))
    patch.setenv("TRACKDAY_CACHE_DIR", str(folder / "home" / "cache"))
    patch.setenv("COLUMNS", "80")
    patch.setenv("TZ", str(ZONE))
    time.tzset()


def _serve(server: HTTPServer, mirror, patch: pytest.MonkeyPatch) -> None:
    """Serve what the live commands ask for: places, a station's years, earlier forecasts."""
    places = StandInPlaces(server)
    places.towns = [town("Otter Bend")]
    mirror.add_station("72001", latitude=43.7, longitude=-91.0)
    years = range(2022, 2027)
    for year in years:
        mirror.add_year("72001", year, packed_summer(year))
    rain = pd.concat([invented_summer(year)["prcp"] for year in years])
    for name, value in places.environ.items():
        patch.setenv(name, value)
    patch.setenv("TRACKDAY_PREVIOUS_RUNS_URL", PreviousStandIn(server, rain).url)
    patch.setenv("TRACKDAY_ARCHIVE_URL", "http://127.0.0.1:9")


def _gather(venue, *, first_day, last_day, as_of):
    """Give the demo's weather of the moment."""
    look = SATURDAY if as_of >= SATURDAY.recorded_at else WEEK_BEFORE
    gather = replay_gather(look.replies, recorded_at=look.recorded_at)
    return gather(venue, first_day=first_day, last_day=last_day, as_of=as_of)


_made: dict[str, tuple[Plan, Gathered]] = {}
"""Plans by what they were made from: many examples show the same one in another form."""


def _plan_once(event, garage, venue, gather, logbook=None, *, with_courses=False, **more):
    """Make a plan, or give the one that was made from the same; a replay is always made."""
    recorder = getattr(gather, "__self__", None)
    if recorder is None:
        return make_plan(event, garage, venue, gather, logbook, with_courses=with_courses, **more)
    known = logbook.knowledge(garage, venue, as_of=more["as_of"])
    key = repr((event, garage, venue, knowledge_data(known), sorted(more.items())))
    if key not in _made:
        plan = make_plan(event, garage, venue, gather, logbook, with_courses=True, **more)
        _made[key] = plan, recorder.gathered
    plan, recorder.gathered = _made[key]
    return plan if with_courses else replace(plan, courses=())


def as_told(printed: list[str], told: list[str]) -> list[str]:
    """Cut what was printed as a page cuts it."""
    if told and told[-1].strip() == CUT:
        return [*printed[: len(told) - 1], CUT]
    return printed


def refilled(page: Path) -> str:
    """Run a page's examples and give its text with what they print now."""
    lines = page.read_text("utf-8").splitlines()
    with tempfile.TemporaryDirectory() as folder, paddock(Path(folder)) as ready:
        done = [(example, ready.run(example)) for example in read_examples(page)]
    for example, (code, printed) in reversed(done):
        if code != example.exit_code:
            print(f"{example.place}: {example.command} ended with {code}:", *printed, sep="\n  ")
        told, start = example.output, example.at + 1
        if told:
            lines[start : start + len(told)] = as_told(printed, told)
    return "\n".join(lines) + "\n"


def demo_sample() -> str:
    """Give the demo's Saturday morning, from under its rule to the next."""
    told = io.StringIO()
    show_demo(Console(file=told, width=80, color_system=None), "us")
    lines = [line.rstrip() for line in told.getvalue().splitlines()]
    start, end = (
        next(number for number, line in enumerate(lines) if line.startswith(rule))
        for rule in ("Saturday morning", "The evening")
    )
    return "\n".join(lines[start + 2 : end - 1])


def with_sample(readme: str) -> str:
    """Give the README with the demo's sample as it is now."""
    before, _, rest = readme.partition(SAMPLE)
    return before + "```\n" + demo_sample() + rest[rest.index("\n```") :]


if __name__ == "__main__":
    readme = ROOT / "README.md"
    readme.write_text(with_sample(readme.read_text("utf-8")), "utf-8")
    for name in PAGES:
        (ROOT / name).write_text(refilled(ROOT / name), "utf-8")
