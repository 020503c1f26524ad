"""Read a table of sessions from a CSV file, as spreadsheets write them."""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError

from trackday.errors import TrackdayError
from trackday.weekend.event import SessionEntry
from trackday.weekend.faults import plain_lines
from trackday.weekend.fields import FROM_FILE
from trackday.weekend.showing import one_line, shown_path, shown_value
from trackday.weekend.textfile import read_text_file

COLUMNS = ("name", "date", "start", "minutes", "kind")

_SEPARATORS = ",;\t"

Row = tuple[int, list[str]]
"""A line's number and its cells."""


def read_sessions_csv(path: Path) -> tuple[tuple[int, SessionEntry], ...]:
    """Give the sessions of a CSV file, each with the number of its line.

    The first line names the columns `COLUMNS` in any order; they are separated by commas,
    semicolons or tabs. Raises TrackdayError with a line for each fault.
    """
    header, *rows = _read_rows(path)
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
        try:
            sessions.append((number, _read_record(record)))
        except ValidationError as error:
            data = _typed(record)
            faults += [
                f"{place}: {line}" for line in plain_lines(error, data=data, model=SessionEntry)
            ]
    if faults:
        raise TrackdayError(*faults)
    return tuple(sessions)


def _read_rows(path: Path) -> list[Row]:
    """Split the file into trimmed cells; leaves out blank lines."""
    text = read_text_file(path, missing_mend="mend sessions_csv in the event file")
    first = next(line for line in text.splitlines() if line.strip())
    separator = max(_SEPARATORS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        return [
            (reader.line_num, [cell.strip() for cell in cells])
            for cells in reader
            if any(cell.strip() for cell in cells)
        ]
    except csv.Error as error:
        raise TrackdayError(
            f"{shown_path(path)}: line {reader.line_num}: cannot be split into columns; "
            "check that every quote is closed"
        ) from error


def _read_header(header: Row, path: Path) -> list[str]:
    """Check the names of the columns."""
    number, cells = header
    columns = [cell.casefold() for cell in cells]
    faults = [f"{shown_path(path)}: line {number}: {fault}" for fault in _header_faults(columns)]
    if faults:
        raise TrackdayError(*faults)
    return columns


def _header_faults(columns: list[str]) -> Iterator[str]:
    """Say which columns are unknown, twice there, or missing."""
    if not set(columns) & set(COLUMNS):
        yield f"is not a header; begin the file with {','.join(COLUMNS)}"
        return
    for column in dict.fromkeys(columns):
        if column not in COLUMNS:
            near = difflib.get_close_matches(column, COLUMNS, n=1)
            mend = f'did you mean "{near[0]}"?' if near else "remove it"
            yield one_line(f"{shown_value(column)} is not a known column; {mend}")
        elif columns.count(column) > 1:
            yield f"{column}: is there twice; remove one of the columns"
    for column in COLUMNS:
        if column not in columns:
            yield f"{column}: the column is missing; add it"


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
