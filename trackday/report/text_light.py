"""`trackday light` as text."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, tzinfo

from rich.console import Console

from trackday.advice.light import LightAdvice
from trackday.report.layout import bullet, heading, indented, line, table, title
from trackday.units import UnitSystem, units_named
from trackday.weekend.reading import Weekend

EXHAUST_AWAY_M = 6.096
"""Distance of a running generator from people, m: 20 ft (CDC on portable generators, which says it
of doors and windows; value from memory)."""


def print_light(
    console: Console, days: Sequence[LightAdvice], weekend: Weekend, unit_system: str
) -> None:
    """Print the light of a whole event."""
    title(console, f"{weekend.event.name} at {weekend.venue.name}")
    line(console, f"all times {weekend.venue.timezone}", indent=0)
    zone = weekend.venue.zone
    print_days(console, days, zone)
    units = units_named(unit_system)
    for day in days:
        bullet(console, _day_line(day, units, zone))
    bullet(
        console,
        "fuel and light lamps and generators outdoors, "
        f"{units.length(EXHAUST_AWAY_M)} or more from people; exhaust pointing away",
    )


def print_days(console: Console, days: Sequence[LightAdvice], zone: tzinfo) -> None:
    """Print sun and twilight for each day."""
    heading(console, "Light")
    rows = [
        (
            f"{day.day:%a}",
            _clock(day.sun.civil_dawn, zone),
            _clock(day.sun.sunrise, zone),
            _clock(day.last_session_end, zone),
            _clock(day.sun.sunset, zone),
            _clock(day.sun.civil_dusk, zone),
            _clock(day.sun.nautical_dusk, zone),
        )
        for day in days
    ]
    columns = (
        ("Day", 4),
        ("Dawn", 6),
        ("Sunrise", 8),
        ("Last session ends", 18),
        ("Sunset", 7),
        ("Dusk", 6),
        ("Dark", 6),
    )
    indented(console, table(columns, rows))


def _day_line(day: LightAdvice, units: UnitSystem, zone: tzinfo) -> str:
    """What one day's light means for work, and why."""
    said = (day.decision.do, *day.decision.why)
    first, *rest = (say.render(units, zone) for say in said)
    why = "; ".join(rest)
    return f"{day.day:%a}: {first} {why[:1].upper()}{why[1:]}."


def _clock(when: datetime | None, zone: tzinfo) -> str:
    return "none" if when is None else when.astimezone(zone).strftime("%H:%M")
