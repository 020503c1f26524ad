"""Decisions as text: what to do in order of time, then what needs nothing."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta, tzinfo
from types import MappingProxyType

from rich.console import Console
from rich.table import Table
from rich.text import Text

from trackday.advice.decision import Decision, Topic
from trackday.report.layout import capitalized, heading, line, text_width, wrapped
from trackday.units import UnitSystem
from trackday.wording import Say, clock, day_clock, percent

SHOWN_ELSEWHERE: frozenset[Topic] = frozenset({"pressure"})
"""Topics whose every decision stands in a table of its own."""

WHEN_WIDTH = 13
"""Columns of "  Sat 11:10  "."""

WEEK = timedelta(days=7)
"""From so far ahead on, the name of a day may be meant for another week's."""

DRIVER = " driver"
"""End of what a decision is about that is the driver's on one day."""

NAMES: dict[Topic, str] = {
    "tires": "tires",
    "pressure": "pressures",
    "canopy": "canopy",
    "lightning": "thunder",
    "heat": "heat",
    "cold": "cold",
    "frost": "frost",
    "fog": "fog",
    "light": "lamps",
    "glare": "low sun",
    "ground": "soft ground",
    "tow": "the tow",
    "engine": "engine air",
    "load": "the load",
}

CHANCE_OF: Mapping[Topic, str] = MappingProxyType(
    {
        "tires": "right",
        "pressure": "right",
        "canopy": "needed",
        "lightning": "thunder",
        "heat": "that hot",
        "cold": "that cold",
        "frost": "risk",
        "fog": "fog",
        "light": "needed",
        "glare": "glare",
        "ground": "that soft",
        "tow": "risk",
        "engine": "right",
        "load": "nothing missed",
    }
)
"""What the chance of a decision that asks for something is the chance of."""

HOPED_FOR = frozenset({"right", "nothing missed"})
"""Chances of which the least is the careful one; of all others it is the greatest."""


def to_do(decisions: Iterable[Decision], *, as_of: datetime | None = None) -> list[Decision]:
    """Keep what asks for something and does not stand in a table, nor is about a dark now past."""
    return [
        d
        for d in decisions
        if d.urgency != "nothing"
        and d.topic not in SHOWN_ELSEWHERE
        and not _not_assessed(d)
        and not _light_is_over(d, as_of)
    ]


def _light_is_over(decision: Decision, as_of: datetime | None) -> bool:
    if decision.topic != "light" or decision.until is None or as_of is None:
        return False
    return decision.until <= as_of


def merged(decisions: Iterable[Decision], *, labels: Sequence[str] = ()) -> list[Decision]:
    """Put decisions together that say the same of several sessions or days.

    The first one's time and reasons stand for all, with the careful one of their chances. What
    holds for all `labels`, the sessions that are left, is said of every session.
    """
    same: dict[tuple[Topic, str, str], list[Decision]] = {}
    for d in decisions:
        values = {k: v for k, v in d.do.values.items() if d.topic != "engine"}
        same.setdefault((d.topic, d.do.template, str(values)), []).append(d)
    return [_as_one(each, labels) for each in same.values()]


def without_day(decisions: Iterable[Decision], day: str) -> list[Decision]:
    """Leave out the name of the day where there is only one: "Sat driver" is the driver."""
    return [replace(d, about=d.about.removeprefix(day).strip()) for d in decisions]


def _as_one(same: Sequence[Decision], labels: Sequence[str]) -> Decision:
    first = same[0]
    about = list(dict.fromkeys(d.about for d in same if d.about))
    return replace(
        first,
        do=_spanning([d.do for d in same]),
        about=_together(about, labels),
        chance=_careful([d.chance for d in same if d.chance is not None], first.topic),
    )


def _careful(chances: Sequence[float], topic: Topic) -> float | None:
    """Pick one chance that stands for several; NaN where one is unknown, None without any."""
    if not chances or any(map(math.isnan, chances)):
        return math.nan if chances else None
    return min(chances) if CHANCE_OF[topic] in HOPED_FOR else max(chances)


def _together(about: Sequence[str], labels: Sequence[str]) -> str:
    """Name what several decisions are about, briefly."""
    if len(labels) > 1 and set(labels) == set(about):
        return "Every session"
    if len(about) > 1 and all(name.endswith(DRIVER) for name in about):
        return f"Driver {', '.join(name.removesuffix(DRIVER) for name in about)}"
    return ", ".join(about)


def _spanning(same: Sequence[Say]) -> Say:
    """One sentence for several that differ in whole numbers only: "26–27 %"."""
    values = dict(same[0].values)
    for name, value in values.items():
        numbers = sorted(v for say in same if isinstance(v := say.values[name], int))
        if isinstance(value, int) and numbers[0] < numbers[-1]:
            values[name] = f"{numbers[0]}–{numbers[-1]}"
    return Say(same[0].template, values)


def print_to_do(
    console: Console,
    decisions: Sequence[Decision],
    units: UnitSystem,
    zone: tzinfo,
    *,
    as_of: datetime,
    labels: Sequence[str] = (),
) -> None:
    """Print each decision with its time, its chance and its reasons, no reason twice."""
    heading(console, "To do, in order of time")
    listed = merged(to_do(decisions, as_of=as_of), labels=labels)
    whens = [when_text(decision.by, zone, as_of=as_of) for decision in listed]
    first_width = max([WHEN_WIDTH, *(len(when) + 4 for when in whens)])
    width = text_width(console) - first_width
    grid = Table.grid(padding=0)
    grid.add_column(width=first_width)
    grid.add_column()
    told: set[str] = set()
    for decision, when in zip(listed, whens, strict=True):
        said = wrapped(do_line(decision, units, zone), width)
        grid.add_row(Text(f"  {when}"), Text(said, style="bold"))
        why = [reason for reason in _reasons(decision, units, zone) if reason not in told]
        told.update(why)
        if why:
            grid.add_row("", Text(wrapped("; ".join(why), width)))
    console.print(grid, width=text_width(console))
    print_nothing(console, decisions)
    for decision in decisions:
        if _not_assessed(decision):
            why_not = "; ".join(_reasons(decision, units, zone))
            line(console, f"Not assessed: {decision.about} ({why_not}).")


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
    """One decision beside its time: for what, what to do, how sure of what.

    "Race: Put wet tires on. (right: 90 %)".
    """
    said = _without_time(decision.do.render(units, zone), decision.by, zone)
    about = f"{decision.about}: " if _says_more(decision, zone) else ""
    chance = decision.chance
    line_said = capitalized(f"{about}{said}")
    if chance is None or math.isnan(chance):
        return line_said
    return f"{line_said} ({chance_of(decision)}: {percent(chance)})"


def chance_of(decision: Decision) -> str:
    """Name what a decision's chance is the chance of."""
    if decision.urgency == "nothing":
        return "right"
    return decision.chance_of or CHANCE_OF[decision.topic]


def _without_time(said: str, by: datetime | None, zone: tzinfo) -> str:
    """Leave out "by 10:00" where 10:00 stands in front of the line."""
    if by is None:
        return said
    return re.sub(rf"(,? start|,)? by {clock(by, zone)}(?=[ .,;:])", "", said, count=1)


def _says_more(decision: Decision, zone: tzinfo) -> bool:
    """Whether what a decision is about is more than the day or night that its time names."""
    if not decision.about or decision.about.endswith("night"):
        return False
    return decision.by is None or decision.about != f"{decision.by.astimezone(zone):%a}"


def _reasons(decision: Decision, units: UnitSystem, zone: tzinfo) -> list[str]:
    return [reason.render(units, zone) for reason in decision.why]


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


def when_text(when: datetime | None, zone: tzinfo, *, as_of: datetime | None = None) -> str:
    """Show a moment, or nothing: "Sat 14:10", with the date where `as_of` is a week before it."""
    if when is None:
        return ""
    if as_of is None or when.astimezone(zone).date() - as_of.astimezone(zone).date() < WEEK:
        return day_clock(when, zone)
    local = when.astimezone(zone)
    return f"{local:%a %b} {local.day} {local:%H:%M}"
