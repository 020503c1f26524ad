"""The sessions: names with tires on top, a band through every lane."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo

from markupsafe import Markup

from trackday.report.charts.layout import Layout
from trackday.report.charts.picture import Band
from trackday.report.charts.scales import TimeScale
from trackday.report.charts.svg import box, element, group, line, text
from trackday.report.charts.tire_shape import tire_shape
from trackday.wording import clock

ROW = 26.0
ICON = 20.0
LONGEST_NAME = 22
"""Characters of a session's name that a label shows (assumption: tells sessions apart)."""

Label = tuple[float, float, int]
"""Left end, right end and row."""


def place_labels(
    wanted: Sequence[tuple[float, float]], *, left: float, right: float
) -> list[Label]:
    """Put labels (where each would start, its width) in rows, so that none touches another.

    Labels keep between `left` and `right` if they are not wider than that.
    """
    ends: list[float] = []
    placed: list[Label] = []
    for start, width in wanted:
        begin = max(left, min(start, right - width))
        row = next((n for n, end in enumerate(ends) if end + 8.0 <= begin), len(ends))
        if row == len(ends):
            ends.append(0.0)
        ends[row] = begin + width
        placed.append((begin, begin + width, row))
    return placed


def session_labels(
    bands: Sequence[Band], *, layout: Layout, time: TimeScale, zone: tzinfo
) -> list[tuple[Label, str, Band]]:
    """Word and place the label of each session: its start and its name."""
    words = [f"{clock(band.start, zone)} {shortened(band.name, LONGEST_NAME)}" for band in bands]
    wanted = [
        (time.clipped(band.start) - 2.0, ICON + 6.0 + layout.room(word) * 1.08)
        for band, word in zip(bands, words, strict=True)
    ]
    labels = place_labels(wanted, left=0.0, right=layout.width)
    return list(zip(labels, words, bands, strict=True))


def rows_of(labels: Sequence[tuple[Label, str, Band]]) -> int:
    """How many rows the labels take."""
    return max((label[2] + 1 for label, _, _ in labels), default=0)


def draw_labels(
    labels: Sequence[tuple[Label, str, Band]], *, top: float, bottom: float, time: TimeScale
) -> Markup:
    """Draw each label in its row, with a line from it down to where the lanes begin."""
    parts: list[Markup] = []
    for (left, right, row), words, band in labels:
        y = top + row * ROW
        x = time.clipped(band.start)
        parts.append(line(x, y + ROW - 4.0, x, bottom, name="stem"))
        icon = element(
            "svg",
            {"x": left, "y": y + 1.0, "width": ICON, "height": ICON, "viewBox": "0 0 24 24"},
            tire_shape(band.tire),
        )
        # A picture of its own cuts off what is wider than was reserved for it.
        frame = {"x": left + ICON + 4.0, "y": y, "width": right - left - ICON - 4.0, "height": ROW}
        parts.append(group("label", icon, element("svg", frame, text(0.0, 16.0, words))))
    return group("labels", *parts)


def draw_bands(bands: Sequence[Band], *, top: float, bottom: float, time: TimeScale) -> Markup:
    """Shade each session's time through all lanes."""
    parts = [
        box(
            time.clipped(band.start),
            top,
            time.clipped(band.end) - time.clipped(band.start),
            bottom - top,
            name="band",
        )
        for band in bands
    ]
    return group("bands", *parts)


def shortened(words: str, most: int) -> str:
    """Cut a name to a number of characters, with dots where something was cut off."""
    return words if len(words) <= most else f"{words[: most - 1].rstrip()}…"
