"""METAR reports as JSON: how they are asked for, and what a station saw."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import numpy as np
from requests_cache import CachedSession

from trackday.settings import Settings
from trackday.weather.altimeter import altimeter_to_station_pa
from trackday.weather.failures import SourceError
from trackday.weather.http import Reply, fetch_json
from trackday.weather.metar_text import falling, hourly_rain_mm
from trackday.weather.sources import Observation
from trackday.weather.wmo import (
    AIR_TEMP,
    ALTIMETER,
    DEW_POINT,
    ELEVATION,
    GUST,
    VISIBILITY,
    WIND,
    Quantity,
    convert,
    folded,
    number,
    read_unix,
)

ATTRIBUTION = "METAR by aviationweather.gov (https://aviationweather.gov/), public domain"

REPORT_HOURS = 3
"""How far back reports are asked, h: older ones say nothing of the hours to come (assumption)."""


def get_metar(session: CachedSession, settings: Settings, station: str, *, offline: bool) -> Reply:
    """Ask for the last reports of a station by its four-letter code.

    The reply is a list, and empty where the service has nothing. Raises SourceError where nothing
    can be had.
    """
    if not (station.isascii() and station.isalnum()):
        raise SourceError(f"{station!r} is no code of a station: it needs letters and digits")
    params = {"ids": station.upper(), "format": "json", "hours": str(REPORT_HOURS)}
    return fetch_json(
        session,
        settings.metar_url,
        params,
        offline=offline,
        headers={"Accept": "application/json"},
        expect=list,
    )


def parse_metar(data: object, *, station: str) -> Observation | None:
    """Read the newest report of a station; None if there is none of it.

    Stations send an altimeter setting, which becomes the pressure at their elevation; without the
    elevation it is unknown. Raises SourceError where the reply is not understood.
    """
    if not isinstance(data, list) or not all(isinstance(report, dict) for report in data):
        raise SourceError("the reply is no list of reports")
    of_station = [report for report in data if report.get("icaoId") == station.upper()]
    timed = [(read_unix(report.get("obsTime")), report) for report in of_station]
    reports = [(time, report) for time, report in timed if time is not None]
    if of_station and not reports:
        raise SourceError("the reports do not tell their times")
    if not reports:
        return None
    time, newest = max(reports, key=lambda pair: pair[0])
    return _observation(newest, station=station.upper(), time=time)


def _observation(report: Mapping[str, Any], *, station: str, time: datetime) -> Observation:
    def read(name: str, unit: str, quantity: Quantity) -> float:
        sent = np.array([number(report.get(name))])
        return float(convert(sent, unit, quantity, name=name).values[0])

    raw = folded(report.get("rawOb"))
    weather = folded(report.get("wxString"))
    return Observation(
        station=station,
        time=time,
        air_temp_c=read("temp", "degC", AIR_TEMP),
        dew_point_c=read("dewp", "degC", DEW_POINT),
        wind_ms=read("wspd", "kt", WIND),
        gust_ms=read("wgst", "kt", GUST),
        pressure_pa=altimeter_to_station_pa(
            read("altim", "hPa", ALTIMETER), read("elev", "m", ELEVATION)
        ),
        visibility_m=_visibility_m(report.get("visib")),
        # A special report counts only what fell since the last hourly one.
        rain_mm=np.nan if report.get("metarType") == "SPECI" else hourly_rain_mm(raw),
        raining=falling(weather, raw),
        text=raw,
    )


def _visibility_m(visibility: object) -> float:
    """Read statute miles, m, as a number or as text such as "10+" (at least)."""
    miles = number(visibility)
    if isinstance(visibility, str):
        try:
            miles = number(float(visibility.removesuffix("+")))
        except ValueError:
            miles = np.nan
    return float(convert(np.array([miles]), "mi_us", VISIBILITY, name="visib").values[0])
