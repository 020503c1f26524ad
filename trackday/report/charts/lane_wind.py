"""The lane of wind: mean wind, gusts with their range, and what the canopy stands."""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup

from trackday.report.charts import lane
from trackday.report.charts.layout import Area
from trackday.report.charts.paths import band_path, line_path
from trackday.report.charts.picture import DayPicture, in_units, unknown_steps
from trackday.report.charts.scales import Scale
from trackday.report.charts.svg import group, line, text
from trackday.report.charts.ticks import nice_ticks

LEAST_TOP_MS = 10.0
"""Smallest top of the axis, m/s: a breeze must not look like a gale (assumption)."""

FARTHEST_LIMIT = 2.0
"""A limit more than this many times the strongest gust is not drawn, but named (assumption)."""


def wind(picture: DayPicture, area: Area) -> Markup:
    """Draw gusts as a fan with its middle, the mean wind as a thin line, the limits across."""
    course, units = picture.course, picture.units
    low, middle, high, mean = (
        in_units(values, units, "speed")
        for values in (course.gust_ms.p10, course.gust_ms.p50, course.gust_ms.p90,
                       course.wind_ms.p50)
    )  # fmt: skip
    limits = [
        (in_units([limit.gust_ms], units, "speed")[0], limit.words) for limit in picture.limits
    ]
    limits = [limit for limit in limits if math.isfinite(limit[0])]
    top = _top([*high, *mean], [speed for speed, _ in limits], picture)
    ticks = nice_ticks(0.0, top, most=4 if area.layout.title_above else 3)
    scale = area.scale(0.0, ticks[-1])
    # A gust belongs to the step that ends at its stamp: it is drawn in the step's middle.
    middles = [area.time.clipped(start + (end - start) / 2) for start, end in course.hours]
    ends = [area.time.clipped(end) for _, end in course.hours]
    places = [[scale(value) for value in values] for values in (low, middle, high, mean)]
    return group(
        "lane",
        lane.titled(
            area,
            f"Wind, {units.symbol('speed')}",
            (("key-gust", "gust"), ("key-wind", "mean")),
        ),
        lane.upright_axis(area, scale, [(value, f"{value:g}") for value in ticks]),
        lane.unknown_stretches(
            area,
            unknown_steps(course.hours, course.gust_ms.p90),
            words="gusts unknown",
            height=0.15,
        ),
        group(
            "gust",
            lane.path(band_path(middles, places[0], places[2]), name="fan"),
            lane.path(line_path(middles, places[1]), name="middle"),
        ),
        group("mean", lane.path(line_path(ends, places[3]), name="middle")),
        *_limits(area, scale, [limit for limit in limits if limit[0] <= ticks[-1]]),
    )


def _top(speeds: Sequence[float], limits: Sequence[float], picture: DayPicture) -> float:
    """Top of the axis: the strongest gust, and the limits that are not far above it."""
    least = picture.units.display("speed").unit.from_si(LEAST_TOP_MS)
    strongest = max([least, *(speed for speed in speeds if math.isfinite(speed))])
    near = [limit for limit in limits if limit <= FARTHEST_LIMIT * strongest]
    return max([strongest, *near])


def _limits(area: Area, scale: Scale, limits: Sequence[tuple[float, str]]) -> list[Markup]:
    """Draw each limit across the lane, its words above it: on the left, as gusts rise by day.

    Where the next limit is so near that the words would touch it, they stand below their own.
    """
    left, right, font = area.time.left, area.time.right, area.layout.font
    places = [(scale(speed), words) for speed, words in sorted(limits)]
    lines = [line(left, y, right, y, name="limit") for y, _ in places]
    above = [y for y, _ in places[1:]] + [-math.inf]
    words_at = [
        (y - 4.0 if y - next_y >= font + 6.0 else y + font, words)
        for (y, words), next_y in zip(places, above, strict=True)
    ]
    return lines + [text(left + 4.0, y, words, name="value halo") for y, words in words_at]
