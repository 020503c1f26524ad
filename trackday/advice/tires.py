"""Dry, hand-grooved intermediate or wet: the tire with the least expected cost that is safe."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from trackday.advice.assumptions import (
    COST_TABLE,
    DRY_VETO_WET_CHANCE,
    GROOVED_VETO_STANDING_CHANCE,
    UNDECIDED_UNKNOWN_SHARE,
    WATCH_CHANCE,
)
from trackday.advice.assumptions_load import LEAST_CUT_CHANCE, LEAST_FLIP_CHANCE, WATCH_HOURS
from trackday.advice.decision import Decision
from trackday.advice.tire_costs import (
    TIRES,
    Choice,
    Tire,
    best_chances,
    expected_costs,
    share_costs,
)
from trackday.advice.tire_sets import (
    change_start,
    change_words,
    grooving_start,
    owned_tires,
    sets_of,
)
from trackday.advice.tire_words import TireFacts, reasons_for, say_decision
from trackday.outlook.rain import WET_MM
from trackday.outlook.rain_blend import is_trusted
from trackday.outlook.session import SessionOutlook
from trackday.outlook.track import STATES, TrackState
from trackday.weather.series import Array
from trackday.weekend.garage import CostTable, Garage
from trackday.weekend.sessions import Session
from trackday.wording import Quantity, Say

__all__ = [
    "TIRES",
    "Choice",
    "Tire",
    "TireAdvice",
    "advise_tire",
    "change_start",
    "expected_costs",
    "grooving_start",
    "watch_window",
    "wet_chance",
]

CLASS_RULES = Say("check that your class rules allow hand-grooved tires")


@dataclass(frozen=True)
class TireAdvice:
    """The tire for one session.

    `chances` is the chance that each tire turns out to be the least costly (NaN where it is too
    early to tell), `costs` the expected cost in percent of lap time. `decide_by` is the last moment
    to start changing to wet tires (or to the cut set, where there are no wet ones),
    `start_grooving_by` the last moment to start cutting a dry set (None where there is none, no
    time, or too small a chance that cut tires are the right ones). `choice` is "undecided" when the
    state of the track is unknown or no safe tire is in the rig, and where it is `too_early`: so far
    ahead other years say more of the rain than the forecast that the tire would be chosen by.
    `flip` is the turn of the weather before `decide_by` that would change the choice, None where
    none is foreseen or the rain before it is not known. `change` tells how long the change takes.
    """

    choice: Choice
    runner_up: Tire | None
    chances: dict[Tire, float]
    costs: dict[Tire, float]
    vetoed: tuple[Tire, ...]
    reasons: tuple[Say, ...]
    decide_by: datetime
    start_grooving_by: datetime | None
    flip: Say | None
    change: Say
    decision: Decision
    too_early: bool = False


@dataclass(frozen=True)
class _Basis:
    """What a choice is made from: the kinds of tire at hand and what they cost."""

    table: CostTable
    owned: tuple[Tire, ...]
    cutting: float


@dataclass(frozen=True)
class _Ranking:
    """The safe tires from the least expected cost on, and the choice among them."""

    choice: Choice
    order: tuple[Tire, ...]
    costs: dict[Tire, float]
    vetoed: tuple[Tire, ...]


def advise_tire(
    outlook: SessionOutlook,
    *,
    weights: Array,
    garage: Garage,
    as_of: datetime,
    rain_before: Array | None = None,
) -> TireAdvice:
    """Choose the tire for one session from what the racer owns.

    `weights` (M,). `rain_before` (M,) is the rain in mm that each member brings in `watch_window`,
    NaN where it is unknown.
    """
    share = outlook.track.state_share
    cut_ready = bool(sets_of(garage, "grooved"))
    grooving = None if cut_ready else grooving_start(outlook.session, garage)
    in_time = grooving is not None and as_of <= grooving
    basis = _basis(garage, can_groove=in_time and _worth_cutting(share, weights, garage))
    too_early = _is_too_early(outlook, as_of)
    ranking = _rank(share, weights, basis)
    if too_early:
        ranking = replace(ranking, choice="undecided", order=(), vetoed=())
    rain_tire = rain_tire_of(garage, ranking.choice)
    decide_by = change_start(outlook.session, garage, tire=rain_tire)
    start_grooving_by = grooving if "grooved" in basis.owned else None
    cuts = ranking.choice == "grooved" and not cut_ready
    flip = _flip(outlook, weights, garage, ranking.choice, rain_before, cuts=cuts, as_of=as_of)
    member_costs = share_costs(share, basis.table, basis.owned, cutting=basis.cutting)
    chances = best_chances(member_costs, weights, basis.owned)
    if too_early:
        chances = dict.fromkeys(chances, float("nan"))
    may_be_wet = not wet_chance(outlook.track.state_chance) < WATCH_CHANCE
    facts = TireFacts(
        outlook=outlook,
        choice=ranking.choice,
        chance=chances[ranking.choice] if ranking.choice != "undecided" else float("nan"),
        vetoed=ranking.vetoed,
        owned=basis.owned,
        flip=flip,
        decide_by=decide_by,
        start_grooving_by=start_grooving_by,
        worth_watching=flip is not None or may_be_wet,
        too_early=too_early,
    )
    why = reasons_for(facts)
    others = [tire for tire in ranking.order if tire != ranking.choice]
    return TireAdvice(
        choice=ranking.choice,
        runner_up=others[0] if others else None,
        chances=chances,
        costs=ranking.costs,
        vetoed=ranking.vetoed,
        reasons=(*why, CLASS_RULES) if ranking.choice == "grooved" else why,
        decide_by=decide_by,
        start_grooving_by=start_grooving_by,
        flip=flip,
        change=change_words(garage, tire=rain_tire),
        decision=say_decision(facts, garage, why=why, as_of=as_of),
        too_early=too_early,
    )


def _is_too_early(outlook: SessionOutlook, as_of: datetime) -> bool:
    """Whether a forecast reaches the session from farther ahead than it tells wet from dry.

    Other years may choose at any lead: they are what the chance of rain rests on then.
    """
    if outlook.rain.basis in (None, "climatology"):
        return False
    return not is_trusted((outlook.session.start - as_of) / timedelta(hours=1))


def watch_window(
    session: Session, garage: Garage, *, as_of: datetime
) -> tuple[datetime, datetime] | None:
    """The hours before the change of tires in which rain tells; None once the change is due."""
    by = change_start(session, garage, tire=rain_tire_of(garage, "undecided"))
    since = max(as_of, by - timedelta(hours=WATCH_HOURS))
    return (since, by) if since < by else None


def rain_tire_of(garage: Garage, choice: Choice) -> Tire:
    """The rain tire that a change would be to: the chosen one, or wet before cut."""
    if sets_of(garage, "grooved") and (choice == "grooved" or not sets_of(garage, "wet")):
        return "grooved"
    return "wet"


def wet_chance(state_chance: Mapping[TrackState, float]) -> float:
    """Chance that the track is wet at a moment of the session; unknown counts as wet."""
    return state_chance["wet"] + state_chance["standing"] + state_chance["unknown"]


def vetoes(state_chance: Mapping[TrackState, float]) -> tuple[Tire, ...]:
    """Tires that are not safe for the session, whatever they cost.

    Judged by the chance of each state over the session's time and the members.
    """
    refused: list[Tire] = []
    if wet_chance(state_chance) > DRY_VETO_WET_CHANCE:
        refused.append("dry")
    if state_chance["standing"] > GROOVED_VETO_STANDING_CHANCE:
        refused.append("grooved")
    return tuple(refused)


def _basis(garage: Garage, *, can_groove: bool) -> _Basis:
    table = garage.cost or COST_TABLE
    cutting = 0.0 if sets_of(garage, "grooved") else table.cutting
    return _Basis(table, owned_tires(garage, can_groove=can_groove), cutting)


def _worth_cutting(state_share: Array, weights: Array, garage: Garage) -> bool:
    """Whether cut tires are likely enough to be the right ones: a cut cannot be undone."""
    basis = _basis(garage, can_groove=True)
    each = share_costs(state_share, basis.table, basis.owned, cutting=basis.cutting)
    chances = best_chances(each, weights, basis.owned)
    return chances.get("grooved", 0.0) >= LEAST_CUT_CHANCE


def _rank(state_share: Array, weights: Array, basis: _Basis) -> _Ranking:
    """Choose for members (M, 5) with these weights."""
    each = share_costs(state_share, basis.table, basis.owned, cutting=basis.cutting)
    mean = np.average(each, axis=0, weights=weights)
    costs = {tire: float(cost) for tire, cost in zip(basis.owned, mean, strict=True)}
    states = _states(state_share, weights)
    refused = vetoes(states)
    order = sorted((tire for tire in basis.owned if tire not in refused), key=lambda t: costs[t])
    known = states["unknown"] <= UNDECIDED_UNKNOWN_SHARE
    choice: Choice = order[0] if order and known else "undecided"
    return _Ranking(choice, tuple(order), costs, refused)


def _flip(
    outlook: SessionOutlook,
    weights: Array,
    garage: Garage,
    choice: Choice,
    rain_before: Array | None,
    *,
    cuts: bool,
    as_of: datetime,
) -> Say | None:
    """Say which turn of the weather before the change would flip the choice, if any would.

    `cuts` tells that a set is to be cut for the choice. When the rain has told, it is too late to
    start cutting, and what is cut is cut.
    """
    window = watch_window(outlook.session, garage, as_of=as_of)
    if rain_before is None or window is None or _is_too_early(outlook, as_of):
        return None
    later = _basis(garage, can_groove=cuts)
    turn = _turn(
        outlook.track.state_share, weights, later, choice, rain_before, may_stay_dry=not cuts
    )
    return None if turn is None else _turn_words(turn, window, as_of=as_of)


@dataclass(frozen=True)
class _Turn:
    """A turn of the weather before the change, its chance, and the choice that goes with it."""

    rains: bool
    chance: float
    choice: Tire


def _turn(
    state_share: Array,
    weights: Array,
    basis: _Basis,
    choice: Choice,
    rain_before: Array,
    *,
    may_stay_dry: bool,
) -> _Turn | None:
    """Choose again on the members that are wet before the change, and on those that are dry.

    A member whose rain is unknown counts among both: it may be either.
    """
    turns = [(True, ~(rain_before < WET_MM))]
    if may_stay_dry:
        turns.append((False, ~(rain_before >= WET_MM)))
    for rains, mask in turns:
        chance = float(weights[mask].sum() / weights.sum())
        if chance < LEAST_FLIP_CHANCE:
            continue
        other = _rank(state_share[mask], weights[mask], basis).choice
        if other != "undecided" and other != choice:
            return _Turn(rains, chance, other)
    return None


def _turn_words(turn: _Turn, window: tuple[datetime, datetime], *, as_of: datetime) -> Say:
    """Word a turn: "wet tires if it rains before 13:30 (35 %)"."""
    since, by = window
    what = "the cut set" if turn.choice == "grooved" else f"{turn.choice} tires"
    if turn.rains:
        when = "it rains between {since} and {by}" if since > as_of else "it rains before {by}"
    else:
        when = "it stays dry from {since} to {by}" if since > as_of else "it stays dry until {by}"
    chance = Quantity(turn.chance, "share")
    return Say(f"{what} if {when} ({{chance}})", {"since": since, "by": by, "chance": chance})


def _states(state_share: Array, weights: Array) -> dict[TrackState, float]:
    mean = np.average(state_share, axis=0, weights=weights)
    return {state: float(share) for state, share in zip(STATES, mean, strict=True)}
