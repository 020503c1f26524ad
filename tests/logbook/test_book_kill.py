"""Killed, cut off, or two at once: what was acknowledged is in the book."""

from __future__ import annotations

import json
import os
import random
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from logbook.book_samples import FULL, WHEN

from trackday.logbook.check import check_book
from trackday.logbook.store import open_book

WORKER = Path(__file__).with_name("book_worker.py")
KILLS = 300
SLOW_TESTS = "TRACKDAY_SLOW_TESTS"
SECONDS = 60 if os.environ.get(SLOW_TESTS) else 4
LONGEST_WAIT_S = 5.0

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills processes by signal")


def run_worker(*arguments):
    return subprocess.Popen(
        [sys.executable, str(WORKER), *map(str, arguments)], stdout=subprocess.PIPE, text=True
    )


def uids_in(path):
    """Read the uids without our own code, and ask SQLite whether the file is sound."""
    with closing(sqlite3.connect(path)) as connection:
        (verdict,) = connection.execute("PRAGMA integrity_check").fetchone()
        broken = connection.execute("PRAGMA foreign_key_check").fetchall()
        uids = {uid for (uid,) in connection.execute("SELECT uid FROM entry")}
    assert (verdict, broken) == ("ok", [])
    return uids


def test_no_kill_loses_an_acknowledged_entry(tmp_path):
    """Protects what was written from a flat battery or an impatient hand at any moment."""
    acknowledged: dict[str, set[str]] = {}
    at_work = 0
    with run_worker("kills", tmp_path, KILLS, 20270515) as worker:
        for line in worker.stdout:
            killed = json.loads(line)
            uids = set(killed["lines"]) - {"opened"}
            at_work += bool(uids)
            known = acknowledged.setdefault(killed["book"], set())
            known |= uids
            if uids:
                assert known <= uids_in(killed["book"])
        assert worker.wait(timeout=10) == 0
    assert at_work >= KILLS // 2
    made = [path for path in map(Path, acknowledged) if path.exists()]
    assert len(acknowledged) > KILLS // 10
    for path in made:
        with open_book(path) as book:
            stored = book.entries()
            assert {each.uid for each in stored} >= acknowledged[str(path)]
            # Whoever edits an entry keeps what stood there, or neither happened.
            for each in stored:
                assert each.entry.note.endswith(" edited") == bool(book.history(each.id))
            assert book.add(stored[-1].entry if stored else FULL, when=WHEN)
        assert check_book(path).faults == ()
    old = [path for path in made if path.name.startswith("old")]
    assert len(old) == KILLS // 10
    for path in old:
        assert "0" * 32 in uids_in(path)


def test_a_log_that_was_cut_off_is_followed_by_a_sound_book(tmp_path):
    """Protects from a disk that lost the end of what was last written: what is there is whole."""
    with run_worker("write", tmp_path / "logbook.sqlite", "lone", 0.1) as worker:
        worker.wait(timeout=10)
    with open_book(tmp_path / "logbook.sqlite") as book:
        before = {each.uid for each in book.entries()}
        for number in range(20):
            book.add(FULL, when=WHEN)
            book.edit(len(before) + number + 1, when=WHEN, note=f"later {number}")
        log = (tmp_path / "logbook.sqlite-wal").read_bytes()
        database = (tmp_path / "logbook.sqlite").read_bytes()
        after = [each.uid for each in book.entries()]
    rng = random.Random(20270516)
    for number in range(20):
        path = tmp_path / f"cut{number}.sqlite"
        path.write_bytes(database)
        path.with_name(path.name + "-wal").write_bytes(log[: rng.randrange(len(log))])
        with open_book(path) as book:
            found = [each.uid for each in book.entries()]
        assert check_book(path).faults == ()
        assert before <= set(found)
        assert found == after[: len(found)]


def test_two_that_write_at_once_lose_nothing_and_need_not_wait(tmp_path):
    """Protects a book that a second terminal writes into: all is there, no wait over 5 s."""
    path = tmp_path / "logbook.sqlite"
    workers = [run_worker("write", path, name, SECONDS) for name in ("left", "right")]
    reports = [json.loads(worker.communicate(timeout=SECONDS + 30)[0]) for worker in workers]
    written = [uid for report in reports for uid in report["uids"]]
    assert uids_in(path) == set(written)
    assert len(set(written)) == len(written)
    assert min(len(report["uids"]) for report in reports) > 10
    assert max(report["longest_s"] for report in reports) < LONGEST_WAIT_S
