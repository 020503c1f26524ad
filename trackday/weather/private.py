"""Files that other users of the same computer may not read. Windows has no such modes."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

OWNER_FOLDER = 0o700
OWNER_FILE = 0o600
"""Modes that let the owner alone in (POSIX)."""


def make_private_folder(folder: Path) -> None:
    """Make a folder for its owner alone; one that is there is left as it is. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True, mode=OWNER_FOLDER)


def make_private_file(path: Path) -> None:
    """Make an empty file for its owner alone, or take a file that is there from all others.

    What SQLite puts beside a database gets the database's mode. Raises OSError where the file
    cannot be made.
    """
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, OWNER_FILE))
        return
    if path.is_file():
        # A card without modes, or somebody else's file: who uses it all the same knows of it.
        with suppress(OSError):
            path.chmod(OWNER_FILE)
