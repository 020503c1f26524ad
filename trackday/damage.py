"""Damaged database files, told in words."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def legible_damage() -> Iterator[None]:
    """Raise SQLite's error of a damaged file in place of UnicodeDecodeError.

    SQLite quotes names of a damaged file in its errors, and Python's module takes them for UTF-8.
    """
    try:
        yield
    except UnicodeDecodeError as error:
        damage = sqlite3.DatabaseError("database disk image is malformed")
        damage.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
        damage.sqlite_errorname = "SQLITE_CORRUPT"
        raise damage from error
