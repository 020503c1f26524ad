"""Lines and bands as SVG path data; a value that is missing leaves a gap, never a bridge."""

from __future__ import annotations

import math
from collections.abc import Sequence

from trackday.report.charts.svg import digits

Places = Sequence[float]


def runs(known: Sequence[bool]) -> list[tuple[int, int]]:
    """First and one-past-last index of each unbroken stretch of True."""
    found: list[tuple[int, int]] = []
    begin: int | None = None
    for place, is_known in enumerate([*known, False]):
        if is_known and begin is None:
            begin = place
        elif not is_known and begin is not None:
            found.append((begin, place))
            begin = None
    return found


def line_path(xs: Places, ys: Places) -> str:
    """Path through the points (N), broken where either coordinate is NaN; "" without any.

    A point without neighbors is drawn as a line of no length: a dot, with round line caps.
    """
    known = [math.isfinite(x) and math.isfinite(y) for x, y in zip(xs, ys, strict=True)]
    return "".join(_stretch(xs[a:b], ys[a:b]) for a, b in runs(known))


def band_path(xs: Places, lows: Places, highs: Places) -> str:
    """Closed path between two lines (N), one piece for each stretch where all are known."""
    known = [
        all(math.isfinite(value) for value in point) for point in zip(xs, lows, highs, strict=True)
    ]
    pieces = []
    for a, b in runs(known):
        there = _points(xs[a:b], highs[a:b])
        back = _points(xs[a:b][::-1], lows[a:b][::-1])
        pieces.append(f"M{'L'.join([*there, *back])}Z")
    return "".join(pieces)


def _stretch(xs: Places, ys: Places) -> str:
    points = _points(xs, ys)
    return f"M{points[0]}h0" if len(points) == 1 else f"M{'L'.join(points)}"


def _points(xs: Places, ys: Places) -> list[str]:
    return [f"{digits(x)} {digits(y)}" for x, y in zip(xs, ys, strict=True)]
