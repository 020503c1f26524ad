"""The racer's entries as one table for a spreadsheet, and files taken in whatever they are."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

from trackday.errors import TrackdayError
from trackday.logbook.export import csv_of
from trackday.logbook.importing import Imported, import_all, import_entries
from trackday.logbook.store import Book
from trackday.logbook.tables import ENTRIES, SETS, take_snapshot
from trackday.weekend.showing import one_line, shown_path


def export_entries(book: Book, folder: Path) -> Path:
    """Write the entries alone, as `entries.csv` in a folder, whole or not at all.

    TrackdayError for a file of that name that no export wrote, and where it cannot be written.
    """
    if folder.exists() and not folder.is_dir():
        raise TrackdayError(f"{shown_path(folder)}: is a file; name a folder")
    path = folder / f"{ENTRIES.name}.csv"
    text = csv_of(ENTRIES, take_snapshot(book).rows[ENTRIES.name])
    heading = text.partition("\r\n")[0].encode()
    partial = path.with_name(path.name + ".partial")
    try:
        if path.exists() and not path.read_bytes().startswith(heading):
            raise TrackdayError(
                f"{shown_path(path)}: is another table; name an empty or a new folder"
            )
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        partial.unlink(missing_ok=True)
        try:
            handle = os.open(partial, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
            with os.fdopen(handle, "wb") as file:
                file.write(text.encode())
                file.flush()
                os.fsync(handle)
            partial.replace(path)
        finally:
            partial.unlink(missing_ok=True)
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise TrackdayError(
            one_line(
                f"{path}: cannot be written ({reason}); check the folder and the space on the disk"
            )
        ) from error
    return path


def import_any(path: Path, book: Book, *, when: datetime) -> Imported:
    """Take in a whole export (its folder), or a table of entries (a file, or alone in a folder).

    TrackdayError, one line a fault, and nothing is added then.
    """
    if not path.is_dir():
        return import_entries(path, book, when=when)
    if (path / f"{SETS.name}.csv").exists():
        return import_all(path, book, when=when)
    return import_entries(path / f"{ENTRIES.name}.csv", book, when=when)
