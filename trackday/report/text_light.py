"""`trackday light` as text."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, tzinfo

from rich.console import Console

from trackday.advice.light import LightAdvice
from trackday.report.text_parts import bullet, heading, indented, line, table, title
from trackday.units import UnitSystem, units_named
from trackday.weekend.reading import Weekend


def print_light(
    console: Console, days: Sequence[LightAdvice], weekend: Weekend, unit_system: str
) -> None:
    """Print the light of a whole event."""
    title(console, f"{weekend.event.name} at {weekend.venue.name}")
    line(console, f"all times {weekend.venue.timezone}", indent=0)
    print_days(console, days, units_named(unit_system), weekend.venue.zone)
    bullet(
        console,
        "fuel and light lamps and generators outdoors, 20 ft or more from people; "
        "exhaust pointing away",
    )


def print_days(
    console: Console, days: Sequence[LightAdvice], units: UnitSystem, zone: tzinfo
) -> None:
    """Print sun and twilight for each day, then what they mean for work."""
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
    for day in days:
        usable = "" if day.usable_minutes is None else _usable(day.usable_minutes)
        reasons = "; ".join(reason.render(units, zone) for reason in day.reasons)
        bullet(console, f"{day.day:%a}: {usable}{reasons}.")


def _usable(minutes: float) -> str:
    if minutes <= 0:
        return ""
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d} min of usable light after the last session; "


def _clock(when: datetime | None, zone: tzinfo) -> str:
    return "none" if when is None else when.astimezone(zone).strftime("%H:%M")
