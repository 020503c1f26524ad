"""Station reports of the US weather service: the newest that is known of each quantity."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

import numpy as np

from trackday.weather.altimeter import altimeter_to_station_pa
from trackday.weather.failures import SourceError
from trackday.weather.metar_text import falling, hourly_rain_mm
from trackday.weather.sources import Observation
from trackday.weather.wmo import (
    AIR_TEMP,
    ALTIMETER,
    DEW_POINT,
    ELEVATION,
    GUST,
    RAIN,
    VISIBILITY,
    WIND,
    Quantity,
    features_of,
    folded,
    read_time,
    read_value,
)

BACK = timedelta(hours=3)
"""How much older than the newest report a value may be (assumption: as METAR are asked)."""

BACK_BRIEF = timedelta(minutes=30)
"""The same for what comes and goes: rain, and gusts (assumption)."""

_ELSEWHERE = "VC"
"""How the group of a phenomenon begins that is near the station, but not at it."""

_PRECIPITATION = frozenset(
    {"drizzle", "hail", "ice_crystals", "ice_pellets", "rain", "snow", "snow_grains",
     "snow_pellets", "unknown"}
)  # fmt: skip
"""The service's names of precipitation; "unknown" is precipitation that no sensor can name."""

_DRIFTING = frozenset({"blowing", "low_drifting"})
"""The service's names of what lies on the ground and is moved by the wind."""


class _Report(NamedTuple):
    """One report and its time (UTC)."""

    time: datetime
    properties: Mapping[str, Any]


def parse_observations(data: object) -> Observation | None:
    """Read what a station last reported; None if it reported nothing.

    Of each quantity the newest value counts that is at most `BACK` (rain and gusts: `BACK_BRIEF`)
    older than the newest report. What the service calls barometric pressure is the altimeter
    setting (in recorded replies it equals the "A" group of the same report) and becomes the
    pressure at the station's elevation. Raises SourceError where the reply or a unit is not
    understood.
    """
    sent = [(read_time(p.get("timestamp")), p) for p in features_of(data, what="report")]
    reports = [_Report(time, properties) for time, properties in sent if time is not None]
    if sent and not reports:
        raise SourceError("the reports do not tell their times")
    if not reports:
        return None
    reports.sort(key=lambda report: report.time, reverse=True)
    newest = reports[0]
    recent = [report for report in reports if newest.time - report.time <= BACK]
    latest = [report for report in reports if newest.time - report.time <= BACK_BRIEF]

    def last(name: str, quantity: Quantity, among: Sequence[_Report] = recent) -> float:
        return _first_known(among, lambda report: read_value(report.get(name), quantity, name=name))

    return Observation(
        station=_station(newest.properties),
        time=newest.time,
        air_temp_c=last("temperature", AIR_TEMP),
        dew_point_c=last("dewpoint", DEW_POINT),
        wind_ms=last("windSpeed", WIND),
        gust_ms=last("windGust", GUST, latest),
        pressure_pa=_first_known(recent, _pressure_pa),
        visibility_m=last("visibility", VISIBILITY),
        rain_mm=_first_known(latest, _rain_mm),
        raining=next((seen for r in latest if (seen := _raining(r.properties)) is not None), None),
        text=folded(newest.properties.get("rawMessage"))
        or folded(newest.properties.get("textDescription")),
    )


def _first_known(reports: Sequence[_Report], read: Callable[[Mapping[str, Any]], float]) -> float:
    """Read a value from the first report that has it; NaN if none has."""
    values = (read(report.properties) for report in reports)
    return next((value for value in values if np.isfinite(value)), np.nan)


def _station(properties: Mapping[str, Any]) -> str:
    """Name the station: older replies have its address alone."""
    return (
        folded(properties.get("stationId")) or folded(properties.get("station")).rpartition("/")[2]
    )


def _pressure_pa(properties: Mapping[str, Any]) -> float:
    setting = properties.get("barometricPressure")
    return altimeter_to_station_pa(
        read_value(setting, ALTIMETER, name="barometricPressure"),
        read_value(properties.get("elevation"), ELEVATION, name="elevation"),
    )


def _rain_mm(properties: Mapping[str, Any]) -> float:
    """Rain of the hour before the report, mm: as sent, or else from the remarks of the report."""
    name = "precipitationLastHour"
    sent = read_value(properties.get(name), RAIN, name=name)
    return sent if np.isfinite(sent) else hourly_rain_mm(folded(properties.get("rawMessage")))


def _raining(properties: Mapping[str, Any]) -> bool | None:
    """Whether precipitation falls at the station; None where that is not known (`falling`)."""
    phenomena = properties.get("presentWeather")
    seen = (
        [item for item in phenomena if isinstance(item, dict)]
        if isinstance(phenomena, list)
        else []
    )
    if any(_is_falling(phenomenon) for phenomenon in seen):
        return True
    groups = " ".join(folded(phenomenon.get("rawString")) for phenomenon in seen)
    return falling(groups, folded(properties.get("rawMessage")))


def _is_falling(phenomenon: Mapping[str, Any]) -> bool:
    """Whether one phenomenon of the present weather is precipitation at the station itself."""
    is_near = phenomenon.get("inVicinity") is True or folded(
        phenomenon.get("rawString")
    ).startswith(_ELSEWHERE)
    return (
        not is_near
        and folded(phenomenon.get("weather")) in _PRECIPITATION
        and folded(phenomenon.get("modifier")) not in _DRIFTING
    )
