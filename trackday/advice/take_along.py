"""Which kinds of tire the weekend asks for."""

from __future__ import annotations

from collections.abc import Sequence

from trackday.advice.assumptions import CARRY_CHANCE
from trackday.advice.tire_costs import Tire
from trackday.advice.tires import TireAdvice
from trackday.wording import Quantity, Say, listed

_WORDS: dict[Tire, str] = {
    "dry": "dry tires",
    "wet": "wet tires",
    "grooved": "the groover with a set to cut",
}
"""What to load for each kind of tire, in the order of a sentence."""

_CUT_SET = "the cut set"


def take_along(calls: Sequence[tuple[str, TireAdvice]]) -> Say:
    """Name the kinds worth their place: `calls` holds each session's name and tire advice.

    A kind is worth it when it is chosen, or right with at least `CARRY_CHANCE`, in any session. An
    undecided session asks for every kind that the racer owns.
    """
    wanted = [tire for tire in _WORDS if any(_worth_it(tire, advice) for _, advice in calls)]
    if not wanted:
        return Say("No tire in garage.toml fits this weekend.")
    these = _named(wanted, cut_already=not any(a.start_grooving_by for _, a in calls))
    undecided = [advice for _, advice in calls if advice.choice == "undecided"]
    if undecided and all(advice.too_early for advice in undecided):
        return Say(f"Take {these}: it is too early to tell wet from dry.")
    if undecided:
        return Say(f"Take {these}: the weather is not known for every session.")
    if wanted == ["dry"]:
        return Say("Take dry tires; nothing asks for wet ones.")
    session, chance = _wettest(calls)
    return Say(
        f"Take {these}: chance that {{session}} needs other than dry tires {{chance}}.",
        {"session": session, "chance": Quantity(chance, "share")},
    )


def _worth_it(tire: Tire, advice: TireAdvice) -> bool:
    if tire not in advice.costs:
        return False
    return advice.choice in (tire, "undecided") or advice.chances[tire] >= CARRY_CHANCE


def _wettest(calls: Sequence[tuple[str, TireAdvice]]) -> tuple[str, float]:
    """The session likeliest to need anything but dry tires, and that chance."""
    chances = [(name, 1.0 - advice.chances.get("dry", 0.0)) for name, advice in calls]
    return max(chances, key=lambda item: item[1])


def _named(tires: Sequence[Tire], *, cut_already: bool) -> str:
    """Name what to load; a set that is cut already needs no groover."""
    words = [_CUT_SET if tire == "grooved" and cut_already else _WORDS[tire] for tire in tires]
    return listed(words)
