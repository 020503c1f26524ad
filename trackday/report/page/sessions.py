"""One card a session: its tire, its numbers, and what else it asks for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import tzinfo

from markupsafe import Markup

from trackday.outlook.track import STATES
from trackday.plan import Plan, SessionPlan
from trackday.report import text_parts
from trackday.report.charts.state_bar import state_bar
from trackday.report.charts.tire_shape import tire_icon
from trackday.report.page.decisions import Shown, show
from trackday.units import UnitSystem
from trackday.wording import clock, percent


@dataclass(frozen=True)
class Card:
    """One session in words; `others` are its decisions but those on tires and pressures.

    `states` and `state_words` are empty where it is too early to tell wet from dry.
    """

    name: str
    day: str
    start: str
    end: str
    icon: Markup
    tire: str
    decision: Shown
    runner_up: str
    drying: str
    states: Markup
    state_words: str
    wet: str
    rain: str
    track: str
    numbers: tuple[tuple[str, str], ...]
    others: tuple[Shown, ...]
    by_other_years: bool


@dataclass(frozen=True)
class Pressure:
    """One session's row to copy onto tape; the numbers are without their unit."""

    name: str
    set_at: str
    front: str
    rear: str
    front_change: str
    rear_change: str
    front_range: str
    rear_range: str
    decision: Shown


def cards(plan: Plan, units: UnitSystem) -> tuple[Card, ...]:
    """Make every session's card, in the order of their start."""
    return tuple(_card(planned, plan, units) for planned in plan.sessions)


def pressures(plan: Plan, units: UnitSystem) -> tuple[Pressure, ...]:
    """Make every session's row of pressures."""
    return tuple(_pressure(planned, units, plan.venue.zone) for planned in plan.sessions)


def at_gauge(plan: Plan) -> bool:
    """Tell whether pressures are as a gauge shows them elsewhere than at the venue."""
    return any(planned.pressure.front.at_gauge_kpa is not None for planned in plan.sessions)


def _card(planned: SessionPlan, plan: Plan, units: UnitSystem) -> Card:
    zone, session, outlook, tire = plan.venue.zone, planned.session, planned.outlook, planned.tire
    drying = None if tire.choice == "dry" or tire.too_early else outlook.drying
    return Card(
        name=session.label,
        day=f"{session.start.astimezone(zone):%a}",
        start=clock(session.start, zone),
        end=clock(session.end, zone),
        icon=tire_icon(tire.choice),
        tire=text_parts.tire_cell(planned),
        decision=show(tire.decision, units=units, zone=zone),
        runner_up=tire.runner_up or "",
        drying=""
        if drying is None
        else text_parts.drying_words(drying, outlook.drying_in_shade, zone),
        states=Markup("") if tire.too_early else state_bar(outlook.track.state_chance),
        state_words="" if tire.too_early else _state_words(planned),
        wet=text_parts.wet_cell(planned),
        rain=text_parts.rain_cell(outlook.rain),
        track=text_parts.track_cell(outlook.track, units),
        numbers=_numbers(planned, units),
        others=tuple(
            show(decision, units=units, zone=zone)
            for decision in planned.decisions
            if decision.topic not in ("tires", "pressure") and decision.urgency != "nothing"
        ),
        by_other_years=planned in plan.beyond_forecast,
    )


def _numbers(planned: SessionPlan, units: UnitSystem) -> tuple[tuple[str, str], ...]:
    """What the session is expected to bring, as the text reports' cells say it."""
    outlook = planned.outlook
    rain, air = outlook.rain, outlook.air
    said = [
        ("Wet track", text_parts.wet_cell(planned)),
        ("Rain", text_parts.rain_cell(rain)),
        ("Usual rain", percent(rain.usual) if math.isfinite(rain.usual) else ""),
        ("Track", text_parts.track_cell(outlook.track, units)),
        ("Air", units.temperature(air.temp_c.p50)),
        ("Gusts", units.range("speed", air.gust_ms.p10, air.gust_ms.p90)),
        ("Thunder", percent(planned.thunder.chance)),
    ]
    return tuple((name, words) for name, words in said if words)


def _state_words(planned: SessionPlan) -> str:
    """The bar of the track's states in words, without those that have no share."""
    chance = planned.outlook.track.state_chance
    return ", ".join(f"{state} {percent(chance[state])}" for state in STATES if chance[state] > 0.0)


def _pressure(planned: SessionPlan, units: UnitSystem, zone: tzinfo) -> Pressure:
    display, change = units.display("pressure"), units.display("pressure_difference")
    decision = planned.pressure.decision
    cells: dict[str, str] = {}
    for name in ("front", "rear"):
        axle = getattr(planned.pressure, name)
        shown_kpa = axle.to_set_kpa
        known = math.isfinite(shown_kpa)
        cells[name] = display.digits(shown_kpa) if known else "unknown"
        cells[f"{name}_change"] = (
            change.digits(axle.offset_kpa) if known and axle.offset_kpa is not None else ""
        )
        # The range is that at the venue: beside a gauge read elsewhere it would mislead.
        cells[f"{name}_range"] = (
            f"{display.digits(axle.low_kpa)}–{display.digits(axle.high_kpa)}"
            if known and axle.at_gauge_kpa is None
            else ""
        )
    return Pressure(
        name=planned.session.label,
        set_at="" if decision.by is None else clock(decision.by, zone),
        decision=show(decision, units=units, zone=zone),
        **cells,
    )
