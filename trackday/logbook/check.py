"""Whether a logbook is sound: the file, the links in it, and values that look like slips."""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from trackday.damage import legible_damage
from trackday.errors import TrackdayError
from trackday.logbook.bookfile import as_it_stands, said
from trackday.logbook.odd import odd_use, odd_values
from trackday.logbook.schema import LATEST, check_file
from trackday.logbook.store import Book, Stored, open_book
from trackday.weekend.showing import one_line, shown_path

_MOST_LISTED = 20
"""Most lines about the same kind of damage (assumption)."""


@dataclass(frozen=True)
class BookCheck:
    """What a check found, in lines to print.

    `faults` are damage, `odd` are values to look at again, `facts` say what is there.
    """

    facts: tuple[str, ...]
    odd: tuple[str, ...]
    faults: tuple[str, ...]

    @property
    def lines(self) -> list[str]:
        """Everything, faults first."""
        return [*self.faults, *self.odd, *self.facts]


def check_book(path: Path) -> BookCheck:
    """Check a logbook without changing it, but for an older one that is brought up to date after.

    Reads through the whole file (SQLite's integrity_check and foreign_key_check), counts what is
    there, and looks at every entry. Raises TrackdayError where there is no logbook to look at; a
    damaged one is told in `faults`.
    """
    if not path.is_file():
        raise TrackdayError(f"{shown_path(path)}: there is no logbook; mend the path")
    try:
        version, faults = _check_file(path)
    except sqlite3.Error as error:
        return BookCheck((), (), said(path, error, writing=False).lines)
    if faults:
        return BookCheck((), (), faults)
    with open_book(path, create=False) as book:
        return BookCheck(
            facts=(_version_line(path, version), *_counts(book)),
            odd=(*_wide_open(path), *_odd_entries(book)),
            faults=(),
        )


def _check_file(path: Path) -> tuple[int, tuple[str, ...]]:
    """Give the version of a file and its damage, a line each; raises sqlite3.Error."""
    with legible_damage(), closing(_connect(path)) as connection:
        version = check_file(connection, path)
        verdicts = [row[0] for row in connection.execute(f"PRAGMA integrity_check({_MOST_LISTED})")]
        broken = connection.execute("PRAGMA foreign_key_check").fetchmany(_MOST_LISTED)
    mend = "keep a copy of the file, then put a backup in its place or import your last export"
    damage = [one_line(str(verdict)) for verdict in verdicts if verdict != "ok"]
    links = [
        f"{table} {row} names a row of {parent} that is gone" for table, row, parent, _ in broken
    ]
    return version, tuple(f"{shown_path(path)}: {fault}; {mend}" for fault in (*damage, *links))


def _connect(path: Path) -> sqlite3.Connection:
    """Connect to a file, also where the disk has no room for a log beside it."""
    connection = sqlite3.connect(path)
    try:
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except UnicodeDecodeError:
        connection.close()
        raise
    except sqlite3.Error as error:
        connection.close()
        found = as_it_stands(path, error)
        if found is None:
            raise
        return found
    return connection


def _version_line(path: Path, version: int) -> str:
    name = shown_path(path)
    if version < LATEST:
        return f"{name}: sound; was version {version}, is version {LATEST} now"
    return f"{name}: sound; version {version}"


def _counts(book: Book) -> Iterator[str]:
    """Say what is there."""
    kept, undone = book.entries(), book.entries(undone=True)
    days = f", {kept[0].entry.day} to {kept[-1].entry.day}" if kept else ""
    yield f"{_many(len(kept), 'entry', 'entries')}{days}; {len(undone)} undone"
    sets, todos = len(book.sets()), len(book.todos())
    (looks,) = book.file.read("SELECT count(*) FROM look")[0]
    yield f"{_many(sets, 'tire set')}, {_many(looks, 'look')}, {_many(todos, 'to-do')} open"


def _many(count: int, one: str, more: str = "") -> str:
    """Count something: "1 entry", "2 entries"."""
    return f"{count} {one if count == 1 else more or one + 's'}"


def _odd_entries(book: Book) -> Iterator[str]:
    """Say which entries hold something odd."""
    stock = {each.name.casefold(): each for each in book.sets()}
    for stored in book.entries():
        entry = stored.entry
        faults = odd_values(entry)
        tires = stock.get(entry.tire_set.casefold())
        if tires is not None:
            faults += odd_use(entry, tires)
        for fault in faults:
            yield f"{_place(stored)}: {fault}"


def _place(stored: Stored) -> str:
    """Name an entry so that it can be found."""
    entry = stored.entry
    return one_line(" ".join(filter(None, (f"entry {stored.id},", str(entry.day), entry.session))))


def _wide_open(path: Path) -> Iterator[str]:
    """Say where others may read the file; Windows has no such modes."""
    if os.name == "posix" and stat.S_IMODE(path.stat().st_mode) & 0o077:
        yield f"{shown_path(path)}: others on this computer may read it; run chmod 600 on it"
