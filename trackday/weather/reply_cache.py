"""The cache of replies, safe for several threads and for a disk that fails under it."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
import weakref
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from threading import RLock
from typing import Any, TypeVar

import requests
from requests_cache.backends.sqlite import SQLiteCache
from requests_cache.models.response import CachedResponse

from trackday.weather.cache_file import (
    BUSY_TIMEOUT_MS,
    check_writable,
    copy_cache_file,
    prepare_cache_file,
)
from trackday.weather.reply_form import reply_serializer

_TURN_S = 5.0
"""How long one thread waits for its turn before it does without the cache (assumption)."""

_WRITE_WAIT_MS = 2000
"""How long to wait for another run's write before a reply is left unsaved (assumption)."""

T = TypeVar("T")


class ReplyCache(SQLiteCache):
    """SQLite cache that one thread uses at a time, and that never fails a request.

    The library shares one connection among all threads, remembers in a plain flag whether a
    transaction is open, and lets a second thread write into the first one's transaction, to be
    rolled back with it. So every use takes its turn here; only the network is asked side by side.
    The library also waits for the file's write lock without end, and says nothing when a full disk
    kept a reply from being saved. So the lock is tried first, and the reply looked for afterwards;
    `warn` gets one line, once, where replies could not be read or saved.
    """

    def __init__(self, path: Path, *, warn: Callable[[str], None]) -> None:
        """Open the file; raises sqlite3.Error."""
        super().__init__(
            path, serializer=reply_serializer(), wal=True, busy_timeout=BUSY_TIMEOUT_MS
        )
        self._path = path
        self._warn = warn
        self._turns = RLock()
        self._failed = False

    def get_response(self, key: str, default: Any = None) -> CachedResponse | None:
        """Return the saved reply, or `default` where there is none or it cannot be read."""
        found: CachedResponse | None = self._in_turn(
            lambda: super(ReplyCache, self).get_response(key, default), default
        )
        return found

    def save_response(
        self,
        response: requests.Response,
        cache_key: str | None = None,
        expires: datetime | None = None,
    ) -> None:
        """Save a reply, if the disk lets us."""

        def save() -> None:
            check_writable(self._path, timeout_ms=_WRITE_WAIT_MS)
            super(ReplyCache, self).save_response(response, cache_key, expires)
            if cache_key is not None and not self._holds(cache_key):
                raise sqlite3.OperationalError("the disk did not take a reply")

        if not self._failed:
            self._in_turn(save, None)

    def delete(self, *keys: str, **conditions: Any) -> None:
        """Delete replies, if the disk lets us."""

        def delete() -> None:
            check_writable(self._path, timeout_ms=_WRITE_WAIT_MS)
            super(ReplyCache, self).delete(*keys, **conditions)

        if not self._failed:
            self._in_turn(delete, None)

    def _holds(self, key: str) -> bool:
        query = f"SELECT 1 FROM {self.responses.table_name} WHERE key = ?"  # noqa: S608
        with self.responses.connection() as connection:
            return connection.execute(query, (key,)).fetchone() is not None

    def _in_turn(self, action: Callable[[], T], otherwise: T) -> T:
        """Do something when no other thread is at it; whatever the file's trouble, it ends here."""
        if not self._turns.acquire(timeout=_TURN_S):
            self._give_up("another request does not let go of them")
            return otherwise
        try:
            return action()
        except (OSError, sqlite3.Error) as error:
            self._give_up(str(error))
            return otherwise
        finally:
            self._turns.release()

    def _give_up(self, reason: str) -> None:
        if not self._failed:
            self._failed = True
            self._warn(
                f"{self._path}: replies cannot be saved ({reason}), and this run goes on without; "
                "make room, or set TRACKDAY_CACHE_DIR to another folder"
            )


def open_reply_cache(cache_dir: Path, *, warn: Callable[[str], None]) -> ReplyCache | None:
    """Open the saved replies of a folder, None where neither it nor a copy of it can be used.

    Where the folder cannot be written, a copy in the system's temporary folder serves this run, so
    that what was saved can still be read. `warn` gets one line for whatever is wrong.
    """
    try:
        return ReplyCache(prepare_cache_file(cache_dir, warn=warn), warn=warn)
    except (OSError, sqlite3.Error) as error:
        warn(
            f"{cache_dir}: replies cannot be kept there ({error}); they last for this run "
            "only; set TRACKDAY_CACHE_DIR to a folder that can be written"
        )
    folder: Path | None = None
    try:
        folder = Path(tempfile.mkdtemp(prefix="trackday-"))
        cache = ReplyCache(copy_cache_file(cache_dir, folder), warn=warn)
    except (OSError, sqlite3.Error):
        # Nothing was saved there either, or the disk is full for a copy, and the reader knows
        # already that nothing can be kept.
        if folder is not None:
            shutil.rmtree(folder, ignore_errors=True)
        return None
    weakref.finalize(cache, shutil.rmtree, folder, ignore_errors=True)
    return cache
