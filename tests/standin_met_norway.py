"""MET Norway's Locationforecast on the loopback: generated replies, its refusals, and faults."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime, parsedate_to_datetime
from typing import Any

import numpy as np
from pytest_httpserver import HTTPServer
from standin import Fault, StandIn
from werkzeug import Request, Response

PATH = "/weatherapi/locationforecast/2.0/complete"
HOURLY = 60
"""Hours that are told one by one; six-hourly steps follow."""
HOURS = HOURLY + 7 * 24
DURATION_EXPONENT = 0.515
"""How chances grow with the length of the period, as the reader takes it."""
DECIMALS = re.compile(r"-?\d+(\.\d{1,4})?")

UNITS = {
    "air_pressure_at_sea_level": "hPa",
    "air_temperature": "celsius",
    "cloud_area_fraction": "%",
    "dew_point_temperature": "celsius",
    "precipitation_amount": "mm",
    "relative_humidity": "%",
    "wind_from_direction": "degrees",
    "wind_speed": "m/s",
}
OWN_UNITS = {
    "probability_of_precipitation": "%",
    "probability_of_thunder": "%",
    "wind_speed_of_gust": "m/s",
}
"""What only the area of the service's own models has."""


class MetNorwayStandIn:
    """The service on the loopback, in its own format.

    `now` is its clock: the forecast was made an hour before and begins with the hour that runs.
    `at_home` tells whether the places lie in the area of its own models, with chances and gusts.
    `asked` lists (parameters, headers) of every request; `fail` makes them go wrong.
    """

    def __init__(self, server: HTTPServer, *, now: datetime, seed: int = 1) -> None:
        self.url = server.url_for("").rstrip("/")
        self.now = now.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
        self.seed = seed
        self.at_home = True
        self.asked: list[tuple[dict[str, str], dict[str, str]]] = []
        self._faults: dict[str, Fault] = {}
        server.expect_request(PATH).respond_with_handler(self._answer)

    @property
    def environ(self) -> dict[str, str]:
        """Environment variables that point the program at the stand-in."""
        return {"TRACKDAY_MET_NORWAY_URL": self.url}

    def heal(self) -> None:
        """End every fault."""
        self._faults.clear()

    def fail(self, fault: Fault | None, *, of: str = "") -> None:
        """Let the service fail from now on; None ends it. `of` is there as in other stand-ins."""
        if fault is None:
            self._faults.pop(of, None)
        else:
            self._faults[of] = fault

    def reply(self) -> dict[str, Any]:
        """Write a whole good reply."""
        return forecast(self.now, seed=self.seed, at_home=self.at_home)

    def _answer(self, request: Request) -> Response:
        self.asked.append((dict(request.args), dict(request.headers)))
        fault = next(iter(self._faults.values()), None)
        if fault is not None and fault.times != 0:
            if fault.times is not None:
                fault.times -= 1
            return StandIn.go_wrong(fault, request, good=lambda: self._right(request))
        return self._right(request)

    def _right(self, request: Request) -> Response:
        """Answer as the service does when nothing is wrong with it."""
        agent = request.headers.get("User-Agent", "")
        exact = all(DECIMALS.fullmatch(request.args[name]) for name in ("lat", "lon"))
        if not agent or agent.startswith("python-requests") or not exact:
            return Response("<html>403 Forbidden", status=403, content_type="text/html")
        if set(request.args) - {"lat", "lon", "altitude"}:
            return Response("<html>400 Bad Request", status=400, content_type="text/html")
        made = self.now - timedelta(hours=1)
        headers = {
            "Last-Modified": format_datetime(made, usegmt=True),
            "Expires": format_datetime(datetime.now(UTC) + timedelta(minutes=30), usegmt=True),
        }
        since = request.headers.get("If-Modified-Since")
        if since is not None and parsedate_to_datetime(since) >= made:
            return Response(status=304, headers=headers)
        return Response(json.dumps(self.reply()), headers=headers, content_type="application/json")


def forecast(now: datetime, *, seed: int = 1, at_home: bool = True) -> dict[str, Any]:
    """Invent a reply whose first step is `now`: a sunny clock, and rain on every second day."""
    hours = _hours(now, seed)
    steps = [*range(HOURLY), *range(HOURLY, HOURS + 1, 6)]
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [10.0, 60.0, 300]},
        "properties": {
            "meta": {
                "updated_at": _text(now - timedelta(hours=1)),
                "units": UNITS | (OWN_UNITS if at_home else {}),
            },
            "timeseries": [_step(now, hours, hour, at_home=at_home) for hour in steps],
        },
    }


def _hours(now: datetime, seed: int) -> dict[str, np.ndarray]:
    rng = np.random.default_rng(seed)
    clock = (now.hour + np.arange(HOURS + 12)) % 24
    day = (now.hour + np.arange(HOURS + 12)) // 24
    sun = np.clip(np.sin((clock - 5.0) * np.pi / 12.0), 0.0, None)
    rainy = day % 2 == 1
    temp = 13.0 + 8.0 * sun + rng.normal(0.0, 0.3, len(clock))
    return {
        "temp": np.round(temp, 1),
        "dew": np.round(np.minimum(temp - 0.5, 9.0), 1),
        "wind": np.round(3.0 + 2.0 * sun, 1),
        "cloud": np.where(rainy, 95.0, 25.0),
        "rain": np.where(rainy, 0.4, 0.0),
        "chance": np.where(rainy, 55.0, 4.0),
        "thunder": np.where(rainy, 12.0, 0.1),
    }


def _step(
    now: datetime, hours: dict[str, np.ndarray], hour: int, *, at_home: bool
) -> dict[str, Any]:
    """Write one step; the last one tells its instant alone."""
    is_hourly = hour < HOURLY
    details = {
        "air_pressure_at_sea_level": 1013.2,
        "air_temperature": float(hours["temp"][hour]),
        "cloud_area_fraction": float(hours["cloud"][hour]),
        "dew_point_temperature": float(hours["dew"][hour]),
        "relative_humidity": 60.0,
        "wind_from_direction": 200.0,
        "wind_speed": float(hours["wind"][hour]),
    }
    if at_home and is_hourly:
        details["wind_speed_of_gust"] = round(1.7 * details["wind_speed"], 1)
    data: dict[str, Any] = {"instant": {"details": details}}
    if hour < HOURS:
        lengths = (1, 6, 12) if is_hourly else (6, 12)
        data |= {
            f"next_{length}_hours": _period(hours, hour, length, at_home=at_home)
            for length in lengths
        }
    return {"time": _text(now + timedelta(hours=hour)), "data": data}


def _period(
    hours: dict[str, np.ndarray], hour: int, length: int, *, at_home: bool
) -> dict[str, Any]:
    span = slice(hour, hour + length)
    amount = round(float(hours["rain"][span].sum()), 1)
    details: dict[str, float] = {} if length == 12 else {"precipitation_amount": amount}
    if at_home:
        most = float(hours["chance"][span].max())
        details["probability_of_precipitation"] = round(
            min(99.0, most * length**DURATION_EXPONENT), 1
        )
        if length != 12:
            details |= {"precipitation_amount_min": 0.0, "precipitation_amount_max": 2.0 * amount}
        if length == 1:
            details["probability_of_thunder"] = float(hours["thunder"][hour])
    return {"summary": {"symbol_code": "cloudy"}, "details": details}


def _text(moment: datetime) -> str:
    return f"{moment:%Y-%m-%dT%H:%M:%SZ}"
