"""The whole trip in one function: from what the racer wrote to one Plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Protocol

import numpy as np

from trackday.advice.assumptions import SETTING_LEAD_MINUTES
from trackday.advice.canopy import CanopyAdvice, advise_canopy
from trackday.advice.cautions import cautions
from trackday.advice.fog import FogAdvice, advise_fog
from trackday.advice.glare import Glare, session_glare
from trackday.advice.light import LightAdvice, advise_light
from trackday.advice.pressure import PressureAdvice, advise_pressure
from trackday.advice.take_along import take_along
from trackday.advice.tires import TireAdvice, advise_tire
from trackday.outlook.session import SessionOutlook, session_outlook
from trackday.outlook.skies import Skies, Sky, make_skies
from trackday.outlook.surface import FollowedReading
from trackday.weather.observed import Difference
from trackday.weather.series import Weather
from trackday.weather.sources import (
    RAIN_ROLES,
    Alert,
    Gathered,
    Observation,
    RainBasis,
    SourceReport,
)
from trackday.weekend.event import Event
from trackday.weekend.garage import Garage, LastGood
from trackday.weekend.readings import TrackReading
from trackday.weekend.sessions import Session, resolve_sessions
from trackday.weekend.venue import Venue
from trackday.wording import Say

SPIN_UP_DAYS = 3
"""Days of weather before the event, so that the pavement has forgotten how it started."""


class Gather(Protocol):
    """Ask the sources for the weather of a place between two UTC dates."""

    def __call__(
        self, venue: Venue, *, first_day: date, last_day: date, as_of: datetime
    ) -> Gathered:
        """Return the weather and what each source said; raise NoWeatherError if none answered."""


class Logbook(Protocol):
    """What earlier visits left behind."""

    def last_good(self, venue: Venue) -> LastGood | None:
        """Return the last setting that worked at this venue, None if there is none."""


@dataclass(frozen=True)
class SessionPlan:
    """One session: what is expected and what to do."""

    outlook: SessionOutlook
    tire: TireAdvice
    pressure: PressureAdvice
    fog: FogAdvice
    glare: tuple[Glare, ...]

    @property
    def session(self) -> Session:
        """The session that this plan is for."""
        return self.outlook.session


@dataclass(frozen=True)
class Plan:
    """Everything that the reports show; none of them computes."""

    event_name: str
    venue: Venue
    as_of: datetime
    basis: RainBasis
    sources: tuple[SourceReport, ...]
    sessions: tuple[SessionPlan, ...]
    canopy: tuple[CanopyAdvice, ...] | None
    light: tuple[LightAdvice, ...]
    take_along: Say
    cautions: tuple[Say, ...]
    alerts: tuple[Alert, ...] = ()
    observation: Observation | None = None
    difference: Difference | None = None
    followed: tuple[FollowedReading, ...] = ()

    @property
    def forecast_age_minutes(self) -> float | None:
        """Age of the newest source that the odds of rain rest on; None where there is none."""
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
) -> Plan:
    """Plan one event at one venue as of a moment (UTC), following `readings` of its track.

    Raises NoWeatherError when `gather` has nothing at all, TrackdayError for a session that the
    venue's clocks do not allow.
    """
    sessions = resolve_sessions(event, venue)
    first_day, last_day = weather_window(sessions)
    gathered = gather(venue, first_day=first_day, last_day=last_day, as_of=as_of)
    skies = make_skies(gathered, venue, sessions, readings=readings)
    last_good = logbook.last_good(venue) if logbook is not None else None
    plans = tuple(
        _plan_session(
            session,
            sky=skies.over(session.start, session.end),
            usual=gathered.usual,
            garage=garage,
            venue=venue,
            last_good=last_good,
            as_of=as_of,
        )
        for session in sessions
    )
    return Plan(
        event_name=event.name,
        venue=venue,
        as_of=as_of,
        basis=gathered.basis,
        sources=gathered.sources,
        sessions=plans,
        canopy=_canopy(garage, sessions, skies, venue),
        light=advise_light(sessions, venue=venue, work=garage.work),
        take_along=take_along([(plan.session.label, plan.tire) for plan in plans]),
        cautions=cautions(
            [plan.tire.choice for plan in plans],
            has_canopy=garage.canopy is not None,
            coldest_track_c=[plan.outlook.track.temp_c.p10 for plan in plans],
        ),
        alerts=_alerts_of(gathered.alerts, sessions, venue.zone),
        observation=gathered.observation,
        difference=gathered.difference,
        followed=skies.forecast.track.followed,
    )


def weather_window(sessions: Sequence[Session]) -> tuple[date, date]:
    """UTC dates to ask for: the spin-up before, the event, and the night after."""
    first = sessions[0].start.date() - timedelta(days=SPIN_UP_DAYS)
    return first, sessions[-1].end.date() + timedelta(days=1)


def _plan_session(
    session: Session,
    *,
    sky: Sky,
    usual: Weather | None,
    garage: Garage,
    venue: Venue,
    last_good: LastGood | None,
    as_of: datetime,
) -> SessionPlan:
    weather = sky.weather
    outlook = session_outlook(
        session,
        weather=weather,
        track=sky.track,
        basis=sky.basis,
        limits=garage.film,
        usual=usual,
    )
    tire = advise_tire(outlook, weights=weather.weights, garage=garage, as_of=as_of)
    set_at = session.start - timedelta(minutes=SETTING_LEAD_MINUTES)
    settings = garage.pressure
    if last_good is not None:
        settings = settings.model_copy(update={"last_good": last_good})
    return SessionPlan(
        outlook=outlook,
        tire=tire,
        pressure=advise_pressure(
            outlook,
            weights=weather.weights,
            setting_air_c=np.asarray(weather.at("air_temp_c", [set_at])[:, 0]),
            tire=tire.choice,
            settings=settings,
            venue=venue,
        ),
        fog=advise_fog(outlook, weights=weather.weights, car=garage.car),
        glare=session_glare(session, venue),
    )


def _canopy(
    garage: Garage, sessions: Sequence[Session], skies: Skies, venue: Venue
) -> tuple[CanopyAdvice, ...] | None:
    """Advise for each day by the forecast, if it reaches all of its sessions."""
    if garage.canopy is None:
        return None
    days: dict[date, list[Session]] = {}
    for session in sessions:
        days.setdefault(session.start.astimezone(venue.zone).date(), []).append(session)
    return tuple(
        advice
        for day in days.values()
        for advice in advise_canopy(
            garage.canopy,
            day,
            weather=_foretold_gusts(skies.over(day[0].start, day[-1].end)),
            zone=venue.zone,
        )
    )


def _foretold_gusts(sky: Sky) -> Weather:
    """Give the sky's weather; other years' gusts foretell none, and are unknown."""
    if sky.basis != "climatology":
        return sky.weather
    return replace(sky.weather, gust_ms=np.full_like(sky.weather.gust_ms, np.nan))


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
