"""`trackday past` as JSON and CSV, always in SI; docs/json.md describes the fields."""

from __future__ import annotations

import csv
import io
from datetime import datetime
from typing import Any

from trackday.outlook.spread import Spread
from trackday.past import Past, PastSession
from trackday.report.data_words import clean, dump
from trackday.weather.station_hours import NORMALS_YEARS
from trackday.weather.stations import Station

SCHEMA = "trackday.past/1"

Data = dict[str, Any]

_AIR = ("temp_c", "dew_point_c", "wind_ms", "gust_ms")


def past_json(past: Past) -> str:
    """One JSON document; unknown numbers are null."""
    return dump(past_data(past))


def past_csv(past: Past) -> str:
    """One table with a row for each session; unknown numbers are empty, lines end with LF."""
    rows = [_flat(_session(each, past)) for each in past.sessions]
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def past_data(past: Past) -> Data:
    """What other years brought as plain dictionaries and lists."""
    history = past.history
    return {
        "schema": SCHEMA,
        "event": past.name,
        "venue": {
            "name": past.venue.name,
            "latitude": past.venue.latitude,
            "longitude": past.venue.longitude,
            "elevation_m": past.venue.elevation_m,
            "timezone": past.venue.timezone,
        },
        "years_asked": list(past.years),
        "window_days": past.window_days,
        "source": {
            "kind": history.kind,
            "station": None if history.station is None else _station(history.station),
            "years_used": list(history.years),
            "hours_asked": history.hours_asked,
            "hours_rain_known": history.rain_hours,
            "hours_air_known": history.air_hours,
            "fetched_at": history.fetched_at.isoformat(timespec="seconds"),
            "stale": history.stale,
            "notes": list(history.notes),
        },
        "normals": _normals(past),
        "sessions": [_session(each, past) for each in past.sessions],
        "light": [
            {
                "day": each.day.isoformat(),
                "sunrise": _local(each.sun.sunrise, past),
                "sunset": _local(each.sun.sunset, past),
            }
            for each in past.days
        ],
        "attribution": [history.attribution],
    }


def _station(station: Station) -> Data:
    return {
        "id": station.id,
        "name": station.name,
        "latitude": station.latitude,
        "longitude": station.longitude,
        "elevation_m": station.elevation_m,
        "distance_km": station.distance_km,
        "above_venue_m": station.above_m,
    }


def _normals(past: Past) -> Data | None:
    """Monthly means of the month of the first day."""
    month = past.days[0].day.month
    means = past.history.normals.get(month)
    if means is None:
        return None
    first, last = NORMALS_YEARS
    return {"month": month, "first_year": first, "last_year": last, **means._asdict()}


def _session(each: PastSession, past: Past) -> Data:
    rain = each.rain
    return {
        "name": each.session.name,
        "start": _local(each.session.start, past),
        "end": _local(each.session.end, past),
        "rain": {
            "wet_days": rain.wet,
            "known_days": rain.known,
            "asked_days": rain.asked,
            "share": rain.share,
            "low": rain.low,
            "high": rain.high,
            "effective_days": rain.effective,
            "amount_when_wet_mm": _percentiles(rain.amount_when_wet_mm),
        },
        "track": {"temp_c": _spread(each.track_temp_c)},
        "air": {name: _spread(getattr(each.air, name)) for name in _AIR},
    }


def _percentiles(values: Spread) -> Data:
    return {"p10": values.p10, "p50": values.p50, "p90": values.p90}


def _spread(values: Spread) -> Data:
    return _percentiles(values) | {"unknown_share": values.unknown_share}


def _local(when: datetime | None, past: Past) -> str | None:
    """A moment in the venue's time with its UTC offset, to the second."""
    return None if when is None else when.astimezone(past.venue.zone).isoformat(timespec="seconds")


def _flat(data: Data, prefix: str = "") -> Data:
    """Join nested names with underscores: `rain_share`, `air_temp_c_p50`."""
    row: Data = {}
    for name, value in data.items():
        if isinstance(value, dict):
            row |= _flat(value, f"{prefix}{name}_")
        else:
            row[prefix + name] = clean(value)
    return row
