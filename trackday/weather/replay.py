"""Serve recorded replies from a folder, so that a demo runs through the code of a live plan."""

from __future__ import annotations

import gzip
import io
import json
import re
from datetime import UTC, datetime
from email.utils import format_datetime
from importlib.resources.abc import Traversable
from pathlib import PurePosixPath
from typing import Any
from urllib.parse import parse_qs, urlsplit

import requests
from requests.adapters import BaseAdapter
from urllib3 import HTTPResponse

_SAFE_NAME = re.compile(r"[a-z0-9_]+")
"""What may become part of a file name: nothing that could lead out of the folder."""


class ReplayAdapter(BaseAdapter):
    """Transport that answers from files instead of the network.

    `folder` holds one file an endpoint, named by the last part of the request's path:
    `forecast.json`; the ensemble's file also names the model: `ensemble-<model>.json`. Either may
    be packed by gzip, as `<name>.json.gz`. Whatever place and days are asked, the recorded reply is
    given; a request without a recording is answered 404 in the provider's own error format.
    `recorded_at` (UTC) is when the replies were made.
    """

    def __init__(self, folder: Traversable, *, recorded_at: datetime) -> None:
        """Take the folder and the moment of the recording (any zone, but never none)."""
        super().__init__()
        if recorded_at.tzinfo is None:
            raise ValueError("recorded_at needs a time zone")
        self.folder = folder
        self.recorded_at = recorded_at.astimezone(UTC)

    def send(self, request: requests.PreparedRequest, *_: Any, **__: Any) -> requests.Response:
        """Answer from the folder; the network options mean nothing here."""
        name = _file_name(request.url or "")
        text = None if name is None else self._recorded(name)
        if text is None:
            reason = f"No recorded reply {name or 'for this address'}"
            return self._response(request, 404, json.dumps({"error": True, "reason": reason}))
        return self._response(request, 200, text)

    def close(self) -> None:
        """Nothing is open between requests."""

    def _recorded(self, name: str) -> str | None:
        """Read a recording, plain or packed; None where there is neither."""
        plain, packed = self.folder / name, self.folder / f"{name}.gz"
        if plain.is_file():
            return plain.read_text(encoding="utf-8")
        if packed.is_file():
            return gzip.decompress(packed.read_bytes()).decode("utf-8")
        return None

    def _response(
        self, request: requests.PreparedRequest, status: int, text: str
    ) -> requests.Response:
        response = requests.Response()
        response.status_code = status
        response.reason = "OK" if status == 200 else "Not Found"
        response.url = request.url or ""
        response.request = request
        response.encoding = "utf-8"
        response.headers["Content-Type"] = "application/json; charset=utf-8"
        response.headers["Date"] = format_datetime(self.recorded_at, usegmt=True)
        response.raw = HTTPResponse(io.BytesIO(text.encode()), status=status, preload_content=False)
        return response


def _file_name(url: str) -> str | None:
    """Name the file of a request; None if its parts do not make a safe name."""
    parts = urlsplit(url)
    names = [PurePosixPath(parts.path).name]
    if names[0] == "ensemble":
        names += parse_qs(parts.query).get("models", [])
    if not all(_SAFE_NAME.fullmatch(name) for name in names):
        return None
    return "-".join(names) + ".json"
