"""Meteostat's library, set up so that it neither invents, nor waits for ever, nor fails in silence.

Left to itself it fills gaps with forecasts, has no time limit on its files, answers "no data" when
there is no network and, in its own cache, deletes by age and replaces a saved year by nothing when
the server fails. So its cache stays off, callers bound their waits, and what it only logs is
listened to.
"""

from __future__ import annotations

import logging
import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPException
from pathlib import Path
from typing import Any, Final
from urllib.error import HTTPError
from urllib.parse import urlsplit

import requests

from trackday.settings import Settings
from trackday.weather.failures import SourceError, failure_reason, host_of, status_reason
from trackday.weather.waiting import side_by_side

REACH_SECONDS: Final = 4.0
"""Longest wait, s, for the sign of life that tells "no network" from "no data" (assumption)."""

_LOGGER: Final = logging.getLogger("meteostat")


class _Listener(logging.Handler):
    """Keeps the exceptions that come with warnings and errors, for the thread that listens.

    It stays on for good: a logger walks over its handlers without a lock, so that taking one off in
    one thread makes another thread's go unheard. It also keeps tracebacks off a user's terminal.
    """

    def __init__(self) -> None:
        super().__init__(level=logging.WARNING)
        self.heard = threading.local()

    def emit(self, record: logging.LogRecord) -> None:
        """Keep the exception of a record where its thread listens; the library logs in it."""
        error = record.exc_info[1] if record.exc_info else None
        if isinstance(error, HTTPError):
            error.close()  # it holds the connection, which the library leaves open
        errors = getattr(self.heard, "errors", None)
        if error is not None and errors is not None:
            errors.append(error)


_LISTENER: Final = _Listener()
_LOGGER.addHandler(_LISTENER)


def open_library() -> Any:
    """Import the library and give it; its own `MS_…` variables say where it asks.

    It reads them when it is first imported, which is why it is imported here and not above.
    """
    import meteostat

    config = meteostat.config
    config.include_model_data = False
    config.cache_enable = False
    config.network_max_retries = 0  # with waits of 1, 2 and 4 s for each mirror
    return meteostat


def stations_folder(settings: Settings) -> Path:
    """Folder of everything that is kept of stations; the library's own variable has the say."""
    given = os.environ.get("MS_CACHE_DIRECTORY", "").strip()
    return Path(given).expanduser() if given else settings.cache_dir / "stations"


def require_host(url: str) -> None:
    """Ask the host of an address for a sign of life; raises SourceError within `REACH_SECONDS`.

    Any answer counts, whatever its status. An address without a host (a folder) needs none.
    """
    parts = urlsplit(url)
    if parts.scheme not in ("http", "https"):
        return
    root = f"{parts.scheme}://{parts.netloc}/"

    def ask() -> None:
        requests.head(root, timeout=REACH_SECONDS, allow_redirects=False).close()

    # Looking up a name may take longer than the time limit of the request.
    (outcome,) = side_by_side([ask], seconds=REACH_SECONDS)
    if outcome.error is not None:
        raise SourceError(library_reason(outcome.error, url)) from outcome.error
    if not outcome.done:
        raise SourceError(f"{host_of(url)} did not answer in time")


@contextmanager
def overheard() -> Iterator[list[BaseException]]:
    """Collect the errors that the library logs instead of raising, in this thread alone."""
    errors: list[BaseException] = []
    _LISTENER.heard.errors = errors
    try:
        yield errors
    finally:
        _LISTENER.heard.errors = None


def library_reason(error: BaseException, url: str) -> str:
    """Say in plain words why the library got nothing from an address."""
    host = host_of(url) or urlsplit(url).path
    if isinstance(error, HTTPError):
        return status_reason(error.code, b"", url)
    if isinstance(error, EOFError | HTTPException):
        return f"the reply of {host} broke off"
    if isinstance(error, OSError) and "gzip" not in type(error).__name__.lower():
        return failure_reason(error, url)
    return f"the reply of {host} is not what was asked for ({type(error).__name__})"
