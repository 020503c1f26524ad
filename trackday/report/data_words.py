"""Small things as plain data: sentences, moments, spreads, decisions."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from typing import Any

from pydantic import BaseModel

from trackday.advice.decision import Decision
from trackday.outlook.spread import Spread
from trackday.units import units_named
from trackday.weekend.venue import Venue
from trackday.wording import Say

Data = dict[str, Any]


def spread_data(values: Spread) -> Data:
    """A distribution's percentiles."""
    return {"p10": values.p10, "p50": values.p50, "p90": values.p90}


def local(when: datetime | None, venue: Venue) -> str | None:
    """A moment in the venue's time with its UTC offset, to the second."""
    return None if when is None else when.astimezone(venue.zone).isoformat(timespec="seconds")


def words(say: Say, venue: Venue) -> str:
    """A sentence in metric units and the venue's time."""
    return say.render(units_named("metric"), venue.zone)


def all_words(said: Iterable[Say], venue: Venue) -> list[str]:
    """Sentences in metric units and the venue's time."""
    return [words(say, venue) for say in said]


def decision_data(decision: Decision | None, venue: Venue) -> Data | None:
    """One decision; its `chance` is null where none applies or none is known."""
    if decision is None:
        return None
    return {
        "topic": decision.topic,
        "about": decision.about,
        "urgency": decision.urgency,
        "do": words(decision.do, venue),
        "chance": decision.chance,
        "why": all_words(decision.why, venue),
        "by": local(decision.by, venue),
        "until": local(decision.until, venue),
        "caution": None if decision.caution is None else words(decision.caution, venue),
    }


def record(value: Any, venue: Venue) -> Any:
    """A record as plain data under its own field names; moments in venue time, words metric."""
    if isinstance(value, Decision):
        return decision_data(value, venue)
    if isinstance(value, Say):
        return words(value, venue)
    if isinstance(value, datetime):
        return local(value, venue)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return [record(item, venue) for item in value]
    if isinstance(value, Mapping):
        return {key: record(item, venue) for key, item in value.items()}
    if isinstance(value, BaseModel):
        return value.model_dump(mode="json")
    if is_dataclass(value):
        return {field.name: record(getattr(value, field.name), venue) for field in fields(value)}
    return value


def dump(data: Data) -> str:
    """Write data as JSON; numbers rounded to what they can mean, unknown ones null."""
    return json.dumps(clean(data), indent=2, ensure_ascii=False, allow_nan=False)


def clean(value: Any) -> Any:
    """Round numbers to what they can mean and turn what is unknown or endless into null."""
    if isinstance(value, dict):
        return {key: clean(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [clean(item) for item in value]
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return round(value, 4) if math.isfinite(value) else None
    return value
