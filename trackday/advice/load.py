"""What to load, the week before: tire sets, what the weather asks for, and the racer's own list."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from trackday.advice.assumptions import CARRY_CHANCE, COST_TABLE, UNDECIDED_UNKNOWN_SHARE
from trackday.advice.assumptions_load import TIRES_ON_THE_CAR
from trackday.advice.decision import Decision
from trackday.advice.load_list import LoadItem, merge_own
from trackday.advice.load_needs import LoadNeeds, weather_items
from trackday.advice.load_tires import LoadSession, SetChoice, TireLoad, choose_sets
from trackday.weekend.garage import Garage
from trackday.weekend.own_list import OwnItem
from trackday.wording import Quantity, Say, Value, listed

TIRE_GROUP = "tires"


@dataclass(frozen=True)
class LoadAdvice:
    """The load list: `items` go along, `leave` may stay at home, each with its chance."""

    decision: Decision
    tires: TireLoad
    items: tuple[LoadItem, ...]
    leave: tuple[LoadItem, ...]


def advise_load(
    garage: Garage,
    sessions: Sequence[LoadSession],
    needs: LoadNeeds,
    *,
    own: Sequence[OwnItem] = (),
    by: datetime | None = None,
    until: datetime | None = None,
) -> LoadAdvice:
    """Choose the tire sets of least expected regret and list everything else.

    `own` is the racer's list; `by` is when the trailer is loaded, `until` when it has left. Raises
    ValueError without any session.
    """
    if not sessions:
        raise ValueError("a load needs at least one session")
    tires = _each_kind(
        choose_sets(
            garage.tires,
            sessions,
            table=garage.cost or COST_TABLE,
            tire_slots=None if garage.trailer is None else garage.trailer.tire_slots,
        )
    )
    listed = merge_own((*_tire_items(tires), *weather_items(needs)), own)
    return LoadAdvice(
        decision=_decision(tires, by=by, until=until),
        tires=tires,
        items=tuple(item for item in listed if item.needed),
        leave=tuple(item for item in listed if not item.needed),
    )


def _each_kind(load: TireLoad) -> TireLoad:
    """Where the track is unknown, take one set of each kind that has room: it may be dry as well.

    Unknown counts as wet among the sets' costs, which alone would leave the dry ones at home.
    """
    if load.unknown <= UNDECIDED_UNKNOWN_SHARE:
        return load
    have = {choice.tires.kind for choice in load.sets if choice.carried}
    sets: list[SetChoice] = []
    for choice in load.sets:
        more = choice.fits and choice.tires.kind not in have
        have |= {choice.tires.kind} if more else set()
        sets.append(replace(choice, carried=True, fits=False) if more else choice)
    used = sum(choice.tires.count for choice in sets if choice.carried)
    return replace(load, sets=tuple(sets), used=used)


def _tire_items(load: TireLoad) -> tuple[LoadItem, ...]:
    """The sets, those to carry first, and the groover where a carried set may be cut."""
    sets = sorted(load.sets, key=lambda choice: not choice.carried)
    items = [_set_item(choice, too_early=load.too_early) for choice in sets]
    may_cut = [tires for tires in load.carried if tires.may_be_grooved and not tires.grooved]
    if may_cut:
        items.append(_groover(may_cut[0].name, math.nan if load.too_early else load.cutting))
    return tuple(items)


def _groover(set_name: str, chance: float) -> LoadItem:
    """The tool to cut a set with, worth its place where cutting may pay, or nobody can tell yet."""
    values: dict[str, Value] = {"set": set_name, "chance": Quantity(chance, "share")}
    needed = not chance < CARRY_CHANCE
    pays = "cutting {set} may pay" if math.isnan(chance) else "cutting {set} pays: {chance}"
    why = (
        Say(pays, values),
        Say("check that your class rules allow hand-grooved tires"),
    )
    return LoadItem(
        "Hand groover",
        "1",
        why if needed else (),
        chance,
        TIRE_GROUP,
        needed=needed,
        amount=1,
        also=("groover", "tire groover", "grooving iron"),
    )


def _set_item(choice: SetChoice, *, too_early: bool) -> LoadItem:
    tires = choice.tires
    return LoadItem(
        tires.name,
        f"{tires.count} tires" if tires.count > 1 else "1 tire",
        (_why_set(choice, too_early=too_early),),
        math.nan if too_early else choice.sorry,
        TIRE_GROUP,
        needed=choice.carried,
        amount=tires.count,
    )


def _why_set(choice: SetChoice, *, too_early: bool) -> Say:
    if not choice.carried:
        return Say("room for it as a spare" if choice.fits else "no slot left for it")
    values: dict[str, Value] = {
        "session": choice.best_for,
        "chance": Quantity(choice.best_chance, "share"),
    }
    if np.isnan(choice.best_chance):
        return Say("too early to tell" if too_early else "track not known")
    if choice.best_chance > 0.0:
        return Say("{chance} to be right in {session}", values)
    return Say("to be cut if a session is damp")


def _decision(load: TireLoad, *, by: datetime | None, until: datetime | None) -> Decision:
    """Say which sets go along, and how sure it is that none is missed."""
    if not load.carried:
        do = Say("Mend tire_slots or count in garage.toml: no four tires of a kind fit the rig.")
        return Decision("load", "unknown", do, (), chance=float("nan"), by=by, until=until)
    spare = [choice.tires.name for choice in load.sets if choice.fits]
    left = [c.tires.name for c in load.sets if not c.carried and not c.fits]
    template = "Load {carry}"
    template += "; {spare} fits as a spare" if len(spare) == 1 else ""
    template += "; {spare} fit as spares" if len(spare) > 1 else ""
    template += "; leave {left} at home" if left else ""
    known = load.unknown <= UNDECIDED_UNKNOWN_SHARE
    return Decision(
        "load",
        "act",
        Say(
            f"{template}.",
            {
                "carry": listed([tires.name for tires in load.carried]),
                "spare": listed(spare),
                "left": listed(left),
            },
        ),
        _why(load),
        chance=1.0 - load.sorry if known else float("nan"),
        by=by,
        until=until,
    )


def _why(load: TireLoad) -> tuple[Say, ...]:
    """What is not known, what the weather may ask for, how full the rack is."""
    said: list[Say] = []
    if load.too_early:
        said.append(Say("too early to tell wet from dry: dry and wet sets go along"))
    elif load.unknown > UNDECIDED_UNKNOWN_SHARE:
        share = Quantity(load.unknown, "share")
        said.append(
            Say(
                "track unknown for {share} of a session (no rain data, or no sun and "
                "moisture): dry and wet sets go along",
                {"share": share},
            )
        )
    rain = [c for c in load.sets if c.tires.kind == "wet" or c.tires.grooved]
    if any(np.isfinite(choice.best_chance) for choice in rain):
        likeliest = max(rain, key=lambda choice: np.nan_to_num(choice.best_chance, nan=-1.0))
        said.append(
            Say(
                "{set}: {chance} to be right in {session}",
                {
                    "set": likeliest.tires.name,
                    "session": likeliest.best_for,
                    "chance": Quantity(likeliest.best_chance, "share"),
                },
            )
        )
    if load.capacity is not None:
        slots = load.capacity - TIRES_ON_THE_CAR
        taken = max(load.used - TIRES_ON_THE_CAR, 0)
        words = "all {slots} tire slots free"
        if taken:
            words = "{taken} of {slots} tire slots taken, {on_car} more tires on the car"
        words = words if slots else "no slots: only what is on the car"
        values: dict[str, Value] = {"taken": taken, "slots": slots, "on_car": TIRES_ON_THE_CAR}
        said.append(Say(words, values))
    return tuple(said)
