"""The load list as CSV, for a spreadsheet or a printer."""

from __future__ import annotations

import csv
import io
from datetime import tzinfo

from trackday.advice.load import LoadAdvice
from trackday.advice.load_list import LoadItem
from trackday.units import UnitSystem
from trackday.wording import Say, percent

COLUMNS = ("item", "quantity", "group", "load", "chance", "why")


def load_csv(load: LoadAdvice, *, units: UnitSystem, zone: tzinfo) -> str:
    """Write the list with a header and lines that end in a line feed.

    `load` is "yes" or "no" (it may stay at home), `chance` the chance that the weekend asks for the
    thing, empty where there is none.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for item in (*load.items, *load.leave):
        writer.writerow(
            (
                item.name,
                quantity_text(item, units, zone),
                item.group,
                "yes" if item.needed else "no",
                chance_text(item),
                "; ".join(why.render(units, zone) for why in item.why),
            )
        )
    return out.getvalue()


def quantity_text(item: LoadItem, units: UnitSystem, zone: tzinfo) -> str:
    """Write how much of a thing is loaded, "" where nothing says."""
    if isinstance(item.quantity, Say):
        return item.quantity.render(units, zone)
    return item.quantity


def chance_text(item: LoadItem) -> str:
    """Write the chance that the weekend asks for a thing; "" where there is no chance about it."""
    return "" if item.chance is None else percent(item.chance)
