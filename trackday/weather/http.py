"""The one seam to the network: a cached session, and one way to ask for JSON."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Any
from urllib.parse import urljoin

import requests
import urllib3
from requests_cache import AnyResponse, CachedSession

from trackday import __version__
from trackday.weather.failures import (
    SourceError,
    failure_reason,
    host_of,
    parse_body,
    status_reason,
)
from trackday.weather.replay import ReplayAdapter
from trackday.weather.reply_cache import open_reply_cache
from trackday.weather.transport import Allowance, BoundedAdapter

EXPIRY = timedelta(minutes=30)
"""How long a reply is used without asking again: forecasts change hourly at most (assumption)."""

ENSEMBLE_EXPIRY = timedelta(minutes=60)
"""The same for ensembles, which are run every six hours (assumption)."""

_EXPIRIES: Mapping[str, timedelta] = {
    "*/ensemble": ENSEMBLE_EXPIRY,
    # What is seen now changes within minutes, and a warning can come at any time.
    "*/alerts/active": timedelta(minutes=5),
    "*/observations": timedelta(minutes=5),
    "*/metar": timedelta(minutes=5),
    # Places stay where they are; the grid that a place belongs to moves now and then.
    "*/points/*": timedelta(days=1),
    "*/gridpoints/*/stations": timedelta(days=1),
    "*/archive": timedelta(days=1),
    "*/search": timedelta(days=7),
    "*/elevation": timedelta(days=30),
}
"""The end of an address's path → how long its replies are good (assumptions)."""

MAX_STALE = timedelta(hours=48)
"""How long after its expiry a saved reply may stand in for a source that fails (assumption)."""

MAX_STALE_OFFLINE = timedelta(days=16)
"""The same where the user wants no network: after 16 days, no forecast has an hour left."""

_SECRETS = ("apikey", "Authorization")
"""Parameters and headers that hold the user's key (Open-Meteo's name of it)."""

KEEP = timedelta(days=30)
"""Age at which replies are deleted (assumption: longer than `MAX_STALE_OFFLINE`)."""

Kind = type[dict[str, Any]] | type[list[Any]]
"""What a reply must be: a JSON object or an array."""

_logger = logging.getLogger(__name__)
# Without a handler of its own, the cache's log would print tracebacks on a user's terminal.
logging.getLogger("requests_cache").addHandler(logging.NullHandler())


@dataclass(frozen=True)
class Reply:
    """One JSON object (or array), when its source sent it, and how it came to us.

    `data` is of the type that was expected. `stale` says that it was saved and has expired;
    `problem` why nothing newer could be had, if that was tried. `key` is its place in the cache,
    for `forget`.
    """

    data: Any
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
    allowance: Allowance | None = None,
) -> CachedSession:
    """Open a session that keeps replies in `cache_dir`, or in memory for None or a bad folder.

    With `offline`, nothing is ever asked. `warn` gets one line where the folder cannot be used or
    its file was damaged. `timeout_s` (connect, read), `backoff_s` (all in seconds) and `allowance`
    are those of BoundedAdapter.
    """
    session = _cached_session(cache_dir, warn=warn)
    session.settings.only_if_cached = offline
    session.headers["User-Agent"] = f"trackday/{__version__} (weather planning for club racers)"
    adapter = BoundedAdapter(timeout_s=timeout_s, backoff_s=backoff_s, allowance=allowance)
    session.mount("https://", adapter)
    session.mount("http://", adapter)
    return session


def fetch_json(
    session: CachedSession,
    url: str,
    params: Mapping[str, str],
    *,
    offline: bool,
    headers: Mapping[str, str] | None = None,
    expect: Kind = dict,
) -> Reply:
    """Get one JSON object or array (`expect`): from the cache while it is good, else from the net.

    `headers` come on top of the session's own. A source that fails is replaced by what it said at
    most `MAX_STALE` ago, marked stale. With `offline` whatever was saved is given. Where a list is
    expected, an answer without content (status 204) is an empty one. Raises SourceError where there
    is nothing to give.
    """
    question = _Question(url, dict(params), dict(headers or {}), expect)
    if offline or session.settings.only_if_cached:
        saved = _saved(session, question, max_stale=MAX_STALE_OFFLINE)
        if saved is None:
            raise SourceError("nothing saved for this place and these days")
        return saved
    try:
        return _ask(session, question)
    except SourceError as fault:
        saved = _saved(session, question, max_stale=MAX_STALE)
        if saved is None:
            raise
        return replace(saved, problem=fault.reason)


def forget(session: CachedSession, reply: Reply) -> None:
    """Drop a saved reply that turned out to be of no use, so that the next run asks again."""
    if reply.key is not None:
        session.cache.delete(reply.key)


@dataclass(frozen=True)
class _Question:
    """One request, and which kind of JSON answers it."""

    url: str
    params: dict[str, str]
    headers: dict[str, str]
    expect: Kind

    def put(self, session: CachedSession, **options: Any) -> AnyResponse:
        """Ask; a reply with status 200 that is not the JSON expected raises SourceError.

        The check hangs on the request, below the cache: web pages, torn replies and the wrong kind
        of JSON are never saved over a good reply.
        """
        return session.get(
            self.url, params=self.params, hooks={"response": self._refuse_junk}, **options
        )

    def _refuse_junk(self, response: requests.Response, *_: Any, **__: Any) -> None:
        if response.is_redirect:
            _refuse_downgrade(response)
        if response.status_code == requests.codes.ok:
            parse_body(response.content, self.url, expect=self.expect)


def _refuse_downgrade(redirect: requests.Response) -> None:
    """Raise SourceError where a redirect leads from an encrypted address to an open one."""
    try:
        target = urljoin(redirect.url, redirect.headers["location"])
    except ValueError as error:
        raise SourceError(f"{host_of(redirect.url)} leads on to no usable address") from error
    if redirect.url.startswith("https:") and not target.startswith("https:"):
        raise SourceError(f"{host_of(redirect.url)} leads on to an address without encryption")


def _ask(session: CachedSession, question: _Question) -> Reply:
    try:
        response = question.put(session, headers=question.headers)
    except (OSError, UnicodeError, urllib3.exceptions.HTTPError) as error:
        # UnicodeError: a redirect to a name that cannot be one of a host.
        raise SourceError(failure_reason(error, question.url)) from error
    if response.status_code == requests.codes.no_content and question.expect is list:
        return Reply(
            [], _fetched_at(session, response, question.url), from_cache=False, stale=False
        )
    if response.status_code != requests.codes.ok:
        raise SourceError(
            status_reason(response.status_code, response.content, question.url),
            status=response.status_code,
        )
    return _reply(session, response, question)


def _saved(session: CachedSession, question: _Question, *, max_stale: timedelta) -> Reply | None:
    """Look into the cache alone, allowing for replies that expired up to `max_stale` ago."""
    allow = {"Cache-Control": f"max-stale={max_stale.total_seconds():.0f}"}
    response = question.put(session, headers=question.headers | allow, only_if_cached=True)
    # A miss is answered 504 by the cache itself, and calls itself "from cache".
    return (
        _reply(session, response, question) if response.status_code == requests.codes.ok else None
    )


def _reply(session: CachedSession, response: AnyResponse, question: _Question) -> Reply:
    return Reply(
        data=parse_body(response.content, question.url, expect=question.expect),
        fetched_at=_fetched_at(session, response, question.url),
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
        # A date without a zone ("-0000") is UTC by RFC 5322.
        return min(received, sent.replace(tzinfo=sent.tzinfo or UTC).astimezone(UTC))
    except (ValueError, OverflowError):
        return received


def _cached_session(cache_dir: Path | None, *, warn: Callable[[str], None]) -> CachedSession:
    policy: dict[str, Any] = {
        "expire_after": EXPIRY,
        "urls_expire_after": _EXPIRIES,
        "allowable_codes": (200,),
        # Keys are neither written to the disk nor part of what a saved reply is found by.
        "ignored_parameters": _SECRETS,
    }
    cache = None if cache_dir is None else open_reply_cache(cache_dir, warn=warn)
    if cache is None:
        return CachedSession(backend="memory", **policy)
    # Invalid are those that another version wrote in a form that this one does not read.
    cache.delete(older_than=KEEP, invalid=True, vacuum=False)
    return CachedSession(backend=cache, **policy)
