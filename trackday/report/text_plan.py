"""`trackday plan` as text."""

from __future__ import annotations

import math
from datetime import tzinfo

from rich.console import Console

from trackday.advice.assumptions import SETTING_LEAD_MINUTES
from trackday.advice.pressure import AxlePressure
from trackday.plan import Plan, SessionPlan
from trackday.report import text_light, text_now, text_parts
from trackday.report.text_parts import TIRE_WORDS, bullet, heading, indented, line, table
from trackday.units import UnitSystem, units_named
from trackday.wording import day_clock, percent


def print_plan(console: Console, plan: Plan, unit_system: str) -> None:
    """Print a whole plan, what to do first in each part."""
    units, zone = units_named(unit_system), plan.venue.zone
    text_parts.head(console, plan)
    text_now.print_alerts(console, plan)
    text_now.print_beyond_forecast(console, plan)
    _tires(console, plan, units, zone)
    print_pressures(console, plan.sessions, units, zone)
    _canopy(console, plan, units, zone)
    _fog(console, plan.sessions, units, zone)
    text_light.print_days(console, plan.light, units, zone)
    _glare(console, plan.sessions, zone)
    text_parts.cautions(console, plan.cautions, units, zone)
    text_parts.sources(console, plan)


def print_sessions(
    console: Console, sessions: tuple[SessionPlan, ...], units: UnitSystem, zone: tzinfo
) -> None:
    """Print one row a session: tire, wet track, rain, track and air temperature."""
    rows = [
        (
            planned.session.label,
            day_clock(planned.session.start, zone),
            TIRE_WORDS[planned.tire.choice],
            text_parts.wet_cell(planned.outlook.track),
            text_parts.rain_cell(planned.outlook.rain),
            text_parts.track_cell(planned.outlook.track, units),
            units.temperature(planned.outlook.air.temp_c.p50),
        )
        for planned in sessions
    ]
    columns = (
        ("Session", 12),
        ("Start", 9),
        ("Tire", 7),
        ("Wet track", 9),
        ("Rain", 12),
        ("Track", 9),
        ("Air", 5),
    )
    indented(console, table(columns, rows))
    usual = [p for p in sessions if math.isfinite(p.outlook.rain.usual)]
    if usual:
        each = ", ".join(f"{p.session.label} {percent(p.outlook.rain.usual)}" for p in usual)
        line(console, f"Usual rain on these dates, by other years: {each}.")


def print_pressures(
    console: Console, sessions: tuple[SessionPlan, ...], units: UnitSystem, zone: tzinfo
) -> None:
    """Print cold pressures per axle: setting, change from the last good one, range."""
    heading(console, "Cold pressures")
    line(console, _how_to_set(sessions))
    rows = [
        (
            planned.session.label,
            *_axle_cells(planned.pressure.front, units),
            *_axle_cells(planned.pressure.rear, units),
        )
        for planned in sessions
    ]
    symbol = units.symbol("pressure")
    columns = (
        ("Session", 12),
        (f"Front {symbol}", 9),
        ("change", 6),
        ("range", 10),
        (f"Rear {symbol}", 9),
        ("change", 6),
        ("range", 10),
    )
    indented(console, table(columns, rows))
    for text in _shared_reasons(sessions, units, zone):
        bullet(console, text)


def _how_to_set(sessions: tuple[SessionPlan, ...]) -> str:
    """What the numbers of the pressure table mean."""
    setting = f"Set about {SETTING_LEAD_MINUTES} minutes before each session, at the venue."
    if sessions[0].pressure.front.offset_kpa is None:
        return setting
    return f"{setting} Change is from your last good setting."


def _tires(console: Console, plan: Plan, units: UnitSystem, zone: tzinfo) -> None:
    heading(console, "Tires")
    line(console, plan.take_along.render(units, zone))
    print_sessions(console, plan.sessions, units, zone)
    for planned in plan.sessions:
        if planned.tire.choice != "dry":
            bullet(console, text_parts.tire_line(planned, units, zone))


def _axle_cells(axle: AxlePressure, units: UnitSystem) -> tuple[str, str, str]:
    if axle.cold_kpa != axle.cold_kpa:  # NaN
        return "unknown", "", ""
    pressure, change = units.display("pressure"), units.display("pressure_difference")
    return (
        pressure.digits(axle.cold_kpa),
        "" if axle.offset_kpa is None else change.digits(axle.offset_kpa),
        f"{pressure.digits(axle.low_kpa)}–{pressure.digits(axle.high_kpa)}",
    )


def _shared_reasons(
    sessions: tuple[SessionPlan, ...], units: UnitSystem, zone: tzinfo
) -> list[str]:
    """Each pressure reason once, with the sessions it is true for when not for all."""
    told: dict[str, list[str]] = {}
    for planned in sessions:
        for reason in planned.pressure.reasons:
            told.setdefault(reason.render(units, zone), []).append(planned.session.label)
    return [
        text if len(names) == len(sessions) else f"{', '.join(names)}: {text}"
        for text, names in told.items()
    ]


def _canopy(console: Console, plan: Plan, units: UnitSystem, zone: tzinfo) -> None:
    if plan.canopy is None:
        return
    heading(console, "Canopy")
    for day in plan.canopy:
        bullet(console, text_parts.canopy_line(day, units, zone))


def _fog(
    console: Console, sessions: tuple[SessionPlan, ...], units: UnitSystem, zone: tzinfo
) -> None:
    glass = sessions[0].fog.glass
    heading(console, f"Fog on the {glass}")
    foggy = [planned for planned in sessions if planned.fog.prepare]
    if not foggy:
        line(console, "Not expected; keep a dry cloth in reach.")
        return
    names = ", ".join(f"{p.session.label} ({percent(p.fog.chance)})" for p in foggy)
    line(console, f"Prepare for: {names}.")
    worst = max(foggy, key=lambda p: (p.fog.chance != p.fog.chance, p.fog.chance))
    for reason in worst.fog.reasons:
        bullet(console, reason.render(units, zone))


def _glare(console: Console, sessions: tuple[SessionPlan, ...], zone: tzinfo) -> None:
    rows = [
        f"{planned.session.label}: low sun ahead on heading {glare.heading_deg:.0f}° from "
        f"{day_clock(glare.start, zone)} to {glare.end.astimezone(zone):%H:%M}"
        for planned in sessions
        for glare in planned.glare
    ]
    if not rows:
        return
    heading(console, "Sun in the eyes")
    for row in rows:
        bullet(console, row)
