"""Canopy tie-down for each day: ballast against the gust, and when to take it down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Literal

import numpy as np

from trackday.advice import canopy_words
from trackday.advice.assumptions import (
    CANOPY_WATCH_HOURS_AFTER,
    CANOPY_WATCH_HOURS_BEFORE,
    MOST_BALLAST_PER_LEG_KG,
    SCALE_STEP_KG,
    UNKNOWN_MEMBERS_SHARE,
)
from trackday.advice.canopy_ballast import BallastNeed, ballast_need, holds_gust_ms
from trackday.advice.decision import Decision
from trackday.advice.paddock_day import PaddockDay, paddock_days
from trackday.outlook.air import strongest_gust
from trackday.outlook.spread import Spread, spread, weighted_mean
from trackday.weather.series import Array, Weather
from trackday.weekend.garage import Canopy
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Paddock
from trackday.wording import Say

CanopyAction = Literal["stand", "add ballast", "take down", "unknown"]


@dataclass(frozen=True)
class CanopyAdvice:
    """One day's canopy.

    `gust_ms` is the strongest gust while it stands, `needed_per_leg_kg` the ballast for its p90 as
    the garage has the canopy, `empty` and `blocked` the same with nothing under the roof and with
    side walls or a vehicle there, `holds_gust_ms` the gust that this canopy stands with the ballast
    there is, `limit_gust_ms` the gust past which it comes down whatever the ballast, `down_by` the
    hour by which to take it down (None unless the action is "take down").
    """

    day: date
    action: CanopyAction
    gust_ms: Spread
    needed_per_leg_kg: float
    have_per_leg_kg: float
    holds_gust_ms: float
    limit_gust_ms: float
    down_by: datetime | None
    reasons: tuple[Say, ...]
    empty: BallastNeed
    blocked: BallastNeed
    decision: Decision


def advise_canopy(
    canopy: Canopy,
    sessions: Sequence[Session],
    *,
    weather: Weather,
    zone: tzinfo,
    paddock: Paddock | None = None,
) -> tuple[CanopyAdvice, ...]:
    """One advice a day that has sessions; an unknown paddock has the least friction."""
    days = paddock_days(sessions, zone)
    return tuple(_one_day(each, canopy, weather, paddock) for each in days)


def _one_day(
    each: PaddockDay, canopy: Canopy, weather: Weather, paddock: Paddock | None
) -> CanopyAdvice:
    day = each.day
    start = each.sessions[0].start - timedelta(hours=CANOPY_WATCH_HOURS_BEFORE)
    end = max(s.end for s in each.sessions) + timedelta(hours=CANOPY_WATCH_HOURS_AFTER)
    strongest = strongest_gust(weather, start=start, end=end)
    gust = spread(strongest, weather.weights)
    have = canopy.ballast_per_leg_kg
    holds = holds_gust_ms(canopy, have, paddock=paddock)
    limit = holds_gust_ms(canopy, max(MOST_BALLAST_PER_LEG_KG, have), paddock=paddock)
    empty, blocked = (
        ballast_need(canopy, gust.p90, blocked=closed, paddock=paddock) for closed in (False, True)
    )
    needed = (blocked if canopy.blocked else empty).per_leg_kg
    action = _action(canopy, gust, needed, limit)
    too_much = {"take down": limit, "add ballast": holds}.get(action)
    act_by = None
    if too_much is not None:
        act_by = _first_past(too_much, weather, start=start, end=end) or start
    facts = canopy_words.DayFacts(
        canopy=canopy,
        gust_ms=gust,
        empty=empty,
        blocked=blocked,
        holds_gust_ms=holds,
        limit_gust_ms=limit,
        walls_are_the_trouble=canopy.blocked
        and empty.per_leg_kg <= have + SCALE_STEP_KG
        and not (canopy.wind_limit_ms is not None and gust.p90 > canopy.wind_limit_ms),
        chance_past_limit=_share_above(limit, strongest, weather.weights),
        chance_past_holding=_share_above(holds, strongest, weather.weights),
    )
    reasons = canopy_words.reasons(action, facts)
    return CanopyAdvice(
        day=day,
        action=action,
        gust_ms=gust,
        needed_per_leg_kg=needed,
        have_per_leg_kg=have,
        holds_gust_ms=holds,
        limit_gust_ms=limit,
        down_by=act_by if action == "take down" else None,
        reasons=reasons,
        empty=empty,
        blocked=blocked,
        decision=Decision(
            topic="canopy",
            urgency=canopy_words.URGENCY[action],
            do=canopy_words.do(action, facts, by=act_by, start=start),
            why=reasons,
            chance=canopy_words.chance(action, facts),
            by=act_by,
            until=end,
            caution=canopy_words.caution(action),
            about=f"{day:%a}",
        ),
    )


def _action(canopy: Canopy, gust: Spread, needed_kg: float, limit_ms: float) -> CanopyAction:
    """Take down past the limit; else more ballast where it is short."""
    if gust.p90 > limit_ms:
        return "take down"
    if not np.isfinite(gust.p90) or gust.unknown_share > UNKNOWN_MEMBERS_SHARE:
        return "unknown"
    if needed_kg > canopy.ballast_per_leg_kg + SCALE_STEP_KG:
        return "add ballast"
    return "stand"


def _first_past(
    limit_ms: float, weather: Weather, *, start: datetime, end: datetime
) -> datetime | None:
    """Start of the hour in which the strongest gust since `start` first passes the limit, p90."""
    hours = weather.between(start, end + timedelta(hours=weather.step_hours))
    so_far = np.full(len(weather.members), -np.inf)
    for i, stamp in enumerate(hours.times):
        begins: datetime = stamp.to_pydatetime() - timedelta(hours=hours.step_hours)
        if stamp <= start or begins >= end:
            continue
        so_far = np.maximum(so_far, hours.gust_ms[:, i])
        if spread(so_far, hours.weights).p90 > limit_ms:
            return max(begins, start)
    return None


def _share_above(gust_ms: float, strongest_ms: Array, weights: Array) -> float:
    """Chance that the strongest gust is above a gust, NaN where no member knows."""
    above = np.where(np.isfinite(strongest_ms), strongest_ms > gust_ms, np.nan)
    return weighted_mean(np.asarray(above, dtype=np.float64), weights)
