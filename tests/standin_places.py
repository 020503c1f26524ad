"""A place service on the loopback: searches a list of invented towns, and knows heights."""

from __future__ import annotations

import json
import re
import time
from pathlib import Path
from typing import Any

from pytest_httpserver import HTTPServer
from werkzeug import Request, Response


def town(name: str, **more: Any) -> dict[str, Any]:
    """One result in the provider's form, in an invented part of the US unless told otherwise."""
    return {
        "id": 1,
        "name": name,
        "latitude": 44.5,
        "longitude": -89.5,
        "elevation": 331.0,
        "feature_code": "PPL",
        "country_code": "US",
        "admin1": "Wisconsin",
        "admin2": "Bracken",
        "country": "United States",
        "timezone": "America/Chicago",
        **more,
    }


def recorded_search(path: Path) -> dict[str, Any]:
    """The body of a recorded search: single-quoted YAML, folded at blanks."""
    (body,) = re.findall(r"string: '(\{.*\})'\n", path.read_text("utf-8"), flags=re.DOTALL)
    data: dict[str, Any] = json.loads(re.sub(r"\s*\n\s+", " ", body).replace("''", "'"))
    return data


class StandInPlaces:
    """Answers /v1/search from `towns` and /v1/elevation with `height`, in the provider's form.

    A search finds the towns whose name begins like the one asked; as the provider does, it leaves
    `results` out where there is none, and knows nothing of states. `asked` lists the parameters of
    every request, with its `path`. `status` other than 200 makes a path's requests fail; answers
    come after `delay_s`.
    """

    def __init__(self, server: HTTPServer) -> None:
        self.url = server.url_for("").rstrip("/")
        self.towns: list[dict[str, Any]] = []
        self.height: Any = 287.0
        self.asked: list[dict[str, str]] = []
        self.delay_s = 0.0
        self.status = {"/v1/search": 200, "/v1/elevation": 200}
        for path in self.status:
            server.expect_request(path).respond_with_handler(self._answer)

    @property
    def environ(self) -> dict[str, str]:
        """Environment variables that point the program at the stand-in."""
        return {"TRACKDAY_GEOCODING_URL": self.url, "TRACKDAY_ELEVATION_URL": self.url}

    def _answer(self, request: Request) -> Response:
        self.asked.append({**request.args, "path": request.path})
        time.sleep(self.delay_s)
        status = self.status[request.path]
        if status != 200:
            data: dict[str, Any] = {"error": True, "reason": "closed today"}
        elif request.path == "/v1/elevation":
            data = {"elevation": [self.height]}
        else:
            data = self._search(request.args["name"], int(request.args["count"]))
        return Response(
            json.dumps(data), status=status, content_type="application/json; charset=utf-8"
        )

    def _search(self, name: str, count: int) -> dict[str, Any]:
        found = [t for t in self.towns if t["name"].casefold().startswith(name.casefold())]
        timing = {"generationtime_ms": 0.5}
        return {"results": found[:count], **timing} if found and len(name) > 1 else timing
