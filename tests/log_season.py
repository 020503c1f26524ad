"""A racer's folder with two events, and the logbook's commands run in it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from trackday.commands.log import log_app
from trackday.errors import TrackdayError
from trackday.logbook.store import Book, open_book

GARAGE = """
[car]
name = "No. 61"
cockpit = "closed"
[[tires]]
name = "Dry A"
kind = "dry"
[[tires]]
name = "Dry B"
kind = "dry"
may_be_grooved = true
[[tires]]
name = "Wets"
kind = "wet"
[pressure]
target_hot = { front = "31 psi", rear = "30 psi" }
fill_gas = "nitrogen"
"""
VENUE = """
name = "{name}"
latitude = 43.6
longitude = -91.0
elevation_m = 300
timezone = "{timezone}"
"""
SESSION = """
[[sessions]]
name = "{name}"
date = "{day}"
start = "{start}"
minutes = 20
kind = "{kind}"
"""
NOON = "2027-06-12T12:00"
"""A moment of the first day of the second event, venue time."""


def write_event(folder: Path, name: str, venue: str, *days: str) -> Path:
    """Write an event with a practice, a qualifying and a race on each day."""
    path = folder / "events" / f"{days[0]}-{venue}.toml"
    sessions = (
        SESSION.format(name=kind.title(), day=day, start=start, kind=kind)
        for day in days
        for kind, start in (("practice", "09:00"), ("qualifying", "11:00"), ("race", "15:00"))
    )
    path.write_text(f'name = "{name}"\nvenue = "{venue}"\n' + "".join(sessions))
    return path


class Season:
    """The folder and what is typed in it."""

    def __init__(self, folder: Path) -> None:
        for name in ("events", "venues"):
            (folder / name).mkdir()
        (folder / "garage.toml").write_text(GARAGE)
        for stem, name, zone in (
            ("tamarack", "Tamarack Hollow", "America/Chicago"),
            ("dunes", "Dune Park", "America/New_York"),
        ):
            text = VENUE.format(name=name, timezone=zone)
            (folder / "venues" / f"{stem}.toml").write_text(text)
        self.folder = folder
        self.spring = write_event(folder, "Spring Opener", "dunes", "2027-05-15", "2027-05-16")
        self.summer = write_event(folder, "Summer Double", "tamarack", "2027-06-12", "2027-06-13")

    def run(self, *words: object, answer: str = "") -> Result:
        """Run `trackday log` with some words; anything but a fault to mend is raised."""
        done = CliRunner().invoke(log_app, [str(word) for word in words], input=answer)
        if done.exception and not isinstance(done.exception, TrackdayError | SystemExit):
            raise done.exception
        return done

    def good(self, *words: object) -> str:
        """Run what must succeed, and give its output."""
        done = self.run(*words)
        assert done.exit_code == 0, done.exception
        return done.output

    def faults(self, *words: object) -> tuple[str, ...]:
        """Run what must end in a fault to mend, and give its lines."""
        done = self.run(*words)
        assert isinstance(done.exception, TrackdayError), done.output
        assert done.exception.exit_code == 2
        return done.exception.lines

    def add(self, *words: object, at: str = NOON) -> str:
        """Write a line as of a moment."""
        return self.good("add", *words, "--as-of", at)

    def book(self) -> Book:
        """Open the logbook."""
        return open_book(self.folder / "book" / "logbook.sqlite", create=False)

    def entries(self):
        """Give what is in the book."""
        with self.book() as book:
            return [line.entry for line in book.entries()]


def make_season(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Season:
    """Make a folder of its own, go there, and keep every path of the user inside it."""
    folder = tmp_path / "season"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setenv("TRACKDAY_LOGBOOK", str(folder / "book" / "logbook.sqlite"))
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.setenv(name, str(tmp_path))
    return Season(folder)


def utc(text: str) -> datetime:
    """Read a moment in UTC."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)
