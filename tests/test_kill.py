"""Killed in the middle: whatever moment the process dies at, the next run can use the cache."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from cache_worker import PARAMS
from starters import write_weekend

from trackday.weather.http import fetch_json, open_session

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills processes by signal")

SLOW_TESTS = "TRACKDAY_SLOW_TESTS"
FULL = bool(os.environ.get(SLOW_TESTS))
"""Whether to kill as often as before a release: `TRACKDAY_SLOW_TESTS=1`."""

KILLS = 200 if FULL else 50
LONGEST_S = 0.25
"""Latest moment of a kill, seconds: opening takes some hundredths, one fetch some thousandths."""

CLI_KILLS = 10 if FULL else 3
LONGEST_CLI_S = 0.3
"""The same for the command line, counted from its first question."""


@pytest.fixture
def service(standin):
    """Move the stand-in's date to the days that are asked."""
    standin.today = date(2027, 5, 10)
    return standin


@pytest.fixture
def worker(service, tmp_path):
    """Start the process whose children are killed."""
    file = Path(__file__).with_name("cache_worker.py")
    url = f"{service.url}/v1/forecast"
    with subprocess.Popen(
        [sys.executable, str(file), str(tmp_path / "cache"), url],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        yield process
        process.stdin.close()
        assert process.wait(timeout=10) == 0


def kill_one(worker, number, after_s):
    """Let a child work for a while, then kill it."""
    worker.stdin.write(f"{number}\n")
    worker.stdin.flush()
    child = int(worker.stdout.readline())
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    # Whoever ended by itself was not killed in the middle of anything.
    assert int(worker.stdout.readline()) == signal.SIGKILL


def verdict_on(file):
    """What SQLite thinks of a file, and how many replies it holds."""
    with closing(sqlite3.connect(file)) as connection:
        (verdict,) = connection.execute("PRAGMA integrity_check").fetchone()
        (count,) = connection.execute("SELECT count(*) FROM responses").fetchone()
    return verdict, count


def use(folder, url, number):
    """Fetch something new as the next run would, and read it back; returns the lines of warning."""
    lines: list[str] = []
    with open_session(folder, warn=lines.append, backoff_s=0.0) as session:
        params = PARAMS | {"latitude": f"-{number}.5000", "longitude": "0.0000"}
        assert not fetch_json(session, url, params, offline=False).from_cache
    with open_session(folder, warn=lines.append, offline=True) as session:
        assert fetch_json(session, url, params, offline=True).from_cache
    return lines


def test_no_kill_leaves_a_cache_that_the_next_run_cannot_use(worker, service, tmp_path):
    """Protects the saved replies from a flat battery or an impatient Ctrl-C at any moment."""
    rng = random.Random(20270515)
    file = tmp_path / "cache" / "replies.sqlite"
    counts = [0]
    for number in range(1, KILLS + 1):
        kill_one(worker, number, rng.uniform(0.0, LONGEST_S))
        lines = use(tmp_path / "cache", f"{service.url}/v1/forecast", number)
        verdict, count = verdict_on(file)
        assert (verdict, lines) == ("ok", []), f"kill {number}"
        assert count > counts[-1], f"kill {number} lost what was saved before"
        counts.append(count)
    # The next run saves one reply; more are the killed child's, which was at work by then.
    at_work = sum(after - before > 1 for before, after in pairwise(counts))
    assert at_work >= KILLS // 3
    assert not (tmp_path / "cache" / "replies.damaged.sqlite").exists()


def test_a_log_that_was_cut_off_costs_the_newest_replies_at_most(worker, service, tmp_path):
    """Protects from a power cut, which leaves only the beginning of what was last written."""
    rng = random.Random(20270516)
    url = f"{service.url}/v1/forecast"
    use(tmp_path / "cache", url, 1)
    kill_one(worker, 2, 4 * LONGEST_S)
    log = (tmp_path / "cache" / "replies.sqlite-wal").read_bytes()
    assert len(log) > 100_000
    for number in range(10):
        folder = tmp_path / f"cut{number}"
        folder.mkdir()
        shutil.copyfile(tmp_path / "cache" / "replies.sqlite", folder / "replies.sqlite")
        (folder / "replies.sqlite-wal").write_bytes(log[: rng.randrange(len(log))])
        assert use(folder, url, 3) == []
        verdict, count = verdict_on(folder / "replies.sqlite")
        assert verdict == "ok"
        assert count >= 2


def test_a_killed_plan_is_followed_by_a_whole_one(standin, office, all_environ, tmp_path):
    """Protects the whole command: killed while it asks and saves, then run again, then offline."""
    rng = random.Random(20270517)
    environ = os.environ | {"HOME": str(tmp_path)} | all_environ

    def command(*arguments):
        return [sys.executable, "-m", "trackday", *map(str, arguments)]

    def run(*arguments):
        return subprocess.run(
            command(*arguments), env=environ, capture_output=True, text=True, timeout=60
        )

    event = write_weekend(tmp_path / "season", standin.today + timedelta(days=2))
    for _ in range(CLI_KILLS):
        shutil.rmtree(tmp_path / "cache", ignore_errors=True)
        asked = len(standin.asked)
        with subprocess.Popen(
            command("plan", event), env=environ, stdout=subprocess.DEVNULL
        ) as process:
            deadline = time.monotonic() + 30
            while len(standin.asked) == asked:
                assert time.monotonic() < deadline
                assert process.poll() is None
                time.sleep(0.005)
            time.sleep(rng.uniform(0.0, LONGEST_CLI_S))
            process.kill()
            assert process.wait(timeout=10) == -signal.SIGKILL
        done = run("plan", event)
        assert (done.returncode, done.stderr) == (0, "")
        assert verdict_on(tmp_path / "cache" / "replies.sqlite")[0] == "ok"
    done = run("plan", event, "--offline")
    assert (done.returncode, done.stderr) == (0, "")
