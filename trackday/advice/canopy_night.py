"""The canopy overnight between two days of an event: nobody is there to catch it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from itertools import pairwise
from typing import Literal

import numpy as np

from trackday.advice.assumptions import (
    CANOPY_WATCH_HOURS_AFTER,
    CANOPY_WATCH_HOURS_BEFORE,
    LEAST_BALLAST_PER_LEG_KG,
    SCALE_STEP_KG,
    UNKNOWN_MEMBERS_SHARE,
)
from trackday.advice.canopy_ballast import holds_gust_ms
from trackday.advice.decision import Decision, Urgency
from trackday.outlook.air import strongest_gust
from trackday.outlook.spread import Spread, spread, weighted_mean
from trackday.weather.series import Weather
from trackday.weekend.garage import Canopy
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Paddock
from trackday.wording import Quantity, Say


@dataclass(frozen=True)
class CanopyNight:
    """One night from `start` to `end`, UTC: whether the canopy may stay up unattended.

    `evening` is the local date on which the night begins, `gust_ms` its strongest gust,
    `holds_gust_ms` the gust that the ballast there is holds.
    """

    evening: date
    start: datetime
    end: datetime
    action: Literal["stand", "take down"]
    gust_ms: Spread
    holds_gust_ms: float
    decision: Decision


def night_windows(
    sessions: Sequence[Session], *, zone: tzinfo
) -> tuple[tuple[datetime, datetime], ...]:
    """When nobody is at the canopy: from after a day's last session to before the next day's first.

    Nights too short to leave the canopy alone, as after a race past midnight, are left out.
    """
    windows = (
        (
            before.end + timedelta(hours=CANOPY_WATCH_HOURS_AFTER),
            after.start - timedelta(hours=CANOPY_WATCH_HOURS_BEFORE),
        )
        for before, after in pairwise(sorted(sessions, key=lambda session: session.start))
        if before.start.astimezone(zone).date() != after.start.astimezone(zone).date()
    )
    return tuple((start, end) for start, end in windows if start < end)


def advise_canopy_night(
    canopy: Canopy,
    *,
    start: datetime,
    end: datetime,
    weather: Weather,
    zone: tzinfo,
    paddock: Paddock | None = None,
) -> CanopyNight:
    """Let it stand unattended only in a night that is known to stay within what its ballast holds.

    `start` and `end` are the night's, UTC; `weather` has to reach over it, or its gusts are unknown
    and the canopy comes down. The chance is that of a gust past what the ballast holds, or of none;
    None where the canopy comes down for its little ballast alone, whatever the gusts.
    """
    strongest = strongest_gust(weather, start=start, end=end)
    gust = spread(strongest, weather.weights)
    holds = holds_gust_ms(canopy, canopy.ballast_per_leg_kg, paddock=paddock)
    known = bool(np.isfinite(gust.p90)) and gust.unknown_share <= UNKNOWN_MEMBERS_SHARE
    weighed = canopy.ballast_per_leg_kg >= LEAST_BALLAST_PER_LEG_KG - SCALE_STEP_KG
    calm = known and gust.p90 <= holds
    stands = calm and weighed
    within = np.where(np.isfinite(strongest), strongest <= holds, np.nan)
    held = weighted_mean(np.asarray(within, dtype=np.float64), weather.weights)
    evening = start.astimezone(zone).date()
    return CanopyNight(
        evening=evening,
        start=start,
        end=end,
        action="stand" if stands else "take down",
        gust_ms=gust,
        holds_gust_ms=holds,
        decision=Decision(
            topic="canopy",
            urgency=_urgency(known=known, stands=stands),
            do=_do(stands, start),
            why=_why(canopy, gust, holds, known=known, weighed=weighed),
            chance=_chance(held, known=known, calm=calm, stands=stands),
            by=start,
            until=end,
            caution=_POOLS if stands else None,
            about=f"{evening:%a} night",
        ),
    )


_POOLS = Say("Rain pools on a slack roof: leave one corner low so that it runs off")


def _urgency(*, known: bool, stands: bool) -> Urgency:
    if stands:
        return "nothing"
    return "act" if known else "unknown"


def _chance(held: float, *, known: bool, calm: bool, stands: bool) -> float | None:
    """Chance that the call is right, from that of gusts that the ballast holds."""
    if not known:
        return float("nan")
    if stands:
        return held
    return None if calm else 1.0 - held


def _do(stands: bool, start: datetime) -> Say:
    if stands:
        return Say("The canopy may stay up overnight: side walls off, lowered, all weights on.")
    return Say("Take the canopy down for the night before you leave, by {by}.", {"by": start})


def _why(
    canopy: Canopy, gust: Spread, holds_ms: float, *, known: bool, weighed: bool
) -> tuple[Say, ...]:
    if not known:
        return (Say("gusts of the night unknown, and nobody there to catch it"),)
    limits = Say(
        "night gusts {gust}; your {have} a leg hold to {holds}",
        {
            "gust": Quantity(gust.p50, "speed", high=gust.p90),
            "have": Quantity(canopy.ballast_per_leg_kg, "mass"),
            "holds": Quantity(holds_ms, "speed"),
        },
    )
    if weighed:
        return (limits,)
    least = Say(
        "less than {least} on a leg is no ballast for an empty paddock",
        {"least": Quantity(LEAST_BALLAST_PER_LEG_KG, "mass")},
    )
    return (limits, least)
