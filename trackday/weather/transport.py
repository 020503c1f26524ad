"""The transport below the cache: retries, limits of time and size, and the day's allowance."""

from __future__ import annotations

import io
import random
import time
from collections.abc import Iterator
from typing import Any, Protocol

import requests
from requests.adapters import HTTPAdapter
from urllib3 import HTTPResponse, Retry

from trackday.weather.budget import check_time, seconds_left
from trackday.weather.failures import SourceError, host_of

MAX_BODY_BYTES = 30_000_000
"""Unpacked size above which a reply is not read on (assumption: fifty times a large reply)."""

_CHUNK_BYTES = 65_536
_RETRIES = 2
_RETRY_STATUSES = (429, 500, 502, 503, 504)
"""What a second try may cure: the provider's limit by the minute, overload, restarts."""

_SHORTEST_WAIT_S = 0.001
"""A socket takes no time limit of zero."""

_DROPPED = {"content-encoding", "content-length", "transfer-encoding", "vary", "set-cookie"}
"""Headers that do not hold for the unpacked body; `Vary` and cookies would keep the cache from
finding a reply again, and each address is always asked with the same headers of ours."""


class Allowance(Protocol):
    """Counts what is asked of a provider."""

    def take(self, url: str) -> None:
        """Count one request; raises SourceError where the provider's limit forbids it."""


class BoundedAdapter(HTTPAdapter):
    """HTTP transport that reads whole replies within limits of time and size, or raises.

    `timeout_s` (connect, read) in seconds holds for every wait on the network, and never outlasts
    the present `time_limit`, which also bounds a reply that comes in drips. Tries again twice,
    `backoff_s` seconds apart at first (doubling, with jitter), but only once after a read failed: a
    server that hangs has cost enough waiting. It does not obey Retry-After, which can be hours.
    `allowance`, if given, is asked before each request. Raises SourceError for an oversized reply
    and where time or allowance is used up; otherwise what requests and urllib3 raise.
    """

    def __init__(
        self,
        *,
        timeout_s: tuple[float, float],
        backoff_s: float,
        allowance: Allowance | None = None,
    ) -> None:
        """Take the limits."""
        self.timeout_s = timeout_s
        self.allowance = allowance
        super().__init__(
            max_retries=Retry(
                total=_RETRIES,
                read=1,
                # Before a second try the library reads the first reply to its end, however long.
                status=0,
                backoff_factor=backoff_s,
                backoff_jitter=backoff_s,
                raise_on_status=False,
                respect_retry_after_header=False,
            )
        )
        self._backoff_s = backoff_s

    def send(self, request: requests.PreparedRequest, *_: Any, **options: Any) -> requests.Response:
        """Send, read the whole body within the limits, and hand it on unpacked."""
        if self.allowance is not None:
            check_time()
            self.allowance.take(request.url or "")
        for pause_s in self._pauses_s():
            response = self._send_once(request, options)
            if response.status_code not in _RETRY_STATUSES:
                break
            time.sleep(min(pause_s, seconds_left()))
        return response

    def _pauses_s(self) -> Iterator[float]:
        """Give the pause after each try, s, that something worth a second one came back."""
        for number in range(_RETRIES):
            jitter = random.random()  # noqa: S311 -- nothing is kept secret by it
            yield self._backoff_s * (2**number + jitter)
        yield 0.0

    def _send_once(
        self, request: requests.PreparedRequest, options: dict[str, Any]
    ) -> requests.Response:
        url = request.url or ""
        check_time()
        connect_s, read_s = (max(min(t, seconds_left()), _SHORTEST_WAIT_S) for t in self.timeout_s)
        limits = {"timeout": (connect_s, read_s), "stream": True}
        response = super().send(request, **(options | limits))
        return self.build_response(request, _unpacked(response, _read_body(response, url)))


def _read_body(response: requests.Response, url: str) -> bytes:
    """Read what has come, again and again: waiting for a full chunk would take a drip for ever."""
    body = bytearray()
    try:
        while chunk := response.raw.read1(_CHUNK_BYTES, decode_content=True):
            body += chunk
            check_time()
            _check_size(body, url)
    except BaseException:
        # The rest of a broken reply must not be taken for the next one on the same connection.
        response.close()
        raise
    return bytes(body)


def _check_size(body: bytearray, url: str) -> None:
    if len(body) > MAX_BODY_BYTES:
        raise SourceError(
            f"the reply of {host_of(url)} is larger than {MAX_BODY_BYTES // 1_000_000} MB"
        )


def _unpacked(response: requests.Response, body: bytes) -> HTTPResponse:
    """Make the low-level response anew around a body that has been read and decompressed."""
    kept = {name: value for name, value in response.headers.items() if name.lower() not in _DROPPED}
    return HTTPResponse(
        io.BytesIO(body),
        headers=kept,
        status=response.status_code,
        reason=response.reason,
        preload_content=False,
    )
