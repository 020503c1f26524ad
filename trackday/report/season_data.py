"""`trackday season` as JSON, always in SI; docs/calendar.md describes the fields."""

from __future__ import annotations

import json
import math
from datetime import datetime
from typing import Any

from trackday.plan import SessionPlan
from trackday.season import Season, SeasonEvent
from trackday.units import METRIC
from trackday.weather.open_meteo import FORECAST_HORIZON_DAYS
from trackday.weekend.showing import shown_path

SCHEMA = "trackday.season/1"

Data = dict[str, Any]

_DIGITS = 4


def season_json(season: Season) -> str:
    """One JSON document; unknown numbers are null."""
    return json.dumps(season_data(season), indent=2, ensure_ascii=False, allow_nan=False)


def season_data(season: Season) -> Data:
    """The season as plain dictionaries and lists, the events by date."""
    return {
        "schema": SCHEMA,
        "as_of": season.as_of.astimezone(season.zone).isoformat(timespec="seconds"),
        "horizon_days": FORECAST_HORIZON_DAYS,
        "events": [_event(event) for event in season.events],
        "left_out": season.left_out,
        "faults": [
            {"file": shown_path(fault.path), "lines": list(fault.lines)} for fault in season.faults
        ],
        "attribution": list(season.attribution),
    }


def _event(event: SeasonEvent) -> Data:
    weekend, plan = event.weekend, event.plan
    venue = weekend.venue
    return {
        "file": shown_path(weekend.event_path),
        "name": weekend.event.name,
        "venue": {"name": venue.name, "timezone": venue.timezone},
        "first_day": event.first_day.isoformat(),
        "last_day": event.last_day.isoformat(),
        "days_to_go": event.days_to_go,
        "state": event.state,
        "forecast": {
            "reach": event.reach,
            "sessions_known": len(event.known),
            "sessions_left": _sessions_left(event),
            "trouble": event.trouble or None,
        },
        "rain": _rain(event.wettest),
        "heat": _heat(event.hottest),
        "take_along": None if plan is None else plan.take_along.render(METRIC, venue.zone),
        "next_look": _local(event.next_look, event),
        "sources": []
        if plan is None
        else [
            {"name": source.name, "role": source.role, "status": source.status}
            for source in plan.sources
        ],
    }


def _sessions_left(event: SeasonEvent) -> int | None:
    """How many sessions are not over; None where the event was not planned."""
    return None if event.plan is None else len(event.left)


def _rain(wettest: SessionPlan | None) -> Data | None:
    """The session with the highest chance of rain; None where no chance is known."""
    if wettest is None:
        return None
    rain = wettest.outlook.rain
    chances = {"chance": rain.chance, "low": rain.low, "high": rain.high}
    return {"session": wettest.session.label} | {
        name: _number(value) for name, value in chances.items()
    }


def _heat(hottest: SessionPlan | None) -> Data | None:
    """The session with the highest 90th percentile of air temperature; None where none is known."""
    if hottest is None:
        return None
    p90 = hottest.outlook.air.temp_c.p90
    return {"session": hottest.session.label, "air_temp_c_p90": _number(p90)}


def _number(value: float) -> float | None:
    return round(value, _DIGITS) if math.isfinite(value) else None


def _local(when: datetime | None, event: SeasonEvent) -> str | None:
    """A moment in the venue's time with its UTC offset, to the second."""
    if when is None:
        return None
    return when.astimezone(event.weekend.venue.zone).isoformat(timespec="seconds")
