"""A disk that is full, a file that is not ours, a folder that may not be written: one line each."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

import pytest
from logbook.book_samples import FULL, WHEN

from trackday.errors import TrackdayError
from trackday.logbook import bookfile
from trackday.logbook.check import check_book
from trackday.logbook.schema import LATEST
from trackday.logbook.store import open_book

ROOT = Path(__file__).resolve().parents[2]

WRITE_UNTIL_FULL = """
import resource, signal, sys
from datetime import UTC, date, datetime
from pathlib import Path
from trackday.errors import TrackdayError
from trackday.logbook.entry import Entry
from trackday.logbook.store import open_book

path, limit = Path(sys.argv[1]), int(sys.argv[2])
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
try:
    with open_book(path) as book:
        while True:
            number = book.add(Entry(date(2027, 5, 15), note="x" * 500), when=datetime.now(UTC))
            print(book.get(number).uid, flush=True)
except TrackdayError as error:
    assert len(error.lines) == 1
    print(error.lines[0], file=sys.stderr)
    sys.exit(error.exit_code)
"""

WRITE_ONE = """
import os, sys
import urllib.parse  # pathlib asks for it late, where this user may not read it
from datetime import UTC, date, datetime
from pathlib import Path
from trackday.errors import TrackdayError
from trackday.logbook.entry import Entry
from trackday.logbook.store import open_book

if os.geteuid() == 0:
    os.setuid(65534)  # modes do not hold for the superuser
try:
    with open_book(Path(sys.argv[1])) as book:
        print(len(book.entries()), flush=True)
        book.add(Entry(date(2027, 5, 15)), when=datetime.now(UTC))
except TrackdayError as error:
    assert len(error.lines) == 1
    print(error.lines[0], file=sys.stderr)
    sys.exit(error.exit_code)
"""


def python(code, *arguments):
    """Run a few lines of Python in a process of their own."""
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=30,
    )


READ_WITHOUT_ROOM = """
import resource, signal, sys
from datetime import UTC, date, datetime
from pathlib import Path
from trackday.errors import TrackdayError
from trackday.logbook.check import check_book
from trackday.logbook.entry import Entry
from trackday.logbook.store import open_book

path = Path(sys.argv[1])
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
try:
    with open_book(path, create=False) as book:
        print(len(book.entries()), len(check_book(path).faults), file=sys.stderr)
        book.add(Entry(date(2027, 5, 15)), when=datetime.now(UTC))
except TrackdayError as error:
    sys.stderr.write(error.lines[0])
    sys.exit(error.exit_code)
"""


@pytest.fixture
def commoner():
    """Give a folder that a process without the superuser's rights reaches as well."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


@pytest.mark.skipif(os.name != "posix", reason="limits a process's files")
@pytest.mark.parametrize("limit", [2_000, 60_000, 150_000, 400_000])
def test_a_full_disk_costs_at_most_the_entry_being_written(tmp_path, limit):
    """Protects what was saved before: the limit on a file's size stands for a full disk."""
    path = tmp_path / "logbook.sqlite"
    done = python(WRITE_UNTIL_FULL, path, limit)
    assert done.returncode == 2
    assert "disk" in done.stderr
    assert "free some space" in done.stderr
    acknowledged = done.stdout.split()
    with open_book(path) as book:
        found = [each.uid for each in book.entries()]
        assert found[: len(acknowledged)] == acknowledged
        assert len(found) <= len(acknowledged) + 1
        assert book.add(FULL, when=WHEN)
    assert check_book(path).faults == ()
    assert bool(acknowledged) == (limit > 100_000)


@pytest.mark.skipif(os.name != "posix", reason="modes of files")
def test_only_the_owner_may_read_a_new_book(tmp_path):
    """Protects notes from others on the computer, also while the log beside the file is there."""
    before = os.umask(0o000)
    try:
        path = tmp_path / "season" / "logbook.sqlite"
        with open_book(path) as book:
            book.add(FULL, when=WHEN)
            modes = {p.name: stat.S_IMODE(p.stat().st_mode) for p in path.parent.iterdir()}
            folder = stat.S_IMODE(path.parent.stat().st_mode)
    finally:
        os.umask(before)
    assert folder == 0o700
    assert modes == {
        "logbook.sqlite": 0o600,
        "logbook.sqlite-wal": 0o600,
        "logbook.sqlite-shm": 0o600,
    }


@pytest.mark.skipif(os.name != "posix", reason="modes of files")
def test_a_book_that_may_not_be_written_can_still_be_read(commoner):
    """Protects the reader of a book that somebody else wrote; writing says what is missing."""
    path = commoner / "logbook.sqlite"
    with open_book(path) as book:
        book.add(FULL, when=WHEN)
    path.chmod(0o444)
    commoner.chmod(0o777)
    done = python(WRITE_ONE, path)
    assert done.stdout.strip() == "1"
    assert done.returncode == 2
    assert done.stderr.startswith(f"{path}: cannot be written; give yourself the right to write")


@pytest.mark.skipif(os.name != "posix", reason="modes of files")
@pytest.mark.parametrize("name", ["logbook.sqlite", "season/logbook.sqlite"])
def test_a_folder_that_may_not_be_written_is_said_in_a_line(commoner, name):
    """Protects from a traceback where no book can be made."""
    commoner.chmod(0o555)
    done = python(WRITE_ONE, commoner / name)
    assert (done.returncode, done.stdout) == (2, "")
    assert "cannot be made (permission denied)" in done.stderr


@pytest.mark.skipif(os.name != "posix", reason="modes of files")
def test_a_book_in_a_folder_that_may_not_be_written_can_still_be_read(commoner):
    """Protects the look into a book on a medium that takes no log beside it."""
    path = commoner / "season" / "logbook.sqlite"
    with open_book(path) as book:
        book.add(FULL, when=WHEN)
    path.chmod(0o444)
    path.parent.chmod(0o555)
    done = python(WRITE_ONE, path)
    assert (done.stdout.strip(), done.returncode) == ("1", 2), done.stderr
    assert done.stderr.startswith(f"{path}: cannot be written; give yourself the right to write")


@pytest.mark.skipif(os.name != "posix", reason="limits a process's files")
def test_a_book_on_a_full_disk_can_still_be_read(tmp_path):
    """Protects the settings in the paddock when nothing more fits on the disk: only writing ends.

    No file may grow, so that the log cannot be laid beside the book.
    """
    path = tmp_path / "logbook.sqlite"
    with open_book(path) as book:
        book.add(FULL, when=WHEN)
    done = python(READ_WITHOUT_ROOM, path)
    read, fault = done.stderr.splitlines()
    assert (read, done.returncode) == ("1 0", 2)
    assert fault == (
        f"{path}: the disk is full; nothing of this was saved, what was saved before is safe; free "
        "some space and try again"
    )


@pytest.mark.skipif(os.name != "posix", reason="limits a process's files")
def test_entries_in_a_log_are_not_read_past(tmp_path):
    """Protects from a look that lacks the newest entries: with a log beside it the fault is said.

    The log of a process that was killed holds what is not in the file yet.
    """
    path, killed = tmp_path / "logbook.sqlite", tmp_path / "killed.sqlite"
    with open_book(path) as book:
        book.add(FULL, when=WHEN)
        shutil.copy(path, killed)
        shutil.copy(f"{path}-wal", f"{killed}-wal")
    done = python(READ_WITHOUT_ROOM, killed)
    assert done.returncode == 2
    assert "nothing was changed; free some space and try again" in done.stderr
    with open_book(killed) as book:
        assert len(book.entries()) == 1


def refused(path, **options):
    """Give the one line with which a file is refused, and see that the file is as it was."""
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(TrackdayError) as caught, open_book(path, **options):
        pass
    assert len(caught.value.lines) == 1
    if before is not None:
        assert path.read_bytes() == before
        assert [each.name for each in path.parent.iterdir()] == [path.name]
    return caught.value.lines[0]


def test_what_is_no_logbook_is_left_alone(tmp_path):
    """Protects other files from a mistyped path."""
    path = tmp_path / "garage.toml"
    path.write_text("[car]\nname = 'the red one'\n" * 50, encoding="utf-8")
    assert refused(path) == (f"{path}: is not a logbook; move the file away or name another one")


def test_another_programs_database_is_left_alone(tmp_path):
    """Protects other programs' tables, which SQLite would happily have ours added to."""
    path = tmp_path / "replies.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE responses (key TEXT)")
    assert "is another program's file, not a logbook" in refused(path)


def test_a_book_of_a_newer_version_is_left_alone(tmp_path):
    """Protects what a newer program wrote from one that does not know its tables."""
    path = tmp_path / "logbook.sqlite"
    with open_book(path) as book:
        book.add(FULL, when=WHEN)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {LATEST + 1}")
        connection.execute("PRAGMA journal_mode = DELETE")
    line = refused(path)
    assert "was written by a newer trackday" in line
    assert "update trackday, or use `trackday log export` of that one" in line


def test_an_older_program_stops_writing_when_a_newer_one_takes_over(tmp_path):
    """Protects new tables from a program that was open while a newer one changed the file."""
    path = tmp_path / "logbook.sqlite"
    with open_book(path) as book:
        first = book.add(FULL, when=WHEN)
        with closing(sqlite3.connect(path)) as newer:
            newer.execute(f"PRAGMA user_version = {LATEST + 1}")
        with pytest.raises(TrackdayError, match="written by a newer trackday"):
            book.add(FULL, when=WHEN)
        assert [each.id for each in book.entries()] == [first]


def test_a_folder_and_an_absent_book_are_said_in_a_line(tmp_path):
    """Protects from making a book where one was only to be read."""
    (tmp_path / "season").mkdir()
    assert refused(tmp_path / "season").endswith("is a folder; name a file in it")
    assert "there is no logbook yet" in refused(tmp_path / "none.sqlite", create=False)
    assert not (tmp_path / "none.sqlite").exists()


def test_a_damaged_book_is_said_in_a_line_and_left_as_it_is(tmp_path):
    """Protects what can still be saved of a damaged file: nothing is moved, nothing written."""
    path = tmp_path / "logbook.sqlite"
    with open_book(path) as book:
        for _ in range(50):
            book.add(FULL, when=WHEN)
    data = bytearray(path.read_bytes())
    data[4096 * 2 : 4096 * 8] = b"\xff" * 4096 * 6
    path.write_bytes(data)
    with (
        pytest.raises(TrackdayError, match="is damaged; keep a copy of it"),
        open_book(path) as book,
    ):
        book.entries()
    assert path.read_bytes() == data
    (fault, *_) = check_book(path).faults
    assert str(path) in fault


def test_a_lock_that_is_never_let_go_is_said_after_a_while(tmp_path, monkeypatch):
    """Protects from hanging behind another process; what is refused then is not half written."""
    monkeypatch.setattr(bookfile, "PATIENCE_S", 0.05)
    path = tmp_path / "logbook.sqlite"
    with open_book(path) as book, closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(TrackdayError, match="another trackday has been writing for long"):
            book.add(FULL, when=WHEN)
        assert book.entries() == []  # a reader does not wait
        other.execute("ROLLBACK")
        assert book.add(FULL, when=WHEN)


def test_every_commit_waits_for_the_disk(book):
    """Protects from losing an acknowledged entry to a power cut (SQLite's documentation: FULL)."""
    # https://www.sqlite.org/pragma.html#pragma_synchronous: FULL is 2; NORMAL, 1, may lose commits.
    assert book.file.read("PRAGMA synchronous")[0][0] == 2
    assert book.file.read("PRAGMA journal_mode")[0][0] == "wal"
    assert book.file.read("PRAGMA foreign_keys")[0][0] == 1


def test_what_fails_within_a_transaction_leaves_nothing(book):
    """Protects from half of an edit: the error comes through and the file is as before."""
    number = book.add(FULL, when=WHEN)

    def half(second):
        with book.file.writing() as db:
            db.execute("UPDATE entry SET laps = 99")
            db.execute(second)

    with pytest.raises(sqlite3.IntegrityError):
        half("INSERT INTO history (uid, changed_at, field) VALUES ('x', 'y', 'z')")
    assert book.get(number).entry == FULL
    with pytest.raises(sqlite3.OperationalError):
        half("UPDATE nothing SET x = 1")
    assert book.get(number).entry == FULL
