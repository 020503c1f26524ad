"""Tables of CSV as spreadsheets and exports write them: lines with numbers, cells with units.

A column of pressures or temperatures may say its unit three ways: in its own name, as an export
does ("track_temp_c"), after the name ("track_temp_f", "track_temp (°F)"), or in each cell
("105 °F").
"""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from trackday.errors import TrackdayError
from trackday.logbook.columns import Column, Value
from trackday.units import Dimension, parse_quantity
from trackday.weekend.showing import one_line, shown_path, shown_value

SEPARATORS = ",;\t"

MOST_FAULTS = 20
"""Most faults of a file that are listed at once (assumption: more is one fault made often)."""

MAX_BYTES = 50_000_000
"""Largest file that is imported, bytes (assumption: ten thousand entries take some 4 MB)."""

MAX_VALUE = 80
"""Longest cell that is read as a value, in characters (assumption; notes may be of any length)."""

_SI: dict[str, tuple[Dimension, str]] = {
    "_kpa": ("pressure", "kPa"),
    "_temp_c": ("temperature", "°C"),
}
"""Ends of columns that hold a quantity: its dimension and the unit of the column."""

_PLAIN = re.compile(r"[+\-−]?[\d.,]+(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
_COMMA = re.compile(r"([+-]?\d+),(\d+)", re.ASCII)
_HEADING = re.compile(r"(?P<name>.+?)[\s_]*[(\[](?P<unit>[^)\]]+)[)\]]")

Read = Callable[[str], Value]


@dataclass(frozen=True)
class Line:
    """A line of a table: its number in the file, and its cells by their heading."""

    number: int
    cells: dict[str, str]


def read_table(path: Path) -> tuple[list[str], list[Line]]:
    """Give the headings and the lines of a CSV file in UTF-8; blank lines are left out.

    Columns are separated by commas, semicolons or tabs, as the first line is. Text in quotes is
    kept to the letter, line breaks and all. Raises TrackdayError, one line a fault.
    """
    text = _read_text(path)
    first = text.partition("\n")[0]
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=max(SEPARATORS, key=first.count), strict=True
    )
    rows: list[tuple[int, list[str]]] = []
    try:
        with _long_cells(len(text)):
            number = 1
            for cells in reader:
                rows.append((number, cells))
                number = reader.line_num + 1
    except csv.Error as error:
        raise TrackdayError(
            f"{shown_path(path)}: line {reader.line_num}: cannot be split into columns; check "
            "that every quote is closed"
        ) from error
    rows = [(number, cells) for number, cells in rows if any(cell.strip() for cell in cells)]
    if not rows:
        raise TrackdayError(f"{shown_path(path)}: is empty; write the names of the columns first")
    headings = [heading.strip() for heading in rows[0][1]]
    return headings, _lines(path, headings, rows[1:])


def _lines(path: Path, headings: list[str], rows: list[tuple[int, list[str]]]) -> list[Line]:
    """Put cells under their headings; TrackdayError for lines that are too short or too long."""
    raise_faults(
        f"{shown_path(path)}: line {number}: has {len(cells)} columns where the first line has "
        f"{len(headings)}; write one value for each column"
        for number, cells in rows
        if len(cells) != len(headings)
    )
    return [Line(number, dict(zip(headings, cells, strict=True))) for number, cells in rows]


def raise_faults(faults: Iterable[str]) -> None:
    """Raise TrackdayError with the first `MOST_FAULTS` faults, if there are any."""
    found = [one_line(fault) for fault in faults]
    more = len(found) - MOST_FAULTS
    if more > 0:
        found[MOST_FAULTS:] = [f"… and {more} more faults; mend these first, then import again"]
    if found:
        raise TrackdayError(*found)


def match_headings(
    path: Path, headings: list[str], columns: tuple[Column, ...]
) -> dict[str, tuple[Column, Read]]:
    """Tell for each heading which column it is and how its cells are read.

    Raises TrackdayError for headings that are unknown or name one column twice.
    """
    found: dict[str, tuple[Column, Read]] = {}
    faults: list[str] = []
    for heading in headings:
        matched = _match(heading, columns)
        if matched is None:
            faults.append(
                f"{shown_value(heading)} is not a known column; {_mend(heading, columns)}"
            )
        elif any(column is matched[0] for column, _ in found.values()) or heading in found:
            faults.append(f"{heading}: is there twice; remove one of the columns")
        else:
            found[heading] = matched
    raise_faults(f"{shown_path(path)}: line 1: {fault}" for fault in faults)
    return found


def _match(heading: str, columns: tuple[Column, ...]) -> tuple[Column, Read] | None:
    """Match one heading with a column by its name and unit."""
    in_brackets = _HEADING.fullmatch(heading)
    name = in_brackets["name"] if in_brackets else heading
    unit = in_brackets["unit"] if in_brackets else ""
    name = re.sub(r"\s+", "_", name.strip().lower())
    for column in columns:
        if name == column.name and not unit:
            return column, _reader(column, own_unit=True)
        bare = _bare(column)
        if bare is not None and (name == bare or name.startswith(bare + "_")):
            written = unit or name.removeprefix(bare).strip("_")
            return column, _reader(column, unit=written)
    return None


def _bare(column: Column) -> str | None:
    """Give the name of a quantity's column without its unit; None for other columns."""
    end = next((end for end in _SI if column.name.endswith(end)), None)
    return None if end is None else column.name[: column.name.rindex("_")]


def _reader(column: Column, *, unit: str = "", own_unit: bool = False) -> Read:
    """Make what reads the cells of a column, whose heading may name a unit."""
    if column.kind == "text":
        return column.from_text
    read = _value_reader(column, unit=unit, own_unit=own_unit)

    def read_short(cell: str) -> Value:
        if len(cell) > MAX_VALUE:
            raise ValueError(f"{shown_value(cell)} is too long; write one value")
        return read(cell)

    return read_short


def _value_reader(column: Column, *, unit: str, own_unit: bool) -> Read:
    """Make what reads cells that are not text."""
    end = next((end for end in _SI if column.name.endswith(end)), None)
    if end is None:
        return lambda cell: column.from_text(_with_point(column, cell))
    dimension, si = _SI[end]

    def read(cell: str) -> Value:
        cell = cell.strip()
        if not cell:
            return None
        if not _PLAIN.fullmatch(cell):
            return parse_quantity(cell, dimension)
        if own_unit and "," not in cell and "−" not in cell:
            return column.from_text(cell)
        return parse_quantity(f"{cell} {si if own_unit else unit}", dimension)

    return read


def _with_point(column: Column, cell: str) -> str:
    """Take a decimal comma for a point in a column of numbers."""
    match = _COMMA.fullmatch(cell.strip()) if column.kind == "real" else None
    return f"{match[1]}.{match[2]}" if match else cell


def _mend(heading: str, columns: tuple[Column, ...]) -> str:
    near = difflib.get_close_matches(heading.lower(), [column.name for column in columns], n=1)
    return f'did you mean "{near[0]}"?' if near else "remove it or rename it"


def read_cell(read: Read, line: Line, heading: str) -> Value:
    """Read one cell; ValueError names the column and the mend."""
    try:
        return read(line.cells[heading])
    except ValueError as error:
        raise ValueError(f"{heading}: {error}") from error


def _read_text(path: Path) -> str:
    """Read a file of text in UTF-8 to the letter."""
    shown = shown_path(path)
    try:
        data = read_limited(path)
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise TrackdayError(
            f"{shown}: line {line}: is not in the encoding UTF-8; save the file as CSV UTF-8"
        ) from error
    except FileNotFoundError as error:
        raise TrackdayError(f"{shown}: there is no such file; mend the path") from error
    except ValueError as error:
        raise TrackdayError(f"{shown}: {error}") from error
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise TrackdayError(
            f"{shown}: cannot be read ({one_line(reason)}); check its path and its permissions"
        ) from error


def read_limited(path: Path) -> bytes:
    """Read a file of at most `MAX_BYTES`; raises OSError, and ValueError for a larger one."""
    with path.open("rb") as file:
        data = file.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise ValueError(
            f"{one_line(path.name)} is larger than {MAX_BYTES // 1_000_000} MB; check that it is "
            "the right file"
        )
    return data


@contextmanager
def _long_cells(length: int) -> Iterator[None]:
    """Let the csv module read cells as long as the file, and set its limit back."""
    before = csv.field_size_limit(max(length, csv.field_size_limit()))
    try:
        yield
    finally:
        csv.field_size_limit(before)
