"""One day as one picture: every lane on a common time axis in the venue's time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from markupsafe import Markup

from trackday.report.charts.lane_rain import rain_amount, rain_chance, wet_track
from trackday.report.charts.lane_sessions import (
    ROW,
    draw_bands,
    draw_labels,
    rows_of,
    session_labels,
)
from trackday.report.charts.lane_sky import daylight, thunder
from trackday.report.charts.lane_temperature import temperatures
from trackday.report.charts.lane_wind import wind
from trackday.report.charts.layout import Area, Layout
from trackday.report.charts.picture import DayPicture
from trackday.report.charts.scales import TimeScale
from trackday.report.charts.svg import element, group, line, text
from trackday.report.charts.ticks import hour_ticks

LANES: tuple[tuple[str, Callable[[DayPicture, Area], Markup]], ...] = (
    ("chance", rain_chance),
    ("amount", rain_amount),
    ("wet", wet_track),
    ("temperature", temperatures),
    ("wind", wind),
    ("strip", daylight),
    ("strip", thunder),
)
"""The lanes from top to bottom: the name of its height, and what draws it."""

AXIS = 30.0
"""Height of a time axis with its hours."""


def day_chart(
    picture: DayPicture, layout: Layout, *, ident: str, title: str, description: str
) -> Markup:
    """Draw a day in one of the two layouts; `ident` makes the ids unique in the page."""
    time = TimeScale(
        picture.course.start, picture.course.end, layout.gutter, layout.width - layout.margin
    )
    labels = session_labels(picture.bands, layout=layout, time=time, zone=picture.zone)
    axis_top = rows_of(labels) * ROW + 2.0
    first = axis_top + AXIS
    lanes, bottom = _lanes(picture, layout, time, first)
    height = bottom + AXIS
    name = f"day-{ident}-{layout.name}"
    return element(
        "svg",
        {
            "class": f"day {layout.name}",
            "viewBox": f"0 0 {layout.width:g} {height:g}",
            "role": "img",
            "aria-labelledby": f"{name}-title {name}-desc",
        },
        element("title", {"id": f"{name}-title"}, title),
        element("desc", {"id": f"{name}-desc"}, description),
        draw_bands(picture.bands, top=first, bottom=bottom, time=time),
        _hours(picture, layout, time, top=first, bottom=bottom),
        *lanes,
        draw_labels(labels, top=0.0, bottom=first, time=time),
        _looked_at(picture, time, top=axis_top, bottom=bottom),
    )


def _lanes(
    picture: DayPicture, layout: Layout, time: TimeScale, top: float
) -> tuple[list[Markup], float]:
    """Stack the lanes from a place on; give them and where they end."""
    drawn: list[Markup] = []
    for height, draw in LANES:
        start = top + layout.title_height
        top = start + layout.heights[height]
        drawn.append(draw(picture, Area(layout, time, start, top)))
    return drawn, top + 4.0


def _hours(
    picture: DayPicture, layout: Layout, time: TimeScale, *, top: float, bottom: float
) -> Markup:
    """Draw a faint line at every hour; name every few hours above and below the lanes."""
    parts: list[Markup] = []
    for moment in hour_ticks(time.start, time.end, zone=picture.zone, every=1):
        x = time(moment)
        named = moment.astimezone(picture.zone).hour % layout.hours == 0
        parts.append(line(x, top, x, bottom, name="hour named" if named else "hour"))
        if named:
            words = _hour_name(moment, picture, layout)
            parts.append(text(x, top - 12.0, words, name="tick", anchor="middle"))
            parts.append(text(x, bottom + 16.0, words, name="tick", anchor="middle"))
    return group("hours", *parts)


def _hour_name(moment: datetime, picture: DayPicture, layout: Layout) -> str:
    local = moment.astimezone(picture.zone)
    return f"{local:%H:%M}" if layout.hours > 2 else f"{local:%H}"


def _looked_at(picture: DayPicture, time: TimeScale, *, top: float, bottom: float) -> Markup:
    """Mark the moment of the plan: what is left of it is past."""
    if not time.holds(picture.as_of):
        return Markup("")
    x = time(picture.as_of)
    tip = top + AXIS
    head = element("path", {"d": f"M{x - 5:.1f} {tip - 8:.1f}h10l-5 8z", "class": "now"})
    return group("looked", head, line(x, tip, x, bottom, name="now"))
