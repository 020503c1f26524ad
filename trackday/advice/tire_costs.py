"""What each kind of tire costs on the track that each member of the forecast expects."""

from __future__ import annotations

from typing import Literal

import numpy as np

from trackday.advice.assumptions_load import UNSAFE_PENALTY_SHARE
from trackday.outlook.track import STATES, TrackOutlook, TrackState
from trackday.weather.series import Array
from trackday.weekend.garage import CostTable

Tire = Literal["dry", "grooved", "wet"]
TIRES: tuple[Tire, ...] = ("dry", "grooved", "wet")
Choice = Literal[Tire, "undecided"]
"""A kind of tire, or none where the track is not known or no tire in the rig is safe on it."""

UNSAFE_ON: dict[Tire, frozenset[TrackState]] = {
    "dry": frozenset({"wet", "standing", "unknown"}),
    "grooved": frozenset({"standing"}),
    "wet": frozenset(),
}
"""States of the track that a tire is not safe on. Assumption; unknown counts as wet."""


def unsafe_penalty(table: CostTable) -> float:
    """Cost of time on a track that the tire is not safe on, beside its laps, % of lap time."""
    rows = (table.dry, table.grooved, table.wet)
    dearest: float = max(value for row in rows for value in row.model_dump().values())
    return UNSAFE_PENALTY_SHARE * dearest


def state_costs(table: CostTable, tire: Tire, *, cutting: float) -> list[float]:
    """Cost of a tire in each of `STATES`, % of lap time, with the penalty where it is not safe.

    An unknown state costs what a wet one costs: unknown pulls to the careful side. `cutting` is
    what the loss of a dry set to the groover adds to grooved tires, 0 for a set already cut.
    """
    row, penalty = getattr(table, tire), unsafe_penalty(table)
    lost = cutting if tire == "grooved" else 0.0
    return [
        lost
        + float(getattr(row, "wet" if state == "unknown" else state))
        + (penalty if state in UNSAFE_ON[tire] else 0.0)
        for state in STATES
    ]


def share_costs(
    state_share: Array, table: CostTable, tires: tuple[Tire, ...], *, cutting: float
) -> Array:
    """Cost per member and tire (M, K), % of lap time, from time shares (M, 5) in `STATES`."""
    by_state = np.array([state_costs(table, tire, cutting=cutting) for tire in tires])
    costs: Array = state_share @ by_state.reshape(len(tires), len(STATES)).T
    return costs


def expected_costs(track: TrackOutlook, table: CostTable, tires: tuple[Tire, ...]) -> Array:
    """Cost per member and tire (M, K), % of lap time, with a set still to be cut."""
    return share_costs(track.state_share, table, tires, cutting=table.cutting)


def best_chances(member_costs: Array, weights: Array, tires: tuple[Tire, ...]) -> dict[Tire, float]:
    """Weighted share of the members in which each tire is the cheapest (the first one on a tie)."""
    best = np.argmin(member_costs, axis=1)
    total = float(weights.sum())
    return {tire: float(weights[best == i].sum()) / total for i, tire in enumerate(tires)}
