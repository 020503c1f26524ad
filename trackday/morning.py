"""The morning look: one day out of a plan, and the call on rain tires."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from trackday.advice.canopy import CanopyAdvice
from trackday.advice.light import LightAdvice
from trackday.advice.rain_tires import RainTireCall, call_rain_tires, refuse_rain_tires
from trackday.errors import TrackdayError
from trackday.plan import Plan, SessionPlan
from trackday.weather.sources import OLD_FORECAST
from trackday.wording import Say


@dataclass(frozen=True)
class Morning:
    """One day of a plan with its call on rain tires."""

    plan: Plan
    day: date
    call: RainTireCall
    sessions: tuple[SessionPlan, ...]
    canopy: CanopyAdvice | None
    light: LightAdvice


def make_morning(plan: Plan, *, day: date | None = None) -> Morning:
    """Cut a day out of a plan: `day`, or the venue's date as of the plan.

    Raises TrackdayError when the event has no session that day.
    """
    zone = plan.venue.zone
    wanted = day or plan.as_of.astimezone(zone).date()
    sessions = tuple(s for s in plan.sessions if s.session.start.astimezone(zone).date() == wanted)
    if not sessions:
        days = sorted({s.session.start.astimezone(zone).date() for s in plan.sessions})
        raise TrackdayError(
            f"--day: {plan.event_name} has no session on {wanted}; "
            f"give one of {', '.join(str(d) for d in days)}"
        )
    return Morning(
        plan=plan,
        day=wanted,
        call=_call(plan, sessions),
        sessions=sessions,
        canopy=next((c for c in plan.canopy or () if c.day == wanted), None),
        light=next(a for a in plan.light if a.day == wanted),
    )


def _call(plan: Plan, sessions: Sequence[SessionPlan]) -> RainTireCall:
    """Decide by the day's outlooks, unless they rest on nothing that foretells this day."""
    calls = [(planned.outlook, planned.tire) for planned in sessions]
    age_minutes = plan.forecast_age_minutes
    if any(planned in plan.beyond_forecast for planned in sessions):
        reason = Say("no forecast reaches this day: other years decide nothing")
        return refuse_rain_tires(calls, reason, as_of=plan.as_of)
    if age_minutes is not None and timedelta(minutes=age_minutes) > OLD_FORECAST:
        reason = Say("the forecast is {hours} h old", {"hours": round(age_minutes / 60.0)})
        return refuse_rain_tires(calls, reason, as_of=plan.as_of)
    return call_rain_tires(calls, as_of=plan.as_of)
