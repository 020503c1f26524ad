"""Pieces that several text reports share: heads, cells, sources and cautions."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import tzinfo
from typing import TYPE_CHECKING

from rich.console import Console

from trackday.advice.assumptions import SURE_CHANCE
from trackday.report.layout import bullet, capitalized, heading, line, title
from trackday.units import UnitSystem
from trackday.wording import clock, percent

if TYPE_CHECKING:
    # A report of the light alone needs none of these, and they take their time to load.
    from trackday.advice.pressure import PressureAdvice
    from trackday.outlook.drying import DryingOutlook
    from trackday.outlook.rain import RainOutlook
    from trackday.outlook.track import TrackOutlook
    from trackday.plan import Plan
    from trackday.plan_session import SessionPlan
    from trackday.weather.sources import SourceReport

TIRE_WORDS = {
    "dry": "dry",
    "grooved": "grooved",
    "wet": "WET",
    "undecided": "UNKNOWN",
}

TOO_EARLY = "–"
"""Stands where it is too early to tell."""


def head(console: Console, plan: Plan) -> None:
    """Say what is planned, as of when, and from how much."""
    title(console, f"{plan.event_name} at {plan.venue.name}")
    when = plan.as_of.astimezone(plan.venue.zone)
    line(console, f"as of {when:%a %Y-%m-%d %H:%M}, all times {plan.venue.timezone}", indent=0)
    for status in ("stale", "failed"):
        names = [_name_and_age(source) for source in plan.sources if source.status == status]
        if names:
            line(console, f"! {status}: {', '.join(names)}", indent=0)


def tire_cell(planned: SessionPlan) -> str:
    """The tire as it looks now; "WET?" where it is right with less than `SURE_CHANCE`.

    "–" where it is too early to tell.
    """
    tire = planned.tire
    if tire.too_early:
        return TOO_EARLY
    if tire.choice == "undecided" or tire.chances[tire.choice] >= SURE_CHANCE:
        return TIRE_WORDS[tire.choice]
    return f"{TIRE_WORDS[tire.choice]}?"


def rain_cell(rain: RainOutlook) -> str:
    """Chance of rain in the window with its range: "45 % (30–60)"; no range that adds nothing.

    A range begins at 0 where the chance is "<5 %" and ends at 100 where it is ">95 %".
    """
    chance = percent(rain.chance)
    if chance == "unknown":
        return chance
    low, high = (round(bound * 20) * 5 for bound in (rain.low, rain.high))
    low, high = 0 if chance.startswith("<") else low, 100 if chance.startswith(">") else high
    return chance if high - low <= 5 else f"{chance} ({low}–{high})"


def wet_cell(planned: SessionPlan) -> str:
    """Chance of a wet track; "unknown" where most of it is not known, "–" where it is too early."""
    if planned.tire.too_early:
        return TOO_EARLY
    state = planned.outlook.track.state_chance
    if state["unknown"] > 0.5:
        return "unknown"
    return percent(state["wet"] + state["standing"])


def track_cell(track: TrackOutlook, units: UnitSystem) -> str:
    """Track temperature as its p10–p90 range."""
    return units.range("temperature", track.temp_c.p10, track.temp_c.p90)


def set_elsewhere(pressures: Iterable[PressureAdvice], units: UnitSystem) -> str:
    """How far a gauge where pressures are set is from one at the venue: "3.0 psi less".

    Empty where they are set at the venue. By the first session: the others differ by the weather.
    """
    for each in pressures:
        if each.front.at_gauge_kpa is not None and math.isfinite(each.front.at_gauge_kpa):
            off_kpa = each.front.at_gauge_kpa - each.front.cold_kpa
            display = units.display("pressure")
            how = "less" if off_kpa < 0.0 else "more"
            return f"{display.digits(abs(off_kpa))} {display.unit.symbol} {how}"
    return ""


def drying_words(drying: DryingOutlook, in_shade: DryingOutlook | None, zone: tzinfo) -> str:
    """When the track is dry again: "Dry by about 13:40 (12:50–14:30), in shade about 14:10"."""
    if drying.p50 is None:
        return "Not likely to dry in the hours after"
    first, last = ("later" if end is None else clock(end, zone) for end in (drying.p10, drying.p90))
    words = f"Dry by about {clock(drying.p50, zone)} ({first}–{last})"
    if in_shade is None:
        return words
    shade = "later" if in_shade.p50 is None else f"about {clock(in_shade.p50, zone)}"
    return f"{words}, in shade {shade}"


def cautions(console: Console, said: Iterable[str]) -> None:
    """Print the cautions as a list, each once."""
    heading(console, "Caution")
    for text in dict.fromkeys(said):
        bullet(console, capitalized(text))


def sources(console: Console, plan: Plan, units: UnitSystem) -> None:
    """Say where the numbers come from, how old they are, and what the logbook adds."""
    heading(console, "Sources")
    for say in plan.learned:
        bullet(console, f"Your logbook: {say.render(units, plan.venue.zone)}")
    for source in plan.sources:
        bullet(console, source_line(source))
    for text in plan.attribution:
        bullet(console, text)


def troubles(console: Console, plan: Plan) -> None:
    """Say what is wrong with each source that is stale or failed."""
    trouble = [source for source in plan.sources if source.status in ("stale", "failed")]
    if not trouble:
        return
    heading(console, "Sources in trouble")
    for source in trouble:
        bullet(console, source_line(source))


def source_line(source: SourceReport) -> str:
    """One source: its name, how it did, how old it is, what it said."""
    age = "" if source.age_minutes is None else f", {age_text(source.age_minutes)} old"
    return f"{source.name} ({source.role}): {source.status}{age}; {source.detail}"


def _name_and_age(source: SourceReport) -> str:
    if source.age_minutes is None or source.status == "failed":
        return source.name
    return f"{source.name} ({age_text(source.age_minutes)} old)"


def age_text(minutes: float) -> str:
    """Write an age in minutes up to two hours, then in hours."""
    return f"{minutes:.0f} min" if minutes < 120 else f"{minutes / 60:.0f} h"
