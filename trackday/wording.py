"""Sentences that carry their numbers, so that one place words them and every report shows them.

Advice writes a `Say` with SI values and venue-independent times; a report renders it in the
reader's units and the venue's zone. No advice can then depend on the units it is shown in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, tzinfo

from trackday.units import UnitSystem


@dataclass(frozen=True)
class Quantity:
    """A number in SI with what it measures, or a range when `high` is given."""

    value: float
    kind: str
    high: float | None = None


Value = Quantity | datetime | str | int


@dataclass(frozen=True)
class Say:
    """A sentence with gaps: `Say("{track} track", {"track": Quantity(41.0, "temperature")})`."""

    template: str
    values: Mapping[str, Value] = field(default_factory=dict)

    def render(self, units: UnitSystem, zone: tzinfo) -> str:
        """Fill the gaps in the reader's units and the venue's time."""
        return self.template.format_map(
            {name: _show(value, units, zone) for name, value in self.values.items()}
        )


def percent(share: float) -> str:
    """Show a chance in steps of 5 %, since no forecast knows it finer; "unknown" for NaN.

    The ends are "<5 %" and ">95 %": neither dry nor rain is ever certain.
    """
    if share != share:  # NaN
        return "unknown"
    if share < 0.05:
        return "<5 %"
    if share > 0.95:
        return ">95 %"
    return f"{round(share * 20) * 5} %"


def listed(names: Sequence[str]) -> str:
    """Join names as a sentence does: "a, b and c"; empty without any."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def clock(when: datetime, zone: tzinfo) -> str:
    """Show a moment as "14:10" in the venue's time."""
    return when.astimezone(zone).strftime("%H:%M")


def day_clock(when: datetime, zone: tzinfo) -> str:
    """Show a moment as "Sat 14:10" in the venue's time."""
    return when.astimezone(zone).strftime("%a %H:%M")


def _show(value: Value, units: UnitSystem, zone: tzinfo) -> str:
    if isinstance(value, Quantity):
        return _show_quantity(value, units)
    if isinstance(value, datetime):
        return clock(value, zone)
    return str(value)


def _show_quantity(quantity: Quantity, units: UnitSystem) -> str:
    if quantity.kind == "share":
        return percent(quantity.value)
    if quantity.high is not None:
        return units.range(quantity.kind, quantity.value, quantity.high)
    return units.show(quantity.kind, quantity.value)
