"""The morning look: one day out of a plan, and the call on rain tires."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from trackday.advice.canopy import CanopyAdvice
from trackday.advice.decision import Decision
from trackday.advice.light import LightAdvice
from trackday.advice.rain_tires import RainTireCall, call_rain_tires, refuse_rain_tires
from trackday.errors import TrackdayError
from trackday.outlook.rain_day import DayRain
from trackday.plan import Plan
from trackday.plan_days import DayPlan, in_order_of_need
from trackday.plan_session import SessionPlan
from trackday.weather.sources import OLD_FORECAST
from trackday.wording import Say


@dataclass(frozen=True)
class Morning:
    """One day of a plan with its call on rain tires."""

    plan: Plan
    day: date
    call: RainTireCall
    sessions: tuple[SessionPlan, ...]
    today: DayPlan

    @property
    def canopy(self) -> CanopyAdvice | None:
        """The day's canopy; None without one."""
        return self.today.canopy

    @property
    def light(self) -> LightAdvice:
        """The day's light."""
        return self.today.light

    @property
    def rain(self) -> DayRain | None:
        """When it rains; None once the last session has begun."""
        return self.today.rain

    @property
    def decisions(self) -> tuple[Decision, ...]:
        """What the day asks for and the call does not say, in the order of need."""
        is_down = self.canopy is not None and self.canopy.action == "take down"
        nights = (n for n in self.plan.nights if n.evening == self.day and not is_down)
        ahead = [planned for planned in self.sessions if planned.session.end > self.plan.as_of]
        return in_order_of_need(
            [
                *(
                    decision
                    for planned in ahead
                    for decision in planned.decisions
                    if planned.session is not self.call.session or decision.topic != "tires"
                ),
                *self.today.decisions,
                *(night.decision for night in nights),
            ]
        )


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
        today=next(day for day in plan.days if day.day == wanted),
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
