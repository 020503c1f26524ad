"""Canopy tie-down for each day: ballast against the gust, and when to take it down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Literal

import numpy as np

from trackday.advice.assumptions import (
    CANOPY_PITCH_DEG,
    CANOPY_WATCH_HOURS_AFTER,
    CANOPY_WATCH_HOURS_BEFORE,
    LEAST_BALLAST_PER_LEG_KG,
    MOST_BALLAST_PER_LEG_KG,
    SCALE_STEP_KG,
)
from trackday.outlook.air import strongest_gust
from trackday.outlook.spread import Spread, spread
from trackday.physics.wind_load import (
    BALLAST_SAFETY_FACTOR,
    ballast_per_leg_kg,
    lift_off_gust_ms,
    uplift_coefficient,
)
from trackday.weather.series import Weather
from trackday.weekend.garage import Canopy
from trackday.weekend.sessions import Session
from trackday.wording import Quantity, Say

CanopyAction = Literal["stand", "add ballast", "take down", "unknown"]


@dataclass(frozen=True)
class CanopyAdvice:
    """One day's canopy.

    `gust_ms` is the strongest gust while it stands, `needed_per_leg_kg` the ballast for its p90,
    `holds_gust_ms` the gust that this canopy stands with the ballast there is, `limit_gust_ms` the
    gust past which it comes down whatever the ballast,
    `down_by` the hour by which to take it down (None unless the action is "take down").
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


def advise_canopy(
    canopy: Canopy, sessions: Sequence[Session], *, weather: Weather, zone: tzinfo
) -> tuple[CanopyAdvice, ...]:
    """One advice a day that has sessions."""
    days = dict.fromkeys(session.start.astimezone(zone).date() for session in sessions)
    return tuple(
        _one_day(
            day,
            canopy,
            [s for s in sessions if s.start.astimezone(zone).date() == day],
            weather,
        )
        for day in days
    )


def needed_per_leg_kg(canopy: Canopy, gust_ms: float) -> float:
    """Ballast a leg against a gust, kg, never below the public guideline's minimum."""
    needed = ballast_per_leg_kg(
        gust_ms,
        area_m2=canopy.width_m * canopy.length_m,
        coefficient=_uplift(canopy),
        frame_kg=canopy.frame_weight_kg,
        legs=canopy.legs,
    )
    return max(float(needed), LEAST_BALLAST_PER_LEG_KG)


def holds_gust_ms(canopy: Canopy, ballast_per_leg_kg: float) -> float:
    """Gust up to which the canopy may stand with this ballast: the maker's limit at the most."""
    holds = lift_off_gust_ms(
        area_m2=canopy.width_m * canopy.length_m,
        coefficient=_uplift(canopy),
        frame_kg=canopy.frame_weight_kg,
        ballast_total_kg=canopy.legs * ballast_per_leg_kg,
    ) / np.sqrt(BALLAST_SAFETY_FACTOR)
    makers = np.inf if canopy.wind_limit_ms is None else canopy.wind_limit_ms
    return float(min(holds, makers))


def _uplift(canopy: Canopy) -> float:
    return float(uplift_coefficient(CANOPY_PITCH_DEG, blockage=1.0 if canopy.blocked else 0.0))


def _one_day(
    day: date, canopy: Canopy, sessions: Sequence[Session], weather: Weather
) -> CanopyAdvice:
    start = sessions[0].start - timedelta(hours=CANOPY_WATCH_HOURS_BEFORE)
    end = sessions[-1].end + timedelta(hours=CANOPY_WATCH_HOURS_AFTER)
    gust = spread(strongest_gust(weather, start=start, end=end), weather.weights)
    holds = holds_gust_ms(canopy, canopy.ballast_per_leg_kg)
    limit = holds_gust_ms(canopy, max(MOST_BALLAST_PER_LEG_KG, canopy.ballast_per_leg_kg))
    needed = needed_per_leg_kg(canopy, gust.p90) if np.isfinite(gust.p90) else float("nan")
    action = _action(canopy, gust.p90, needed, limit)
    down_by = _first_past(limit, weather, start=start, end=end)
    return CanopyAdvice(
        day=day,
        action=action,
        gust_ms=gust,
        needed_per_leg_kg=needed,
        have_per_leg_kg=canopy.ballast_per_leg_kg,
        holds_gust_ms=holds,
        limit_gust_ms=limit,
        down_by=down_by or start if action == "take down" else None,
        reasons=_reasons(canopy, gust, needed, holds),
    )


def _action(canopy: Canopy, gust_ms: float, needed_kg: float, limit_ms: float) -> CanopyAction:
    """Take down past the limit; else more ballast where it is short."""
    if not np.isfinite(gust_ms):
        return "unknown"
    if gust_ms > limit_ms:
        return "take down"
    if needed_kg > canopy.ballast_per_leg_kg + SCALE_STEP_KG:
        return "add ballast"
    return "stand"


def _first_past(
    limit_ms: float, weather: Weather, *, start: datetime, end: datetime
) -> datetime | None:
    """Start of the first hour whose own p90 gust passes the limit."""
    hours = weather.between(start, end + timedelta(hours=weather.step_hours))
    for i, stamp in enumerate(hours.times):
        if spread(hours.gust_ms[:, i], hours.weights).p90 > limit_ms:
            begins: datetime = stamp.to_pydatetime() - timedelta(hours=hours.step_hours)
            return max(begins, start)
    return None


def _reasons(canopy: Canopy, gust: Spread, needed_kg: float, holds_ms: float) -> tuple[Say, ...]:
    if not np.isfinite(gust.p90):
        return (Say("no gust forecast: tie it down as for a windy day and watch the flags"),)
    reasons = [
        Say(
            "strongest gust {gust} while it stands",
            {"gust": Quantity(gust.p50, "speed", high=gust.p90)},
        ),
        Say(
            "that takes {needed} on each leg; your {have} hold gusts to {holds}",
            {
                "needed": Quantity(needed_kg, "mass"),
                "have": Quantity(canopy.ballast_per_leg_kg, "mass"),
                "holds": Quantity(holds_ms, "speed"),
            },
        ),
    ]
    if canopy.wind_limit_ms is None:
        reasons.append(Say("no maker's wind limit in garage.toml: look it up and write it in"))
    else:
        reasons.append(
            Say("maker's limit {limit}", {"limit": Quantity(canopy.wind_limit_ms, "speed")})
        )
    return tuple(reasons)
