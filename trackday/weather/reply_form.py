"""How a reply is written into the cache: one line of JSON, then the body's own bytes.

Nothing in it can run, whoever wrote the file: the library's own form is Python's pickle, which can
run anything. The request's headers, which may hold the user's contact, are not kept.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from requests.structures import CaseInsensitiveDict
from requests_cache.models.response import CachedResponse
from requests_cache.serializers import SerializerPipeline, Stage

FORM = 1
"""Number of this form; it changes with the meaning of what is written."""

_YEARS = range(1970, 2200)
"""Years in which a reply can be made or expire (assumption): beyond them, sums of times fail."""


def pack_reply(response: CachedResponse) -> bytes:
    """Write a reply: its status, headers, times and body."""
    body = response.content or b""
    head = {
        "form": FORM,
        "url": response.url,
        "status": response.status_code,
        "reason": response.reason,
        "encoding": response.encoding,
        "headers": dict(response.headers),
        "created_at": response.created_at.isoformat(),
        "expires": response.expires and response.expires.isoformat(),
        "crc32": zlib.crc32(body),
    }
    return json.dumps(head).encode() + b"\n" + body


def unpack_reply(packed: object) -> CachedResponse:
    """Read what `pack_reply` wrote; raises ValueError for anything else, damaged bodies included.

    The check sum guards against a bad card, not against a person.
    """
    if not isinstance(packed, bytes):
        raise ValueError("a saved reply is bytes")  # noqa: TRY004 -- the cache knows this error
    line, _, body = packed.partition(b"\n")
    try:
        head = json.loads(line)
    except RecursionError as error:
        raise ValueError("the head of a saved reply is nested too deeply") from error
    if not isinstance(head, dict) or head.get("form") != FORM:
        raise ValueError(f"a saved reply is not of form {FORM}")
    if head.get("crc32") != zlib.crc32(body):
        raise ValueError("the body of a saved reply is damaged")
    status = head.get("status")
    if not isinstance(status, int) or not 100 <= status <= 599:
        raise ValueError("a saved reply has no status")
    return CachedResponse(
        url=_text(head, "url"),
        status_code=status,
        reason=_text(head, "reason"),
        encoding=_text(head, "encoding"),
        headers=_headers(head.get("headers")),
        created_at=_moment(head.get("created_at")),
        expires=None if head.get("expires") is None else _moment(head["expires"]),
        content=body,
    )


def reply_serializer() -> SerializerPipeline:
    """Give the two functions in the form that the cache takes; its name is part of every key."""
    return SerializerPipeline(
        [Stage(dumps=pack_reply, loads=unpack_reply)], name=f"reply-{FORM}", is_binary=True
    )


def _text(head: Mapping[str, Any], name: str) -> Any:
    """Read a text or null; the library's fields say that they are text, and take both."""
    value = head.get(name)
    if value is not None and not isinstance(value, str):
        raise ValueError(f"the {name} of a saved reply is no text")
    return value


def _headers(value: object) -> CaseInsensitiveDict[str]:
    if not isinstance(value, dict) or not all(isinstance(text, str) for text in value.values()):
        raise ValueError("a saved reply has no headers")
    return CaseInsensitiveDict(value)


def _moment(value: object) -> datetime:
    """Read a moment with its zone."""
    if not isinstance(value, str):
        raise ValueError("a moment of a saved reply is no text")  # noqa: TRY004
    moment = datetime.fromisoformat(value)
    if moment.tzinfo is None or moment.year not in _YEARS:
        raise ValueError("a moment of a saved reply cannot be")
    return moment
