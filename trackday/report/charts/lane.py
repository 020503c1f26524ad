"""What every lane of a day's picture has: a title, a key, an upright axis, unknown stretches."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from markupsafe import Markup

from trackday.report.charts.layout import Area
from trackday.report.charts.scales import Scale
from trackday.report.charts.svg import box, element, group, line, text
from trackday.units import UNKNOWN

KEY_WIDTH = 22.0
Key = tuple[str, str]
"""Class of a line and the word for it."""


def path(data: str, *, name: str) -> Markup:
    """Draw a path of a class; nothing where there is no data."""
    return element("path", {"d": data, "class": name}) if data else Markup("")


def titled(area: Area, title: str, keys: Sequence[Key] = ()) -> Markup:
    """Write a lane's title and what its lines mean."""
    layout = area.layout
    if layout.title_above:
        y = area.top - 8.0
        words = text(layout.gutter, y, title, name="name halo")
        return group("title", words, *_keys_from_right(area, y, keys))
    y = area.top + layout.font - 3.0
    parts = [text(0.0, y, title, name="name")]
    x = 0.0
    for name, word in keys:
        parts.extend(_key(x, y + layout.font + 4.0, name, word))
        x += KEY_WIDTH + layout.room(word) + 10.0
    return group("title", *parts)


def upright_axis(area: Area, scale: Scale, ticks: Iterable[tuple[float, str]]) -> Markup:
    """Draw a faint line with its label for each tick (value, label)."""
    time = area.time
    marks: list[Markup] = []
    for value, label in ticks:
        y = scale(value)
        marks.append(line(time.left, y, time.right, y, name="grid"))
        marks.append(text(time.left - 5.0, y + 4.0, label, name="tick", anchor="end"))
    return group("axis", *marks)


def unknown_stretches(
    area: Area,
    stretches: Iterable[tuple[datetime, datetime]],
    *,
    words: str = UNKNOWN,
    height: float = 0.5,
) -> Markup:
    """Hatch the stretches of time for which nothing is known, and say so where there is room.

    The words stand at a share `height` of the lane's height.
    """
    marks: list[Markup] = []
    for start, end in stretches:
        left, right = area.time.clipped(start), area.time.clipped(end)
        if right <= left:
            continue
        marks.append(box(left, area.top, right - left, area.height, name="unknown"))
        if area.layout.room(words) + 12.0 <= right - left:
            y = area.bottom - height * area.height
            marks.append(plate(area, (left + right) / 2.0, y, words))
    return group("gaps", *marks) if marks else Markup("")


def plate(area: Area, x: float, y: float, words: str) -> Markup:
    """Write words in the middle of a plain plate, so that a pattern behind does not hide them."""
    width = area.layout.room(words) + 10.0
    height = area.layout.font + 4.0
    return group(
        "plate",
        box(x - width / 2.0, y - height / 2.0, width, height, name="ground"),
        text(x, y + area.layout.font * 0.35, words, anchor="middle"),
    )


def _keys_from_right(area: Area, y: float, keys: Sequence[Key]) -> list[Markup]:
    """Lay the keys out from the right end of the title's line."""
    parts: list[Markup] = []
    x = area.layout.width - area.layout.margin
    for name, word in reversed(keys):
        x -= KEY_WIDTH + area.layout.room(word)
        parts.extend(_key(x, y, name, word))
        x -= 10.0
    return parts


def _key(x: float, y: float, name: str, word: str) -> tuple[Markup, Markup]:
    return (
        line(x, y - 4.0, x + KEY_WIDTH - 6.0, y - 4.0, name=name),
        text(x + KEY_WIDTH, y, word, name="key"),
    )
