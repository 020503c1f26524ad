"""A cache that is damaged, locked away or full: the plan still comes, with one line at most."""

from __future__ import annotations

import os
import random
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from builders import venue

from trackday.live import live_gather
from trackday.weather.http import fetch_json, open_session
from trackday.weekend.starter import write_starter

LIMITED = (
    "import resource, runpy, sys; "
    "size = int(sys.argv.pop(1)); "
    "resource.setrlimit(resource.RLIMIT_FSIZE, (size, size)); "
    "sys.argv[0] = 'trackday'; "
    "runpy.run_module('trackday', run_name='__main__', alter_sys=True)"
)
"""Runs the program with a largest size of files, bytes: a write beyond it fails as on a full disk.
Python itself ignores the signal (SIGXFSZ) that comes with it."""


@pytest.fixture
def cache(tmp_path):
    """Name the folder that `all_environ` tells the program."""
    return tmp_path / "cache"


@pytest.fixture
def event(standin, tmp_path):
    """Starter files for a weekend that begins in two days."""
    written = write_starter(
        tmp_path / "season",
        venue_name="Tamarack Hollow",
        latitude=43.6,
        longitude=-91.0,
        elevation_m=300.0,
        timezone=None,
        first_day=standin.today + timedelta(days=2),
    )
    return next(path for path in written if path.parent.name == "events")


@pytest.fixture
def ask(standin, office, all_environ, cache):
    """Ask all services as the commands do; returns the lines of warning."""

    def do(*, offline=False, latitude=43.6):
        lines: list[str] = []
        gather = live_gather(
            {"HOME": str(cache)} | all_environ, offline=offline, wait_s=20.0, warn=lines.append
        )
        gathered = gather(
            venue(latitude=latitude),
            first_day=standin.today - timedelta(days=1),
            last_day=standin.today + timedelta(days=3),
            as_of=datetime.now(UTC),
        )
        assert gathered.basis == "ensemble"
        assert {source.status for source in gathered.sources} == {"fresh"}
        gather.keywords["session"].close()
        return lines

    return do


def other_database(file):
    """Put somebody else's database in place of the replies."""
    file.unlink()
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("CREATE TABLE laps (driver TEXT, seconds REAL)")
        connection.execute("INSERT INTO laps VALUES ('A. Novice', 93.4)")
        connection.commit()


def other_columns(file):
    """Put a database there whose tables have the right names and other columns."""
    file.unlink()
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("CREATE TABLE responses (lap INTEGER)")
        connection.execute("CREATE TABLE redirects (lap INTEGER)")
        connection.commit()


def junk_replies(file):
    """Spoil every saved reply inside a sound database."""
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("UPDATE responses SET value = randomblob(500)")
        connection.commit()


def random_bytes(file):
    """Overwrite the whole file with noise."""
    file.write_bytes(random.Random(1).randbytes(file.stat().st_size))


def some_bytes(file):
    """Overwrite a page in the middle with noise."""
    content = bytearray(file.read_bytes())
    middle = len(content) // 8192 * 4096
    content[middle : middle + 4096] = random.Random(2).randbytes(4096)
    file.write_bytes(content)


def cut_off(file):
    """Cut the file in the middle of a page."""
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2 + 100])


def zeros(file):
    """Leave the file's size and none of its content, as some crashes do."""
    file.write_bytes(bytes(file.stat().st_size))


def nothing(file):
    """Leave an empty file."""
    file.write_bytes(b"")


def a_folder(file):
    """Put a folder where the file belongs."""
    file.unlink()
    file.mkdir()


def bad_names(file):
    """Spoil the schema so that SQLite's own error is no UTF-8."""
    file.unlink()
    with closing(sqlite3.connect(file)) as connection:
        connection.executescript("CREATE TABLE t(a); PRAGMA writable_schema = ON;")
        connection.execute(
            "UPDATE sqlite_schema SET name = CAST(? AS TEXT), sql = 'CREATE TABLE t('", (b"t\xff",)
        )
        connection.commit()


DAMAGE = (
    # What is done to the file, and how many lines the reader gets.
    (random_bytes, 1),
    (some_bytes, 1),
    (cut_off, 1),
    (zeros, 1),
    (bad_names, 1),
    (a_folder, 1),
    (other_columns, 1),
    # These are sound databases without replies that can be read: nothing is lost that was there.
    (nothing, 0),
    (other_database, 0),
    (junk_replies, 0),
)


@pytest.mark.parametrize(("spoil", "lines"), DAMAGE, ids=[spoil.__name__ for spoil, _ in DAMAGE])
def test_a_spoiled_cache_costs_one_line_and_no_weather(ask, cache, standin, spoil, lines):
    """Protects the morning from whatever a crash, a sync tool or a bad card left behind."""
    assert ask() == []
    asked = len(standin.asked)
    spoil(cache / "replies.sqlite")
    said = ask()
    assert len(said) == lines, said
    assert all(str(cache) in line for line in said)
    assert len(standin.asked) == 2 * asked


def test_what_was_moved_aside_leaves_a_cache_that_works(ask, cache):
    """Protects the run after: the fault is told once, then replies are saved as ever."""
    assert ask() == []
    random_bytes(cache / "replies.sqlite")
    assert "damaged" in ask()[0]
    assert ask() == []
    assert ask(offline=True) == []


def test_a_folder_that_cannot_be_made_costs_one_line(ask, cache):
    """Protects a machine whose cache folder lies under a file."""
    cache.write_text("in the way")
    (line,) = ask()
    assert "TRACKDAY_CACHE_DIR" in line


def test_a_folder_that_refuses_every_file_costs_one_line(ask, cache, monkeypatch):
    """Protects from the operating system's own refusal, before any database is opened."""

    def refuse(self, *_, **__):
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "mkdir", refuse)
    (line,) = ask()
    assert "Permission denied" in line


@pytest.fixture
def connecting(cache, monkeypatch):
    """Let something else happen where a database in the cache folder is opened.

    The mode of a file does not bind every user that runs these tests.
    """
    connect = sqlite3.connect

    def do(instead):
        def choose(path, *arguments, **options):
            is_inside = Path(path).parent == cache
            return (instead if is_inside else connect)(path, *arguments, **options)

        monkeypatch.setattr(sqlite3, "connect", choose)
        return connect

    return do


def test_read_only_files_cost_one_line(ask, cache, standin, connecting):
    """Protects a card with its lock on: what was saved is read, what is new is asked and told."""
    assert ask() == []
    asked = len(standin.asked)

    def read_only(path, *arguments, **options):
        uri = f"{Path(path).as_uri()}?mode=ro"
        return connect(uri, *arguments, uri=True, **options)

    connect = connecting(read_only)
    assert ask(offline=True) == []
    assert len(standin.asked) == asked
    (line,) = ask(latitude=44.5)
    assert "TRACKDAY_CACHE_DIR" in line
    assert len(standin.asked) == 2 * asked


def test_a_locked_folder_still_gives_what_it_holds(ask, cache, standin, connecting):
    """Protects a paddock where the folder cannot be written: a copy of it is read."""
    assert ask() == []
    asked = len(standin.asked)

    def refuse(*_, **__):
        raise sqlite3.OperationalError("unable to open database file")

    connecting(refuse)
    (line,) = ask(offline=True)
    assert "unable to open" in line
    assert "TRACKDAY_CACHE_DIR" in line
    assert len(standin.asked) == asked


@pytest.mark.skipif(sys.platform == "win32", reason="has no limit on the size of files")
@pytest.mark.parametrize("size", [0, 4096, 50_000])
def test_a_full_disk_costs_one_line(event, all_environ, office, tmp_path, size):
    """Protects the plan where nothing, a page, or some of the replies can be written."""
    done = subprocess.run(
        [sys.executable, "-B", "-c", LIMITED, str(size), "plan", str(event)],
        env=os.environ | {"HOME": str(tmp_path)} | all_environ,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    assert "COLD PRESSURES" in done.stdout
    # The logbook, on the same disk, has a line of its own.
    (line,) = (each for each in done.stderr.splitlines() if "logbook" not in each)
    assert str(tmp_path / "cache") in line
    assert "TRACKDAY_CACHE_DIR" in line


def test_a_disk_that_fills_up_keeps_what_was_saved_before(standin, tmp_path, monkeypatch):
    """Protects the good replies: one that does not fit is lost alone, told once, and no other."""
    url = f"{standin.url}/v1/forecast"

    def params(number):
        day = standin.today.isoformat()
        return {
            "latitude": f"{number}.0000", "longitude": "0.0000", "elevation": "0",
            "hourly": "temperature_2m", "start_date": day, "end_date": day,
        }  # fmt: skip

    lines: list[str] = []
    with open_session(tmp_path, warn=lines.append, backoff_s=0.0) as session:
        fetch_json(session, url, params(1), offline=False)
        with session.cache.responses.connection() as connection:
            (pages,) = connection.execute("PRAGMA page_count").fetchone()
            # SQLite's own limit fails with the words and the code of a full disk.
            connection.execute(f"PRAGMA max_page_count = {pages}")
        for number in range(2, 12):
            assert not fetch_json(session, url, params(number), offline=False).from_cache
    (line,) = lines
    assert "make room" in line
    with open_session(tmp_path, warn=lines.append, offline=True) as session:
        assert fetch_json(session, url, params(1), offline=True).from_cache
    assert len(lines) == 1
