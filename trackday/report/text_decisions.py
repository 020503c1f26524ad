"""Decisions as text: what to do in the order of need, then what needs nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, tzinfo

from rich.console import Console
from rich.table import Table
from rich.text import Text

from trackday.advice.decision import Decision, Topic
from trackday.report.text_parts import heading, line
from trackday.units import UnitSystem
from trackday.wording import day_clock, percent

SHOWN_ELSEWHERE: frozenset[Topic] = frozenset({"pressure"})
"""Topics whose every decision stands in a table of its own."""

WHEN_WIDTH = 13
"""Columns of "  Sat 11:10  "."""

NAMES: dict[Topic, str] = {
    "tires": "tires",
    "pressure": "pressures",
    "canopy": "canopy",
    "lightning": "thunder",
    "heat": "heat",
    "cold": "cold",
    "fog": "fog",
    "light": "lamps",
    "glare": "low sun",
    "ground": "soft ground",
    "tow": "the tow",
    "engine": "engine air",
    "load": "the load",
}


def to_do(decisions: Iterable[Decision]) -> list[Decision]:
    """Keep what asks for something and does not stand in a table."""
    return [
        d
        for d in decisions
        if d.urgency != "nothing" and d.topic not in SHOWN_ELSEWHERE and not _not_assessed(d)
    ]


def merged(decisions: Iterable[Decision]) -> list[Decision]:
    """Put decisions together that say the same of several sessions or days.

    The first one's time and reasons stand for all, with the least of their chances.
    """
    same: dict[tuple[Topic, str, str], list[Decision]] = {}
    for d in decisions:
        same.setdefault((d.topic, d.do.template, str(dict(d.do.values))), []).append(d)
    return [_as_one(each) for each in same.values()]


def _as_one(same: Sequence[Decision]) -> Decision:
    first = same[0]
    chances = [d.chance for d in same if d.chance is not None]
    return replace(
        first,
        about=", ".join(dict.fromkeys(d.about for d in same if d.about)),
        chance=min(chances) if chances else None,
    )


def print_to_do(
    console: Console, decisions: Sequence[Decision], units: UnitSystem, zone: tzinfo
) -> None:
    """Print each decision with its time, its odds and its reasons."""
    heading(console, "Do, in order of need")
    grid = Table.grid(padding=0)
    grid.add_column(width=WHEN_WIDTH)
    grid.add_column()
    for decision in merged(to_do(decisions)):
        when = "" if decision.by is None else day_clock(decision.by, zone)
        grid.add_row(Text(f"  {when}"), Text(do_line(decision, units, zone), style="bold"))
        why = why_line(decision, units, zone)
        if why:
            grid.add_row("", Text(why))
    console.print(grid)
    print_nothing(console, decisions)
    for decision in decisions:
        if _not_assessed(decision):
            line(console, f"Not assessed: {decision.about} ({why_line(decision, units, zone)}).")


def _not_assessed(decision: Decision) -> bool:
    """Whether the event's file does not say enough to decide."""
    return decision.topic == "tow" and decision.urgency == "unknown" and decision.by is None


def print_nothing(console: Console, decisions: Sequence[Decision]) -> None:
    """Name the topics that were looked at and ask for nothing at all."""
    asking = {d.topic for d in decisions if d.urgency != "nothing"}
    quiet = [
        NAMES[decision.topic]
        for decision in decisions
        if decision.topic not in asking | SHOWN_ELSEWHERE | {"tires"}
    ]
    if quiet:
        line(console, f"Nothing to do about: {', '.join(dict.fromkeys(quiet))}.")


def do_line(decision: Decision, units: UnitSystem, zone: tzinfo) -> str:
    """One decision: for what, what to do, how sure: "Sat Race: Run dry tires. (90 %)"."""
    said = decision.do.render(units, zone)
    about = f"{decision.about}: " if _says_more(decision, zone) else ""
    chance = decision.chance
    sure = "" if chance is None or chance != chance else f" ({percent(chance)})"
    return f"{about}{said}{sure}"


def _says_more(decision: Decision, zone: tzinfo) -> bool:
    """Whether what a decision is about is more than the day or night that its time names."""
    if not decision.about or decision.about.endswith(" night"):
        return False
    return decision.by is None or decision.about != f"{decision.by.astimezone(zone):%a}"


def why_line(decision: Decision, units: UnitSystem, zone: tzinfo) -> str:
    """The reasons of one decision in a line."""
    return "; ".join(reason.render(units, zone) for reason in decision.why)


def cautions_of(decisions: Iterable[Decision], units: UnitSystem, zone: tzinfo) -> tuple[str, ...]:
    """Give the cautions of what asks for something, each once, in their order.

    That of thunder stands among the plan's own, whatever the odds.
    """
    said = (
        decision.caution.render(units, zone)
        for decision in to_do(decisions)
        if decision.caution is not None and decision.topic != "lightning"
    )
    return tuple(dict.fromkeys(said))


def when_text(when: datetime | None, zone: tzinfo) -> str:
    """Show a moment, or nothing."""
    return "" if when is None else day_clock(when, zone)
