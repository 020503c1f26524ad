"""Take entries from CSV into a book: a whole export, or a table of entries from elsewhere.

All or nothing: every line is read and checked first, then everything is written in one transaction.
Entries are told apart by their uid, so that a second import of the same file adds nothing.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from trackday.errors import TrackdayError
from trackday.logbook.cells import raise_faults
from trackday.logbook.incoming import (
    DbRow,
    read_entries,
    read_findings,
    read_history,
    read_looks,
    read_sets,
)
from trackday.logbook.looks import prune
from trackday.logbook.rows import COLUMN_NAMES
from trackday.logbook.store import Book
from trackday.logbook.tables import ENTRIES, FINDINGS, HISTORY, LOOKS, SETS
from trackday.logbook.writes import insert
from trackday.weekend.showing import shortened, shown_path


@dataclass(frozen=True)
class Imported:
    """What an import did.

    `added` counts the new rows by table; `known` entries were in the book already. Entries and sets
    that were there with other values are named in `differing`, a line each: the book's own stay.
    """

    added: Mapping[str, int]
    known: int
    differing: tuple[str, ...]


def import_all(folder: Path, book: Book, *, when: datetime) -> Imported:
    """Take an export into a book; entries, sets and looks that are there already are left alone.

    Into an empty book this gives back exactly what was exported. `when` is the moment of writing
    for entries that have none. Raises TrackdayError, one line a fault, and adds nothing then.
    """
    if not folder.is_dir():
        raise TrackdayError(f"{shown_path(folder)}: is no folder; name one that an export wrote")
    entries = read_entries(folder / f"{ENTRIES.name}.csv", when)
    sets, history = read_sets(folder), read_history(folder)
    looks, findings = read_looks(folder), read_findings(folder)
    _refuse_strays(folder, history, uids={row["uid"] for row in (*entries, *sets)})
    with book.file.writing() as db:
        fresh = _add_entries(db, entries)
        fresh_sets = _add_sets(db, sets)
        added = {
            ENTRIES.name: len(fresh),
            SETS.name: len(fresh_sets),
            HISTORY.name: _add_history(db, history, fresh=fresh | fresh_sets),
            LOOKS.name: _add_looks(db, looks),
            FINDINGS.name: _add_findings(db, findings),
        }
        differing = (*_differing_entries(db, entries), *_differing_sets(db, sets))
    return Imported(added, len(entries) - len(fresh), differing)


def import_entries(path: Path, book: Book, *, when: datetime) -> Imported:
    """Take a CSV of entries into a book, with the columns of an export's entries.csv.

    `day` is needed, all other columns may be left out. Pressures and temperatures may have units in
    the heading or in the cell ("31.5 psi"). A line without a uid gets one from what it says, so
    that the same file adds nothing the second time. Raises TrackdayError, one line a fault, also
    for values that cannot be, and adds nothing then.
    """
    entries = read_entries(path, when)
    with book.file.writing() as db:
        fresh = _add_entries(db, entries)
        differing = tuple(_differing_entries(db, entries))
    return Imported({ENTRIES.name: len(fresh)}, len(entries) - len(fresh), differing)


def _refuse_strays(folder: Path, history: Iterable[DbRow], *, uids: set[Any]) -> None:
    """Raise TrackdayError for changes of what is not in the export."""
    path = shown_path(folder / f"{HISTORY.name}.csv")
    owners = {row["entry_uid"] or row["set_uid"] for row in history}
    raise_faults(
        f"{path}: {shortened(uid)} is in neither entries.csv nor sets.csv; export again"
        for uid in sorted(map(str, owners - uids))
    )


def _add_entries(db: sqlite3.Connection, entries: Iterable[DbRow]) -> set[str]:
    """Insert the entries that are not there yet and give their uids."""
    known = _column(db, "SELECT uid FROM entry")
    fresh = [row for row in entries if row["uid"] not in known]
    for row in fresh:
        insert(db, "entry", row)
    return {str(row["uid"]) for row in fresh}


def _add_sets(db: sqlite3.Connection, sets: Iterable[DbRow]) -> set[str]:
    """Insert the sets of which the book has neither the uid nor the name, and give their uids."""
    known = {name.casefold() for name in _column(db, "SELECT name FROM tire_set")}
    uids = _column(db, "SELECT uid FROM tire_set")
    fresh = []
    for row in sets:
        name = str(row["name"]).casefold()
        if name in known or row["uid"] in uids:
            continue
        known.add(name)
        insert(db, "tire_set", row)
        fresh.append(str(row["uid"]))
    return set(fresh)


def _add_history(db: sqlite3.Connection, history: Iterable[DbRow], *, fresh: set[str]) -> int:
    """Insert the changes of what has just been added: the book's own rows have their own past."""
    ids = {
        "entry_id": dict(db.execute("SELECT uid, id FROM entry")),
        "set_id": dict(db.execute("SELECT uid, id FROM tire_set")),
    }
    count = 0
    for row in history:
        line = dict(row)
        owners = {"entry_id": line.pop("entry_uid"), "set_id": line.pop("set_uid")}
        if not fresh & set(owners.values()):
            continue
        for name, uid in owners.items():
            line[name] = ids[name][uid] if uid else None
        insert(db, "history", line)
        count += 1
    return count


def _add_looks(db: sqlite3.Connection, looks: Iterable[DbRow]) -> int:
    """Insert the looks that are not there yet, and keep the weather of the newest ones."""
    known = _column(db, "SELECT uid FROM look")
    fresh = [dict(row) for row in looks if row["uid"] not in known]
    for row in fresh:
        weather = row.pop("weather")
        look_id = insert(db, "look", row)
        if weather is not None:
            insert(db, "look_weather", {"look_id": look_id, "weather": weather})
    for event_key in {str(row["event_key"]) for row in fresh}:
        prune(db, event_key)
    return len(fresh)


def _add_findings(db: sqlite3.Connection, findings: Iterable[DbRow]) -> int:
    """Insert the findings that the book has none of its own for."""
    known = {tuple(row) for row in db.execute("SELECT kind, key FROM finding")}
    fresh = [row for row in findings if (row["kind"], row["key"]) not in known]
    for row in fresh:
        insert(db, "finding", row)
    return len(fresh)


def _differing_entries(db: sqlite3.Connection, entries: Iterable[DbRow]) -> list[str]:
    """Name the entries that say something else in the book than in the file."""
    stored = {row["uid"]: row for row in db.execute("SELECT * FROM entry")}
    return [
        f"entry {own['id']}, {own['day']} {own['session']}".rstrip()
        + f": the file has another {', '.join(fields)}; the book's own is kept"
        for row in entries
        for own in (stored[row["uid"]],)
        if (fields := _fields_that_differ(own, row, COLUMN_NAMES))
    ]


def _differing_sets(db: sqlite3.Connection, sets: Iterable[DbRow]) -> list[str]:
    """Name the sets of which something else is said in the book than in the file."""
    stored = {row["name"].casefold(): row for row in db.execute("SELECT * FROM tire_set")}
    facts = ("kind", "bought_on", "grooved_on", "retired_on", "laps_before", "heat_cycles_before")
    return [
        f"tire set {own['name']}: the file has another {', '.join(fields)}; the book's own is kept"
        for row in sets
        for own in (stored.get(str(row["name"]).casefold()),)
        if own is not None and (fields := _fields_that_differ(own, row, (*facts, "note")))
    ]


def _fields_that_differ(own: Any, row: Mapping[str, Any], names: Iterable[str]) -> list[str]:
    return [name for name in names if own[name] != row[name]]


def _column(db: sqlite3.Connection, sql: str) -> set[str]:
    """Give the first column of a query as a set."""
    return {row[0] for row in db.execute(sql)}
