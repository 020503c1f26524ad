"""The files of an import as rows ready for the book, or a line for each fault in them."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

from trackday.logbook.cells import (
    Line,
    match_headings,
    raise_faults,
    read_cell,
    read_limited,
    read_table,
)
from trackday.logbook.columns import DbValue, moment_text
from trackday.logbook.odd import odd_values
from trackday.logbook.rows import COLUMN_NAMES, from_row
from trackday.logbook.store import KEPT_COLUMNS
from trackday.logbook.tables import (
    ENTRIES,
    FINDINGS,
    HISTORY,
    LOOKS,
    SETS,
    Table,
    said_name,
    weather_name,
)
from trackday.logbook.writes import json_text
from trackday.weekend.showing import shown_path, shown_value

DbRow = dict[str, DbValue | bytes]
Complete = Callable[[DbRow], DbRow]
"""Finish a row: check it and fill in what is missing; ValueError says what is wrong."""

EMPTY_ENTRY: Mapping[str, DbValue] = {
    column.name: "" if column.kind == "text" else None for column in ENTRIES.columns
}
"""What stands in the columns that a file leaves out."""

_UID = re.compile(r"[0-9a-f]{32}")
_NAMES = ("venue", "event", "session", "tire_set")


def read_entries(path: Path, when: datetime) -> list[DbRow]:
    """Read a table of entries; each gets a uid and a moment of writing where it has none.

    A line without a uid comes from elsewhere: its uid is made of what it says, so that the same
    file gives the same uids, and values that cannot be are faults. TrackdayError, one line a fault.
    """
    same: Counter[str] = Counter()

    def complete(row: DbRow) -> DbRow:
        if row["day"] is None:
            raise ValueError("day: is missing; write it as year-month-day")
        if not row.get("uid"):
            row |= {name: str(row[name]).strip() for name in _NAMES if name in row}
            _refuse_odd(row)
            said = json_text({name: row[name] for name in COLUMN_NAMES if row.get(name)})
            same[said] += 1
            row["uid"] = sha256(f"{same[said]} {said}".encode()).hexdigest()[:32]
        row["written_at"] = row.get("written_at") or moment_text(when)
        return {**EMPTY_ENTRY, **row}

    return _read_rows(path, ENTRIES, complete, needed=("day",))


def read_sets(folder: Path) -> list[DbRow]:
    """Read what an export says of tire sets; TrackdayError as `read_entries`."""

    def complete(row: DbRow) -> DbRow:
        if not str(row["name"]).strip():
            raise ValueError("name: is missing; give the set one")
        return row

    return _read_table(folder, SETS, complete)


def read_history(folder: Path) -> list[DbRow]:
    """Read what was changed; `entry_uid` or `set_uid` says where. TrackdayError as above."""

    def complete(row: DbRow) -> DbRow:
        column = KEPT_COLUMNS.get(str(row["field"]))
        if column is None:
            raise ValueError(
                f"field: {shown_value(row['field'])} is no column of an entry or a set; mend it"
            )
        if bool(row["entry_uid"]) == bool(row["set_uid"]):
            raise ValueError("name either an entry_uid or a set_uid")
        for name in ("old", "new"):
            row[name] = column.to_db(column.from_text(str(row[name])))
        return row

    return _read_table(folder, HISTORY, complete)


def read_looks(folder: Path) -> list[DbRow]:
    """Read what was said, with the files beside the table. TrackdayError as above."""

    def complete(row: DbRow) -> DbRow:
        _check_uid(row)  # before it becomes part of a path
        uid = str(row["uid"])
        said = _read_file(folder / said_name(uid))
        row["said"] = _json_of(said, said_name(uid))
        row["weather"] = _read_file(folder / weather_name(uid)) if row["weather"] else None
        return row

    return _read_table(folder, LOOKS, complete)


def read_findings(folder: Path) -> list[DbRow]:
    """Read what was worked out. TrackdayError as above."""

    def complete(row: DbRow) -> DbRow:
        row["body"] = _json_of(str(row["body"]).encode(), "body")
        return row

    return _read_table(folder, FINDINGS, complete)


def _read_table(folder: Path, table: Table, complete: Complete) -> list[DbRow]:
    """Read a table of an export, all of whose columns it needs; one that is not there is empty."""
    path = folder / f"{table.name}.csv"
    needed = tuple(column.name for column in table.columns)
    return _read_rows(path, table, complete, needed=needed) if path.exists() else []


def _read_rows(
    path: Path, table: Table, complete: Complete, *, needed: tuple[str, ...]
) -> list[DbRow]:
    """Read the lines of a table; TrackdayError has a line for each fault."""
    headings, lines = read_table(path)
    matched = match_headings(path, headings, table.columns)
    there = {column.name for column, _ in matched.values()}
    raise_faults(
        f"{shown_path(path)}: line 1: {name}: the column is missing; add it"
        for name in needed
        if name not in there
    )

    def read(line: Line) -> DbRow:
        row: DbRow = {
            column.name: column.to_db(read_cell(read, line, heading))
            for heading, (column, read) in matched.items()
        }
        finished = complete(row)
        _check(finished)
        return finished

    rows: list[DbRow] = []
    faults: list[str] = []
    for line in lines:
        try:
            rows.append(read(line))
        except ValueError as error:
            faults.append(f"{shown_path(path)}: line {line.number}: {error}")
    raise_faults([*faults, *_twice(path, rows)])
    return rows


def _check(row: Mapping[str, Any]) -> None:
    """Raise ValueError for a uid that no export writes and for a moment that is needed."""
    _check_uid(row)
    for name in ("changed_at", "as_of", "made_at"):
        if name in row and row[name] is None:
            raise ValueError(f"{name}: is missing; write the moment, or export again")


def _check_uid(row: Mapping[str, Any]) -> None:
    """Raise ValueError for a uid that no export writes."""
    if "uid" in row and not _UID.fullmatch(str(row["uid"])):
        raise ValueError("uid: is not one that an export wrote; export again")


def _twice(path: Path, rows: list[DbRow]) -> Iterator[str]:
    """Say which uids are there twice."""
    for uid, count in Counter(row["uid"] for row in rows if "uid" in row).items():
        if count > 1:
            yield f"{shown_path(path)}: uid {uid!r} is there {count} times; leave one line of them"


def _refuse_odd(row: Mapping[str, Any]) -> None:
    """Raise ValueError for values that cannot be: of a foreign file, the unit may be wrong."""
    odd = odd_values(from_row({**EMPTY_ENTRY, **row}))
    if odd:
        raise ValueError("; ".join(odd))


def _read_file(path: Path) -> bytes:
    """Read a file beside a table; ValueError says what is wrong."""
    try:
        return read_limited(path)
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise ValueError(f"{path.name} cannot be read ({reason}); export again") from error


def _json_of(data: bytes, name: str) -> str:
    """Check that something is a JSON table and write it as the book does; ValueError if not."""
    try:
        body = json.loads(data)
        if isinstance(body, dict):
            return json_text(body)
    except (ValueError, RecursionError):
        pass
    raise ValueError(f"{name}: is not JSON as an export writes it; export again")
