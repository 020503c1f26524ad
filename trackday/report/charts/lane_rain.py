"""The lanes of rain and of the wet track: chances as columns, amounts as ranges."""

from __future__ import annotations

import math
from datetime import datetime

from markupsafe import Markup

from trackday.report.charts import lane
from trackday.report.charts.layout import Area
from trackday.report.charts.picture import DayPicture, between, in_units, unknown_steps
from trackday.report.charts.svg import box, group, line, text
from trackday.report.charts.ticks import nice_ticks
from trackday.wording import percent

Step = tuple[datetime, datetime]

SHARES = ((0.0, "0"), (0.5, "50"), (1.0, "100"))
"""Ticks of an axis of chances, in percent."""

LEAST_TOP_MM = 1.0
"""Smallest top of the axis of amounts, mm: drizzle must not look like a flood (assumption)."""

LABELED_CHANCE = 0.05
"""Chance from which the highest column is labeled: below it `percent` says "<5 %"."""


def rain_chance(picture: DayPicture, area: Area) -> Markup:
    """Draw the chance of rain in each step as a column, the highest with its number."""
    course = picture.course
    scale = area.scale(0.0, 1.0)
    columns = [
        _column(area, step, scale(share), name="rain")
        for step, share in zip(course.hours, course.rain_chance, strict=True)
        if math.isfinite(share)
    ]
    return group(
        "lane",
        lane.titled(area, "Rain chance, %"),
        lane.upright_axis(area, scale, SHARES),
        *columns,
        lane.unknown_stretches(area, unknown_steps(course.hours, course.rain_chance)),
        _peak(area, picture),
    )


def rain_amount(picture: DayPicture, area: Area) -> Markup:
    """Draw the amount of each step: its middle 80 % as a hollow column, its middle as a mark."""
    course, units = picture.course, picture.units
    unit = units.display("rain").unit
    p10, p50, p90 = (
        in_units(values, units, "rain")
        for values in (course.rain_mm.p10, course.rain_mm.p50, course.rain_mm.p90)
    )
    known = [value for value in p90 if math.isfinite(value)]
    ticks = nice_ticks(0.0, max([unit.from_si(LEAST_TOP_MM), *known]), most=2)
    scale = area.scale(0.0, ticks[-1])
    marks: list[Markup] = []
    for step, low, middle, high in zip(course.hours, p10, p50, p90, strict=True):
        if math.isfinite(high) and high > 0.0:
            marks.append(_column(area, step, scale(high), name="range", bottom=scale(low)))
            marks.append(_mark(area, step, scale(middle)))
    return group(
        "lane",
        lane.titled(area, f"Rain, {unit.symbol}", (("mark", "middle"), ("swatch", "range"))),
        lane.upright_axis(area, scale, [(value, f"{value:g}") for value in (0.0, ticks[-1])]),
        *marks,
        lane.unknown_stretches(area, unknown_steps(course.hours, course.rain_mm.p90)),
    )


def wet_track(picture: DayPicture, area: Area) -> Markup:
    """Draw the chance of a wet track at each moment as a dotted column."""
    course = picture.course
    scale = area.scale(0.0, 1.0)
    steps = between(course.moments)
    columns = [
        _column(area, step, scale(share), name="wet", gap=0.0)
        for step, share in zip(steps, course.wet_track, strict=True)
        if math.isfinite(share) and share > 0.0
    ]
    return group(
        "lane",
        lane.titled(area, "Wet track, %"),
        lane.upright_axis(area, scale, SHARES),
        *columns,
        lane.unknown_stretches(area, unknown_steps(steps, course.wet_track)),
    )


def _column(
    area: Area, step: Step, top: float, *, name: str, bottom: float | None = None, gap: float = 1.0
) -> Markup:
    left, right = area.time.clipped(step[0]), area.time.clipped(step[1])
    foot = area.bottom if bottom is None else bottom
    return box(left + gap / 2.0, top, right - left - gap, foot - top, name=name)


def _mark(area: Area, step: Step, y: float) -> Markup:
    left, right = area.time.clipped(step[0]), area.time.clipped(step[1])
    return line(left + 1.0, y, right - 1.0, y, name="mark")


def _peak(area: Area, picture: DayPicture) -> Markup:
    """Label the highest column with its chance."""
    course = picture.course
    known = [
        (share, step)
        for step, share in zip(course.hours, course.rain_chance, strict=True)
        if math.isfinite(share) and share >= LABELED_CHANCE
    ]
    if not known:
        return Markup("")
    share, (start, end) = max(known, key=lambda item: item[0])
    x = (area.time.clipped(start) + area.time.clipped(end)) / 2.0
    y = area.scale(0.0, 1.0)(share) - 4.0
    y = max(y, area.top + area.layout.font - 2.0)
    return text(x, y, percent(share), name="value halo", anchor="middle")
