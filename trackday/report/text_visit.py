"""The last time here, as text."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console

from trackday.knowledge import LastVisit
from trackday.report.layout import bullet, heading, line
from trackday.units import UnitSystem


def print_last_visit(console: Console, visit: LastVisit | None, units: UnitSystem) -> None:
    """Print the last setting here, the racer's own words, and what was to be done next."""
    if visit is None:
        return
    heading(console, f"Last time here, {visit.day:%B} {visit.day:%Y}")
    facts = list(_facts(visit, units))
    if facts:
        line(console, f"{visit.session or f'{visit.day:%a}'}: {', '.join(facts)}.")
    for note in visit.notes:
        bullet(console, note)
    for todo in visit.todo:
        bullet(console, f"still to do: {todo}")


def _facts(visit: LastVisit, units: UnitSystem) -> Iterator[str]:
    if visit.tire_set:
        yield visit.tire_set
    for name, pair in (("cold", visit.cold_kpa), ("hot", visit.hot_kpa)):
        if pair is not None:
            front, rear = (units.display("pressure").digits(value) for value in pair)
            yield f"{name} {front} / {rear} {units.symbol('pressure')}"
    if visit.track_temp_c is not None:
        yield f"track {units.temperature(visit.track_temp_c)}"
    if visit.air_temp_c is not None:
        yield f"air {units.temperature(visit.air_temp_c)}"
