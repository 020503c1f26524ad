"""The whole trip in one function: from what the racer wrote to one Plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Protocol

import numpy as np

from trackday.advice.canopy import CanopyAdvice
from trackday.advice.canopy_ballast import GustRow, gust_table
from trackday.advice.canopy_night import CanopyNight
from trackday.advice.cautions import cautions
from trackday.advice.decision import Decision
from trackday.advice.learned import say_learned
from trackday.advice.light import LightAdvice
from trackday.advice.load import LoadAdvice, advise_load
from trackday.advice.load_needs import LoadNeeds
from trackday.advice.load_tires import LoadSession
from trackday.advice.take_along import take_along
from trackday.advice.tow import TowAdvice, advise_tow
from trackday.knowledge import NOTHING, LastVisit, Logbook, taught
from trackday.outlook.course import DayCourse, day_course
from trackday.outlook.skies import Skies, make_skies
from trackday.outlook.surface import FollowedReading
from trackday.plan_days import DayPlan, by_day, in_order_of_need, plan_days, plan_nights
from trackday.plan_session import SessionPlan, foretold, plan_sessions
from trackday.weather.observed import Difference
from trackday.weather.sources import (
    RAIN_ROLES,
    Alert,
    Gathered,
    Observation,
    RainBasis,
    SourceReport,
)
from trackday.weekend.event import Event
from trackday.weekend.garage import Garage
from trackday.weekend.own_list import OwnItem
from trackday.weekend.readings import TrackReading
from trackday.weekend.sessions import Session, Travel, resolve_sessions, resolve_travel
from trackday.weekend.venue import Venue
from trackday.wording import Say

__all__ = ["DayPlan", "Gather", "Logbook", "Plan", "SessionPlan", "make_plan", "weather_window"]

SPIN_UP_DAYS = 3
"""Days of weather before the event, so that the pavement has forgotten how it started."""


class Gather(Protocol):
    """Ask the sources for the weather of a place between two UTC dates."""

    def __call__(
        self, venue: Venue, *, first_day: date, last_day: date, as_of: datetime
    ) -> Gathered:
        """Return the weather and what each source said; raise NoWeatherError if none answered."""


@dataclass(frozen=True)
class Plan:
    """Everything that the reports show; none of them computes."""

    event_name: str
    venue: Venue
    as_of: datetime
    basis: RainBasis
    sources: tuple[SourceReport, ...]
    sessions: tuple[SessionPlan, ...]
    days: tuple[DayPlan, ...]
    nights: tuple[CanopyNight, ...]
    tow: tuple[TowAdvice, ...]
    load: LoadAdvice
    take_along: Say
    cautions: tuple[Say, ...]
    has_canopy: bool
    gust_table: tuple[GustRow, ...] = ()
    alerts: tuple[Alert, ...] = ()
    observation: Observation | None = None
    difference: Difference | None = None
    followed: tuple[FollowedReading, ...] = ()
    last_visit: LastVisit | None = None
    learned: tuple[Say, ...] = ()
    courses: tuple[DayCourse, ...] = ()

    @property
    def canopy(self) -> tuple[CanopyAdvice, ...] | None:
        """Each day's canopy; None without one in the garage."""
        if not self.has_canopy:
            return None
        return tuple(day.canopy for day in self.days if day.canopy is not None)

    @property
    def light(self) -> tuple[LightAdvice, ...]:
        """Each day's light."""
        return tuple(day.light for day in self.days)

    @property
    def decisions(self) -> tuple[Decision, ...]:
        """Every decision about what is still ahead, in the order in which it is needed."""
        today = self.as_of.astimezone(self.venue.zone).date()
        first_start, load = self.sessions[0].session.start, self.load.decision
        down = {day.day for day in self.days if day.canopy and day.canopy.action == "take down"}
        return in_order_of_need(
            [
                *((load,) if self.as_of < (load.until or load.by or first_start) else ()),
                *(leg.decision for leg in self.tow),
                *(
                    decision
                    for planned in self.sessions
                    if planned.session.end > self.as_of
                    for decision in planned.decisions
                ),
                *(d for day in self.days if day.day >= today for d in day.decisions),
                *(n.decision for n in self.nights if n.end > self.as_of and n.evening not in down),
            ]
        )

    @property
    def forecast_age_minutes(self) -> float | None:
        """Age of the newest source that the chances of rain rest on; None where there is none."""
        ages = [
            source.age_minutes
            for source in self.sources
            if source.role in RAIN_ROLES[self.basis] and source.age_minutes is not None
        ]
        return min(ages, default=None)

    @property
    def beyond_forecast(self) -> tuple[SessionPlan, ...]:
        """The sessions that no forecast reaches, planned by what other years brought."""
        return tuple(s for s in self.sessions if s.outlook.rain.basis == "climatology")

    @property
    def attribution(self) -> tuple[str, ...]:
        """Whose data were used, each once."""
        used = (s.attribution for s in self.sources if s.status in ("fresh", "stale"))
        return tuple(dict.fromkeys(text for text in used if text))


def make_plan(
    event: Event,
    garage: Garage,
    venue: Venue,
    gather: Gather,
    logbook: Logbook | None = None,
    *,
    as_of: datetime,
    readings: Sequence[TrackReading] = (),
    own_list: Sequence[OwnItem] = (),
    with_courses: bool = False,
) -> Plan:
    """Plan one event at one venue as of a moment (UTC), following `readings` of its track.

    `own_list` is what the racer loads anyway; `with_courses` adds each day hour by hour, for
    pictures. Raises NoWeatherError when `gather` has nothing at all, TrackdayError for a session
    that the venue's clocks do not allow.
    """
    sessions = resolve_sessions(event, venue)
    travel = resolve_travel(event, venue)
    known = logbook.knowledge(garage, venue, as_of=as_of) if logbook is not None else NOTHING
    garage = taught(garage, known)
    first_day, last_day = weather_window(sessions)
    gathered = gather(venue, first_day=first_day, last_day=last_day, as_of=as_of)
    skies = make_skies(gathered, venue, sessions, readings=readings, bias=known.bias)
    plans = plan_sessions(
        sessions,
        skies=skies,
        usual=gathered.usual,
        garage=garage,
        venue=venue,
        known=known,
        as_of=as_of,
    )
    days = plan_days(
        sessions,
        skies=skies,
        usual=gathered.usual,
        garage=garage,
        venue=venue,
        travel=travel,
        as_of=as_of,
    )
    return Plan(
        event_name=event.name,
        venue=venue,
        as_of=as_of,
        basis=gathered.basis,
        sources=gathered.sources,
        sessions=plans,
        days=days,
        nights=plan_nights(sessions, skies=skies, garage=garage, venue=venue),
        tow=advise_tow(
            travel,
            sessions,
            weather=foretold(skies.over(sessions[0].start, sessions[-1].end)),
            trailer=garage.trailer,
            zone=venue.zone,
            as_of=as_of,
        ),
        load=_load(plans, days, skies, garage, venue, travel, own_list),
        take_along=take_along([(plan.session.label, plan.tire) for plan in plans]),
        cautions=cautions(
            [plan.tire.choice for plan in plans],
            has_canopy=garage.canopy is not None,
            coldest_track_c=[plan.outlook.track.temp_c.p10 for plan in plans],
        ),
        has_canopy=garage.canopy is not None,
        gust_table=()
        if garage.canopy is None
        else gust_table(garage.canopy, paddock=venue.paddock),
        alerts=_alerts_of(gathered.alerts, sessions, venue.zone),
        observation=gathered.observation,
        difference=gathered.difference,
        followed=skies.forecast.track.followed,
        last_visit=known.last_visit,
        learned=say_learned(known.rise, known.bias, known.wet_line),
        courses=_courses(sessions, skies, garage, venue) if with_courses else (),
    )


def weather_window(sessions: Sequence[Session]) -> tuple[date, date]:
    """UTC dates to ask for: the spin-up before, the event, and the night after."""
    first = sessions[0].start.date() - timedelta(days=SPIN_UP_DAYS)
    return first, sessions[-1].end.date() + timedelta(days=1)


def _load(
    plans: Sequence[SessionPlan],
    days: Sequence[DayPlan],
    skies: Skies,
    garage: Garage,
    venue: Venue,
    travel: Travel,
    own_list: Sequence[OwnItem],
) -> LoadAdvice:
    """Choose what to load by what the sessions and days ask for."""
    sessions = [
        LoadSession(
            plan.session.label,
            plan.session.start,
            plan.outlook.track.state_share,
            sky.weather.weights,
            sky.basis,
            too_early=plan.tire.too_early,
        )
        for plan in plans
        for sky in [skies.over(plan.session.start, plan.session.end)]
    ]
    return advise_load(
        garage,
        sessions,
        load_needs(plans, days, garage, venue),
        own=own_list,
        by=travel.load_up,
        until=travel.departure,
    )


def load_needs(
    plans: Sequence[SessionPlan], days: Sequence[DayPlan], garage: Garage, venue: Venue
) -> LoadNeeds:
    """Put what the weather asks for beside tires in plain numbers; NaN where unknown."""
    canopies = [day.canopy for day in days if day.canopy is not None]
    waters = [day.heat.water_l for day in days]
    return LoadNeeds(
        people=garage.crew.people,
        paddock=venue.paddock,
        canopy_legs=0 if garage.canopy is None else garage.canopy.legs,
        ballast_need_kg=_worst([c.needed_per_leg_kg for c in canopies if c.action != "take down"]),
        ballast_have_kg=0.0 if garage.canopy is None else garage.canopy.ballast_per_leg_kg,
        gust_ms=_worst([canopy.gust_ms.p90 for canopy in canopies]),
        canopy_comes_down=any(canopy.action == "take down" for canopy in canopies),
        rain_chance=_worst([plan.outlook.rain.chance for plan in plans]),
        fog_chance=_worst([plan.fog.chance for plan in plans]),
        glass=plans[0].fog.glass,
        soft_ground_chance=_worst([_soft_chance(day) for day in days]),
        lamp_hours=sum(day.light.lamp_hours for day in days),
        has_generator=garage.generator is not None,
        tank_hours=None if garage.generator is None else garage.generator.tank_hours,
        water_l=float(np.sum(waters)),
        shade=any(day.heat.decision.urgency == "act" for day in days),
        session_air_c=tuple(plan.outlook.air.temp_c.p50 for plan in plans),
    )


def _worst(values: Sequence[float]) -> float:
    """Return the largest; NaN where any is unknown or there is none."""
    return float(np.max(values)) if values else float("nan")


def _soft_chance(day: DayPlan) -> float:
    """Chance of ground that gives way on a day; none on a paved paddock."""
    chance = day.ground.soft_chance
    return 0.0 if chance is None else chance


def _courses(
    sessions: Sequence[Session], skies: Skies, garage: Garage, venue: Venue
) -> tuple[DayCourse, ...]:
    return tuple(
        day_course(
            day,
            replace(sky, weather=foretold(sky)),
            zone=venue.zone,
            busy=[(session.start, session.end) for session in of_day],
            limits=garage.film,
        )
        for day, of_day in by_day(sessions, venue).items()
        for sky in [skies.over(of_day[0].start, of_day[-1].end)]
    )


def _alerts_of(
    alerts: Sequence[Alert], sessions: Sequence[Session], zone: tzinfo
) -> tuple[Alert, ...]:
    """Keep the alerts that touch the event's days, from midnight to midnight at the venue."""
    first, last = (when.astimezone(zone).date() for when in (sessions[0].start, sessions[-1].end))
    start = datetime.combine(first, time(), zone)
    end = datetime.combine(last + timedelta(days=1), time(), zone)
    return tuple(
        alert
        for alert in alerts
        if (alert.onset is None or alert.onset < end) and (alert.ends is None or alert.ends > start)
    )
