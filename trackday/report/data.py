"""The plan as JSON, always in SI; the contract is described in docs/json.md."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from trackday.advice.canopy import CanopyAdvice
from trackday.advice.light import LightAdvice
from trackday.advice.pressure import AxlePressure, PressureAdvice
from trackday.advice.tires import TireAdvice
from trackday.morning import Morning
from trackday.outlook.air import AirOutlook
from trackday.outlook.drying import DryingOutlook
from trackday.outlook.rain import RainOutlook
from trackday.outlook.spread import Spread
from trackday.outlook.track import TrackOutlook
from trackday.plan import Plan, SessionPlan
from trackday.units import units_named
from trackday.weather.sources import Alert, SourceReport
from trackday.weekend.venue import Venue
from trackday.wording import Say

SCHEMA = "trackday.plan/1"

Data = dict[str, Any]


def plan_json(plan: Plan) -> str:
    """One JSON document for a plan; unknown numbers are null."""
    return _dump(plan_data(plan))


def morning_json(morning: Morning) -> str:
    """One JSON document for a morning: the call, then that day's part of the plan."""
    data = plan_data(morning.plan)
    call = morning.call
    data |= {
        "schema": "trackday.morning/1",
        "day": morning.day.isoformat(),
        "rain_tires": {
            "answer": call.answer,
            "session": None if call.session is None else call.session.name,
            "by": _local(call.by, morning.plan.venue),
            "headline": _words(call.headline, morning.plan.venue),
            "reasons": _all_words(call.reasons, morning.plan.venue),
        },
        "sessions": [_session(s, morning.plan) for s in morning.sessions],
        "canopy": None if morning.canopy is None else [_canopy(morning.canopy, morning.plan.venue)],
        "light": [_light(morning.light, morning.plan.venue)],
    }
    return _dump(data)


def light_json(days: Sequence[LightAdvice], venue: Venue) -> str:
    """One JSON document for the light of an event."""
    return _dump(
        {
            "schema": "trackday.light/1",
            "venue": _venue(venue),
            "light": [_light(day, venue) for day in days],
        }
    )


def plan_data(plan: Plan) -> Data:
    """The plan as plain dictionaries and lists."""
    return {
        "schema": SCHEMA,
        "as_of": _local(plan.as_of, plan.venue),
        "event": plan.event_name,
        "venue": _venue(plan.venue),
        "basis": plan.basis,
        "sources": [_source(source) for source in plan.sources],
        "alerts": [_alert(alert, plan.venue) for alert in plan.alerts],
        "observation": _observation(plan),
        "track_readings": [
            {
                "at": _local(followed.reading.at, plan.venue),
                "temp_c": followed.reading.temp_c,
                "expected_c": followed.expected_c,
            }
            for followed in plan.followed
        ],
        "sessions": [_session(session, plan) for session in plan.sessions],
        "canopy": None
        if plan.canopy is None
        else [_canopy(day, plan.venue) for day in plan.canopy],
        "light": [_light(day, plan.venue) for day in plan.light],
        # Not assessed yet; null says so, where an empty object would read as "nothing to do".
        "load": None,
        "ground": None,
        "tow": None,
        "heat": None,
        "cautions": _all_words(plan.cautions, plan.venue),
        "attribution": list(plan.attribution),
    }


def _venue(venue: Venue) -> Data:
    return {
        "name": venue.name,
        "latitude": venue.latitude,
        "longitude": venue.longitude,
        "elevation_m": venue.elevation_m,
        "timezone": venue.timezone,
        "surface": venue.surface,
    }


def _source(source: SourceReport) -> Data:
    return {
        "name": source.name,
        "role": source.role,
        "status": source.status,
        "fetched_at": None if source.fetched_at is None else source.fetched_at.isoformat(),
        "age_minutes": source.age_minutes,
        "detail": source.detail,
    }


def _alert(alert: Alert, venue: Venue) -> Data:
    return {
        "kind": alert.kind,
        "event": alert.event,
        "headline": alert.headline,
        "severity": alert.severity,
        "certainty": alert.certainty,
        "onset": _local(alert.onset, venue),
        "ends": _local(alert.ends, venue),
        "instruction": alert.instruction,
    }


def _observation(plan: Plan) -> Data | None:
    seen, difference = plan.observation, plan.difference
    if seen is None:
        return None
    names = ("air_temp_c", "dew_point_c", "wind_ms", "gust_ms", "pressure_pa", "visibility_m",
             "rain_mm", "raining", "text")  # fmt: skip
    off = ("air_temp_c", "dew_point_c", "wind_ms")
    return {
        "station": seen.station,
        "time": _local(seen.time, plan.venue),
        **{name: getattr(seen, name) for name in names},
        "minus_forecast": difference and {name: getattr(difference, name) for name in off},
    }


def _session(planned: SessionPlan, plan: Plan) -> Data:
    venue, session, outlook = plan.venue, planned.session, planned.outlook
    return {
        "name": session.name,
        "kind": session.kind,
        "start": _local(session.start, venue),
        "end": _local(session.end, venue),
        "rain": _rain(outlook.rain),
        "track": _track(outlook.track)
        | {
            "dry_by": _drying(outlook.drying, venue),
            "dry_by_in_shade": _drying(outlook.drying_in_shade, venue),
        },
        "air": _air(outlook.air),
        "tire": _tire(planned.tire, venue),
        "pressure": _pressure(planned.pressure, venue),
        "fog": {
            "chance": planned.fog.chance,
            "on": planned.fog.glass,
            "prepare": planned.fog.prepare,
            "reasons": _all_words(planned.fog.reasons, venue),
        },
        "thunder": {"chance": None},  # not assessed yet
        "glare": [
            {
                "heading_deg": glare.heading_deg,
                "start": _local(glare.start, venue),
                "end": _local(glare.end, venue),
                "least_angle_deg": glare.least_angle_deg,
            }
            for glare in planned.glare
        ],
    }


def _rain(rain: RainOutlook) -> Data:
    return {
        "chance": rain.chance,
        "low": rain.low,
        "high": rain.high,
        "amount_mm": _spread(rain.amount_mm),
        "basis": rain.basis,
        "by_center": rain.by_center,
        "usual": rain.usual,
    }


def _track(track: TrackOutlook) -> Data:
    return {"temp_c": _spread(track.temp_c), "state_chance": dict(track.state_chance)}


def _drying(drying: DryingOutlook | None, venue: Venue) -> Data | None:
    if drying is None:
        return None
    times = {name: _local(getattr(drying, name), venue) for name in ("p10", "p50", "p90")}
    return times | {"chance": drying.chance}


def _air(air: AirOutlook) -> Data:
    names = ("temp_c", "dew_point_c", "wind_ms", "gust_ms", "density_altitude_m")
    spreads: dict[str, Spread] = {name: getattr(air, name) for name in names}
    return {name: value.p50 for name, value in spreads.items()} | {
        "spread": {name: _spread(value) for name, value in spreads.items()}
    }


def _tire(tire: TireAdvice, venue: Venue) -> Data:
    return {
        "choice": tire.choice,
        "runner_up": tire.runner_up,
        "chances": tire.chances,
        "expected_cost_percent": tire.costs,
        "vetoed": list(tire.vetoed),
        "reasons": _all_words(tire.reasons, venue),
        "decide_by": _local(tire.decide_by, venue),
        "start_grooving_by": _local(tire.start_grooving_by, venue),
    }


def _pressure(pressure: PressureAdvice, venue: Venue) -> Data:
    reasons = _all_words(pressure.reasons, venue)
    return {
        "front": _axle(pressure.front, reasons),
        "rear": _axle(pressure.rear, reasons),
    }


def _axle(axle: AxlePressure, reasons: list[str]) -> Data:
    return {
        "cold_kpa": axle.cold_kpa,
        "offset_kpa": axle.offset_kpa,
        "low": axle.low_kpa,
        "high": axle.high_kpa,
        "at_gauge_kpa": axle.at_gauge_kpa,
        "target_hot_kpa": axle.target_hot_kpa,
        "reasons": reasons,
    }


def _canopy(day: CanopyAdvice, venue: Venue) -> Data:
    return {
        "day": day.day.isoformat(),
        "action": day.action,
        "gust_ms": _spread(day.gust_ms),
        "needed_per_leg_kg": day.needed_per_leg_kg,
        "have_per_leg_kg": day.have_per_leg_kg,
        "holds_gust_ms": day.holds_gust_ms,
        "limit_gust_ms": day.limit_gust_ms,
        "down_by": _local(day.down_by, venue),
        "reasons": _all_words(day.reasons, venue),
    }


def _light(day: LightAdvice, venue: Venue) -> Data:
    sun = day.sun
    times = {
        name: _local(getattr(sun, name), venue)
        for name in (
            "nautical_dawn",
            "civil_dawn",
            "sunrise",
            "noon",
            "sunset",
            "civil_dusk",
            "nautical_dusk",
        )
    }
    return {
        "day": day.day.isoformat(),
        **times,
        "last_session_end": _local(day.last_session_end, venue),
        "usable_minutes": day.usable_minutes,
        "lamp_hours": day.lamp_hours,
        "reasons": _all_words(day.reasons, venue),
    }


def _spread(values: Spread) -> Data:
    return {"p10": values.p10, "p50": values.p50, "p90": values.p90}


def _local(when: datetime | None, venue: Venue) -> str | None:
    """A moment in the venue's time with its UTC offset, to the second."""
    return None if when is None else when.astimezone(venue.zone).isoformat(timespec="seconds")


def _words(say: Say, venue: Venue) -> str:
    return say.render(units_named("metric"), venue.zone)


def _all_words(said: Iterable[Say], venue: Venue) -> list[str]:
    return [_words(say, venue) for say in said]


def _dump(data: Data) -> str:
    return json.dumps(_clean(data), indent=2, ensure_ascii=False, allow_nan=False)


def _clean(value: Any) -> Any:
    """Round numbers to what they can mean and turn what is unknown into null."""
    if isinstance(value, dict):
        return {key: _clean(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(item) for item in value]
    if isinstance(value, float):
        return round(value, 4) if math.isfinite(value) else None
    return value
