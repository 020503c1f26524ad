"""Read a table of sessions from a CSV file, as spreadsheets write them."""

from __future__ import annotations

import re
from pathlib import Path

from pydantic import ValidationError

from trackday.errors import TrackdayError
from trackday.weekend.event import SessionEntry
from trackday.weekend.faults import plain_lines
from trackday.weekend.fields import FROM_FILE
from trackday.weekend.showing import shown_path
from trackday.weekend.table import Row, header_faults, read_rows

COLUMNS = ("name", "date", "start", "minutes", "kind")

_EMPTY_MENDS = {
    column: f"is empty; write it, for example {example}"
    for column in COLUMNS
    for example in (SessionEntry.model_fields[column].examples or ())[:1]
}
"""What to say of an empty cell, by its column; every field of a session has an example."""


def read_sessions_csv(path: Path) -> tuple[tuple[int, SessionEntry], ...]:
    """Give the sessions of a CSV file, each with the number of its line.

    The first line names the columns `COLUMNS` in any order; they are separated by commas,
    semicolons or tabs. Raises TrackdayError with a line for each fault.
    """
    header, *rows = read_rows(path, missing_mend="mend sessions_csv in the event file")
    columns = _read_header(header, path)
    if not rows:
        raise TrackdayError(
            f"{shown_path(path)}: holds no sessions; write one line for each below the header"
        )
    sessions: list[tuple[int, SessionEntry]] = []
    faults: list[str] = []
    for number, cells in rows:
        place = f"{shown_path(path)}: line {number}"
        if len(cells) != len(columns):
            faults.append(
                f"{place}: has {len(cells)} columns where the header has {len(columns)}; "
                "write one value for each column"
            )
            continue
        record = dict(zip(columns, cells, strict=True))
        empty = [column for column, cell in record.items() if not cell]
        if empty:
            faults += [f"{place}: {column}: {_EMPTY_MENDS[column]}" for column in empty]
            continue
        try:
            sessions.append((number, _read_record(record)))
        except ValidationError as error:
            lines = plain_lines(error, data=_typed(record), model=SessionEntry, quotes=False)
            faults += [f"{place}: {line}" for line in lines]
    if faults:
        raise TrackdayError(*faults)
    return tuple(sessions)


def _read_header(header: Row, path: Path) -> list[str]:
    """Check the names of the columns."""
    number, cells = header
    columns = [cell.casefold() for cell in cells]
    faults = [
        f"{shown_path(path)}: line {number}: {fault}"
        for fault in header_faults(columns, known=COLUMNS, needed=COLUMNS)
    ]
    if faults:
        raise TrackdayError(*faults)
    return columns


def _typed(record: dict[str, str]) -> dict[str, object]:
    """Give a record the types that a TOML file would: whole minutes and a lower-case kind."""
    minutes = record["minutes"]
    return {
        **record,
        "minutes": int(minutes) if re.fullmatch(r"[+-]?\d{1,9}", minutes, re.ASCII) else minutes,
        "kind": record["kind"].casefold(),
    }


def _read_record(record: dict[str, str]) -> SessionEntry:
    """Read one line; ValidationError where it is not a session."""
    return SessionEntry.model_validate(
        _typed(record), by_alias=True, by_name=False, context=FROM_FILE
    )
