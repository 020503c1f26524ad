"""`trackday morning` as text: the call first, then the day's sessions."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from trackday.morning import Morning
from trackday.report import text_now, text_parts
from trackday.report.text_parts import bullet, line
from trackday.report.text_plan import print_pressures, print_sessions
from trackday.units import units_named
from trackday.wording import percent


def print_morning(console: Console, morning: Morning, unit_system: str) -> None:
    """Print the answer, why, and what else the day needs."""
    plan = morning.plan
    units, zone = units_named(unit_system), plan.venue.zone
    text_parts.head(console, plan)
    text_now.print_alerts(console, plan)
    text_now.print_beyond_forecast(console, plan)
    console.print()
    console.print(Text(morning.call.headline.render(units, zone), style="bold"))
    for reason in morning.call.reasons:
        bullet(console, reason.render(units, zone))
    if plan.as_of.astimezone(zone).date() == morning.day:
        text_now.print_observation(console, plan, units)
    text_now.print_followed(console, plan, units)
    console.print()
    print_sessions(console, morning.sessions, units, zone)
    print_pressures(console, morning.sessions, units, zone)
    text_parts.heading(console, "Before the first session")
    if morning.canopy is not None:
        bullet(console, "Canopy " + text_parts.canopy_line(morning.canopy, units, zone))
    bullet(console, _fog(morning))
    text_parts.troubles(console, plan)
    console.print()
    line(console, plan.cautions[0].render(units, zone), indent=0)


def _fog(morning: Morning) -> str:
    foggy = [planned for planned in morning.sessions if planned.fog.prepare]
    glass = morning.sessions[0].fog.glass
    if not foggy:
        return f"Fog on the {glass} is not expected; keep a dry cloth in reach."
    names = ", ".join(f"{p.session.label} ({percent(p.fog.chance)})" for p in foggy)
    return f"Anti-fog on the {glass} for {names}."
