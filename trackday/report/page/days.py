"""A day's picture in every layout, and the same numbers as a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from trackday.advice.canopy import CanopyAdvice
from trackday.advice.light import LightAdvice
from trackday.outlook.course import DayCourse, Fan
from trackday.plan import Plan, SessionPlan
from trackday.report import text_parts
from trackday.report.charts.day import day_chart
from trackday.report.charts.lane_sessions import shortened
from trackday.report.charts.layout import NARROW, PAPER, WIDE
from trackday.report.charts.picture import Band, DayPicture, GustLimit, SunTimes, Thunder
from trackday.units import UnitSystem
from trackday.wording import clock, percent

LONGEST_SPOKEN = 60
"""Characters of a session's name in a picture's description (assumption: a breath)."""


@dataclass(frozen=True)
class Day:
    """One day: its heading, its picture in every layout, and the table that stands for them."""

    ident: str
    heading: str
    narrow: Markup
    wide: Markup
    paper: Markup
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def days(plan: Plan, units: UnitSystem) -> tuple[Day, ...]:
    """Draw every day that the plan has a course of."""
    return tuple(_day(course, plan, units) for course in plan.courses)


def picture(course: DayCourse, plan: Plan, units: UnitSystem) -> DayPicture:
    """Gather what one day's picture shows from the parts of the plan."""
    planned = _on(plan, course)
    light = next(day for day in plan.light if day.day == course.day)
    canopy = next((c for c in plan.canopy or () if c.day == course.day), None)
    thunder = next(day.thunder for day in plan.days if day.day == course.day)
    return DayPicture(
        course=course,
        bands=tuple(
            Band(each.session.start, each.session.end, each.session.name, each.tire.choice)
            for each in planned
        ),
        sun=_sun(light),
        thunder=Thunder(thunder.chance, thunder.likely_from, thunder.likely_to),
        limits=_limits(canopy, units),
        units=units,
        zone=plan.venue.zone,
        as_of=plan.as_of,
    )


def table(course: DayCourse, units: UnitSystem, zone: tzinfo) -> tuple[tuple[str, ...], ...]:
    """Write one row for each step of the weather: its clock, then a cell for each lane."""
    rows = []
    for place, (start, end) in enumerate(course.hours):
        at = _nearest(course.moments, end)
        rows.append(
            (
                f"{clock(start, zone)}–{clock(end, zone)}",
                percent(course.rain_chance[place]),
                _range(course.rain_mm, place, units, "rain"),
                percent(course.wet_track[at]),
                _range(course.track_temp_c, at, units, "temperature"),
                _range(course.air_temp_c, at, units, "temperature"),
                _value(course.wind_ms.p50, place, units, "speed"),
                _range(course.gust_ms, place, units, "speed"),
            )
        )
    return tuple(rows)


def table_columns(units: UnitSystem) -> tuple[str, ...]:
    """Head of the table, with the units that its cells leave out."""
    temperature, speed = units.symbol("temperature"), units.symbol("speed")
    return (
        "Time",
        "Rain chance",
        f"Rain {units.symbol('rain')}",
        "Wet track",
        f"Track {temperature}",
        f"Air {temperature}",
        f"Wind {speed}",
        f"Gust {speed}",
    )


def _day(course: DayCourse, plan: Plan, units: UnitSystem) -> Day:
    shown = picture(course, plan, units)
    heading = f"{course.day:%A} {course.day.day} {course.day:%B}"
    ident = course.day.isoformat()
    words = f"{heading}, hour by hour"
    said = _description(course, plan, units)
    narrow, wide, paper = (
        day_chart(shown, layout, ident=ident, title=words, description=said)
        for layout in (NARROW, WIDE, PAPER)
    )
    return Day(
        ident=ident,
        heading=heading,
        narrow=narrow,
        wide=wide,
        paper=paper,
        columns=table_columns(units),
        rows=table(course, units, plan.venue.zone),
    )


def _description(course: DayCourse, plan: Plan, units: UnitSystem) -> str:
    """The picture in a few words: each session's tire, rain and track."""
    zone = plan.venue.zone
    said = [
        f"{clock(each.session.start, zone)} {shortened(each.session.name, LONGEST_SPOKEN)}: "
        f"{spoken_tire(each)}, "
        f"rain {text_parts.rain_cell(each.outlook.rain)}, "
        f"track {text_parts.track_cell(each.outlook.track, units)}."
        for each in _on(plan, course)
    ]
    return " ".join([*said, "The table below has the numbers."])


def spoken_tire(planned: SessionPlan) -> str:
    """The tire as its cell has it, in words that can be read aloud."""
    if planned.tire.too_early:
        return "too early for tires"
    cell = text_parts.tire_cell(planned)
    return f"{cell.removesuffix('?')} as it looks now" if cell.endswith("?") else cell


def _on(plan: Plan, course: DayCourse) -> list[SessionPlan]:
    zone = plan.venue.zone
    return [p for p in plan.sessions if p.session.start.astimezone(zone).date() == course.day]


def _sun(light: LightAdvice) -> SunTimes:
    sun = light.sun
    return SunTimes(
        civil_dawn=sun.civil_dawn,
        sunrise=sun.sunrise,
        sunset=sun.sunset,
        civil_dusk=sun.civil_dusk,
        always_up=sun.always_up,
        always_down=sun.always_down,
    )


def _limits(canopy: CanopyAdvice | None, units: UnitSystem) -> tuple[GustLimit, ...]:
    """What the canopy stands: with the ballast there is, and at all."""
    if canopy is None:
        return ()
    return (
        GustLimit(canopy.holds_gust_ms, f"ballast holds to {units.speed(canopy.holds_gust_ms)}"),
        GustLimit(canopy.limit_gust_ms, f"canopy down above {units.speed(canopy.limit_gust_ms)}"),
    )


def _nearest(moments: Sequence[datetime], when: datetime) -> int:
    return int(np.argmin([abs((moment - when).total_seconds()) for moment in moments]))


def _range(fan: Fan, place: int, units: UnitSystem, quantity: str) -> str:
    words = units.range(quantity, float(fan.p10[place]), float(fan.p90[place]))
    return words.removesuffix(f" {units.symbol(quantity)}")


def _value(values: npt.NDArray[np.float64], place: int, units: UnitSystem, quantity: str) -> str:
    words = units.show(quantity, float(values[place]))
    return words.removesuffix(f" {units.symbol(quantity)}")
