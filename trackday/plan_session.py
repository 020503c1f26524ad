"""One session of a plan: what is expected, and each decision about it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from itertools import pairwise

import numpy as np

from trackday.advice.assumptions import SETTING_LEAD_MINUTES
from trackday.advice.decision import Decision
from trackday.advice.engine import EngineAdvice, advise_engine
from trackday.advice.fog import FogAdvice, advise_fog
from trackday.advice.glare import Glare, decide_glare, session_glare
from trackday.advice.lightning import ThunderAdvice, session_thunder
from trackday.advice.pressure import PressureAdvice, advise_pressure
from trackday.advice.tire_setting import sun_at
from trackday.advice.tire_words import keep_on
from trackday.advice.tires import TireAdvice, advise_tire, watch_window
from trackday.knowledge import Knowledge
from trackday.outlook.rain import window_amounts
from trackday.outlook.session import SessionOutlook, session_outlook
from trackday.outlook.skies import Skies, Sky
from trackday.weather.series import Array, Weather
from trackday.weekend.garage import Garage
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Venue


@dataclass(frozen=True)
class SessionPlan:
    """One session: what is expected and what to do."""

    outlook: SessionOutlook
    tire: TireAdvice
    pressure: PressureAdvice
    fog: FogAdvice
    thunder: ThunderAdvice
    engine: EngineAdvice
    glare: tuple[Glare, ...]
    glare_decision: Decision | None

    @property
    def session(self) -> Session:
        """The session that this plan is for."""
        return self.outlook.session

    @property
    def decisions(self) -> Iterator[Decision]:
        """Every decision about this session; thunder is decided on by the day."""
        yield self.tire.decision
        yield self.pressure.decision
        yield self.fog.decision
        yield self.engine.decision
        if self.glare_decision is not None:
            yield self.glare_decision


def plan_sessions(
    sessions: Sequence[Session],
    *,
    skies: Skies,
    usual: Weather | None,
    garage: Garage,
    venue: Venue,
    known: Knowledge,
    as_of: datetime,
) -> tuple[SessionPlan, ...]:
    """Plan sessions in order, each under its sky; `usual` is the weather of other years."""
    each = [
        _plan_session(
            session,
            sky=skies.over(session.start, session.end),
            usual=usual,
            garage=garage,
            venue=venue,
            known=known,
            as_of=as_of,
        )
        for session in sessions
    ]
    return _in_a_row(each, venue.zone)


def _plan_session(
    session: Session,
    *,
    sky: Sky,
    usual: Weather | None,
    garage: Garage,
    venue: Venue,
    known: Knowledge,
    as_of: datetime,
) -> SessionPlan:
    """Plan one session under one sky."""
    weather = sky.weather
    outlook = session_outlook(
        session,
        weather=weather,
        track=sky.track,
        basis=sky.basis,
        limits=garage.film,
        usual=usual,
        lead_hours=(session.start - as_of) / timedelta(hours=1),
        calibration=known.calibration if known.calibration_basis == sky.basis else None,
    )
    tire = advise_tire(
        outlook,
        weights=weather.weights,
        garage=garage,
        as_of=as_of,
        rain_before=_rain_before(session, weather, garage, as_of),
    )
    set_at = session.start - timedelta(minutes=SETTING_LEAD_MINUTES)
    glare = session_glare(session, venue)
    return SessionPlan(
        outlook=outlook,
        tire=tire,
        pressure=advise_pressure(
            outlook,
            weights=weather.weights,
            setting_air_c=np.asarray(weather.at("air_temp_c", [set_at])[:, 0]),
            tire=tire.choice,
            settings=garage.pressure,
            venue=venue,
            rise=known.rise,
            setting_ghi_wm2=sun_at(weather, set_at),
            grid_minutes=garage.work.grid_minutes,
        ),
        fog=advise_fog(outlook, weights=weather.weights, car=garage.car),
        thunder=session_thunder(session, weather=foretold(sky), venue=venue),
        engine=advise_engine([session], weather=weather, car=garage.car)[0],
        glare=glare,
        glare_decision=decide_glare(session, glare, car=garage.car),
    )


def _in_a_row(plans: Sequence[SessionPlan], zone: tzinfo) -> tuple[SessionPlan, ...]:
    """Let rain tires that the session before has left on the car stay on, within a day."""
    kept = list(plans[:1])
    for before, planned in pairwise(plans):
        choice = planned.tire.choice
        days = {each.session.start.astimezone(zone).date() for each in (before, planned)}
        stays = before.tire.choice == choice and len(days) == 1
        if stays and choice in ("grooved", "wet") and planned.tire.decision.urgency == "act":
            decision = keep_on(planned.tire.decision, choice)
            kept.append(replace(planned, tire=replace(planned.tire, decision=decision)))
        else:
            kept.append(planned)
    return tuple(kept)


def foretold(sky: Sky) -> Weather:
    """Give the sky's weather; other years' gusts and storms foretell none, and are unknown."""
    weather = sky.weather
    if sky.basis != "climatology":
        return weather
    return replace(
        weather,
        gust_ms=np.full_like(weather.gust_ms, np.nan),
        cape_jkg=np.full_like(weather.cape_jkg, np.nan),
        thunder_probability=np.full_like(weather.thunder_probability, np.nan),
    )


def _rain_before(
    session: Session, weather: Weather, garage: Garage, as_of: datetime
) -> Array | None:
    """Rain per member in the hours before the change of tires, None once the change is due."""
    window = watch_window(session, garage, as_of=as_of)
    if window is None:
        return None
    return window_amounts(
        weather.rain_mm,
        weather.times,
        start=window[0],
        end=window[1],
        step_hours=weather.step_hours,
    )
