"""Write the whole book as plain CSV and JSON, readable without this program.

The same book gives the same bytes each time. Numbers are SI with the unit in the column's name.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Mapping
from importlib import resources
from pathlib import Path

from trackday.errors import TrackdayError
from trackday.logbook.columns import DbValue
from trackday.logbook.store import Book
from trackday.logbook.tables import (
    FOR_READING,
    WHOLE,
    Row,
    Snapshot,
    Table,
    pretty,
    take_snapshot,
)
from trackday.weekend.showing import one_line, shown_path

JSON_NAME = "logbook.json"
README_NAME = "README.txt"
SCHEMA = "trackday.logbook/1"
"""Name of the form of the JSON; a change that breaks a reader gets another number."""


def export_all(book: Book, folder: Path) -> tuple[Path, ...]:
    """Write everything in the book into a folder and give the files.

    A CSV for each table, `logbook.json` with the same, what looks said and their weather in
    `looks`, and a README.txt. The folder is made, or holds an earlier export, which is replaced
    file by file. Raises TrackdayError for a folder that holds something else or cannot be written.
    """
    contents = export_contents(take_snapshot(book))
    try:
        _make_folder(folder)
        return tuple(_write(folder / name, data) for name, data in contents.items())
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise TrackdayError(
            one_line(
                f"{folder}: the export cannot be written ({reason}); free some space, check the "
                "right to write there, and export again"
            )
        ) from error


def export_contents(snapshot: Snapshot) -> dict[str, bytes]:
    """Give the files of an export by their names in its folder."""
    tables = (*WHOLE, *FOR_READING)
    contents = {
        f"{table.name}.csv": csv_of(table, snapshot.rows[table.name]).encode() for table in tables
    }
    contents |= snapshot.files
    data = {table.name: _json_rows(table, snapshot.rows[table.name]) for table in tables}
    contents[JSON_NAME] = pretty({"schema": SCHEMA, **data}).encode()
    contents[README_NAME] = resources.files("trackday.logbook").joinpath("export.txt").read_bytes()
    return contents


def csv_of(table: Table, rows: list[Row]) -> str:
    """Write a table as RFC 4180 has it: commas, quotes where needed, lines that end in CR LF."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(column.name for column in table.columns)
    for row in rows:
        writer.writerow(table.column(name, row).to_text(value) for name, value in row.items())
    return out.getvalue()


def _json_rows(table: Table, rows: list[Row]) -> list[Mapping[str, DbValue]]:
    """Give a table's rows as JSON holds them."""
    return [
        {name: table.column(name, row).to_json(value) for name, value in row.items()}
        for row in rows
    ]


def _make_folder(folder: Path) -> None:
    """Make the folder, or see that it is empty or an earlier export."""
    if folder.is_dir() and not (folder / JSON_NAME).exists() and any(folder.iterdir()):
        raise TrackdayError(
            f"{shown_path(folder)}: holds other files; name an empty or a new folder"
        )
    if folder.exists() and not folder.is_dir():
        raise TrackdayError(f"{shown_path(folder)}: is a file; name a folder")
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)


def _write(path: Path, data: bytes) -> Path:
    """Write a file that only the owner may read, whole or not at all, and see it to the disk."""
    path.parent.mkdir(mode=0o700, exist_ok=True)
    partial = path.with_name(path.name + ".partial")
    partial.unlink(missing_ok=True)
    try:
        handle = os.open(partial, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(handle)
        partial.replace(path)
    except OSError:
        partial.unlink(missing_ok=True)
        raise
    return path
