"""A weather service on the loopback that speaks the provider's format from a seeded generator."""

from __future__ import annotations

import json
import socket
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

ENSEMBLE_MEMBERS = {"ncep_gefs_seamless": 31, "ecmwf_ifs025_ensemble": 51}
FORECAST_DAYS = 16
REDIRECT = 302
ENSEMBLE_DAYS = 35

MOST_BODIES = 24
"""Replies that are kept to be sent again; one of a whole ensemble is half a megabyte."""
_bodies: dict[str, tuple[int, str]] = {}

UNITS = {
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "relative_humidity_2m": "%",
    "precipitation": "mm",
    "precipitation_probability": "%",
    "cloud_cover": "%",
    "wind_speed_10m": "m/s",
    "wind_gusts_10m": "m/s",
    "shortwave_radiation": "W/m²",
    "surface_pressure": "hPa",
    "cape": "J/kg",
}
WHOLE = {"relative_humidity_2m", "precipitation_probability", "cloud_cover"}


@dataclass
class Fault:
    """What the stand-in does in place of a good reply, `times` times (None: always).

    `change` makes the body out of the good one; `drip_s` seconds pass between any two bytes of it.
    A redirect (302) that names no place leads back to where it came from.
    """

    status: int = 200
    body: str | bytes | None = None
    change: Callable[[bytes], bytes] | None = None
    delay_s: float = 0.0
    drip_s: float = 0.0
    drop: bool = False
    headers: dict[str, str] = field(default_factory=dict)
    times: int | None = None


class StandIn:
    """A weather service on the loopback that speaks the provider's format from a seeded generator.

    `asked` lists the parameters of every request (with `path` and `user-agent`); `today` is the
    service's own date; `absent` names variables that it sends as nulls, by model ("" is the
    forecast). `fail` makes requests go wrong.
    """

    def __init__(self, server: HTTPServer, *, today: date, seed: int = 1) -> None:
        self.url = server.url_for("").rstrip("/")
        self.today = today
        self.seed = seed
        self.asked: list[dict[str, str]] = []
        self.absent: dict[str, set[str]] = {}
        self._faults: dict[str, Fault] = {}
        for path in ("/v1/forecast", "/v1/ensemble"):
            server.expect_request(path).respond_with_handler(self._answer)

    @property
    def environ(self) -> dict[str, str]:
        """Environment variables that point the program at the stand-in."""
        return {"TRACKDAY_FORECAST_URL": self.url, "TRACKDAY_ENSEMBLE_URL": self.url}

    def heal(self) -> None:
        """End every fault."""
        self._faults.clear()

    def fail(self, fault: Fault | None, *, of: str = "") -> None:
        """Let "forecast", a model, or everything ("") fail from now on; None ends it."""
        if fault is None:
            self._faults.pop(of, None)
        else:
            self._faults[of] = fault

    def _answer(self, request: Request) -> Response:
        params = dict(request.args)
        self.asked.append(
            {**params, "path": request.path, "user-agent": request.headers["User-Agent"]}
        )
        name = params.get("models", "forecast")
        fault = self._faults.get(name) or self._faults.get("")
        if fault is not None and fault.times != 0:
            if fault.times is not None:
                fault.times -= 1
            return self.go_wrong(fault, request, good=lambda: self._good_answer(params, request))
        return self._good_answer(params, request)

    def _good_answer(self, params: dict[str, str], request: Request) -> Response:
        status, body = self._body(params, ensemble=request.path.endswith("ensemble"))
        return Response(body, status=status, content_type="application/json; charset=utf-8")

    def _body(self, params: dict[str, str], *, ensemble: bool) -> tuple[int, str]:
        """Give the status and text of a reply; the same question is worked out once a process."""
        key = json.dumps(
            [
                params, ensemble, str(self.today), self.seed, ENSEMBLE_MEMBERS,
                {model: sorted(names) for model, names in self.absent.items()},
            ],
            sort_keys=True,
        )  # fmt: skip
        if key not in _bodies:
            if len(_bodies) >= MOST_BODIES:
                _bodies.clear()
            status, data = self.reply(params, ensemble=ensemble)
            _bodies[key] = (status, json.dumps(data))
        return _bodies[key]

    @staticmethod
    def go_wrong(
        fault: Fault, request: Request, *, good: Callable[[], Response] | None = None
    ) -> Response:
        """Answer as a fault says; `good` makes the answer that it spoils."""
        time.sleep(fault.delay_s)
        if fault.drop:
            request.environ["werkzeug.socket"].shutdown(socket.SHUT_RDWR)
        body = json.dumps({"hourly": {}}) if fault.body is None else fault.body
        if fault.change is not None and good is not None:
            body = fault.change(good().get_data())
        response = Response(body, status=fault.status)
        if fault.drip_s:
            response.response = _drips(response.get_data(), fault.drip_s)
        # A wrong length is one of the faults.
        response.automatically_set_content_length = False
        response.headers.update(fault.headers)
        if fault.status == REDIRECT and "Location" not in fault.headers:
            response.headers["Location"] = request.full_path
        return response

    def reply(self, params: dict[str, str], *, ensemble: bool) -> tuple[int, dict[str, Any]]:
        """Status and body for a request's parameters."""
        names = params["hourly"].split(",")
        unknown = [name for name in names if name not in UNITS]
        first, last = (date.fromisoformat(params[k]) for k in ("start_date", "end_date"))
        days = ENSEMBLE_DAYS if ensemble else FORECAST_DAYS
        final = self.today + timedelta(days=days - 1)
        if unknown:
            reason = f"Data corrupted at path ''. Cannot initialize from String value {unknown[0]}."
        elif last > final:
            reason = f"Parameter 'end_date' is out of allowed range to {final}"
        elif last < first:
            reason = "End-date must be larger or equals than start-date"
        elif ensemble and params.get("models") not in ENSEMBLE_MEMBERS:
            reason = "Data corrupted at path 'models'."
        else:
            return 200, self._good(params, names, first, last)
        return 400, {"error": True, "reason": reason}

    def _good(
        self, params: dict[str, str], names: list[str], first: date, last: date
    ) -> dict[str, Any]:
        model = params.get("models", "")
        start = int(datetime.combine(first, datetime.min.time(), UTC).timestamp())
        hours = ((last - first).days + 1) * 24
        stamps = start + 3600 * np.arange(hours)
        hourly: dict[str, Any] = {"time": stamps.tolist()}
        units = {"time": "unixtime"}
        for member in range(ENSEMBLE_MEMBERS.get(model, 1)):
            fields = generate(stamps, seed=[self.seed, member, *model.encode()])
            for name in names:
                key = name if member == 0 else f"{name}_member{member:02d}"
                absent = name in self.absent.get(model, set())
                hourly[key] = [None] * hours if absent else fields[name]
                units[key] = "undefined" if absent else UNITS[name]
        return {
            "latitude": round(float(params["latitude"]) * 8) / 8,
            "longitude": round(float(params["longitude"]) * 8) / 8,
            "generationtime_ms": 0.2510547637939453,
            "utc_offset_seconds": 0,
            "timezone": "GMT",
            "timezone_abbreviation": "GMT",
            "elevation": float(params["elevation"]),
            "hourly_units": units,
            "hourly": hourly,
        }


def _drips(body: bytes, seconds: float) -> Iterator[bytes]:
    for byte in body:
        time.sleep(seconds)
        yield bytes([byte])


def generate(stamps: np.ndarray, *, seed: list[int]) -> dict[str, list[float]]:
    """Invent weather for hourly Unix times: a sunny morning clock and one passing shower a day."""
    rng = np.random.default_rng(seed)
    hour = stamps / 3600.0 % 24.0
    sun = np.clip(np.sin((hour - 6.0) * np.pi / 12.0), 0.0, None)
    shower = np.exp(-(((hour - 14.0 - rng.normal()) / 2.0) ** 2)) * rng.gamma(1.0, 1.0)
    temp = 14.0 + 8.0 * sun + rng.normal()
    dew = np.minimum(temp - 0.5, 11.0 + rng.normal())
    wind = 3.0 + 2.0 * sun + rng.gamma(2.0, 0.3)
    fields = {
        "temperature_2m": temp,
        "dew_point_2m": dew,
        "relative_humidity_2m": 100.0 * np.exp(0.065 * (dew - temp)),
        "precipitation": np.where(shower > 0.3, shower, 0.0),
        "precipitation_probability": 80.0 * np.exp(-(((hour - 14.0) / 3.0) ** 2)),
        "cloud_cover": np.clip(20.0 + 60.0 * shower, 0.0, 100.0),
        "wind_speed_10m": wind,
        "wind_gusts_10m": 1.6 * wind,
        "shortwave_radiation": 850.0 * sun,
        "surface_pressure": 985.0 + rng.normal() + 0.0 * hour,
        "cape": 600.0 * sun * shower,
    }
    return {
        name: np.round(values).astype(int).tolist()
        if name in WHOLE
        else np.round(values, 2).tolist()
        for name, values in fields.items()
    }
