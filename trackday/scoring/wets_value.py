"""What the chances were worth to a racer who mounts wet tires when the chance is high enough."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from trackday.advice.assumptions import COST_TABLE
from trackday.scoring.said import SaidPair
from trackday.verification.contingency import Contingency
from trackday.verification.cost_loss import relative_value
from trackday.weekend.garage import CostTable

Event = Literal["wet track", "rain"]


@dataclass(frozen=True)
class WetsCosts:
    """What the wrong kind of tire costs beyond the right one, % of lap time.

    `wets_on_dry` is for wet tires on a dry track, `dries_on_wet` for dry tires on a wet one; `own`
    says that the racer wrote them.
    """

    wets_on_dry: float
    dries_on_wet: float
    own: bool

    @property
    def cost_loss(self) -> float:
        """Chance of a wet track above which wet tires cost less, C/L.

        With a the cost of wets on a dry track and b that of dries on a wet one, wets pay when
        p·b > (1 − p)·a: from p = a/(a + b) on. That is Murphy's C/L for C = a and L = a + b.
        """
        return self.wets_on_dry / (self.wets_on_dry + self.dries_on_wet)


@dataclass(frozen=True)
class WetsValue:
    """What acting on `looks` chances of `event` was worth at the racer's costs.

    `value` is the share of what perfect foresight saves over always doing the same: 1 perfect, 0
    worthless, negative harmful; NaN where the event always or never came. The counts, in parts
    where only odds are known, are those of acting: `hits` wets on a wet track, `false_alarms` wets
    on a dry one, `misses` dries on a wet one, `quiet` dries on a dry one.
    """

    costs: WetsCosts
    event: Event
    looks: int
    hits: float
    false_alarms: float
    misses: float
    quiet: float
    value: float


def wets_costs(table: CostTable | None) -> WetsCosts | None:
    """Read the costs out of a garage's table, or out of the assumed one.

    None where the table leaves no choice: one kind of tire costs less on either track.
    """
    used = COST_TABLE if table is None else table
    costs = WetsCosts(
        wets_on_dry=used.wet.dry - used.dry.dry,
        dries_on_wet=used.dry.wet - used.wet.wet,
        own=table is not None,
    )
    return costs if costs.wets_on_dry > 0.0 and costs.dries_on_wet > 0.0 else None


def wets_value(pairs: Sequence[SaidPair], costs: WetsCosts) -> WetsValue | None:
    """Value of the chances of a wet track, or of rain where more of that is known; None without.

    Only the racer's log tells how wet the track was; rain stands in for it where it does not.
    """
    track = _known((pair.wet_track, pair.came.wet_track) for pair in pairs)
    rain = _known((pair.chance, pair.came.rain) for pair in pairs)
    event: Event = "wet track" if len(track) >= len(rain) else "rain"
    said = track if event == "wet track" else rain
    if not said:
        return None
    ratio = costs.cost_loss
    table = _table(said, threshold=ratio)
    return WetsValue(
        costs=costs,
        event=event,
        looks=len(said),
        hits=table.hits,
        false_alarms=table.false_alarms,
        misses=table.misses,
        quiet=table.correct_negatives,
        value=relative_value(table, cost_loss=ratio),
    )


def _table(said: Sequence[tuple[float, float]], *, threshold: float) -> Contingency:
    """Count acting above a threshold against events that came by some odds."""
    acted = [o for p, o in said if p > threshold]
    left = [o for p, o in said if p <= threshold]
    return Contingency(
        hits=sum(acted),
        false_alarms=len(acted) - sum(acted),
        misses=sum(left),
        correct_negatives=len(left) - sum(left),
    )


def _known(said: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    return [(p, o) for p, o in said if math.isfinite(p) and math.isfinite(o)]
