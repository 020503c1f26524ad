"""The US weather service and its METAR on the loopback: generated or given replies, and faults."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from pytest_httpserver import HTTPServer
from standin import Fault, StandIn
from werkzeug import Request, Response

SERVICE = "https://api.weather.gov"
STATION = "KTMH"
ELEVATION_M = 300.0
GRID_HOURS = 180
PAST_HOURS = 12
"""Hours of the grid that are over: enough for the reports of the station."""
COVERED = ((24.0, 50.0), (-125.0, -66.0))
"""Degrees north and east of what the stand-in calls the United States."""

ENDPOINTS = {
    "points": r"/points/[^/]+",
    "grid": r"/gridpoints/\w+/-?\d+,-?\d+",
    "hourly": r"/gridpoints/\w+/-?\d+,-?\d+/forecast/hourly",
    "stations": r"/gridpoints/\w+/-?\d+,-?\d+/stations",
    "observations": r"/stations/\w+/observations",
    "alerts": r"/alerts/active",
    "metar": r"/api/data/metar",
}
PARAMETERS = {"alerts": {"point"}, "observations": {"limit"}, "metar": {"ids", "format", "hours"}}
METAR_MISSING = 204


class NwsStandIn:
    """The US weather service on the loopback, in its own format.

    `now` is its clock: the grid was made an hour before and starts `PAST_HOURS` before. `asked`
    lists (endpoint, path, headers) of every request. `cell` is the grid cell (office, x, y) of
    every place; moving it makes the old one unknown. `replies` holds bodies to send in place of the
    generated ones, by endpoint; `fail` makes an endpoint go wrong.
    """

    def __init__(self, server: HTTPServer, *, now: datetime, seed: int = 1) -> None:
        self.url = server.url_for("").rstrip("/")
        self.now = now.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
        self.asked: list[tuple[str, str, dict[str, str]]] = []
        self.cell = ("TMH", 41, 73)
        self.replies: dict[str, Any] = {}
        self.weather = Hours(self.now - timedelta(hours=PAST_HOURS), seed=seed)
        self._faults: dict[str, Fault] = {}
        for pattern in ENDPOINTS.values():
            server.expect_request(re.compile(f"^{pattern}$")).respond_with_handler(self._answer)

    @property
    def environ(self) -> dict[str, str]:
        """Environment variables that point the program at the stand-in."""
        return {"TRACKDAY_NWS_URL": self.url, "TRACKDAY_METAR_URL": f"{self.url}/api/data/metar"}

    def heal(self) -> None:
        """End every fault."""
        self._faults.clear()

    def fail(self, fault: Fault | None, *, of: str = "") -> None:
        """Let one endpoint, or everything (""), fail from now on; None ends it."""
        if fault is None:
            self._faults.pop(of, None)
        else:
            self._faults[of] = fault

    def count(self, endpoint: str) -> int:
        """How often an endpoint was asked."""
        return sum(name == endpoint for name, _, _ in self.asked)

    def _answer(self, request: Request) -> Response:
        endpoint = next(
            name for name, pattern in ENDPOINTS.items() if re.fullmatch(pattern, request.path)
        )
        self.asked.append((endpoint, request.full_path.rstrip("?"), dict(request.headers)))
        fault = self._faults.get(endpoint) or self._faults.get("")
        if fault is not None and fault.times != 0:
            if fault.times is not None:
                fault.times -= 1
            return StandIn.go_wrong(fault, request, good=lambda: self._right(endpoint, request))
        return self._right(endpoint, request)

    def _right(self, endpoint: str, request: Request) -> Response:
        """Answer as the service does when nothing is wrong with it."""
        if endpoint == "metar":
            return self._metar(request)
        if not request.headers.get("User-Agent"):
            return _problem(403, "Forbidden", "Forbidden", "no user agent")
        unknown = set(request.args) - PARAMETERS.get(endpoint, set())
        if unknown:
            detail = f'Query parameter "{min(unknown)}" is not recognized'
            return _problem(400, "BadRequest", "Bad Request", detail)
        return getattr(self, f"_{endpoint}")(request)

    def _points(self, request: Request) -> Response:
        latitude, longitude = request.path.rpartition("/")[2].split(",")
        plain = [re.fullmatch(r"-?\d+(\.\d{0,3}[1-9])?", text) for text in (latitude, longitude)]
        if not all(plain):
            there = ",".join(f"{float(text):.4f}".rstrip("0").rstrip(".")
                             for text in (latitude, longitude))  # fmt: skip
            return Response(status=301, headers={"Location": f"{self.url}/points/{there}"})
        if not _covers(latitude, longitude):
            detail = f"Unable to provide data for requested point {latitude},{longitude}"
            title = "Data Unavailable For Requested Point"
            return _problem(404, "InvalidPoint", title, detail)
        office, x, y = self.cell
        home = f"{SERVICE}/gridpoints/{office}/{x},{y}"
        return self._good("points", feature(
            cwa=office, gridId=office, gridX=x, gridY=y, forecastGridData=home,
            forecastHourly=f"{home}/forecast/hourly", observationStations=f"{home}/stations",
        ))  # fmt: skip

    def _alerts(self, request: Request) -> Response:
        if not _covers(*request.args["point"].split(",")):
            detail = 'Parameter "point" is invalid: out of bounds'
            return _problem(400, "InvalidParameter", "Invalid Parameter", detail)
        return self._good("alerts", collection())

    def _grid(self, request: Request) -> Response:
        return self._of_cell("grid", request, self.weather.grid(self.now))

    def _hourly(self, request: Request) -> Response:
        return self._of_cell("hourly", request, self.weather.hourly(self.now))

    def _stations(self, request: Request) -> Response:
        return self._of_cell("stations", request, collection(
            {"@type": "wx:ObservationStation", "stationIdentifier": STATION,
             "name": "Tamarack Hollow"},
            {"@type": "wx:ObservationStation", "stationIdentifier": "KELM", "name": "Elm Ridge"},
        ))  # fmt: skip

    def _observations(self, request: Request) -> Response:
        if f"/stations/{STATION}/" not in request.path:
            return _problem(404, "NotFound", "Not Found", "Not Found")
        count = int(request.args["limit"])
        hours = [self.now - timedelta(hours=back, minutes=7) for back in range(count)]
        return self._good(
            "observations", collection(*(self.weather.observation(hour) for hour in hours))
        )

    def _metar(self, request: Request) -> Response:
        if "metar" not in self.replies and request.args["ids"] != STATION:
            return Response(status=METAR_MISSING)
        reports = [self.weather.metar(self.now - timedelta(hours=h, minutes=7)) for h in range(3)]
        return self._good("metar", reports, kind="application/json")

    def _of_cell(self, endpoint: str, request: Request, data: dict[str, Any]) -> Response:
        office, x, y = self.cell
        if not request.path.startswith(f"/gridpoints/{office}/{x},{y}"):
            return _problem(404, "NotFound", "Not Found", "Not Found")
        return self._good(endpoint, data)

    def _good(self, endpoint: str, data: Any, *, kind: str = "application/geo+json") -> Response:
        return Response(json.dumps(self.replies.get(endpoint, data)), content_type=kind)


class Hours:
    """Invented weather by the hour from `start` on: a sunny clock and rain on every second day."""

    def __init__(self, start: datetime, *, seed: int) -> None:
        self.start = start
        rng = np.random.default_rng(seed)
        clock = (start.hour + np.arange(GRID_HOURS)) % 24
        day = (start.hour + np.arange(GRID_HOURS)) // 24
        sun = np.clip(np.sin((clock - 12.0) * np.pi / 12.0), 0.0, None)
        rainy = day % 2 == 1
        self.temp_c = np.round(14.0 + 8.0 * sun + rng.normal(0.0, 0.3, GRID_HOURS), 2)
        self.dew_c = np.round(np.minimum(self.temp_c - 0.5, 10.0), 2)
        self.wind_kmh = np.round(11.0 + 7.0 * sun, 3)
        self.gust_kmh = np.round(1.7 * self.wind_kmh, 3)
        self.sky = np.where(rainy, 90, 30)
        self.chance = np.where(rainy, 60, 5)
        self.rain_mm = np.where(rainy, 0.4, 0.0)
        self.thunder = np.where(rainy, 20, 0)

    def grid(self, now: datetime) -> dict[str, Any]:
        """Reply with the raw layers; amounts and chances come by six hours."""
        six = slice(None, None, 6)
        layers = {
            "temperature": self._layer("wmoUnit:degC", self.temp_c),
            "dewpoint": self._layer("wmoUnit:degC", self.dew_c),
            "windSpeed": self._layer("wmoUnit:km_h-1", self.wind_kmh),
            "windGust": self._layer("wmoUnit:km_h-1", self.gust_kmh),
            "skyCover": self._layer("wmoUnit:percent", self.sky),
            "probabilityOfPrecipitation": self._layer("wmoUnit:percent", self.chance[six], hours=6),
            "quantitativePrecipitation": self._layer("wmoUnit:mm", 6 * self.rain_mm[six], hours=6),
            "pressure": {"values": []},
            "probabilityOfThunder": self._layer("wmoUnit:percent", self.thunder[six], hours=6),
        }
        del layers["probabilityOfThunder"]["uom"]  # the service sends none
        return feature(
            updateTime=(now - timedelta(hours=1)).isoformat(),
            validTimes=f"{self.start.isoformat()}/P7DT12H",
            elevation={"unitCode": "wmoUnit:m", "value": ELEVATION_M},
            **layers,
        )

    def hourly(self, now: datetime) -> dict[str, Any]:
        """Reply with 156 periods in whole degrees Fahrenheit and words."""
        periods = []
        for number in range(1, 157):
            hour = PAST_HOURS + number - 1
            start = self.start + timedelta(hours=hour)
            periods.append({
                "number": number, "name": "",
                "startTime": start.isoformat(),
                "endTime": (start + timedelta(hours=1)).isoformat(),
                "temperature": round(32.0 + 1.8 * self.temp_c[hour]), "temperatureUnit": "F",
                "probabilityOfPrecipitation": _value("percent", int(self.chance[hour // 6 * 6])),
                "dewpoint": _value("degC", float(self.dew_c[hour])),
                "windSpeed": f"{5 * round(self.wind_kmh[hour] / 1.609344 / 5)} mph",
                "windDirection": "S",
            })  # fmt: skip
        return feature(
            updateTime=(now - timedelta(hours=1)).isoformat(), units="us", periods=periods
        )

    def observation(self, moment: datetime) -> dict[str, Any]:
        """Write one report of the station as the service passes it on."""
        values = self._at(moment)
        return {
            "@type": "wx:ObservationStation",
            "station": f"{SERVICE}/stations/{STATION}",
            "stationId": STATION,
            "timestamp": moment.isoformat(),
            "rawMessage": self._report(moment),
            "textDescription": "Clear",
            "presentWeather": [],
            "elevation": _value("m", ELEVATION_M),
            "temperature": _value("degC", values["temp_c"]),
            "dewpoint": _value("degC", values["dew_c"]),
            "windSpeed": _value("km_h-1", values["wind_kmh"]),
            "windGust": _value("km_h-1", None),
            "barometricPressure": _value("Pa", 101_320),
            "visibility": _value("m", 16_090),
            "precipitationLastHour": _value("mm", None),
        }

    def metar(self, moment: datetime) -> dict[str, Any]:
        """Write one report of the station as METAR in JSON."""
        values = self._at(moment)
        return {
            "icaoId": STATION,
            "receiptTime": (moment + timedelta(minutes=4)).isoformat(),
            "obsTime": int(moment.timestamp()),
            "temp": values["temp_c"],
            "dewp": values["dew_c"],
            "wdir": "VRB",
            "wspd": round(values["wind_kmh"] / 1.852),
            "visib": "10+",
            "altim": 1013.2,
            "metarType": "METAR",
            "rawOb": f"METAR {self._report(moment)}",
            "lat": 43.6,
            "lon": -91.0,
            "elev": ELEVATION_M,
            "name": "Tamarack Hollow",
            "clouds": [],
        }

    def _at(self, moment: datetime) -> dict[str, float]:
        hour = (moment - self.start) // timedelta(hours=1)
        return {name: float(getattr(self, name)[hour]) for name in ("temp_c", "dew_c", "wind_kmh")}

    def _report(self, moment: datetime) -> str:
        return f"{STATION} {moment:%d%H%M}Z AUTO VRB06KT 10SM CLR 14/10 A2992 RMK AO2"

    def _layer(self, uom: str, values: np.ndarray, *, hours: int = 1) -> dict[str, Any]:
        """Write a layer with equal neighbors merged, but for amounts, which are never merged."""
        entries: list[dict[str, Any]] = []
        merges = uom != "wmoUnit:mm"
        for number, value in enumerate(values.tolist()):
            start = self.start + timedelta(hours=hours * number)
            if merges and entries and entries[-1]["value"] == value:
                entries[-1]["hours"] += hours
            else:
                entries.append({"start": start, "hours": hours, "value": value})
        return {
            "uom": uom,
            "values": [
                {"validTime": f"{e['start'].isoformat()}/{_duration(e['hours'])}",
                 "value": e["value"]}
                for e in entries
            ],
        }  # fmt: skip


def feature(**properties: Any) -> dict[str, Any]:
    """Wrap properties as one GeoJSON feature."""
    return {"@context": [], "type": "Feature", "geometry": None, "properties": properties}


def collection(*properties: dict[str, Any]) -> dict[str, Any]:
    """Wrap properties as a GeoJSON collection of features."""
    return {"type": "FeatureCollection", "features": [feature(**each) for each in properties]}


def alert(event: str, *, onset: datetime, ends: datetime | None, **more: Any) -> dict[str, Any]:
    """Write the properties of one alert; `more` adds or replaces some."""
    return {
        "event": event, "status": "Actual", "messageType": "Alert",
        "sent": onset.isoformat(), "effective": onset.isoformat(), "onset": onset.isoformat(),
        "expires": (ends or onset + timedelta(hours=6)).isoformat(),
        "ends": None if ends is None else ends.isoformat(),
        "severity": "Moderate", "certainty": "Likely",
        "headline": f"{event} issued by the office", "instruction": None,
    } | more  # fmt: skip


def _value(unit: str, value: float | None) -> dict[str, Any]:
    return {"unitCode": f"wmoUnit:{unit}", "value": value, "qualityControl": "V"}


def _duration(hours: int) -> str:
    """Write hours as the service does: PT6H, P1D, P1DT2H."""
    days, rest = divmod(hours, 24)
    return "P" + (f"{days}D" if days else "") + (f"T{rest}H" if rest else "")


def _covers(latitude: str, longitude: str) -> bool:
    (south, north), (west, east) = COVERED
    return south <= float(latitude) <= north and west <= float(longitude) <= east


def _problem(status: int, kind: str, title: str, detail: str) -> Response:
    """Write an error by RFC 7807, as the service does."""
    body = {
        "correlationId": "1a2b3c4d",
        "title": title,
        "type": f"{SERVICE}/problems/{kind}",
        "status": status,
        "detail": detail,
        "instance": f"{SERVICE}/requests/1a2b3c4d",
    }
    return Response(json.dumps(body), status=status, content_type="application/problem+json")
