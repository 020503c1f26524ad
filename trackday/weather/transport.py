"""The transport below the cache: retries, time limits, and only whole JSON objects let through."""

from __future__ import annotations

import io
from typing import Any

import requests
from requests.adapters import HTTPAdapter
from urllib3 import HTTPResponse, Retry

from trackday.weather.failures import SourceError, host_of, parse_object

MAX_BODY_BYTES = 30_000_000
"""Unpacked size above which a reply is not read on (assumption: fifty times a large reply)."""

_CHUNK_BYTES = 65_536
_RETRIES = 2
_RETRY_STATUSES = (429, 500, 502, 503, 504)
"""What a second try may cure: the provider's limit by the minute, overload, restarts."""


class JsonAdapter(HTTPAdapter):
    """HTTP transport that raises SourceError for a reply with status 200 that is no JSON object.

    Standing below the cache, it keeps web pages, torn and oversized replies from being saved over
    a good one. `timeout_s` (connect, read) in seconds holds for every request. Tries again twice,
    `backoff_s` seconds apart at first (doubling, with jitter), but only once after a read failed:
    a server that hangs has cost enough waiting. It does not obey Retry-After, which can be hours.
    """

    def __init__(self, *, timeout_s: tuple[float, float], backoff_s: float) -> None:
        """Take the limits."""
        self.timeout_s = timeout_s
        super().__init__(
            max_retries=Retry(
                total=_RETRIES,
                read=1,
                backoff_factor=backoff_s,
                backoff_jitter=backoff_s,
                status_forcelist=_RETRY_STATUSES,
                raise_on_status=False,
                respect_retry_after_header=False,
            )
        )

    def send(self, request: requests.PreparedRequest, *_: Any, **options: Any) -> requests.Response:
        """Send, read the whole body within the limits, check it, and hand it on unpacked."""
        options["timeout"] = options.get("timeout") or self.timeout_s
        options["stream"] = True
        response = super().send(request, **options)
        url = request.url or ""
        body = _read_body(response, url)
        if response.status_code == requests.codes.ok:
            parse_object(body, url)
        return self.build_response(request, _unpacked(response, body))


def _read_body(response: requests.Response, url: str) -> bytes:
    body = bytearray()
    for chunk in response.iter_content(_CHUNK_BYTES):
        body += chunk
        if len(body) > MAX_BODY_BYTES:
            response.close()
            raise SourceError(
                f"the reply of {host_of(url)} is larger than {MAX_BODY_BYTES // 1_000_000} MB"
            )
    return bytes(body)


def _unpacked(response: requests.Response, body: bytes) -> HTTPResponse:
    """Make the low-level response anew around a body that has been read and decompressed."""
    gone = {"content-encoding", "content-length", "transfer-encoding"}
    headers = {name: value for name, value in response.headers.items() if name.lower() not in gone}
    return HTTPResponse(
        io.BytesIO(body),
        headers=headers,
        status=response.status_code,
        reason=response.reason,
        preload_content=False,
    )
