"""The load list with boxes to tick, and what may stay at home."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo

from trackday.advice.load import LoadAdvice
from trackday.advice.load_list import LoadItem
from trackday.plan import Plan
from trackday.report.load_csv import chance_text, quantity_text
from trackday.report.page.decisions import Shown, show
from trackday.units import UnitSystem


@dataclass(frozen=True)
class Item:
    """One line: `key` names its tick in the browser's store, and is the same in the next plan."""

    key: str
    name: str
    quantity: str
    why: str
    chance: str


@dataclass(frozen=True)
class LoadList:
    """The list by groups; `density` names the size of its print."""

    decision: Shown
    groups: tuple[tuple[str, tuple[Item, ...]], ...]
    leave: tuple[Item, ...]
    density: str

    @property
    def texts(self) -> tuple[str, ...]:
        """Every line of the list, to reckon its height."""
        items = [item for _, some in self.groups for item in some]
        return tuple(f"{i.name} {i.quantity} {i.why}" for i in (*items, *self.leave))


ROOMY_ROWS, FULL_ROWS = 30, 60
"""Boxes that one sheet holds in large and in middle type (measured on its prints)."""


def load_list(load: LoadAdvice, *, units: UnitSystem, zone: tzinfo) -> LoadList:
    """Put the load advice in words, items in the order of their groups' first appearance."""
    names = dict.fromkeys(item.group for item in load.items)
    groups = tuple(
        (name, _items([item for item in load.items if item.group == name], units, zone))
        for name in names
    )
    return LoadList(
        decision=show(load.decision, units=units, zone=zone),
        groups=groups,
        leave=_items(load.leave, units, zone),
        density=_density(len(load.items) + len(load.leave)),
    )


def _density(rows: int) -> str:
    if rows <= ROOMY_ROWS:
        return "roomy"
    return "full" if rows <= FULL_ROWS else "dense"


def event_key(plan: Plan) -> str:
    """Name an event in the browser's store, so that ticks outlast a new plan but not the event."""
    first = plan.sessions[0].session.start.isoformat()
    return _short_hash(f"{plan.event_name}\n{plan.venue.name}\n{first}")


def _items(items: Sequence[LoadItem], units: UnitSystem, zone: tzinfo) -> tuple[Item, ...]:
    return tuple(
        Item(
            key=_short_hash(f"{item.group}\n{item.name}"),
            name=item.name,
            quantity=quantity_text(item, units, zone),
            why="; ".join(why.render(units, zone) for why in item.why),
            chance=chance_text(item),
        )
        for item in items
    )


def _short_hash(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:12]
