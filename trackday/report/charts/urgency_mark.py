"""What kind of decision it is, as a shape beside its word: filled, half, asked, empty."""

from __future__ import annotations

from markupsafe import Markup

from trackday.report.charts.svg import element

_FRAME = {"class": "mark", "viewBox": "0 0 20 20", "aria-hidden": "true", "focusable": "false"}


def urgency_mark(urgency: str) -> Markup:
    """Draw the mark of an urgency; ValueError for one that there is not."""
    if urgency not in _SHAPES:
        raise ValueError(f"{urgency!r} is not one of {', '.join(_SHAPES)}")
    return element("svg", _FRAME, *_SHAPES[urgency])


def _path(data: str, name: str) -> Markup:
    return element("path", {"d": data, "class": name})


_RING = "M10 2a8 8 0 1 0 .01 0Z"
_SHAPES: dict[str, tuple[Markup, ...]] = {
    "act": (_path("M2 3h10l6 7-6 7H2Z", "full"),),
    "watch": (_path(_RING, "bare"), _path("M10 2a8 8 0 0 1 0 16Z", "full")),
    "unknown": (
        _path(_RING, "bare"),
        element("text", {"x": 10.0, "y": 14.5, "text-anchor": "middle"}, "?"),
    ),
    "nothing": (_path("M3 10h14", "bare"),),
}
