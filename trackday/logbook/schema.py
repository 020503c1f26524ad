"""The tables of the logbook by version, and the way from an older version to the latest.

A version, once released, is never changed: a new one adds a step. All pending steps are one
transaction, so that a file is of the old version or of the new one, never between them.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from trackday.errors import TrackdayError
from trackday.weekend.showing import one_line, shown_path

APPLICATION_ID = 0x74726462
"""Number in the file's header that tells a logbook from other programs' files: "trdb"."""

_ENTRIES = """
CREATE TABLE entry (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    uid TEXT NOT NULL UNIQUE,
    written_at TEXT NOT NULL,
    undone_at TEXT,
    day TEXT NOT NULL,
    venue TEXT NOT NULL DEFAULT '' COLLATE NOCASE,
    event TEXT NOT NULL DEFAULT '' COLLATE NOCASE,
    session TEXT NOT NULL DEFAULT '',
    at TEXT,
    cold_front_left_kpa REAL,
    cold_front_right_kpa REAL,
    cold_rear_left_kpa REAL,
    cold_rear_right_kpa REAL,
    hot_front_left_kpa REAL,
    hot_front_right_kpa REAL,
    hot_rear_left_kpa REAL,
    hot_rear_right_kpa REAL,
    minutes_since_stop REAL,
    track_temp_c REAL,
    air_temp_c REAL,
    cold_air_temp_c REAL,
    track_state TEXT CHECK (track_state IN ('dry', 'damp', 'wet', 'standing')),
    raining INTEGER CHECK (raining IN (0, 1)),
    tire_set TEXT NOT NULL DEFAULT '' COLLATE NOCASE,
    ran_on TEXT CHECK (ran_on IN ('dry', 'grooved', 'wet')),
    right_tire TEXT CHECK (right_tire IN ('dry', 'grooved', 'wet')),
    laps INTEGER,
    minutes_run REAL,
    alignment TEXT NOT NULL DEFAULT '',
    changes TEXT NOT NULL DEFAULT '',
    decision TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    todo TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX entry_by_venue ON entry (venue, day);
CREATE INDEX entry_by_event ON entry (event, day);
CREATE INDEX entry_by_day ON entry (day);

CREATE TABLE tire_set (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    uid TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (name <> ''),
    kind TEXT CHECK (kind IN ('dry', 'wet')),
    bought_on TEXT,
    grooved_on TEXT,
    retired_on TEXT,
    laps_before INTEGER,
    heat_cycles_before INTEGER,
    note TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE history (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    uid TEXT NOT NULL UNIQUE,
    entry_id INTEGER REFERENCES entry (id),
    set_id INTEGER REFERENCES tire_set (id),
    changed_at TEXT NOT NULL,
    field TEXT NOT NULL,
    old ANY,
    new ANY,
    CHECK ((entry_id IS NULL) <> (set_id IS NULL))
) STRICT;
CREATE INDEX history_by_entry ON history (entry_id);
CREATE INDEX history_by_set ON history (set_id);
"""

_LOOKS_AND_FINDINGS = """
ALTER TABLE entry ADD COLUMN todo_done_at TEXT;

CREATE TABLE look (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    uid TEXT NOT NULL UNIQUE,
    event_key TEXT NOT NULL,
    command TEXT NOT NULL,
    as_of TEXT NOT NULL,
    version TEXT NOT NULL,
    said TEXT NOT NULL
) STRICT;
CREATE INDEX look_by_event ON look (event_key, as_of);

CREATE TABLE look_weather (
    look_id INTEGER PRIMARY KEY REFERENCES look (id),
    weather BLOB NOT NULL
) STRICT;

CREATE TABLE finding (
    kind TEXT NOT NULL,
    key TEXT NOT NULL,
    made_at TEXT NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (kind, key)
) STRICT;
"""

STEPS = (_ENTRIES, _LOOKS_AND_FINDINGS)
"""What leads from each version to the next; the first one from an empty file to version 1."""

LATEST = len(STEPS)


def check_file(connection: sqlite3.Connection, path: Path) -> int:
    """Give a file's version, 0 for an empty one.

    Raises TrackdayError for another program's file and for one from a newer version of this one,
    whose tables this one does not know.
    """
    version, application, tables = connection.execute(
        "SELECT user_version, application_id, (SELECT count(*) FROM sqlite_schema) "
        "FROM pragma_user_version, pragma_application_id"
    ).fetchone()
    is_empty = (version, application, tables) == (0, 0, 0)
    if application != APPLICATION_ID and not is_empty:
        raise TrackdayError(
            f"{shown_path(path)}: is another program's file, not a logbook; name another one"
        )
    if version > LATEST:
        raise TrackdayError(
            f"{shown_path(path)}: was written by a newer trackday (version {version} of the file, "
            f"this one knows {LATEST}); update trackday, or use `trackday log export` of that one"
        )
    return int(version)


def migrate(connection: sqlite3.Connection, path: Path) -> None:
    """Take a file to the latest version in one transaction; backs it up first unless it is empty.

    The write lock is held from before the backup to the end, so that no entry is written between
    them and two processes do not migrate one after the other. Raises sqlite3.Error, and
    TrackdayError where the backup cannot be written; the file is then as it was.
    """
    connection.execute("BEGIN IMMEDIATE")
    try:
        version = check_file(connection, path)
        if 0 < version < LATEST:
            back_up(path, version=version)
        for number in range(version, LATEST):
            for statement in _statements(STEPS[number]):
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {LATEST}")
        connection.execute("COMMIT")
    finally:
        if connection.in_transaction:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")


def back_up(path: Path, *, version: int) -> Path:
    """Copy a logbook to `logbook.v<version>.backup.sqlite` beside it, whole or not at all.

    The copy is one plain file without a log. An earlier backup is left alone: the new one gets a
    number. Raises TrackdayError where it cannot be written.
    """
    target = _free_name(path, version)
    partial = target.with_name(target.name + ".partial")
    try:
        partial.unlink(missing_ok=True)
        os.close(os.open(partial, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        with (
            closing(sqlite3.connect(path)) as source,
            closing(sqlite3.connect(partial, isolation_level=None)) as copy,
        ):
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
            (verdict,) = copy.execute("PRAGMA quick_check(1)").fetchone()
            if verdict != "ok":
                raise sqlite3.DatabaseError(verdict)
        _to_disk(partial)
        partial.rename(target)
    except (OSError, sqlite3.Error) as error:
        partial.unlink(missing_ok=True)
        raise TrackdayError(
            one_line(
                f"{target}: the backup before the change to version {LATEST} cannot be written "
                f"({error}); the logbook is unchanged; free some space or check the folder's "
                "permissions"
            )
        ) from error
    return target


def _free_name(path: Path, version: int) -> Path:
    """Find a name for a backup that no file has."""
    number = 1
    while True:
        suffix = "" if number == 1 else f"-{number}"
        name = path.with_name(f"{path.stem}.v{version}.backup{suffix}{path.suffix}")
        if not name.exists():
            return name
        number += 1


def _to_disk(path: Path) -> None:
    """Wait until a file's contents are on the disk."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _statements(script: str) -> list[str]:
    """Split a step: `executescript` would commit before it runs."""
    return [part for part in script.split(";") if part.strip()]
