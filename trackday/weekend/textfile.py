"""Read a file that a person wrote, or say in one line why it cannot be read."""

from __future__ import annotations

import stat
from pathlib import Path

from trackday.errors import TrackdayError
from trackday.weekend.showing import shown_path

MAX_BYTES = 1_000_000
"""Largest file that is read, in bytes (assumption: what a person types stays far below it)."""

_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")


def read_text_file(path: Path, *, missing_mend: str = "mend the path") -> str:
    """Give the text of a UTF-8 file, with or without a byte order mark.

    Raises TrackdayError with one line for a file that is missing, not a plain file, too large,
    unreadable, binary, in another encoding, or empty; `missing_mend` is how to mend a missing one.
    """
    data, shown = _read_bytes(path, missing_mend), shown_path(path)
    if data.startswith(_UTF16_MARKS):
        raise TrackdayError(f"{shown}: is saved as UTF-16; save it as UTF-8")
    if b"\0" in data:
        raise TrackdayError(f"{shown}: is not a text file; write it with a text editor")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise TrackdayError(
            f"{shown}: line {line}: is not in the encoding UTF-8; save the file as UTF-8"
        ) from error
    if not text.strip():
        raise TrackdayError(f"{shown}: is empty; fill it in, or start from `trackday init DIR`")
    return text


def _read_bytes(path: Path, missing_mend: str) -> bytes:
    """Read a plain file of at most `MAX_BYTES`."""
    shown = shown_path(path)
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise TrackdayError(f"{shown}: is a folder; name a file in it")
        if not stat.S_ISREG(status.st_mode):
            raise TrackdayError(f"{shown}: is not a plain file; name a text file")
        if status.st_size > MAX_BYTES:
            raise TrackdayError(
                f"{shown}: is larger than {MAX_BYTES // 1000} kB; check that it is the right file"
            )
        return path.read_bytes()
    except FileNotFoundError as error:
        raise TrackdayError(f"{shown}: there is no such file; {missing_mend}") from error
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise TrackdayError(
            f"{shown}: cannot be read ({reason}); check its path and its permissions"
        ) from error
