"""SVG elements as safe markup: every text and every attribute is escaped."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from markupsafe import Markup, escape

Attribute = str | float

_UNSHOWABLE: Final = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)
"""Characters that HTML or UTF-8 cannot hold, and those that turn the order of all text after them:
a name must not make "75 %" read "% 57"."""


def plain(text: str) -> str:
    """Put a replacement mark for characters that cannot be shown or that reorder other text."""
    return _UNSHOWABLE.sub("�", text)


def element(name: str, attributes: Mapping[str, Attribute], *children: str) -> Markup:
    """Make one element; children that are not markup yet are text. Numbers are in user units."""
    head = "".join(f' {key}="{_shown(value)}"' for key, value in attributes.items())
    inner = Markup("").join(
        child if isinstance(child, Markup) else escape(plain(child)) for child in children
    )
    return Markup(f"<{name}{head}>{inner}</{name}>" if inner else f"<{name}{head}/>")  # noqa: S704


def group(name: str, *children: str) -> Markup:
    """Put elements in a group of a class."""
    return element("g", {"class": name}, *children)


def text(x: float, y: float, words: str, *, name: str = "", anchor: str = "start") -> Markup:
    """Write words with their baseline at a point; `anchor` is start, middle or end."""
    place: dict[str, Attribute] = {"x": x, "y": y}
    if anchor != "start":
        place["text-anchor"] = anchor
    if name:
        place["class"] = name
    return element("text", place, words)


def line(x1: float, y1: float, x2: float, y2: float, *, name: str) -> Markup:
    """Draw a straight line of a class."""
    return element("line", {"x1": x1, "y1": y1, "x2": x2, "y2": y2, "class": name})


def box(x: float, y: float, width: float, height: float, *, name: str) -> Markup:
    """Draw a rectangle of a class; a negative width or height counts as none."""
    sizes = {"width": max(width, 0.0), "height": max(height, 0.0)}
    return element("rect", {"x": x, "y": y, **sizes, "class": name})


def digits(value: float) -> str:
    """Write a coordinate with one decimal at the most."""
    return f"{round(value, 1) + 0.0:.1f}".removesuffix(".0")


def _shown(value: Attribute) -> str:
    return str(escape(plain(value))) if isinstance(value, str) else digits(value)
