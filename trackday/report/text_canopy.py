"""Gust against ballast as text: a table to look at when the wind is not as foretold."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console

from trackday.advice.canopy_ballast import GustRow
from trackday.report.layout import heading, indented, line, table
from trackday.units import UnitSystem


def print_gust_table(console: Console, rows: Sequence[GustRow], units: UnitSystem) -> None:
    """Print what each leg needs by gust, empty and blocked; nothing without a canopy."""
    if not rows:
        return
    heading(console, "Canopy: ballast on each leg by gust")
    cells = [
        (
            units.speed(row.gust_ms) + (" *" if row.past_makers_limit else ""),
            units.mass(row.empty.per_leg_kg),
            row.empty.governs,
            units.mass(row.blocked.per_leg_kg),
            row.blocked.governs,
        )
        for row in rows
    ]
    columns = (
        ("Gust", 9),
        ("Empty under it", 14),
        ("else it", 7),
        ("Walls or a car", 14),
        ("else it", 7),
    )
    indented(console, table(columns, cells))
    if any(row.past_makers_limit for row in rows):
        line(console, "* past the maker's limit: take it down, whatever it weighs.")
