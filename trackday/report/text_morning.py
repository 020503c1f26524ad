"""`trackday morning` as text: the call first, then the day, on one screen of 80 × 24."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import tzinfo

from rich.console import Console
from rich.text import Text

from trackday.advice.decision import Decision
from trackday.advice.rain_times import say_day_rain
from trackday.changes import Changes
from trackday.morning import Morning
from trackday.plan import SessionPlan
from trackday.report import text_now, text_parts
from trackday.report.layout import bullet, indented, line, table, text_width, title, wrapped
from trackday.report.text_changes import change_lines
from trackday.report.text_decisions import do_line, merged, to_do, without_day
from trackday.units import UnitSystem, units_named
from trackday.wording import clock

SCREEN_LINES = 24
DO_INDENT = 9
"""Columns before what is to be done: "  06:10  "."""

KEPT_LINES = 3
"""Lines at the end: an empty one, the caution, and the prompt of the shell."""

LEAST_SHOWN = 3
"""Decisions that are shown however full the screen is."""


def print_morning(
    console: Console, morning: Morning, unit_system: str, *, changes: Changes | None = None
) -> None:
    """Print the answer, why, and what else the day needs, soonest first."""
    units = units_named(unit_system)
    with console.capture() as captured:
        _call(console, morning, units, changes)
        _sessions(console, morning.sessions, units, morning.plan.venue.zone)
    top = captured.get()
    console.out(top, end="", highlight=False)
    room = SCREEN_LINES - KEPT_LINES - len(top.splitlines())
    _next(console, morning, units, room)
    caution = morning.plan.cautions[0].render(units, morning.plan.venue.zone)
    line(console, caution, indent=0)


def _call(console: Console, morning: Morning, units: UnitSystem, changes: Changes | None) -> None:
    plan, zone = morning.plan, morning.plan.venue.zone
    text_parts.head(console, plan)
    text_now.print_alerts(console, plan)
    text_now.print_beyond_forecast(console, plan)
    text_now.print_too_early(console, plan, units)
    title(console, morning.call.headline.render(units, zone))
    for reason in morning.call.reasons:
        bullet(console, reason.render(units, zone))
    for text in change_lines(changes, zone):
        bullet(console, text)
    if plan.as_of.astimezone(zone).date() == morning.day:
        text_now.print_observation(console, plan, units)
    text_now.print_followed(console, plan, units)
    if morning.rain is not None:
        line(console, " ".join(say.render(units, zone) for say in say_day_rain(morning.rain)))


def _sessions(
    console: Console, sessions: Sequence[SessionPlan], units: UnitSystem, zone: tzinfo
) -> None:
    """Print one row a session, with the pressures to set, and where where it is not here."""
    rows = [
        (
            planned.session.label,
            clock(planned.session.start, zone),
            text_parts.tire_cell(planned),
            text_parts.wet_cell(planned),
            text_parts.rain_cell(planned.outlook.rain),
            text_parts.track_cell(planned.outlook.track, units),
            _setting(planned, units),
        )
        for planned in sessions
    ]
    columns = (
        ("Session", 14),
        ("Start", 5),
        ("Tire", 7),
        ("Wet", 7),
        ("Rain", 12),
        ("Track", 8),
        (f"F / R {units.symbol('pressure')}", 11),
    )
    indented(console, table(columns, rows))
    off = text_parts.set_elsewhere((planned.pressure for planned in sessions), units)
    if off:
        line(console, f"Pressures as your gauge shows where you set them: {off} than here.")


def _setting(planned: SessionPlan, units: UnitSystem) -> str:
    """Cold pressures to set on both axles: "24.0 / 23.5"."""
    axles = (planned.pressure.front, planned.pressure.rear)
    both = [axle.to_set_kpa for axle in axles]
    if not all(map(math.isfinite, both)):
        return "unknown"
    return " / ".join(units.display("pressure").digits(kpa) for kpa in both)


def _next(console: Console, morning: Morning, units: UnitSystem, room: int) -> None:
    """Print what is to be done today, as much as the screen holds, and how much more there is."""
    zone = morning.plan.venue.zone
    today = f"{morning.day:%a}"
    ahead = [p.session.label for p in morning.sessions if p.session.end > morning.plan.as_of]
    decisions = merged(
        without_day(to_do(morning.decisions, as_of=morning.plan.as_of), today),
        labels=[label.removeprefix(today).strip() for label in ahead],
    )
    lines = [_lines(decision, units, zone, text_width(console)) for decision in decisions]
    shown, used = 0, 0
    while shown < len(lines) and (
        shown < LEAST_SHOWN or used + len(lines[shown]) + (shown + 1 < len(lines)) <= room
    ):
        used += len(lines[shown])
        shown += 1
    for each in lines[:shown]:
        for text in each:
            console.print(Text(text))
    if shown < len(lines):
        line(console, f"and {len(lines) - shown} more: trackday plan")


def _lines(decision: Decision, units: UnitSystem, zone: tzinfo, width: int) -> list[str]:
    when = "" if decision.by is None else clock(decision.by, zone)
    said = wrapped(do_line(decision, units, zone), width - DO_INDENT).splitlines()
    fronts = [f"  {when}", *[""] * (len(said) - 1)]
    return [f"{front:<{DO_INDENT}}{part}" for front, part in zip(fronts, said, strict=True)]
