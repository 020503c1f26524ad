"""What the text reports print, as lines for the page: one wording, two places."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace

from rich.console import Console

from trackday.plan import Plan
from trackday.report import text_now
from trackday.units import UnitSystem

NEVER_WRAPS = 1_000_000
"""Columns of a console that breaks no line: the page breaks its own."""


def printed(tell: Callable[[Console], None]) -> list[str]:
    """Give the lines that a part of a text report prints, without indents, dashes and marks."""
    file = io.StringIO()
    tell(Console(file=file, width=NEVER_WRAPS, markup=False, emoji=False, highlight=False))
    lines = (line.strip() for line in file.getvalue().splitlines())
    return [line.removeprefix("- ").removeprefix("! ") for line in lines if line]


def beyond_forecast(plan: Plan, units: UnitSystem) -> list[str]:
    """Say for which sessions other years stand in for a forecast, or it is too early for tires."""

    def tell(console: Console) -> None:
        text_now.print_beyond_forecast(console, plan)
        text_now.print_too_early(console, plan, units)

    return printed(tell)


def seen_now(plan: Plan, units: UnitSystem) -> list[str]:
    """Say what the racer's own readings are that the plan follows, and what a station sees.

    What it sees days before the event is no reason for anything.
    """
    today = plan.as_of.astimezone(plan.venue.zone).date()
    is_there = any(day.day == today for day in plan.days)

    def tell(console: Console) -> None:
        if is_there:
            text_now.print_observation(console, plan, units)
        text_now.print_followed(console, plan, units)

    return printed(tell)


def alerts(plan: Plan) -> list[list[str]]:
    """Give each official alert: first its event and times, then its own words."""

    def told(one: Plan) -> list[str]:
        return printed(lambda console: text_now.print_alerts(console, one))

    return [told(replace(plan, alerts=(alert,))) for alert in plan.alerts]
