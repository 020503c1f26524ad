"""`trackday morning` as text: the call first, then the day, on one screen of 80 × 24."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import replace
from datetime import tzinfo

from rich.console import Console
from rich.text import Text

from trackday.advice.decision import Decision
from trackday.advice.rain_times import say_day_rain
from trackday.changes import Changes
from trackday.morning import Morning
from trackday.plan import SessionPlan
from trackday.report import text_now, text_parts
from trackday.report.text_changes import change_lines
from trackday.report.text_decisions import do_line, merged, to_do
from trackday.report.text_parts import TIRE_WORDS, bullet, indented, line, table
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
    console.print(Text(morning.call.headline.render(units, zone), style="bold"))
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
    """Print one row a session, with the pressures to set."""
    rows = [
        (
            planned.session.label,
            clock(planned.session.start, zone),
            TIRE_WORDS[planned.tire.choice],
            text_parts.wet_cell(planned.outlook.track),
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


def _setting(planned: SessionPlan, units: UnitSystem) -> str:
    """Cold pressures of both axles: "24.0 / 23.5"."""
    both = (planned.pressure.front.cold_kpa, planned.pressure.rear.cold_kpa)
    if any(kpa != kpa for kpa in both):  # NaN
        return "unknown"
    return " / ".join(units.display("pressure").digits(kpa) for kpa in both)


def _next(console: Console, morning: Morning, units: UnitSystem, room: int) -> None:
    """Print what is to be done today, as much as the screen holds, and how much more there is."""
    zone = morning.plan.venue.zone
    today = f"{morning.day:%a}"
    decisions = [
        replace(decision, about=decision.about.removeprefix(today).strip())
        for decision in to_do(morning.decisions)
    ]
    lines = [_lines(decision, units, zone, console.width) for decision in merged(decisions)]
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
    return textwrap.wrap(
        do_line(decision, units, zone),
        width,
        initial_indent=f"  {when:<{DO_INDENT - 2}}",
        subsequent_indent=" " * DO_INDENT,
    )
