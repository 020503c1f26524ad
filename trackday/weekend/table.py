"""Tables that a person keeps as CSV, as spreadsheets write them: numbered rows under a header."""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Collection, Iterator, Sequence
from pathlib import Path

from trackday.errors import TrackdayError
from trackday.weekend.showing import one_line, shown_path, shown_value
from trackday.weekend.textfile import read_text_file

SEPARATORS = ",;\t"
"""What may stand between two cells: the one that the first line has most of."""

Row = tuple[int, list[str]]
"""A line's number and its trimmed cells."""


def read_rows(path: Path, *, missing_mend: str) -> list[Row]:
    """Split a file into rows, the header first; leaves out blank lines.

    Raises TrackdayError with one line for a file that cannot be read or split; `missing_mend` is
    how to mend a missing one.
    """
    text = read_text_file(path, missing_mend=missing_mend)
    first = next(line for line in text.splitlines() if line.strip())
    separator = max(SEPARATORS, key=first.count)
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


def header_faults(
    columns: Sequence[str], *, known: Sequence[str], needed: Collection[str]
) -> Iterator[str]:
    """Say which columns (in small letters) are unknown, twice there, or missing."""
    if not set(columns) & set(known):
        yield f"is not a header; begin the file with {','.join(known)}"
        return
    for column in dict.fromkeys(columns):
        if column not in known:
            near = difflib.get_close_matches(column, known, n=1)
            mend = f'did you mean "{near[0]}"?' if near else "remove it"
            yield one_line(f"{shown_value(column)} is not a known column; {mend}")
        elif columns.count(column) > 1:
            yield f"{column}: is there twice; remove one of the columns"
    for column in needed:
        if column not in columns:
            yield f"{column}: the column is missing; add it"
