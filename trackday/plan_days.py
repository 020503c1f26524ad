"""The days of a plan: canopy, light, heat, cold, frost, storms, ground and rain of each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from trackday.advice.canopy import CanopyAdvice, advise_canopy
from trackday.advice.canopy_night import CanopyNight, advise_canopy_night, night_windows
from trackday.advice.cold import ColdAdvice, advise_cold
from trackday.advice.decision import Decision
from trackday.advice.frost import FrostAdvice, advise_frost
from trackday.advice.frost_nights import Night, frost_nights
from trackday.advice.ground import GroundAdvice, advise_ground
from trackday.advice.heat import HeatAdvice, advise_heat
from trackday.advice.heat_once import remembered_wbgt_c
from trackday.advice.light import LightAdvice, advise_light
from trackday.advice.lightning import ThunderAdvice, advise_thunder
from trackday.outlook.rain_day import MARGIN_HOURS, DayRain, day_rain
from trackday.outlook.skies import Skies
from trackday.plan_session import foretold
from trackday.weather.series import Array, Weather
from trackday.weekend.garage import Garage
from trackday.weekend.sessions import Session, Travel
from trackday.weekend.venue import Venue


@dataclass(frozen=True)
class DayPlan:
    """One day that has sessions; `rain` is None once its last session has begun.

    `frost` holds the nights around it that are not over: the one that it ends in, and the one
    before it where no day before it holds that.
    """

    day: date
    rain: DayRain | None
    canopy: CanopyAdvice | None
    light: LightAdvice
    heat: HeatAdvice
    cold: ColdAdvice
    frost: tuple[FrostAdvice, ...]
    thunder: ThunderAdvice
    ground: GroundAdvice

    @property
    def decisions(self) -> Iterator[Decision]:
        """Every decision about this day."""
        if self.canopy is not None:
            yield self.canopy.decision
        yield self.thunder.decision
        yield self.heat.decision
        yield self.heat.driver
        yield self.cold.decision
        yield self.ground.decision
        yield self.light.decision
        yield from (night.decision for night in self.frost)


def plan_days(
    sessions: Sequence[Session],
    *,
    skies: Skies,
    usual: Weather | None,
    garage: Garage,
    venue: Venue,
    travel: Travel,
    as_of: datetime,
) -> tuple[DayPlan, ...]:
    """Plan each day that has sessions, by the sky that speaks for all of them."""
    light = advise_light(sessions, venue=venue, work=garage.work, travel=travel)
    wbgt_of = remembered_wbgt_c()
    nights = frost_nights(sessions, venue=venue, travel=travel, as_of=as_of)
    return tuple(
        _one_day(day, of_day, each, nights[day], skies, usual, garage, venue, as_of, wbgt_of)
        for (day, of_day), each in zip(by_day(sessions, venue).items(), light, strict=True)
    )


def by_day(sessions: Sequence[Session], venue: Venue) -> dict[date, list[Session]]:
    """Sort sessions into the venue's days."""
    days: dict[date, list[Session]] = {}
    for session in sessions:
        days.setdefault(session.start.astimezone(venue.zone).date(), []).append(session)
    return days


def plan_nights(
    sessions: Sequence[Session], *, skies: Skies, garage: Garage, venue: Venue
) -> tuple[CanopyNight, ...]:
    """Advise on the canopy for every night between the event's days."""
    canopy = garage.canopy
    if canopy is None:
        return ()
    return tuple(
        advise_canopy_night(
            canopy,
            start=start,
            end=end,
            weather=foretold(skies.over(start, end)),
            zone=venue.zone,
            paddock=venue.paddock,
        )
        for start, end in night_windows(sessions, zone=venue.zone)
    )


def _one_day(
    day: date,
    sessions: Sequence[Session],
    light: LightAdvice,
    nights: Sequence[Night],
    skies: Skies,
    usual: Weather | None,
    garage: Garage,
    venue: Venue,
    as_of: datetime,
    wbgt_of: Callable[[Weather, Venue], Array],
) -> DayPlan:
    sky = skies.over(sessions[0].start, sessions[-1].end)
    weather = foretold(sky)
    canopies = (
        ()
        if garage.canopy is None
        else advise_canopy(
            garage.canopy, sessions, weather=weather, zone=venue.zone, paddock=venue.paddock
        )
    )
    margin = timedelta(hours=MARGIN_HOURS)
    wider = skies.over(sessions[0].start - margin, sessions[-1].end + margin)
    return DayPlan(
        day=day,
        rain=day_rain(
            wider.weather, sessions, zone=venue.zone, basis=wider.basis, as_of=as_of, usual=usual
        ),
        canopy=next(iter(canopies), None),
        light=light,
        heat=advise_heat(sessions, weather=weather, venue=venue, garage=garage, wbgt_of=wbgt_of)[0],
        cold=advise_cold(sessions, weather=weather, venue=venue)[0],
        frost=tuple(
            advise_frost(night, weather=foretold(skies.over(night.start, night.end)), as_of=as_of)
            for night in nights
        ),
        thunder=advise_thunder(sessions, weather=weather, venue=venue)[0],
        ground=advise_ground(sessions, weather=weather, venue=venue)[0],
    )


def in_order_of_need(decisions: Sequence[Decision]) -> tuple[Decision, ...]:
    """Order decisions: the load, what has a time by that time, then the rest by urgency."""
    rank = {"act": 0, "unknown": 1, "watch": 2, "nothing": 3}

    def place(decision: Decision) -> tuple[int, float]:
        if decision.urgency == "nothing":
            return 3, 0.0
        if decision.topic == "load":
            return 0, 0.0
        if decision.by is not None:
            return 1, decision.by.timestamp()
        return 2, rank[decision.urgency]

    return tuple(sorted(decisions, key=place))
