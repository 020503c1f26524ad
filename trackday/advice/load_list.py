"""One line of the load list, and how the racer's own list is merged into it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from trackday.weekend.own_list import OwnItem, item_key
from trackday.wording import Say

OWN_GROUP = "own list"
"""Group of the racer's items that name none."""

_PIECES = ("", "x", "pc", "pcs", "piece", "pieces")
_LITERS = ("l", "liter", "liters", "litre", "litres")


@dataclass(frozen=True)
class LoadItem:
    """One thing to load, or (not `needed`) one that can be left at home.

    `chance` is the chance that the weekend asks for it, so that of being sorry without it; None
    where there is no chance about it, NaN where unknown. `amount` is the number in `quantity`, of
    pieces or, with `liters`, of liters; None where it has none. `also` holds other names of the
    thing, `own` tells that the racer's list has it.
    """

    name: str
    quantity: str | Say
    why: tuple[Say, ...]
    chance: float | None
    group: str
    needed: bool
    amount: int | None = None
    liters: bool = False
    also: tuple[str, ...] = ()
    own: bool = False


def merge_own(items: Sequence[LoadItem], own: Iterable[OwnItem]) -> tuple[LoadItem, ...]:
    """Give every thing once: what the weather asks for, then what only the racer's list has.

    A thing on both lists bears the racer's name and group and the larger quantity. What the racer
    has written is loaded, also where the weather does not ask for it.
    """
    merged = list(items)
    free = {item_key(name): place for place, item in enumerate(items) for name in item.also}
    free |= {item_key(item.name): place for place, item in enumerate(items)}
    for each in own:
        place = free.get(item_key(each.item))
        if place is None or merged[place].own:
            merged.append(_own_only(each))
        else:
            merged[place] = _both(merged[place], each)
    return tuple(merged)


def _own_only(own: OwnItem) -> LoadItem:
    return LoadItem(own.item, own.quantity, (), None, own.group or OWN_GROUP, needed=True, own=True)


def _both(item: LoadItem, own: OwnItem) -> LoadItem:
    """The racer's words, and the larger quantity."""
    merged = replace(item, name=own.item, group=own.group or item.group, needed=True, own=True)
    if not own.quantity:
        return merged
    amount = own_amount(own.quantity, item)
    enough = amount is not None and item.amount is not None and amount >= item.amount
    if enough or not item.needed or not item.quantity:
        return replace(merged, quantity=own.quantity, amount=amount)
    listed = Say("your list has {quantity}", {"quantity": own.quantity})
    return replace(merged, why=(*item.why, listed))


def own_amount(quantity: str, item: LoadItem) -> int | None:
    """Whole number at the front of a quantity, None where it counts something else.

    "6", "6 pcs" and, of straps, "6 straps" count pieces; "12 L" counts liters.
    """
    match = re.fullmatch(r"(\d{1,6})\s*(.*)", quantity.strip(), re.ASCII)
    if match is None:
        return None
    unit = match[2].casefold().rstrip(".")
    if item.liters:
        return int(match[1]) if unit in _LITERS else None
    words = {item_key(name).rsplit(" ", 1)[-1] for name in (item.name, *item.also)}
    return int(match[1]) if unit in _PIECES or item_key(unit) in words else None
