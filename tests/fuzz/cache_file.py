"""Fuzz the cache: a saved reply's bytes, and the file of replies itself."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from harness import any_reply, broken_bytes, demand_plain, fuzz
from requests.structures import CaseInsensitiveDict
from requests_cache.models.response import CachedResponse

from trackday.weather.failures import SourceError
from trackday.weather.http import fetch_json, open_session
from trackday.weather.reply_form import pack_reply, unpack_reply

URL = "http://127.0.0.1:9/v1/forecast"
NOW = datetime.now(UTC)
REPLY = CachedResponse(
    url=URL,
    status_code=200,
    reason="OK",
    encoding="utf-8",
    headers=CaseInsensitiveDict({"Content-Type": "application/json", "Date": "x"}),
    created_at=NOW,
    expires=NOW + timedelta(hours=1),
    content=b'{"hourly": {"time": [1, 2, 3]}}',
)
PACKED = pack_reply(REPLY)


def form(packed: bytes) -> None:
    try:
        found = unpack_reply(packed)
    except ValueError:
        return
    assert found.content is not None
    assert found.is_expired in (True, False)


def head(data: Any) -> None:
    """A sound row with a spoilt head, found and used by the whole way through the cache."""
    import json
    import zlib

    _, _, content = PACKED.partition(b"\n")
    if isinstance(data, dict):
        data = data | {"crc32": zlib.crc32(content)}
    row = json.dumps(data).encode() + b"\n" + content
    with tempfile.TemporaryDirectory() as folder, open_session(Path(folder)) as session:
        key = session.cache.create_key(_request())
        with session.cache.responses.connection(commit=True) as connection:
            connection.execute("INSERT INTO responses VALUES (?, ?, ?)", (key, row, 1))
        ask(session, offline=True)
        session.cache.delete(older_than=timedelta(days=1), invalid=True)


def file(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "replies.sqlite").write_bytes(content)
        lines: list[str] = []
        with open_session(Path(folder), warn=lines.append) as session:
            ask(session, offline=True)
        assert len(lines) <= 2, lines
        assert not any("\n" in line for line in lines), lines


def ask(session: Any, *, offline: bool) -> None:
    try:
        fetch_json(session, URL, {}, offline=offline)
    except SourceError as error:
        demand_plain(error.reason)


def _request() -> Any:
    import requests

    return requests.Request("GET", URL).prepare()


def good_file() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "replies.sqlite"
        with open_session(Path(folder)) as session:
            key = session.cache.create_key(_request())
            session.cache.responses[key] = REPLY
            session.cache.redirects["x"] = key
            with session.cache.responses.connection() as connection:
                connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return path.read_bytes()


if __name__ == "__main__":
    import json

    fuzz(
        {
            "form": (broken_bytes(PACKED), form),
            "head": (any_reply(json.loads(PACKED.partition(b"\n")[0])), head),
            "file": (broken_bytes(good_file()), file),
        }
    )
