"""`trackday load` as text: what to do, the list to tick off, what may stay at home."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, tzinfo

from rich.console import Console
from rich.table import Table
from rich.text import Text

from trackday.advice.load import TIRE_GROUP, LoadAdvice
from trackday.advice.load_list import LoadItem
from trackday.plan import Plan
from trackday.report import text_now, text_parts
from trackday.report.layout import bullet, capitalized, heading, line, text_width, title, wrapped
from trackday.report.load_csv import chance_text, quantity_text
from trackday.report.text_decisions import when_text
from trackday.units import UnitSystem, units_named
from trackday.wording import percent

BOX = "[ ]"
"""What is ticked off with a pen."""


def print_load(console: Console, plan: Plan, load: LoadAdvice, unit_system: str) -> None:
    """Print the load list of an event, for a terminal or a printer."""
    units, zone = units_named(unit_system), plan.venue.zone
    text_parts.head(console, plan)
    text_now.print_beyond_forecast(console, plan)
    text_now.print_too_early(console, plan, units)
    console.print()
    print_load_list(console, load, units, zone, as_of=plan.as_of)
    text_parts.troubles(console, plan)


def print_load_list(
    console: Console, load: LoadAdvice, units: UnitSystem, zone: tzinfo, *, as_of: datetime
) -> None:
    """Print the decision, then every group with its boxes, then what may stay at home."""
    _decision(console, load, units, zone, as_of=as_of)
    groups = dict.fromkeys(item.group for item in load.items)
    for group in groups:
        items = [item for item in load.items if item.group == group]
        shared = _shared_reasons(items, units, zone)
        heading(console, group)
        if shared:
            line(console, capitalized("; ".join(shared)) + ".")
        console.print(_rows(items, units, zone, told=shared, width=text_width(console)))
    if load.leave:
        heading(console, "May stay at home (chance that you miss it)")
        for item in load.leave:
            bullet(console, _leave_line(item, units, zone))


def _decision(
    console: Console, load: LoadAdvice, units: UnitSystem, zone: tzinfo, *, as_of: datetime
) -> None:
    decision = load.decision
    title(console, decision.do.render(units, zone))
    listed = {f"{item.name}: {why.render(units, zone)}" for item in load.items for why in item.why}
    for reason in decision.why:
        text = reason.render(units, zone)
        if text not in listed:  # else the list below says it
            bullet(console, text)
    if decision.chance is not None:
        bullet(console, f"nothing missed: {percent(decision.chance)}")
    if decision.by is not None:
        bullet(console, f"load by {when_text(decision.by, zone, as_of=as_of)}")


def _shared_reasons(items: Sequence[LoadItem], units: UnitSystem, zone: tzinfo) -> list[str]:
    """Reasons that hold for all items of a group, to be said once."""
    if len(items) < 2:
        return []
    told = [[why.render(units, zone) for why in item.why] for item in items]
    return [reason for reason in told[0] if all(reason in each for each in told)]


def _rows(
    items: Sequence[LoadItem],
    units: UnitSystem,
    zone: tzinfo,
    *,
    told: Sequence[str],
    width: int,
) -> Table:
    quantities = [quantity_text(item, units, zone) for item in items]
    second = min(max(10, *map(len, quantities)), 20)
    made = Table.grid(padding=(0, 2, 0, 0))
    made.add_column(width=5)
    made.add_column(width=second, overflow="fold")
    made.add_column(overflow="fold")
    for item, quantity in zip(items, quantities, strict=True):
        reasons = [why.render(units, zone) for why in item.why]
        rest = "; ".join(reason for reason in reasons if reason not in told)
        name = f"{item.name}: {rest}" if rest else item.name
        name = wrapped(name, width - second - 9)  # the box and two gaps
        made.add_row(*(Text(cell) for cell in (f"  {BOX}", quantity, name)))
    return made


def _leave_line(item: LoadItem, units: UnitSystem, zone: tzinfo) -> str:
    """One thing that may stay: "Squeegee (<5 %)"; the reason where it is more than the chance."""
    chance = chance_text(item)
    named = f"{item.name} ({chance})" if chance else item.name
    reasons = () if chance and item.group != TIRE_GROUP else item.why
    why = "; ".join(reason.render(units, zone) for reason in reasons)
    return f"{named}: {why}" if why else named
