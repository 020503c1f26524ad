"""The plan as JSON, always in SI; the contract is described in docs/json.md."""

from __future__ import annotations

from collections.abc import Sequence

from trackday.advice.canopy import CanopyAdvice
from trackday.advice.light import LightAdvice
from trackday.advice.load import LoadAdvice
from trackday.advice.rain_times import say_day_rain
from trackday.changes import Changes
from trackday.morning import Morning
from trackday.plan import Plan
from trackday.plan_days import DayPlan
from trackday.report.data_session import session_data
from trackday.report.data_words import (
    Data,
    all_words,
    decision_data,
    dump,
    local,
    record,
    spread_data,
    words,
)
from trackday.weather.sources import Alert, SourceReport
from trackday.weekend.venue import Venue

SCHEMA = "trackday.plan/1"


def plan_json(plan: Plan, changes: Changes | None = None) -> str:
    """One JSON document for a plan; unknown numbers are null."""
    return dump(plan_data(plan) | {"changes": record(changes, plan.venue)})


def morning_json(morning: Morning, changes: Changes | None = None) -> str:
    """One JSON document for a morning: the call, then that day's part of the plan."""
    plan, call, venue = morning.plan, morning.call, morning.plan.venue
    day = [morning.today]
    data = plan_data(plan) | _days(day, plan)
    data |= {
        "schema": "trackday.morning/1",
        "day": morning.day.isoformat(),
        "rain_tires": {
            "answer": call.answer,
            "session": None if call.session is None else call.session.name,
            "by": local(call.by, venue),
            "headline": words(call.headline, venue),
            "reasons": all_words(call.reasons, venue),
            "decision": decision_data(call.decision, venue),
        },
        "sessions": [session_data(planned, venue) for planned in morning.sessions],
        "decisions": [decision_data(each, venue) for each in morning.decisions],
        "changes": record(changes, venue),
    }
    return dump(data)


def light_json(days: Sequence[LightAdvice], venue: Venue) -> str:
    """One JSON document for the light of an event."""
    return dump(
        {
            "schema": "trackday.light/1",
            "venue": _venue(venue),
            "light": [_light(day, venue) for day in days],
        }
    )


def load_json(plan: Plan) -> str:
    """One JSON document for what to load."""
    return dump(
        {
            "schema": "trackday.load/1",
            "as_of": local(plan.as_of, plan.venue),
            "event": plan.event_name,
            "venue": _venue(plan.venue),
            "basis": plan.basis,
            "sources": [_source(source) for source in plan.sources],
            "load": _load(plan.load, plan.venue),
            "attribution": list(plan.attribution),
        }
    )


def plan_data(plan: Plan) -> Data:
    """The plan as plain dictionaries and lists."""
    venue = plan.venue
    return {
        "schema": SCHEMA,
        "as_of": local(plan.as_of, venue),
        "event": plan.event_name,
        "venue": _venue(venue),
        "basis": plan.basis,
        "sources": [_source(source) for source in plan.sources],
        "alerts": [_alert(alert, venue) for alert in plan.alerts],
        "observation": _observation(plan),
        "track_readings": [
            {
                "at": local(followed.reading.at, venue),
                "temp_c": followed.reading.temp_c,
                "expected_c": followed.expected_c,
            }
            for followed in plan.followed
        ],
        "last_visit": record(plan.last_visit, venue),
        "learned": all_words(plan.learned, venue),
        "decisions": [decision_data(decision, venue) for decision in plan.decisions],
        "sessions": [session_data(session, venue) for session in plan.sessions],
        **_days(plan.days, plan),
        "canopy_nights": [record(night, venue) for night in plan.nights],
        "canopy_table": [record(row, venue) for row in plan.gust_table],
        "load": _load(plan.load, venue),
        "tow": [record(leg, venue) for leg in plan.tow],
        "cautions": all_words(plan.cautions, venue),
        "attribution": list(plan.attribution),
    }


def _days(days: Sequence[DayPlan], plan: Plan) -> Data:
    """What is decided by the day, a list for each topic."""
    venue = plan.venue
    return {
        "rain_days": [
            record(day.rain, venue) | {"words": all_words(say_day_rain(day.rain), venue)}
            for day in days
            if day.rain is not None
        ],
        "canopy": [_canopy(day.canopy, venue) for day in days if day.canopy is not None]
        if plan.has_canopy
        else None,
        "light": [_light(day.light, venue) for day in days],
        "thunder": [record(day.thunder, venue) for day in days],
        "ground": [record(day.ground, venue) for day in days],
        "heat": [record(day.heat, venue) for day in days],
        "cold": [record(day.cold, venue) for day in days],
        "frost": [record(night, venue) for day in days for night in day.frost],
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
        "onset": local(alert.onset, venue),
        "ends": local(alert.ends, venue),
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
        "time": local(seen.time, plan.venue),
        **{name: getattr(seen, name) for name in names},
        "minus_forecast": difference and {name: getattr(difference, name) for name in off},
    }


def _canopy(day: CanopyAdvice, venue: Venue) -> Data:
    return {
        "day": day.day.isoformat(),
        "action": day.action,
        "gust_ms": spread_data(day.gust_ms),
        "needed_per_leg_kg": day.needed_per_leg_kg,
        "needed_empty_per_leg_kg": day.empty.per_leg_kg,
        "needed_blocked_per_leg_kg": day.blocked.per_leg_kg,
        "governs": {"empty": day.empty.governs, "blocked": day.blocked.governs},
        "have_per_leg_kg": day.have_per_leg_kg,
        "holds_gust_ms": day.holds_gust_ms,
        "limit_gust_ms": day.limit_gust_ms,
        "down_by": local(day.down_by, venue),
        "reasons": all_words(day.reasons, venue),
        "decision": decision_data(day.decision, venue),
    }


def _light(day: LightAdvice, venue: Venue) -> Data:
    sun = day.sun
    times = {
        name: local(getattr(sun, name), venue)
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
        "last_session_end": local(day.last_session_end, venue),
        "usable_minutes": day.usable_minutes,
        "lamp_hours": day.lamp_hours,
        "load_out_end": local(day.load_out_end, venue),
        "moon": record(day.moon, venue),
        "reasons": all_words(day.reasons, venue),
        "decision": decision_data(day.decision, venue),
    }


def _load(load: LoadAdvice, venue: Venue) -> Data:
    tires = load.tires
    return {
        "decision": decision_data(load.decision, venue),
        "sets": [
            {
                "name": choice.tires.name,
                "kind": choice.tires.kind,
                "grooved": choice.tires.grooved,
                "carried": choice.carried,
                "fits": choice.fits,
                "sorry_without": choice.sorry,
                "best_for": choice.best_for,
                "best_chance": choice.best_chance,
            }
            for choice in tires.sets
        ],
        "regret_percent": tires.regret,
        "sorry": tires.sorry,
        "tires_used": tires.used,
        "tires_capacity": tires.capacity,
        "items": [record(item, venue) for item in load.items],
        "leave": [record(item, venue) for item in load.leave],
    }
