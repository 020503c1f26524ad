"""The SQLite file that keeps replies: checked, moved aside or copied before it is relied on."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from trackday.damage import legible_damage
from trackday.weather.private import make_private_file, make_private_folder

FILE_NAME = "replies.sqlite"

BUSY_TIMEOUT_MS = 5000
"""How long to wait for another run that is writing (assumption)."""


def prepare_cache_file(cache_dir: Path, *, warn: Callable[[str], None]) -> Path:
    """Make the folder and return a database file that can be read and written, by its owner alone.

    A damaged file is moved aside, and `warn` is told so. Raises OSError or sqlite3.Error where the
    folder or the file cannot be used: not writable, locked, a file in place of a folder, disk full.
    """
    make_private_folder(cache_dir)
    path = cache_dir / FILE_NAME
    try:
        make_private_file(path)
        _check(path)
    except sqlite3.OperationalError:
        # Locked, read-only or out of space: nothing is wrong with what the file holds.
        raise
    except sqlite3.DatabaseError:
        aside = path.with_name("replies.damaged.sqlite")
        _move_aside(path, aside)
        make_private_file(path)
        warn(f"{path}: the saved replies were damaged; moved to {aside.name}, starting anew")
        _check(path)
    return path


def copy_cache_file(cache_dir: Path, folder: Path) -> Path:
    """Copy the saved replies of a folder that cannot be written into one that can.

    Raises OSError or sqlite3.Error where there is nothing to copy, or nothing sound.
    """
    path = folder / FILE_NAME
    for suffix in ("", "-wal"):
        source = cache_dir / (FILE_NAME + suffix)
        if not suffix or source.exists():
            # The contents alone: the copy must not be as read-only as its source.
            shutil.copyfile(source, path.with_name(path.name + suffix))
    _check(path)
    return path


def check_writable(path: Path, *, timeout_ms: int = BUSY_TIMEOUT_MS) -> None:
    """Take the file's write lock once; raises sqlite3.Error where that cannot be had in time.

    It is taken in the journal mode that the cache uses: that needs a file of its own, and where the
    disk has no room for it, the library would try for the lock again and again without end.
    """
    with closing(_connect(path, timeout_ms)) as connection:
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("ROLLBACK")


def _check(path: Path) -> None:
    """Read through the file and take its write lock once; raises sqlite3.Error."""
    with legible_damage(), closing(_connect(path, BUSY_TIMEOUT_MS)) as connection:
        (verdict,) = connection.execute("PRAGMA quick_check(1)").fetchone()
        if verdict != "ok":
            raise sqlite3.DatabaseError(verdict)
    check_writable(path)


def _connect(path: Path, timeout_ms: int) -> sqlite3.Connection:
    return sqlite3.connect(path, timeout=timeout_ms / 1000, isolation_level=None)


def _move_aside(path: Path, aside: Path) -> None:
    path.replace(aside)
    for suffix in ("-wal", "-shm"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)
