"""The two forms of a day's picture, and the area that each lane has to draw in."""

from __future__ import annotations

from dataclasses import dataclass

from trackday.report.charts.scales import Scale, TimeScale

CHARACTER = 0.6
"""Width of a character in font sizes, to reserve room for words (assumption: a system sans)."""


@dataclass(frozen=True)
class Layout:
    """Sizes of a picture in user units, which are CSS pixels at its natural width.

    `gutter` is left of the time axis; a lane's title stands in it, or above the lane where
    `title_above`, in the room of `title_height` that is between lanes. `hours` is the
    distance of the hours that are named.
    """

    name: str
    width: float
    gutter: float
    margin: float
    title_above: bool
    title_height: float
    hours: int
    font: float
    heights: dict[str, float]

    def room(self, words: str) -> float:
        """Width to reserve for words."""
        return CHARACTER * self.font * len(words)


_NARROW_HEIGHTS = {
    "chance": 56.0, "amount": 40.0, "wet": 44.0, "temperature": 96.0, "wind": 84.0, "strip": 24.0,
}  # fmt: skip
_WIDE_HEIGHTS = {
    "chance": 46.0, "amount": 30.0, "wet": 34.0, "temperature": 78.0, "wind": 66.0, "strip": 20.0,
}  # fmt: skip
_PAPER_HEIGHTS = {
    "chance": 38.0, "amount": 24.0, "wet": 28.0, "temperature": 66.0, "wind": 58.0, "strip": 17.0,
}  # fmt: skip

NARROW = Layout("narrow", 344.0, 34.0, 8.0, True, 26.0, 3, 13.0, _NARROW_HEIGHTS)
"""For a phone held upright."""

WIDE = Layout("wide", 820.0, 172.0, 12.0, False, 15.0, 1, 13.0, _WIDE_HEIGHTS)
"""For a screen, a tablet, and one day on paper."""

PAPER = Layout("paper", 420.0, 34.0, 10.0, True, 23.0, 2, 13.0, _PAPER_HEIGHTS)
"""For two days beside each other on paper."""


@dataclass(frozen=True)
class Area:
    """Where one lane draws: between `top` and `bottom`, along the common time axis."""

    layout: Layout
    time: TimeScale
    top: float
    bottom: float

    @property
    def height(self) -> float:
        """Height of the drawing area."""
        return self.bottom - self.top

    def scale(self, low: float, high: float) -> Scale:
        """Make the upright axis of this lane: `low` at the bottom."""
        return Scale(low, high, self.bottom, self.top)
