"""The lane of temperatures: track and air, each with the range that holds 80 % of the forecasts."""

from __future__ import annotations

import math

import numpy as np
from markupsafe import Markup

from trackday.outlook.course import Fan
from trackday.report.charts import lane
from trackday.report.charts.layout import Area
from trackday.report.charts.paths import band_path, line_path
from trackday.report.charts.picture import DayPicture, between, in_units, unknown_steps
from trackday.report.charts.svg import group
from trackday.report.charts.ticks import nice_ticks

LEAST_SPAN_C = 10.0
"""Smallest span of the axis, °C: a steady day must look steady (assumption)."""

Lines = tuple[list[float], list[float], list[float]]


def temperatures(picture: DayPicture, area: Area) -> Markup:
    """Draw track and air as a fan (p10–p90) and its middle line each."""
    course, units = picture.course, picture.units
    track, air = (_lines(fan, picture) for fan in (course.track_temp_c, course.air_temp_c))
    ticks = _ticks([*track, *air], picture)
    scale = area.scale(ticks[0], ticks[-1])
    xs = [area.time(moment) for moment in course.moments]

    def fan(lines: Lines, name: str) -> Markup:
        low, middle, high = ([scale(value) for value in line] for line in lines)
        return group(
            name,
            lane.path(band_path(xs, low, high), name="fan"),
            lane.path(line_path(xs, middle), name="middle"),
        )

    steps = between(course.moments)
    unknown = unknown_steps(steps, course.track_temp_c.p50)
    words = "unknown" if np.isnan(course.air_temp_c.p50).all() else "track unknown"
    return group(
        "lane",
        lane.titled(
            area,
            f"Temperature, {units.symbol('temperature')}",
            (("key-track", "track"), ("key-air", "air")),
        ),
        lane.upright_axis(area, scale, [(value, f"{value:g}") for value in ticks]),
        lane.unknown_stretches(area, unknown, words=words, height=0.75),
        fan(air, "air"),
        fan(track, "track"),
    )


def _lines(fan: Fan, picture: DayPicture) -> Lines:
    p10, p50, p90 = (
        in_units(values, picture.units, "temperature") for values in (fan.p10, fan.p50, fan.p90)
    )
    return p10, p50, p90


def _ticks(lines: list[list[float]], picture: DayPicture) -> list[float]:
    """Ticks that hold all known values; around 20 °C where none is known."""
    unit = picture.units.display("temperature").unit
    known = [value for line in lines for value in line if math.isfinite(value)]
    low, high = (min(known), max(known)) if known else (unit.from_si(15.0), unit.from_si(25.0))
    least = unit.from_si(LEAST_SPAN_C) - unit.from_si(0.0)
    missing = max(0.0, least - (high - low)) / 2.0
    return nice_ticks(low - missing, high + missing, most=4)
