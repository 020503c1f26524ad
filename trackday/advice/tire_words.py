"""The tire for one session in words: why, what to do, until when, which caution."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

import numpy as np

from trackday.advice.assumptions import (
    COLD_TRACK_C,
    DRY_VETO_WET_CHANCE,
    SURE_CHANCE,
    UNDECIDED_UNKNOWN_SHARE,
)
from trackday.advice.assumptions_load import STATE_CHANGE
from trackday.advice.decision import MOST_REASONS, Decision, Urgency
from trackday.advice.tire_costs import Choice, Tire
from trackday.advice.tire_sets import groovable_set, sets_of
from trackday.outlook.rain_blend import trusted_days
from trackday.outlook.session import SessionOutlook
from trackday.outlook.track import TrackState
from trackday.weekend.garage import Garage
from trackday.wording import Quantity, Say, Value

States = Mapping[TrackState, float]


@dataclass(frozen=True)
class TireFacts:
    """What was found about the tire for one session; the fields are those of the tire's advice.

    `chance` is the chance that the choice turns out right, NaN without one.
    """

    outlook: SessionOutlook
    choice: Choice
    chance: float
    vetoed: tuple[Tire, ...]
    owned: tuple[Tire, ...]
    flip: Say | None
    decide_by: datetime
    start_grooving_by: datetime | None
    worth_watching: bool
    too_early: bool = False


TOO_EARLY: Final = Say(
    "Too early for tires: look again {days} days before.", {"days": trusted_days()}
)
"""So far ahead other years say more of the rain than any forecast of the track does."""

RAIN_DURING: Final = "rain during it {chance}"


def reasons_for(facts: TireFacts) -> tuple[Say, ...]:
    """Say why: the track first, then what moves, what is ruled out, and the rain."""
    if facts.too_early:
        return _why_too_early(facts)
    if facts.choice == "undecided":
        return _why_undecided(facts)
    state, rain = facts.outlook.track.state_chance, facts.outlook.rain.chance
    said = [
        Say(
            "dry track {dry}, damp {damp}, wet {wet}",
            {
                "dry": Quantity(state["dry"], "share"),
                "damp": Quantity(state["damp"], "share"),
                "wet": Quantity(state["wet"] + state["standing"], "share"),
            },
        )
    ]
    change = _change(facts.outlook.track.start_chance, facts.outlook.track.end_chance)
    if change is not None:
        said.append(change)
    if "dry" in facts.vetoed and "dry" in facts.owned:
        said.append(
            Say(
                "dry tires ruled out past {limit} wet",
                {"limit": Quantity(DRY_VETO_WET_CHANCE, "share")},
            )
        )
    said.extend(_rain(rain))
    return tuple(said[:MOST_REASONS])


def say_decision(
    facts: TireFacts, garage: Garage, *, why: tuple[Say, ...], as_of: datetime
) -> Decision:
    """Word the decision, with its deadline."""
    session = facts.outlook.session
    if as_of >= session.start:
        do = Say("Started: the tires are settled.")
        return Decision("tires", "nothing", do, (), until=session.end, about=session.label)
    if facts.too_early:
        return Decision("tires", "watch", TOO_EARLY, why, about=session.label)
    by = _deadline(facts)
    urgency = _urgency(facts, late=as_of > by)
    waits = urgency in ("watch", "unknown")
    return Decision(
        "tires",
        urgency,
        _do(facts, garage, by=by, late=as_of > by, watch=urgency == "watch"),
        why,
        chance=facts.chance,
        by=None if urgency == "nothing" else by,
        until=by if waits else session.end,
        caution=_caution(facts),
        about=session.label,
        chance_of=tires_right(facts.choice) if urgency == "watch" else "",
    )


def tires_right(choice: Choice) -> str:
    """Name what a chance is of where the sentence beside it speaks of more tires than one."""
    return {"grooved": "cut set right", "undecided": ""}.get(choice, f"{choice} tires right")


def keep_on(decision: Decision, tire: Tire) -> Decision:
    """Word a decision for tires that are on the car already from the session before."""
    what = "the cut set" if tire == "grooved" else f"the {tire} tires"
    return replace(decision, do=Say(f"Keep {what} on."), urgency="watch", by=None)


def _why_too_early(facts: TireFacts) -> tuple[Say, ...]:
    rain = facts.outlook.rain
    why = Say("more than {days} days ahead no forecast tells wet from dry", TOO_EARLY.values)
    by_other_years = f"{RAIN_DURING}, mostly by other years"
    return (why, *_rain(rain.chance, by_other_years if rain.blended else RAIN_DURING))


def _why_undecided(facts: TireFacts) -> tuple[Say, ...]:
    unknown = facts.outlook.track.state_chance["unknown"]
    if unknown > UNDECIDED_UNKNOWN_SHARE:
        said = Say(
            "track unknown for {share} of the session: no rain data, or no sun and moisture",
            {"share": Quantity(unknown, "share")},
        )
        return (said, *_rain(facts.outlook.rain.chance))
    have = " and ".join(facts.owned)
    return (Say(f"the rig holds {have} tires only, and none is safe on this track"),)


def _rain(chance: float, template: str = RAIN_DURING) -> tuple[Say, ...]:
    if not np.isfinite(chance):
        return ()
    return (Say(template, {"chance": Quantity(chance, "share")}),)


def _change(start: States, end: States) -> Say | None:
    """Say that the track dries or gets wet during the session, where it does."""
    if start["unknown"] + end["unknown"] > UNDECIDED_UNKNOWN_SHARE:
        return None
    gain = end["dry"] - start["dry"]
    if abs(gain) < STATE_CHANGE:
        return None
    word = "drying during it" if gain > 0 else "getting wet during it"
    return Say(
        f"{word}: dry {{start}} at the start, {{end}} at the end",
        {"start": Quantity(start["dry"], "share"), "end": Quantity(end["dry"], "share")},
    )


def _deadline(facts: TireFacts) -> datetime:
    """The moment by which to start what was chosen."""
    if facts.choice == "grooved" and facts.start_grooving_by is not None:
        return facts.start_grooving_by
    return facts.decide_by


def _urgency(facts: TireFacts, *, late: bool) -> Urgency:
    """Dry tires are watched while they may have to come off and something else may go on."""
    if facts.choice == "undecided":
        return "act" if _none_is_safe(facts) else "unknown"
    if facts.choice != "dry":
        return "watch" if _can_wait(facts) and not late else "act"
    return "watch" if facts.worth_watching and len(facts.owned) > 1 and not late else "nothing"


def _can_wait(facts: TireFacts) -> bool:
    """Whether a turn of the weather may still save the change, and nothing has to be cut."""
    to_cut = facts.choice == "grooved" and facts.start_grooving_by is not None
    return facts.flip is not None and not (to_cut or facts.chance >= SURE_CHANCE)


def _none_is_safe(facts: TireFacts) -> bool:
    return facts.outlook.track.state_chance["unknown"] <= UNDECIDED_UNKNOWN_SHARE


def _do(facts: TireFacts, garage: Garage, *, by: datetime, late: bool, watch: bool) -> Say:
    """Give the imperative, with what would flip it."""
    start = "start now, it is late" if late else "start by {start_by}"
    values: dict[str, Value] = {"start_by": by}
    if facts.flip is not None and watch and facts.choice != "dry":
        other = "the cut set" if facts.choice == "grooved" else "wet tires"
        template = f"Wait until {{start_by}}: {facts.flip.template}, else {other}."
        return Say(template, {**values, **facts.flip.values})
    if facts.choice == "undecided":
        template = _undecided(facts, late=late)
    elif facts.choice == "dry":
        looks = watch and facts.flip is None
        template = "Run dry tires; look again by {start_by}" if looks else "Run dry tires"
    elif facts.choice == "wet":
        template = f"Put wet tires on, {start}"
    else:
        cut = sets_of(garage, "grooved")
        template = "Put the cut set ({set}) on" if cut else "Cut {set} and put it on"
        template = f"{template}, {start}"
        sets = (*cut, groovable_set(garage))
        values["set"] = next(tires.name for tires in sets if tires is not None)
    if facts.flip is None:
        return Say(f"{template}.", values)
    return Say(f"{template}; {facts.flip.template}.", {**values, **facts.flip.values})


def _undecided(facts: TireFacts, *, late: bool) -> str:
    if _none_is_safe(facts):
        return "Stay in the paddock unless the track dries: no tire you have is safe on it"
    when = "now" if late else "by {start_by}"
    ready = "Keep the wet tires ready" if "wet" in facts.owned else "Keep off a wet track"
    return f"{ready}; decide {when} by looking at the track"


def _caution(facts: TireFacts) -> Say | None:
    """Class rules for cut tires, and the first laps on a cold track (unknown counts as cold)."""
    texts: list[str] = []
    coldest_c = facts.outlook.track.temp_c.p10
    if facts.choice == "grooved":
        texts.append("Check that your class rules allow hand-grooved tires.")
    if not np.isfinite(coldest_c):
        texts.append("Track temperature unknown: take the first laps as on a cold track.")
    elif coldest_c < COLD_TRACK_C:
        texts.append("Track down to {cold}: gentle first laps, the grip comes late.")
    if not texts:
        return None
    return Say(" ".join(texts), {"cold": Quantity(coldest_c, "temperature")})
