"""Processes that write into a logbook until they are killed, or for a time, light enough for many.

    python book_worker.py kills FOLDER COUNT SEED
    python book_worker.py write BOOK NAME SECONDS

`kills` bears COUNT children one after the other, each of which opens a book and writes, and kills
each at a random moment. A line of JSON a kill tells which book it was and which entries the child
had acknowledged. `write` writes without pause and ends with a line of JSON: uids, longest wait.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from datetime import UTC, date, datetime
from pathlib import Path

from trackday.logbook.entry import Corners, Entry
from trackday.logbook.looks import Look, save_look
from trackday.logbook.schema import STEPS
from trackday.logbook.store import Book, open_book

WHEN = datetime(2027, 5, 15, 12, tzinfo=UTC)
LONGEST_S = 0.03
"""Latest moment of a kill, s: opening takes some thousandths, an entry about one."""

AT_WORK = 2
"""Every second kill first waits for something acknowledged, however slow the machine is."""

EVERY = 10
"""Every tenth kill is in a new book, every tenth in one of version 1: making and migrating."""


def note(text: str) -> Entry:
    """Make an entry with something in it."""
    return Entry(
        day=date(2027, 5, 15),
        venue="Tamarack Hollow",
        session="Q1",
        hot_kpa=Corners(214.0, 213.5, 205.0, 206.5),
        tire_set="Dry A",
        note=text,
    )


def write_one(book: Book, number: int, text: str) -> str:
    """Write in one of the ways there are and give the uid of an entry that was acknowledged."""
    entry_id = book.add(note(text), when=WHEN)
    uid = book.get(entry_id).uid
    if number % 3 == 1:
        book.edit(entry_id, when=WHEN, note=text + " edited")
    if number % 3 == 2:
        look = Look("spring", "plan", WHEN, {"n": number}, os.urandom(20_000), "0.1.0")
        save_look(book, look)
    return uid


def child(path: Path, pipe: int, name: str) -> None:
    """Open the book and write without end; every acknowledged uid goes down the pipe."""
    with open_book(path) as book:
        os.write(pipe, b"opened\n")
        number = 0
        while True:
            os.write(pipe, write_one(book, number, f"{name}/{number}").encode() + b"\n")
            number += 1


def old_book(path: Path) -> None:
    """Make a book of version 1 with an entry."""
    import sqlite3

    from trackday.logbook.schema import APPLICATION_ID

    connection = sqlite3.connect(path)
    connection.executescript(f"PRAGMA synchronous = OFF; BEGIN; {STEPS[0]} COMMIT;")
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute("PRAGMA user_version = 1")
    connection.execute(
        "INSERT INTO entry (uid, written_at, day, note) "
        f"VALUES ('{'0' * 32}', '2026-05-15T12:00:00Z', '2026-05-15', 'of last year')"
    )
    connection.commit()
    connection.close()


def book_of(folder: Path, number: int) -> Path:
    """Choose the book of a kill."""
    if number % EVERY == 1:
        return folder / f"new{number}" / "logbook.sqlite"
    if number % EVERY == 2:
        path = folder / f"old{number}.sqlite"
        old_book(path)
        return path
    return folder / "logbook.sqlite"


def kill_one(path: Path, number: int, at_least: int, after_s: float) -> list[str]:
    """Let a child acknowledge some lines, then work for a while, kill it, and give them all."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        child(path, writing, f"kill {number}")
    os.close(writing)
    with os.fdopen(reading) as pipe:
        lines = [pipe.readline() for _ in range(at_least)]
        time.sleep(after_s)
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        # Whoever ended by itself was not killed in the middle of anything.
        assert status == signal.SIGKILL, status
        # A line that was cut off was not acknowledged.
        return [line.strip() for line in [*lines, *pipe] if line.endswith("\n")]


def kills(folder: Path, count: int, seed: int) -> None:
    """Kill and report."""
    rng = random.Random(seed)
    for number in range(count):
        path = book_of(folder, number)
        # The first line says that the book is open, the others are entries.
        at_least = rng.randrange(2, 8) if number % AT_WORK else 0
        lines = kill_one(path, number, at_least, rng.uniform(0.0, LONGEST_S))
        print(json.dumps({"book": str(path), "lines": lines}), flush=True)


def write(path: Path, name: str, seconds: float) -> None:
    """Write for a time and report."""
    uids: list[str] = []
    longest_s = 0.0
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        # As one command after the other does: open, write, close.
        before = time.monotonic()
        with open_book(path) as book:
            uids.append(write_one(book, len(uids), f"{name}/{len(uids)}"))
        longest_s = max(longest_s, time.monotonic() - before)
    print(json.dumps({"uids": uids, "longest_s": longest_s}), flush=True)


if __name__ == "__main__":
    if sys.argv[1] == "kills":
        kills(Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))
    else:
        write(Path(sys.argv[2]), sys.argv[3], float(sys.argv[4]))
