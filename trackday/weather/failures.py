"""Why a source gave nothing, in plain words."""

from __future__ import annotations

import json
import socket
import ssl
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import requests
import urllib3

from trackday.weather.plain import plain_line

_REASON_LENGTH = 200
"""Characters of a provider's own explanation that are passed on (assumption)."""


class SourceError(Exception):
    """A source gave nothing that can be used; `reason` is one line in plain words.

    `status` is the HTTP status of its answer, None where it gave none or answered 200.
    """

    def __init__(self, reason: str, *, status: int | None = None) -> None:
        """Take the reason, and the status if there was one."""
        # Pieces of what a provider sent may stand in it.
        self.reason = plain_line(reason)
        super().__init__(self.reason)
        self.status = status


class OtherDaysError(SourceError):
    """A good reply that holds nothing of the days that were asked; of other days it may."""


_FAILURES: tuple[tuple[tuple[type[BaseException], ...], str], ...] = (
    ((requests.TooManyRedirects,), "{host} redirects in circles"),
    ((requests.exceptions.ProxyError,), "the proxy on the way to {host} failed"),
    ((requests.exceptions.SSLError, ssl.SSLError), "the secure connection to {host} failed"),
    ((socket.gaierror,), "the name {host} cannot be looked up; is there a network?"),
    ((ConnectionRefusedError,), "{host} refuses connections"),
    (
        (urllib3.exceptions.NewConnectionError,),
        "{host} cannot be reached; is there a network?",
    ),
    (
        (requests.Timeout, urllib3.exceptions.TimeoutError, TimeoutError),
        "{host} did not answer in time",
    ),
    (
        (requests.exceptions.ContentDecodingError, urllib3.exceptions.DecodeError),
        "the reply of {host} is damaged and cannot be unpacked",
    ),
    (
        (requests.exceptions.ChunkedEncodingError, urllib3.exceptions.IncompleteRead),
        "the reply of {host} broke off",
    ),
    (
        (requests.ConnectionError, urllib3.exceptions.ProtocolError),
        "{host} closed the connection without a reply",
    ),
)
"""Kind of exception, anywhere in the chain of causes → what to say. The first match counts, so
the special stand before the general."""

_STATUSES = {
    400: "{host} refused the request (status 400)",
    401: "{host} refused access (status 401); check the key in the settings",
    403: "{host} refused access (status 403); check key and contact in the settings",
    404: "{host} has nothing at this address (status 404); check the address in the settings",
    429: "{host} was asked too often (status 429); wait a while",
}


def failure_reason(error: Exception, url: str) -> str:
    """Say why a request came to nothing; `error` is what requests or urllib3 raised."""
    host = host_of(url)
    causes = list(_causes(error))
    for kinds, text in _FAILURES:
        if any(isinstance(cause, kinds) for cause in causes):
            return text.format(host=host)
    return f"{host} could not be asked ({type(error).__name__})"


def status_reason(status: int, body: bytes, url: str) -> str:
    """Say what a status other than 200 means, with the provider's own words where it sent any."""
    if status in _STATUSES:
        text = _STATUSES[status]
    elif status >= 500:
        text = f"{{host}} is out of order (status {status})"
    else:
        text = f"{{host}} gave an unexpected answer (status {status})"
    own = _own_reason(body)
    return text.format(host=host_of(url)) + (f": {own}" if own else "")


def parse_body(body: bytes, url: str, *, expect: type[dict[str, Any]] | type[list[Any]]) -> Any:
    """Read a body that must be one JSON object (or array) and nothing else; raises SourceError."""
    host = host_of(url)
    if not body.strip():
        raise SourceError(f"{host} sent an empty reply")
    try:
        data = json.loads(body)
    except json.JSONDecodeError as error:
        if body.lstrip().startswith(b"<"):
            raise SourceError(
                f"{host} sent a web page in place of data; is there a log-in page to pass?"
            ) from error
        raise SourceError(f"the reply of {host} breaks off or is no JSON ({error.msg})") from error
    except (ValueError, RecursionError) as error:
        raise SourceError(f"the reply of {host} is no readable JSON") from error
    if not isinstance(data, expect):
        kind = "an object" if expect is dict else "a list"
        raise SourceError(f"the reply of {host} is JSON, but not {kind}")
    return data


def host_of(url: str) -> str:
    """Name the host of an address, with its port but without credentials or query."""
    return urlsplit(url).netloc.rpartition("@")[2]


def _own_reason(body: bytes) -> str:
    try:
        data = json.loads(body)
    except (ValueError, RecursionError):
        return ""
    if not isinstance(data, dict):
        return ""
    # Open-Meteo's key; "detail" and "title" are those of RFC 7807.
    told = (data.get(key) for key in ("reason", "detail", "title"))
    reason = next((text for text in told if isinstance(text, str) and text.strip()), None)
    return "" if reason is None else " ".join(reason.split())[:_REASON_LENGTH]


def _causes(error: BaseException) -> Iterator[BaseException]:
    """Walk through an exception and everything that it wraps, each once."""
    waiting, seen = [error], set[int]()
    while waiting:
        cause = waiting.pop()
        if id(cause) in seen:
            continue
        seen.add(id(cause))
        yield cause
        inner = (*cause.args, getattr(cause, "reason", None), cause.__cause__, cause.__context__)
        waiting += [item for item in inner if isinstance(item, BaseException)]
