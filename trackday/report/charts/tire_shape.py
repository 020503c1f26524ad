"""Tires as shapes in the color of the text: no supplier's color stands for a kind here."""

from __future__ import annotations

from markupsafe import Markup

from trackday.report.charts.svg import element, line

CENTER, RADIUS = 12.0, 9.0


def tire_shape(choice: str) -> Markup:
    """Draw a tire in a square of 24 by 24: bare, slit, with a drop, or a broken ring with "?".

    Any choice but dry, grooved and wet is drawn as not decided. The word has to stand beside it.
    """
    inside = {"dry": _bare, "grooved": _slit, "wet": _drop}.get(choice, _open)
    ring = "ring" if choice in ("dry", "grooved", "wet") else "ring open"
    circle = element("circle", {"cx": CENTER, "cy": CENTER, "r": RADIUS, "class": ring})
    return element("g", {"class": "tire"}, circle, inside())


def tire_icon(choice: str) -> Markup:
    """Put the shape in a picture of its own, for use in a line of text."""
    frame = {"class": "icon", "viewBox": "0 0 24 24", "aria-hidden": "true", "focusable": "false"}
    return element("svg", frame, tire_shape(choice))


def _bare() -> Markup:
    return element("circle", {"cx": CENTER, "cy": CENTER, "r": 3.0, "class": "hub"})


def _slit() -> Markup:
    lines = [line(x, 12.0 - half, x, 12.0 + half, name="slit") for x, half in _SLITS]
    return Markup("").join(lines)


def _drop() -> Markup:
    return element("path", {"d": _DROP, "class": "hub"})


def _open() -> Markup:
    return element("text", {"x": 12.0, "y": 16.5, "text-anchor": "middle", "class": "query"}, "?")


_SLITS = ((8.0, 5.0), (12.0, 6.0), (16.0, 5.0))
"""Place and half length of each slit."""

_DROP = "M12 5.5C15 10 16 11.5 16 13.5A4 4 0 0 1 8 13.5C8 11.5 9 10 12 5.5Z"
