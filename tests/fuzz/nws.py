"""Fuzz the readers of the US weather service: place, grid, hourly, stations, reports, alerts."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from harness import any_reply, demand_plain, fuzz

from trackday.weather.failures import SourceError
from trackday.weather.nws import parse_points, parse_stations
from trackday.weather.nws_alerts import parse_alerts
from trackday.weather.nws_grid import parse_gridpoint
from trackday.weather.nws_hourly import parse_hourly
from trackday.weather.nws_observations import parse_observations

NOW = datetime(2027, 6, 12, 12, 0, tzinfo=UTC)


def at(hours: float) -> str:
    return (NOW + timedelta(hours=hours)).isoformat()


def layer(unit: str, *values: tuple[float, str, Any]) -> dict[str, Any]:
    spans = [{"validTime": f"{at(hour)}/{span}", "value": value} for hour, span, value in values]
    return {"uom": unit, "values": spans}


POINTS = {"properties": {"gridId": "MPX", "gridX": 107, "gridY": 70, "forecastZone": "x"}}
GRID = {
    "properties": {
        "updateTime": at(-1.0),
        "elevation": {"unitCode": "wmoUnit:m", "value": 300.0},
        "temperature": layer("wmoUnit:degC", (0, "PT2H", 20.0), (2, "PT1H", 21.0)),
        "dewpoint": layer("wmoUnit:degC", (0, "PT2H", 10.0)),
        "windSpeed": layer("wmoUnit:km_h-1", (0, "PT3H", 10.0)),
        "windGust": layer("wmoUnit:km_h-1", (0, "PT3H", 20.0)),
        "skyCover": layer("wmoUnit:percent", (0, "PT3H", 50)),
        "quantitativePrecipitation": layer("wmoUnit:mm", (0, "PT6H", 1.0)),
        "probabilityOfPrecipitation": layer("wmoUnit:percent", (0, "PT12H", 40)),
        "probabilityOfThunder": layer("wmoUnit:percent", (0, "P1DT2H", 10)),
        "weather": {"values": [{"validTime": f"{at(0)}/PT3H", "value": [{"weather": "rain"}]}]},
    }
}
HOURLY = {
    "properties": {
        "updateTime": at(-1.0),
        "periods": [
            {
                "startTime": at(hour),
                "endTime": at(hour + 1),
                "temperature": 68,
                "temperatureUnit": "F",
                "probabilityOfPrecipitation": {"unitCode": "wmoUnit:percent", "value": 10 * hour},
                "dewpoint": {"unitCode": "wmoUnit:degC", "value": 10.0},
                "windSpeed": "5 to 10 mph",
            }
            for hour in range(3)
        ],
    }
}
STATIONS = {"features": [{"properties": {"stationIdentifier": name}} for name in ("KXYZ", "AB1")]}
REPORTS = {
    "features": [
        {
            "properties": {
                "station": "https://api.example.org/stations/KXYZ",
                "timestamp": at(-minutes / 60.0),
                "rawMessage": "KXYZ 121153Z 18008G18KT 10SM -RA BKN025 20/10 A2992 RMK P0003",
                "textDescription": "Light Rain",
                "elevation": {"unitCode": "wmoUnit:m", "value": 300},
                "temperature": {"unitCode": "wmoUnit:degC", "value": 20, "qualityControl": "V"},
                "dewpoint": {"unitCode": "wmoUnit:degC", "value": 10, "qualityControl": "V"},
                "windSpeed": {"unitCode": "wmoUnit:km_h-1", "value": 15, "qualityControl": "V"},
                "windGust": {"unitCode": "wmoUnit:km_h-1", "value": 40, "qualityControl": "V"},
                "barometricPressure": {"unitCode": "wmoUnit:Pa", "value": 101_325},
                "visibility": {"unitCode": "wmoUnit:m", "value": 16_000},
                "precipitationLastHour": {"unitCode": "wmoUnit:mm", "value": 0.3},
                "presentWeather": [
                    {"intensity": "light", "modifier": None, "weather": "rain",
                     "rawString": "-RA", "inVicinity": False}
                ],
            }
        }
        for minutes in (7, 20)
    ]
}  # fmt: skip
ALERTS = {
    "features": [
        {
            "properties": {
                "event": event, "headline": f"{event} until tonight", "status": "Actual",
                "messageType": "Alert", "severity": "Moderate", "certainty": "Likely",
                "onset": at(1), "effective": at(0), "sent": at(0), "ends": at(5), "expires": at(4),
                "instruction": "Secure\nloose objects.",
            }
        }
        for event in ("Wind Advisory", "Severe Thunderstorm Warning")
    ]
}  # fmt: skip


def refused_or(read: Callable[[Any], Any]) -> Callable[[Any], None]:
    """Read a reply; SourceError is what a reader may raise, with one printable line."""

    def do(data: Any) -> None:
        try:
            read(data)
        except SourceError as error:
            demand_plain(error.reason)

    return do


def alerts(data: Any) -> None:
    for alert in parse_alerts(data, start=NOW, end=NOW + timedelta(days=2)):
        for text in (alert.event, alert.headline, alert.severity, alert.instruction):
            assert text.isprintable(), repr(text)


def reports(data: Any) -> None:
    seen = parse_observations(data)
    assert seen is None or (seen.text.isprintable() and seen.station.isprintable())


if __name__ == "__main__":
    fuzz(
        {
            "place": (any_reply(POINTS), refused_or(parse_points)),
            "grid": (any_reply(GRID), refused_or(lambda d: parse_gridpoint(d, as_of=NOW))),
            "hourly": (any_reply(HOURLY), refused_or(lambda d: parse_hourly(d, as_of=NOW))),
            "stations": (any_reply(STATIONS), refused_or(parse_stations)),
            "reports": (any_reply(REPORTS), refused_or(reports)),
            "alerts": (any_reply(ALERTS), refused_or(alerts)),
        }
    )
