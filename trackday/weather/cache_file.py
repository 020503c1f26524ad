"""The SQLite file that keeps replies: usable, or moved aside, before anything relies on it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

BUSY_TIMEOUT_MS = 5000
"""How long to wait for another run that is writing (assumption)."""


def prepare_cache_file(cache_dir: Path, *, warn: Callable[[str], None]) -> Path:
    """Make the folder and return a database file that can be read and written.

    A damaged file is moved aside, and `warn` is told so. Raises OSError or sqlite3.Error where the
    folder or the file cannot be used: not writable, locked, a file in place of a folder, disk full.
    """
    cache_dir.mkdir(parents=True, exist_ok=True)
    path = cache_dir / "replies.sqlite"
    try:
        _check(path)
    except sqlite3.OperationalError:
        # Locked, read-only or out of space: nothing is wrong with what the file holds.
        raise
    except sqlite3.DatabaseError:
        aside = path.with_name("replies.damaged.sqlite")
        _move_aside(path, aside)
        warn(f"{path}: the saved replies were damaged; moved to {aside.name}, starting anew")
        _check(path)
    return path


def _check(path: Path) -> None:
    """Read through the file and take its write lock once; raises sqlite3.Error."""
    connection = sqlite3.connect(path, timeout=BUSY_TIMEOUT_MS / 1000, isolation_level=None)
    with closing(connection):
        (verdict,) = connection.execute("PRAGMA quick_check(1)").fetchone()
        if verdict != "ok":
            raise sqlite3.DatabaseError(verdict)
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("ROLLBACK")


def _move_aside(path: Path, aside: Path) -> None:
    path.replace(aside)
    for suffix in ("-wal", "-shm"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)
