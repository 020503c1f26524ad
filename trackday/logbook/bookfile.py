"""The SQLite file of the logbook: opened so that nothing written is lost, faults said in a line.

The journal is a write-ahead log: readers never wait for a writer, and a process that dies leaves
either the whole of a transaction or nothing of it. `synchronous=FULL` has every commit wait until
the disk has it: what was acknowledged survives a flat battery as well. That costs some milliseconds
an entry, and a person writes a few entries a day.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeVar

from trackday.damage import legible_damage
from trackday.errors import TrackdayError
from trackday.logbook.schema import LATEST, check_file, migrate
from trackday.weekend.showing import one_line, shown_path

PATIENCE_S = 4.5
"""How long to wait for another process that writes, s (assumption: nobody waits over 5 s)."""

POLL_S = 0.002
"""Pause between two tries for the lock, s. SQLite's own waiting backs off up to .1 s, which lets a
busy writer starve another: of two that wrote without pause for a minute one waited for 3.5 s at the
longest, and with short even pauses for .3 s (measured by this project on two cores)."""

OLDEST_SQLITE = (3, 37, 0)
"""First version with strict tables (SQLite's release notes, 2021-11-27)."""

Parameters = Sequence[object] | Mapping[str, object]
ResultT = TypeVar("ResultT")

_MENDS = {
    "SQLITE_BUSY": "another trackday has been writing for long; nothing of this was saved, "
    "try again in a moment",
    "SQLITE_FULL": "the disk is full; nothing of this was saved, what was saved before is safe; "
    "free some space and try again",
    "SQLITE_READONLY": "cannot be written; give yourself the right to write to the file and its "
    "folder",
    "SQLITE_PERM": "cannot be opened; give yourself the right to read and write the file",
    "SQLITE_CANTOPEN": "cannot be opened; check that its folder is there and that you may write to "
    "the file and the folder",
    "SQLITE_IOERR": "the disk could not be read or written, it may be full or failing; this may "
    "not have been saved; free some space, then look with `trackday log show`",
    "SQLITE_PROTOCOL": "cannot be locked here; keep the logbook on a disk of this computer",
    "SQLITE_NOTADB": "is not a logbook; move the file away or name another one",
    "SQLITE_CORRUPT": "is damaged; keep a copy of it, then put a backup beside it in its place or "
    "import your last export into a new one",
}
"""What is wrong and how to mend it, by the beginning of SQLite's name for the error."""

_UNTOUCHED = {
    "SQLITE_FULL": "the disk is full; nothing was changed; free some space and try again",
    "SQLITE_IOERR": "the disk could not be read or written, it may be full or failing; nothing was "
    "changed; free some space and try again",
}
"""The same where nothing was being written."""

_NO_ROOM = ("SQLITE_IOERR", "SQLITE_FULL", "SQLITE_CANTOPEN", "SQLITE_READONLY")
"""Errors of a disk or folder that has no room for the log and index beside the file."""


def said(path: Path, error: sqlite3.Error, *, writing: bool = True) -> TrackdayError:
    """Word an error of SQLite that a user can mend; raises any other again, for it is a bug.

    `writing` tells that something was to be saved, which then may or may not be on the disk.
    """
    name = getattr(error, "sqlite_errorname", "")
    mends = _MENDS if writing else _MENDS | _UNTOUCHED
    for start, mend in mends.items():
        if name.startswith(start):
            return TrackdayError(f"{shown_path(path)}: {mend}")
    raise error


class BookFile:
    """An open logbook file: reads, and transactions that are kept whole or not at all."""

    def __init__(
        self, path: Path, connection: sqlite3.Connection, *, unwritable: TrackdayError | None = None
    ) -> None:
        """Take a connection in autocommit mode to a file of the latest version.

        `unwritable` is raised by what would write: the connection then only reads.
        """
        self.path = path
        self._connection = connection
        self._unwritable = unwritable

    def read(self, sql: str, parameters: Parameters = ()) -> list[sqlite3.Row]:
        """Give all rows of a query; TrackdayError where the file cannot be read."""
        try:
            return patiently(lambda: self._connection.execute(sql, parameters).fetchall())
        except sqlite3.Error as error:
            raise said(self.path, error, writing=False) from error

    @contextmanager
    def reading(self) -> Iterator[BookFile]:
        """See one state of the book throughout, whatever others write meanwhile."""
        self.read("BEGIN")
        try:
            yield self
        finally:
            self.read("COMMIT")

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Make one transaction: committed and on the disk when this ends, or rolled back.

        Raises TrackdayError where the lock cannot be had in time, the disk is full, the file is not
        writable or a newer version of the program has taken it over meanwhile.
        """
        connection = self._connection
        if self._unwritable is not None:
            raise self._unwritable
        try:
            patiently(lambda: connection.execute("BEGIN IMMEDIATE"))
            try:
                check_file(connection, self.path)
                yield connection
                patiently(lambda: connection.execute("COMMIT"))
            finally:
                if connection.in_transaction:
                    # What failed already says why; a roll-back that fails too adds nothing, and
                    # SQLite rolls back anyway when the file is opened next.
                    with suppress(sqlite3.Error):
                        connection.execute("ROLLBACK")
        except sqlite3.Error as error:
            raise said(self.path, error) from error

    def close(self) -> None:
        """Close the file; the last one to do so folds the log into it."""
        self._connection.close()


def open_file(path: Path, *, create: bool = True) -> BookFile:
    """Open a logbook, made or brought to the latest version where needed.

    A new folder is 0700 and a new file 0600, and SQLite gives its log and index beside it the
    file's mode. An existing file of an older version is backed up beside itself before it is
    changed. One on a full disk, or in a folder that may not be written, is opened to be read, and
    what would write to it raises. Raises TrackdayError, one line, for a file that is absent
    (without `create`), not a logbook, damaged, from a newer version, or that cannot be read.
    """
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise TrackdayError(
            f"SQLite {sqlite3.sqlite_version} is too old for the logbook; install a Python that "
            f"comes with {'.'.join(map(str, OLDEST_SQLITE[:2]))} or newer"
        )
    _make_private(path, create=create)
    try:
        with legible_damage():
            return BookFile(path, _connect(path))
    except sqlite3.Error as error:
        connection = as_it_stands(path, error)
        if connection is None:
            raise said(path, error, writing=False) from error
        return BookFile(path, connection, unwritable=_cannot_write(path, error))


def as_it_stands(path: Path, error: sqlite3.Error) -> sqlite3.Connection | None:
    """Connect to a file that has no room for a log beside it, only to read what is in the file.

    None where the error is another one, where entries may still be in a log, and for a file of
    another version.
    """
    log = path.with_name(path.name + "-wal")
    if not getattr(error, "sqlite_errorname", "").startswith(_NO_ROOM):
        return None
    if log.exists() and log.stat().st_size:
        return None
    # https://www.sqlite.org/uri.html#uriimmutable: no lock and no log; nobody can write there now.
    address = f"{path.absolute().as_uri()}?mode=ro&immutable=1"
    connection = sqlite3.connect(address, uri=True, isolation_level=None)
    try:
        connection.row_factory = sqlite3.Row
        if check_file(connection, path) == LATEST:
            return connection
    except sqlite3.Error:  # the first error says what is wrong
        pass
    except BaseException:
        connection.close()
        raise
    connection.close()
    return None


def _cannot_write(path: Path, error: sqlite3.Error) -> TrackdayError:
    """Say why nothing can be saved in a file that was opened only to be read."""
    full = error.sqlite_errorname.startswith(("SQLITE_IOERR", "SQLITE_FULL"))
    return TrackdayError(
        f"{shown_path(path)}: {_MENDS['SQLITE_FULL' if full else 'SQLITE_READONLY']}"
    )


def patiently(attempt: Callable[[], ResultT]) -> ResultT:
    """Try until another process has let go of the lock, for `PATIENCE_S` at most."""
    deadline = time.monotonic() + PATIENCE_S
    while True:
        try:
            return attempt()
        except sqlite3.OperationalError as error:
            busy = getattr(error, "sqlite_errorname", "").startswith("SQLITE_BUSY")
            if not busy or time.monotonic() > deadline:
                raise
        time.sleep(POLL_S)


def _make_private(path: Path, *, create: bool) -> None:
    """Make the folder and an empty file that only the owner may read, unless they are there."""
    try:
        if path.is_dir():
            raise TrackdayError(f"{shown_path(path)}: is a folder; name a file in it")
        if path.exists():
            return
        if not create:
            raise TrackdayError(
                f"{shown_path(path)}: there is no logbook yet; write its first line with "
                "`trackday log add`"
            )
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with suppress(FileExistsError):  # another process was quicker
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    except OSError as error:
        reason = one_line((error.strerror or "unknown reason").lower())
        raise TrackdayError(
            f"{shown_path(path)}: cannot be made ({reason}); check the path, the right to write "
            "there and the space on the disk"
        ) from error


def _connect(path: Path) -> sqlite3.Connection:
    """Connect and prepare; the connection is closed again where that fails."""
    # SQLite's own waiting is off: see `POLL_S`.
    connection = sqlite3.connect(path, timeout=0.0, isolation_level=None)
    try:
        connection.row_factory = sqlite3.Row
        patiently(lambda: _prepare(connection, path))
    except BaseException:
        connection.close()
        raise
    return connection


def _prepare(connection: sqlite3.Connection, path: Path) -> None:
    """Set the journal and the checks, and bring the file to the latest version."""
    connection.execute("PRAGMA foreign_keys = ON")
    # Looked at first: another program's file is not turned into a write-ahead one.
    version = check_file(connection, path)
    (mode,) = connection.execute("PRAGMA journal_mode = WAL").fetchone()
    # Where the disk allows no such log, EXTRA makes the old journal as safe.
    connection.execute(f"PRAGMA synchronous = {'FULL' if mode == 'wal' else 'EXTRA'}")
    if version < LATEST:
        migrate(connection, path)
