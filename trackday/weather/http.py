"""The one seam to the network: a cached session, and one way to ask for JSON."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Any

import requests
from requests_cache import AnyResponse, CachedSession
from requests_cache.backends.sqlite import SQLiteCache

from trackday import __version__
from trackday.weather.cache_file import BUSY_TIMEOUT_MS, prepare_cache_file
from trackday.weather.failures import (
    SourceError,
    failure_reason,
    parse_object,
    status_reason,
)
from trackday.weather.replay import ReplayAdapter
from trackday.weather.transport import JsonAdapter

EXPIRY = timedelta(minutes=30)
"""How long a reply is used without asking again: forecasts change hourly at most (assumption)."""

ENSEMBLE_EXPIRY = timedelta(minutes=60)
"""The same for ensembles, which are run every six hours (assumption)."""

MAX_STALE = timedelta(hours=48)
"""How long after its expiry a saved reply may stand in for a source that fails (assumption)."""

MAX_STALE_OFFLINE = timedelta(days=16)
"""The same where the user wants no network: after 16 days, no forecast has an hour left."""

KEEP = timedelta(days=30)
"""Age at which replies are deleted (assumption: longer than `MAX_STALE_OFFLINE`)."""

_logger = logging.getLogger(__name__)
# Without a handler of its own, the cache's log would print tracebacks on a user's terminal.
logging.getLogger("requests_cache").addHandler(logging.NullHandler())


@dataclass(frozen=True)
class Reply:
    """One JSON object, when its source sent it, and how it came to us.

    `stale` says that it was saved and has expired; `problem` why nothing newer could be had, if
    that was tried. `key` is its place in the cache, for `forget`.
    """

    data: dict[str, Any]
    fetched_at: datetime
    from_cache: bool
    stale: bool
    problem: str | None = None
    key: str | None = None


def open_session(
    cache_dir: Path | None,
    *,
    offline: bool = False,
    warn: Callable[[str], None] = _logger.warning,
    timeout_s: tuple[float, float] = (5.0, 20.0),
    backoff_s: float = 0.5,
) -> CachedSession:
    """Open a session that keeps replies in `cache_dir`, or in memory for None or a bad folder.

    With `offline`, nothing is ever asked. `warn` gets one line where the folder cannot be used or
    its file was damaged. `timeout_s` is (connect, read) in seconds; `backoff_s` as in JsonAdapter.
    """
    session = _cached_session(cache_dir, warn=warn)
    session.settings.only_if_cached = offline
    session.headers["User-Agent"] = f"trackday/{__version__} (weather planning for club racers)"
    adapter = JsonAdapter(timeout_s=timeout_s, backoff_s=backoff_s)
    session.mount("https://", adapter)
    session.mount("http://", adapter)
    return session


def fetch_json(
    session: CachedSession, url: str, params: Mapping[str, str], *, offline: bool
) -> Reply:
    """Get one JSON object: from the cache while it is good, else from the network.

    A source that fails is replaced by what it said at most `MAX_STALE` ago, marked stale. With
    `offline` whatever was saved is given. Raises SourceError where there is nothing to give.
    """
    if offline or session.settings.only_if_cached:
        saved = _saved(session, url, params, max_stale=MAX_STALE_OFFLINE)
        if saved is None:
            raise SourceError("nothing saved for this place and these days")
        return saved
    try:
        return _ask(session, url, params)
    except SourceError as fault:
        saved = _saved(session, url, params, max_stale=MAX_STALE)
        if saved is None:
            raise
        return replace(saved, problem=fault.reason)


def forget(session: CachedSession, reply: Reply) -> None:
    """Drop a saved reply that turned out to be of no use, so that the next run asks again."""
    if reply.key is not None:
        session.cache.delete(reply.key)


def _ask(session: CachedSession, url: str, params: Mapping[str, str]) -> Reply:
    try:
        response = session.get(url, params=params)
    except OSError as error:  # every exception of requests is one
        raise SourceError(failure_reason(error, url)) from error
    if response.status_code != requests.codes.ok:
        raise SourceError(status_reason(response.status_code, response.content, url))
    return _reply(session, response, url)


def _saved(
    session: CachedSession, url: str, params: Mapping[str, str], *, max_stale: timedelta
) -> Reply | None:
    """Look into the cache alone, allowing for replies that expired up to `max_stale` ago."""
    allow = {"Cache-Control": f"max-stale={max_stale.total_seconds():.0f}"}
    response = session.get(url, params=params, headers=allow, only_if_cached=True)
    # A miss is answered 504 by the cache itself, and calls itself "from cache".
    return _reply(session, response, url) if response.status_code == requests.codes.ok else None


def _reply(session: CachedSession, response: AnyResponse, url: str) -> Reply:
    return Reply(
        data=parse_object(response.content, url),
        fetched_at=_fetched_at(session, response, url),
        from_cache=response.from_cache,
        stale=response.is_expired,
        key=response.cache_key or None,
    )


def _fetched_at(session: CachedSession, response: AnyResponse, url: str) -> datetime:
    """Tell when the source made its reply: the earlier of its clock and ours, never too fresh.

    A proxy on the way may have kept the reply for a while; the source's Date header shows that.
    """
    adapter = session.get_adapter(url)
    if isinstance(adapter, ReplayAdapter):
        return adapter.recorded_at
    received = response.created_at.astimezone(UTC)
    try:
        sent = parsedate_to_datetime(response.headers.get("Date", ""))
    except ValueError:
        return received
    # A date without a zone ("-0000") is UTC by RFC 5322.
    return min(received, sent.replace(tzinfo=sent.tzinfo or UTC).astimezone(UTC))


def _cached_session(cache_dir: Path | None, *, warn: Callable[[str], None]) -> CachedSession:
    policy: dict[str, Any] = {
        "expire_after": EXPIRY,
        "urls_expire_after": {"*/ensemble": ENSEMBLE_EXPIRY},
        "allowable_codes": (200,),
    }
    if cache_dir is not None:
        try:
            path = prepare_cache_file(cache_dir, warn=warn)
            cache = SQLiteCache(path, wal=True, busy_timeout=BUSY_TIMEOUT_MS)
            cache.delete(older_than=KEEP, vacuum=False)
        except (OSError, sqlite3.Error) as error:
            warn(
                f"{cache_dir}: replies cannot be kept there ({error}); they last for this run "
                "only; set TRACKDAY_CACHE_DIR to a folder that can be written"
            )
        else:
            return CachedSession(backend=cache, **policy)
    return CachedSession(backend="memory", **policy)
