"""Plans for one invented day, from weather and source reports that a test makes up."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
from builders import garage, venue, weather

from trackday.plan import Plan, make_plan
from trackday.weather.sources import Gathered, RainBasis, SourceReport
from trackday.weekend.event import Event

AS_OF = datetime(2027, 6, 12, 11, 0, tzinfo=UTC)
"""Six in the morning of the event's only day, at the venue."""

EVENT = Event.model_validate(
    {
        "name": "Summer Double",
        "venue": "x",
        "sessions": [
            {"name": "Practice", "date": "2027-06-12", "start": "09:00", "minutes": 20,
             "kind": "practice"},
            {"name": "Race", "date": "2027-06-12", "start": "15:00", "minutes": 30, "kind": "race"},
        ],
    }
)  # fmt: skip
HOURS = 120


def gathered(
    *,
    basis: RainBasis = "ensemble",
    sky=None,
    ends_after_h: float | None = None,
    age_h: float = 0.0,
    climatology=None,
    **fields,
):
    """A source of five days; `ends_after_h` hours after `AS_OF` its rain is not known any more."""

    def gather(place, *, first_day, last_day, as_of):
        made = on_days(weather(members=3, hours=HOURS, **fields) if sky is None else sky, first_day)
        if ends_after_h is not None:
            known = made.times <= AS_OF + timedelta(hours=ends_after_h)
            made = replace(made, rain_mm=np.where(known, made.rain_mm, np.nan))
        report = SourceReport(
            "Made-up", "rain odds", "fresh", "made up", AS_OF - timedelta(hours=age_h), 60 * age_h
        )
        other = None if climatology is None else on_days(climatology, first_day)
        return Gathered(made, (report,), basis, climatology=other)

    return gather


def climatology(**fields):
    """Other years' weather: twelve stretches of four years."""
    sky = weather(members=12, hours=HOURS, centers=("climatology",) * 12, **fields)
    names = [f"climatology/{2020 + n // 3}{n % 3 - 1:+03d}" for n in range(12)]
    return replace(sky, members=tuple(names))


def on_days(sky, first_day):
    """Put a weather on the hours from a UTC date on."""
    start = pd.Timestamp(first_day, tz="UTC")
    return replace(sky, times=pd.date_range(start, periods=len(sky.times), freq="h", unit="s"))


def plan(*, gather=None, age_h=0.0, as_of=AS_OF, **seen) -> Plan:
    """Plan the day; `seen` goes into what was gathered (alerts, observation, difference)."""
    ask = gather or gathered(age_h=age_h)

    def with_seen(place, **days):
        return replace(ask(place, **days), **seen)

    return make_plan(EVENT, garage(), venue(), with_seen, as_of=as_of)
