"""An older file becomes one of the latest version, whole or not at all, with a copy beside it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from logbook.book_samples import FULL, WHEN

from trackday.errors import TrackdayError
from trackday.logbook import schema
from trackday.logbook.check import check_book
from trackday.logbook.entry import Corners
from trackday.logbook.looks import looks
from trackday.logbook.store import open_book

VERSION_1 = Path(__file__).with_name("version1.sql").read_text(encoding="utf-8")


@pytest.fixture
def old(tmp_path) -> Path:
    """Make a file as version 1 of the book was, with entries."""
    path = tmp_path / "logbook.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(f"PRAGMA synchronous = OFF; BEGIN; {VERSION_1} COMMIT;")
    return path


def contents(path):
    """Give a file's version and rows of old tables without our own code."""
    with closing(sqlite3.connect(path)) as connection:
        (version,) = connection.execute("PRAGMA user_version").fetchone()
        return version, [
            connection.execute(f"SELECT * FROM {table} ORDER BY id").fetchall()
            for table in ("entry", "tire_set", "history")
        ]


def shape(path):
    """Give the tables and indexes of a file, as SQLite sees them."""
    with closing(sqlite3.connect(path)) as connection:
        return {
            (name, tuple(connection.execute("SELECT * FROM pragma_table_xinfo(?)", (name,))))
            for (name,) in connection.execute("SELECT name FROM sqlite_schema")
        }


def test_an_old_book_is_brought_up_to_date_with_all_it_holds(old):
    """Protects ten years of entries from an update of the program."""
    with open_book(old) as book:
        (stored,) = book.entries()
        assert stored.entry.hot_kpa == Corners(front_left=214.5)
        assert (stored.entry.venue, stored.entry.laps) == ("Tamarack Hollow", 9)
        assert [change.old for change in book.history(stored.id)] == [8]
        assert [each.entry.note for each in book.entries(undone=True)] == ["typed twice"]
        assert [todo.text for todo in book.todos()] == ["order pads"]
        (tires,) = book.sets()
        assert (tires.laps, tires.heat_cycles) == (9, 1)
        assert looks(book, "spring") == []
        assert book.add(FULL, when=WHEN) == 3
    assert check_book(old).faults == ()


def test_a_migrated_book_is_the_same_as_a_new_one(old, tmp_path):
    """Protects from tables that depend on which version a book began with."""
    with open_book(old), open_book(tmp_path / "new" / "logbook.sqlite"):
        pass
    assert shape(old) == shape(tmp_path / "new" / "logbook.sqlite")


def test_the_file_is_copied_before_it_is_changed(old):
    """Protects from a migration that goes wrong: the copy is what there was, in one plain file."""
    before = contents(old)
    with open_book(old):
        pass
    backup = old.with_name("logbook.v1.backup.sqlite")
    assert contents(backup) == before
    assert not list(old.parent.glob("*-wal"))
    assert backup.stat().st_mode & 0o077 == 0
    assert {path.name for path in old.parent.iterdir()} == {backup.name, old.name}
    with open_book(old):  # nothing to migrate: no second copy
        pass
    assert {path.name for path in old.parent.iterdir()} == {backup.name, old.name}


def test_a_new_book_has_no_copy(tmp_path):
    """Protects the folder from copies of nothing."""
    with open_book(tmp_path / "logbook.sqlite"):
        pass
    assert [path.name for path in tmp_path.iterdir()] == ["logbook.sqlite"]


def test_an_earlier_copy_is_left_alone(old):
    """Protects the copy of a book that was put back and migrated once more."""
    backup = old.with_name("logbook.v1.backup.sqlite")
    backup.write_bytes(b"kept")
    with open_book(old):
        pass
    assert backup.read_bytes() == b"kept"
    assert contents(old.with_name("logbook.v1.backup-2.sqlite"))[0] == 1


def test_a_copy_that_cannot_be_written_stops_the_migration(old, monkeypatch):
    """Protects the old file: without its copy it is not changed, and the line says so."""

    def full(path):
        raise OSError(28, "No space left on device")

    before = contents(old)
    monkeypatch.setattr(schema, "_to_disk", full)
    with pytest.raises(TrackdayError, match="the logbook is unchanged; free some space"):
        open_book(old)
    assert contents(old) == before
    assert list(old.parent.glob("*backup*")) == []
    monkeypatch.undo()
    with open_book(old) as book:
        assert len(book.entries()) == 1


def test_a_step_that_fails_halfway_leaves_the_old_book(old, monkeypatch):
    """Protects from a file between two versions: all steps are one transaction."""
    with open_book(old):
        pass
    before = contents(old)
    steps = (*schema.STEPS, "CREATE TABLE late (x TEXT) STRICT; INSERT INTO nowhere VALUES (1)")
    monkeypatch.setattr(schema, "STEPS", steps)
    monkeypatch.setattr(schema, "LATEST", 3)
    monkeypatch.setattr("trackday.logbook.bookfile.LATEST", 3)
    with pytest.raises(sqlite3.OperationalError, match="nowhere"):
        open_book(old)
    assert contents(old) == before
    monkeypatch.undo()
    with open_book(old) as book:
        assert len(book.entries()) == 1


def test_a_later_version_would_find_its_way(old, monkeypatch):
    """Protects the next change of the tables: a file two steps behind takes both, with one copy."""
    steps = (*schema.STEPS, "ALTER TABLE entry ADD COLUMN fuel_kg REAL;")
    monkeypatch.setattr(schema, "STEPS", steps)
    monkeypatch.setattr(schema, "LATEST", 3)
    monkeypatch.setattr("trackday.logbook.bookfile.LATEST", 3)
    with open_book(old) as book:
        assert len(book.entries()) == 1
    assert contents(old)[0] == 3
    assert [path.name for path in old.parent.glob("*backup*")] == ["logbook.v1.backup.sqlite"]


def test_version_1_is_what_it_was():
    """Protects files that are out there: a released step is never changed, a new one is added."""
    with (
        closing(sqlite3.connect(":memory:")) as frozen,
        closing(sqlite3.connect(":memory:")) as now,
    ):
        frozen.executescript(VERSION_1)
        now.executescript(schema.STEPS[0])
        sql = "SELECT name, sql FROM sqlite_schema ORDER BY name"
        assert now.execute(sql).fetchall() == frozen.execute(sql).fetchall()
    assert f"PRAGMA application_id = {schema.APPLICATION_ID};" in VERSION_1
