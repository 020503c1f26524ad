"""Patterns that stand beside color, so that a print in black and white tells the same."""

from __future__ import annotations

from markupsafe import Markup

from trackday.report.charts.svg import element, line


def patterns() -> Markup:
    """Every pattern that the page's style refers to, in a picture of no size."""
    made = (
        _hatch("rain", angle=45.0, distance=5.0),
        _hatch("track", angle=45.0, distance=7.0),
        _hatch("gust", angle=-45.0, distance=7.0),
        _hatch("unknown", angle=-45.0, distance=9.0),
        _hatch("twilight", angle=90.0, distance=5.0),
        _dots("damp", distance=8.0, radius=1.2),
        _dots("wet", distance=5.0, radius=1.5),
        _zigzag("storm"),
    )
    size: dict[str, str | float] = {"class": "defs", "width": 0.0, "height": 0.0}
    frame = size | {"aria-hidden": "true", "focusable": "false"}
    return element("svg", frame, element("defs", {}, *made))


def _pattern(name: str, size: float, *parts: Markup, angle: float = 0.0) -> Markup:
    attributes: dict[str, str | float] = {
        "id": f"pattern-{name}",
        "patternUnits": "userSpaceOnUse",
        "width": size,
        "height": size,
    }
    if angle:
        attributes["patternTransform"] = f"rotate({angle:g})"
    return element("pattern", attributes, *parts)


def _hatch(name: str, *, angle: float, distance: float) -> Markup:
    stroke = line(0.0, 0.0, 0.0, distance, name=f"ink-{name}")
    return _pattern(name, distance, stroke, angle=angle)


def _dots(name: str, *, distance: float, radius: float) -> Markup:
    middle = distance / 2.0
    dot = element("circle", {"cx": middle, "cy": middle, "r": radius, "class": f"ink-{name}"})
    return _pattern(name, distance, dot)


def _zigzag(name: str) -> Markup:
    data = "M0 9L5 3L10 9"
    return _pattern(name, 10.0, element("path", {"d": data, "class": f"ink-{name}"}))
