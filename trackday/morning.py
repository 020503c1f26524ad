"""The morning look: one day out of a plan, and the call on rain tires."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from trackday.advice.canopy import CanopyAdvice
from trackday.advice.light import LightAdvice
from trackday.advice.rain_tires import RainTireCall, call_rain_tires
from trackday.errors import TrackdayError
from trackday.plan import Plan, SessionPlan


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
        call=call_rain_tires([(s.outlook, s.tire) for s in sessions], as_of=plan.as_of),
        sessions=sessions,
        canopy=next((c for c in plan.canopy or () if c.day == wanted), None),
        light=next(a for a in plan.light if a.day == wanted),
    )
