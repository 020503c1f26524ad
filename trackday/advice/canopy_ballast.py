"""Ballast that a canopy needs in a gust, the gust that its ballast holds, and a table of both."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackday.advice.assumptions import (
    ADVISED_BLOCKAGE,
    CANOPY_PITCH_DEG,
    FOOT_FRICTION,
    LEAST_BALLAST_PER_LEG_KG,
    TABLE_GUSTS_MS,
)
from trackday.physics.canopy_stability import (
    CanopyShape,
    Failure,
    Stability,
    leg_ballast_kg,
    stability,
    standing_gust_ms,
)
from trackday.weekend.garage import Canopy
from trackday.weekend.venue import Paddock


@dataclass(frozen=True)
class BallastNeed:
    """Ballast on each leg, kg (NaN when the gust is unknown), and what it keeps from happening.

    `governs` is the way of failing that asks for the most.
    """

    per_leg_kg: float
    governs: Failure


@dataclass(frozen=True)
class GustRow:
    """One gust of the ballast table: needs with nothing under the roof and with it closed."""

    gust_ms: float
    empty: BallastNeed
    blocked: BallastNeed
    past_makers_limit: bool


def gust_table(canopy: Canopy, *, paddock: Paddock | None = None) -> tuple[GustRow, ...]:
    """Gust against ballast a leg, empty and blocked; the maker's limit cuts off first."""
    # Two roads lead from "25 mph" to m/s, and they differ in the last bit.
    limit = np.inf if canopy.wind_limit_ms is None else canopy.wind_limit_ms * (1.0 + 1e-9)
    return tuple(
        GustRow(
            gust_ms=gust_ms,
            empty=ballast_need(canopy, gust_ms, blocked=False, paddock=paddock),
            blocked=ballast_need(canopy, gust_ms, blocked=True, paddock=paddock),
            past_makers_limit=gust_ms > limit,
        )
        for gust_ms in TABLE_GUSTS_MS
    )


def ballast_need(
    canopy: Canopy,
    gust_ms: float,
    *,
    blocked: bool | None = None,
    paddock: Paddock | None = None,
) -> BallastNeed:
    """Ballast a leg against a gust, never below the public guideline's minimum.

    `blocked` is what the garage says unless given; an unknown paddock has the least friction.
    """
    holding = _stability(canopy, blocked=blocked, paddock=paddock)
    needed = leg_ballast_kg(
        gust_ms, holding=holding, frame_kg=canopy.frame_weight_kg, legs=canopy.legs
    )
    return BallastNeed(
        per_leg_kg=float(np.maximum(needed, LEAST_BALLAST_PER_LEG_KG)), governs=holding.governs
    )


def needed_per_leg_kg(
    canopy: Canopy,
    gust_ms: float,
    *,
    blocked: bool | None = None,
    paddock: Paddock | None = None,
) -> float:
    """Ballast a leg, kg, as `ballast_need` has it."""
    return ballast_need(canopy, gust_ms, blocked=blocked, paddock=paddock).per_leg_kg


def holds_gust_ms(
    canopy: Canopy,
    ballast_per_leg_kg: float,
    *,
    blocked: bool | None = None,
    paddock: Paddock | None = None,
) -> float:
    """Gust up to which the canopy may stand with this ballast, m/s: the maker's limit at the most.

    The safety factor on the wind is in it.
    """
    holds = standing_gust_ms(
        _stability(canopy, blocked=blocked, paddock=paddock),
        frame_kg=canopy.frame_weight_kg,
        ballast_total_kg=canopy.legs * ballast_per_leg_kg,
    )
    return holds if canopy.wind_limit_ms is None else min(holds, canopy.wind_limit_ms)


def _stability(canopy: Canopy, *, blocked: bool | None, paddock: Paddock | None) -> Stability:
    shape = CanopyShape(
        width_m=canopy.width_m,
        length_m=canopy.length_m,
        height_m=canopy.height_m,
        legs=canopy.legs,
        pitch_deg=CANOPY_PITCH_DEG,
    )
    closed = canopy.blocked if blocked is None else blocked
    frictions = FOOT_FRICTION.values()
    return stability(
        shape,
        blockage=ADVISED_BLOCKAGE[int(closed)],
        friction=min(frictions) if paddock is None else FOOT_FRICTION[paddock],
    )
