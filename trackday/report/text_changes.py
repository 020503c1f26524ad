"""What changed between two looks at the same weekend, as text."""

from __future__ import annotations

from rich.console import Console

from trackday.plan import Plan, SessionPlan
from trackday.report.text_parts import TIRE_WORDS, heading, indented, table, track_cell, wet_cell
from trackday.units import UnitSystem, units_named


def print_changes(console: Console, before: Plan, after: Plan, unit_system: str) -> None:
    """Print each session's tire, wet track and track temperature, then and now."""
    units = units_named(unit_system)
    then = before.as_of.astimezone(before.venue.zone)
    heading(console, f"Changed since {then:%a %H:%M}")
    earlier = {planned.session.label: planned for planned in before.sessions}
    rows = [
        _row(earlier[planned.session.label], planned, units)
        for planned in after.sessions
        if planned.session.label in earlier
    ]
    columns = (("Session", 12), ("Tire", 8), ("Wet track", 9), ("Track", 9))
    indented(console, table(columns, rows))


def _row(before: SessionPlan, after: SessionPlan, units: UnitSystem) -> tuple[str, ...]:
    return (
        after.session.label,
        _change(TIRE_WORDS[before.tire.choice], TIRE_WORDS[after.tire.choice]),
        _change(wet_cell(before.outlook.track), wet_cell(after.outlook.track)),
        _change(track_cell(before.outlook.track, units), track_cell(after.outlook.track, units)),
    )


def _change(then: str, now: str) -> str:
    return now if then == now else f"{then} → {now}"
