"""Dry, hand-grooved intermediate or wet: the tire with the least expected cost that is safe."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from trackday.advice.assumptions import (
    COST_TABLE,
    DRY_VETO_WET_CHANCE,
    GROOVED_VETO_STANDING_CHANCE,
    UNDECIDED_UNKNOWN_SHARE,
)
from trackday.outlook.session import SessionOutlook
from trackday.outlook.track import STATES, TrackOutlook
from trackday.weather.series import Array
from trackday.weekend.garage import CostTable, Garage, TireSet
from trackday.weekend.sessions import Session
from trackday.wording import Quantity, Say

Tire = Literal["dry", "grooved", "wet"]
Choice = Literal["dry", "grooved", "wet", "undecided"]
TIRES: tuple[Tire, ...] = ("dry", "grooved", "wet")


@dataclass(frozen=True)
class TireAdvice:
    """The tire for one session.

    `chances` is the chance that each tire turns out to be the least costly, `costs` the expected
    cost in percent of lap time. `decide_by` is the last moment to start changing to wet tires,
    `start_grooving_by` the last moment to start cutting a dry set (None without one).
    `choice` is "undecided" when the state of the track is unknown or no safe tire is in the rig.
    """

    choice: Choice
    runner_up: Tire | None
    chances: dict[Tire, float]
    costs: dict[Tire, float]
    vetoed: tuple[Tire, ...]
    reasons: tuple[Say, ...]
    decide_by: datetime
    start_grooving_by: datetime | None


def advise_tire(
    outlook: SessionOutlook, *, weights: Array, garage: Garage, as_of: datetime
) -> TireAdvice:
    """Choose the tire for one session from what the racer owns."""
    session = outlook.session
    grooving = grooving_start(session, garage)
    owned = owned_tires(garage, can_groove=grooving is not None and as_of <= grooving)
    member_costs = expected_costs(outlook.track, garage.cost or COST_TABLE, owned)
    costs = dict(zip(owned, np.average(member_costs, axis=0, weights=weights), strict=True))
    chances = best_chances(member_costs, weights, owned)
    vetoed = vetoes(outlook.track)
    order = sorted((tire for tire in owned if tire not in vetoed), key=lambda tire: costs[tire])
    unknown = outlook.track.state_chance["unknown"]
    choice: Choice = order[0] if order and unknown <= UNDECIDED_UNKNOWN_SHARE else "undecided"
    others = [tire for tire in order if tire != choice]
    return TireAdvice(
        choice=choice,
        runner_up=others[0] if others else None,
        chances=chances,
        costs={tire: float(cost) for tire, cost in costs.items()},
        vetoed=vetoed,
        reasons=_reasons(outlook, choice, vetoed, owned),
        decide_by=change_start(session, garage),
        start_grooving_by=grooving if "grooved" in owned else None,
    )


def owned_tires(garage: Garage, *, can_groove: bool) -> tuple[Tire, ...]:
    """Kinds of tire that the rig can put on the car, in the order of `TIRES`."""
    owned: list[Tire] = []
    if any(tires.kind == "dry" for tires in garage.tires):
        owned.append("dry")
    if can_groove and groovable_set(garage) is not None:
        owned.append("grooved")
    if any(tires.kind == "wet" for tires in garage.tires):
        owned.append("wet")
    return tuple(owned)


def groovable_set(garage: Garage) -> TireSet | None:
    """The first dry set that the racer is willing to cut."""
    return next((tires for tires in garage.tires if tires.may_be_grooved), None)


def expected_costs(track: TrackOutlook, table: CostTable, tires: tuple[Tire, ...]) -> Array:
    """Cost per member and tire (M, K): the table's cost by the time spent in each state.

    An unknown state costs what a wet one costs: unknown pulls to the careful side.
    """
    by_state = np.array([state_costs(table, tire) for tire in tires])
    costs: Array = track.state_share @ by_state.T
    return costs


def state_costs(table: CostTable, tire: Tire) -> list[float]:
    """Cost of a tire in each of `STATES`, the loss of a dry set to the groover included."""
    row = getattr(table, tire)
    lost = table.cutting if tire == "grooved" else 0.0
    return [lost + float(getattr(row, "wet" if state == "unknown" else state)) for state in STATES]


def best_chances(member_costs: Array, weights: Array, tires: tuple[Tire, ...]) -> dict[Tire, float]:
    """Weighted share of the members in which each tire is the cheapest (the first one on a tie)."""
    best = np.argmin(member_costs, axis=1)
    total = float(weights.sum())
    return {tire: float(weights[best == i].sum()) / total for i, tire in enumerate(tires)}


def vetoes(track: TrackOutlook) -> tuple[Tire, ...]:
    """Tires that are not safe for the session, whatever they cost.

    Judged by the weight of members that are wet (or have standing water, or are unknown) for any
    part of it.
    """
    state = track.state_chance
    refused: list[Tire] = []
    if state["wet"] + state["standing"] + state["unknown"] > DRY_VETO_WET_CHANCE:
        refused.append("dry")
    if state["standing"] > GROOVED_VETO_STANDING_CHANCE:
        refused.append("grooved")
    return tuple(refused)


def change_start(session: Session, garage: Garage) -> datetime:
    """Last moment to start putting wet tires on: the change itself, then the way to the grid."""
    wet = [tires for tires in garage.tires if tires.kind == "wet"]
    on_rims = any(tires.on_rims for tires in wet)
    minutes = garage.work.swap_minutes if on_rims else garage.work.mount_minutes
    return session.start - timedelta(minutes=minutes + garage.work.grid_minutes)


def grooving_start(session: Session, garage: Garage) -> datetime | None:
    """Last moment to start cutting a dry set, None when no set may be cut."""
    tires = groovable_set(garage)
    if tires is None:
        return None
    cutting = tires.count * garage.work.groove_minutes_per_tire
    fitting = garage.work.swap_minutes if tires.on_rims else garage.work.mount_minutes
    return session.start - timedelta(minutes=cutting + fitting + garage.work.grid_minutes)


def _reasons(
    outlook: SessionOutlook, choice: Choice, vetoed: tuple[Tire, ...], owned: tuple[Tire, ...]
) -> tuple[Say, ...]:
    state = outlook.track.state_chance
    wet = state["wet"] + state["standing"]
    if choice == "undecided":
        return _undecided_reasons(state["unknown"], owned)
    reasons = [
        Say(
            "dry track {dry}, damp {damp}, wet {wet}",
            {
                "dry": Quantity(state["dry"], "share"),
                "damp": Quantity(state["damp"], "share"),
                "wet": Quantity(wet, "share"),
            },
        )
    ]
    if np.isfinite(outlook.rain.chance):
        reasons.append(
            Say(
                "rain during it {chance}",
                {"chance": Quantity(outlook.rain.chance, "share")},
            )
        )
    if "dry" in vetoed and "dry" in owned:
        reasons.append(
            Say(
                "dry tires ruled out: a wet track is likelier than {limit}",
                {"limit": Quantity(DRY_VETO_WET_CHANCE, "share")},
            )
        )
    if choice == "grooved":
        reasons.append(Say("check that your class rules allow hand-grooved tires"))
    return tuple(reasons)


def _undecided_reasons(unknown: float, owned: tuple[Tire, ...]) -> tuple[Say, ...]:
    if unknown > UNDECIDED_UNKNOWN_SHARE:
        return (
            Say("no rain data for {share} of this session", {"share": Quantity(unknown, "share")}),
            Say("keep the wet tires ready and decide by looking at the track"),
        )
    have = " and ".join(owned) if owned else "no"
    return (Say(f"the rig holds {have} tires only, and none is safe on this track"),)
