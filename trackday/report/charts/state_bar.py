"""The state of the track during one session as a bar of patterns."""

from __future__ import annotations

from collections.abc import Mapping

from markupsafe import Markup

from trackday.outlook.track import STATES, TrackState
from trackday.report.charts.svg import box, element

WIDTH, HEIGHT = 300.0, 20.0


def state_bar(state_chance: Mapping[TrackState, float]) -> Markup:
    """Draw the chance of each state as a part of the bar; the numbers have to stand beside it."""
    parts = [box(0.0, 0.0, WIDTH, HEIGHT, name="state dry")]
    x = 0.0
    for state in STATES:
        width = WIDTH * state_chance[state]
        if width > 0.0:
            parts.append(box(x, 0.0, width, HEIGHT, name=f"state {state}"))
        x += width
    frame = {
        "class": "states",
        "viewBox": f"0 0 {WIDTH:g} {HEIGHT:g}",
        "preserveAspectRatio": "none",
        "aria-hidden": "true",
        "focusable": "false",
    }
    return element("svg", frame, *parts)
