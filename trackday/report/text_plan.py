"""`trackday plan` as text."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import tzinfo

from rich.console import Console

from trackday.advice.pressure import AxlePressure
from trackday.advice.rain_times import say_day_rain
from trackday.changes import Changes
from trackday.plan import Plan, SessionPlan
from trackday.report import text_light, text_now, text_parts, text_visit
from trackday.report.layout import bullet, capitalized, heading, indented, line, table
from trackday.report.text_canopy import print_gust_table
from trackday.report.text_changes import print_changes
from trackday.report.text_decisions import cautions_of, print_to_do, when_text, without_day
from trackday.units import UnitSystem, units_named
from trackday.wording import Quantity, Say, day_clock, percent


def print_plan(
    console: Console, plan: Plan, unit_system: str, *, changes: Changes | None = None
) -> None:
    """Print a whole plan: what changed, what to do, and the numbers behind it."""
    units, zone = units_named(unit_system), plan.venue.zone
    text_parts.head(console, plan)
    text_now.print_alerts(console, plan)
    text_now.print_beyond_forecast(console, plan)
    text_now.print_too_early(console, plan, units)
    print_changes(console, changes, zone)
    text_visit.print_last_visit(console, plan.last_visit, units)
    _sessions(console, plan, units, zone)
    decisions, labels = plan.decisions, [p.session.label for p in plan.sessions]
    if len(plan.days) == 1:
        day = f"{plan.days[0].day:%a}"
        decisions = tuple(without_day(decisions, day))
        labels = [label.removeprefix(day).strip() for label in labels]
    print_to_do(console, decisions, units, zone, as_of=plan.as_of, labels=labels)
    print_pressures(console, plan.sessions, units, zone)
    print_gust_table(console, plan.gust_table, units)
    text_light.print_days(console, plan.light, zone)
    said = [say.render(units, zone) for say in plan.cautions]
    text_parts.cautions(console, (*said, *cautions_of(plan.decisions, units, zone)))
    text_parts.sources(console, plan, units)


def print_sessions(
    console: Console, sessions: Sequence[SessionPlan], units: UnitSystem, zone: tzinfo
) -> None:
    """Print one row a session: tire, wet track, rain, thunder, track temperature."""
    rows = [
        (
            planned.session.label,
            day_clock(planned.session.start, zone),
            text_parts.tire_cell(planned),
            text_parts.wet_cell(planned),
            text_parts.rain_cell(planned.outlook.rain),
            percent(planned.thunder.chance),
            text_parts.track_cell(planned.outlook.track, units),
        )
        for planned in sessions
    ]
    columns = (
        ("Session", 12),
        ("Start", 9),
        ("Tire", 7),
        ("Wet", 7),
        ("Rain", 12),
        ("Thunder", 7),
        ("Track", 8),
    )
    indented(console, table(columns, rows))


def print_pressures(
    console: Console, sessions: Sequence[SessionPlan], units: UnitSystem, zone: tzinfo
) -> None:
    """Print cold pressures per axle: when to set them, setting, change, range."""
    heading(console, "Cold pressures")
    line(console, _how_to_set(sessions, units))
    rows = [
        (
            planned.session.label,
            when_text(planned.pressure.decision.by, zone),
            *_axle_cells(planned.pressure.front, units),
            *_axle_cells(planned.pressure.rear, units),
        )
        for planned in sessions
    ]
    symbol = units.symbol("pressure")
    columns = (
        ("Session", 12),
        ("Set at", 9),
        (f"F {symbol}", 5),
        ("change", 6),
        ("range", 5),
        (f"R {symbol}", 5),
        ("change", 6),
        ("range", 5),
    )
    indented(console, table(columns, rows))
    for text in _reasons(sessions, units, zone):
        bullet(console, capitalized(text))


def _sessions(console: Console, plan: Plan, units: UnitSystem, zone: tzinfo) -> None:
    """Print the table of sessions and when it rains."""
    heading(console, "Sessions")
    print_sessions(console, plan.sessions, units, zone)
    for day in plan.days:
        if day.rain is not None:
            words = " ".join(say.render(units, zone) for say in say_day_rain(day.rain))
            line(console, f"{day.day:%a}  {words}" if len(plan.days) > 1 else words)
    usual = [p for p in plan.sessions if math.isfinite(p.outlook.rain.usual)]
    if usual:
        each = ", ".join(f"{p.session.label} {percent(p.outlook.rain.usual)}" for p in usual)
        line(console, f"Usual rain on these dates, by other years: {each}.")
    drying: dict[str, list[str]] = {}
    for planned in plan.sessions:
        if planned.outlook.drying is not None and not planned.tire.too_early:
            words = text_parts.drying_words(
                planned.outlook.drying, planned.outlook.drying_in_shade, zone
            )
            drying.setdefault(words[:1].lower() + words[1:], []).append(planned.session.label)
    for words, names in drying.items():
        line(console, f"{', '.join(names)}: {words}.")


def _how_to_set(sessions: Sequence[SessionPlan], units: UnitSystem) -> str:
    """What the numbers of the pressure table mean."""
    off = text_parts.set_elsewhere((planned.pressure for planned in sessions), units)
    where = (
        f"As your gauge shows where you set them, {off} than at the venue;"
        if off
        else "At the venue,"
    )
    setting = f"{where} tires cold: not driven for an hour, in the shade. F front, R rear."
    if sessions[0].pressure.front.offset_kpa is None:
        return setting
    return f"{setting} Change: from your last good setting."


def _axle_cells(axle: AxlePressure, units: UnitSystem) -> tuple[str, str, str]:
    """What to set, the change, and the range; no range beside a gauge that is read elsewhere."""
    if not math.isfinite(axle.cold_kpa):
        return "unknown", "", ""
    pressure, change = units.display("pressure"), units.display("pressure_difference")
    at_venue = f"{pressure.digits(axle.low_kpa)}–{pressure.digits(axle.high_kpa)}"
    return (
        pressure.digits(axle.to_set_kpa),
        "" if axle.offset_kpa is None else change.digits(axle.offset_kpa),
        at_venue if axle.at_gauge_kpa is None else "",
    )


def _reasons(sessions: Sequence[SessionPlan], units: UnitSystem, zone: tzinfo) -> Iterator[str]:
    """What is different from the last good setting, then every other reason once."""
    against = [
        f"{planned.session.label} {planned.pressure.against.render(units, zone)}"
        for planned in sessions
        if planned.pressure.against is not None
    ]
    if against:
        yield f"against your last good setting: {'; '.join(against)}"
    told: dict[str, list[tuple[str, Say]]] = {}
    for planned in sessions:
        skipped = 0 if planned.pressure.against is None else 1
        for reason in planned.pressure.reasons[skipped:]:
            told.setdefault(reason.template, []).append((planned.session.label, reason))
    for each in told.values():
        strongest = max((say for _, say in each), key=_size)
        names = ", ".join(name for name, _ in each)
        text = strongest.render(units, zone)
        yield text if len(each) == len(sessions) else f"{names}: {text}"


def _size(say: Say) -> float:
    """The first number of a sentence, to tell the strongest of several that differ in it alone."""
    numbers = (value.value for value in say.values.values() if isinstance(value, Quantity))
    return next(numbers, 0.0)
