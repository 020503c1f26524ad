"""From values and moments to places on a picture."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Scale:
    """A straight line from values `low`…`high` to places `first`…`last` (user units)."""

    low: float
    high: float
    first: float
    last: float

    def __post_init__(self) -> None:
        """Refuse a domain without extent, which has no line."""
        if not self.high > self.low:
            raise ValueError(f"a scale from {self.low} to {self.high} has no extent")

    def __call__(self, value: float) -> float:
        """Give the place of a value; NaN stays NaN."""
        share = (value - self.low) / (self.high - self.low)
        return self.first + share * (self.last - self.first)

    def clipped(self, value: float) -> float:
        """Give the place of a value, or that of the end that it lies beyond."""
        return self(min(max(value, self.low), self.high))


@dataclass(frozen=True)
class TimeScale:
    """A straight line from moments `start`…`end` (aware) to places `left`…`right` (user units)."""

    start: datetime
    end: datetime
    left: float
    right: float

    def __call__(self, when: datetime) -> float:
        """Give the place of a moment."""
        share = (when - self.start) / (self.end - self.start)
        return self.left + share * (self.right - self.left)

    def clipped(self, when: datetime) -> float:
        """Give the place of a moment, or that of the end that it lies beyond."""
        return self(min(max(when, self.start), self.end))

    def holds(self, when: datetime) -> bool:
        """Tell whether a moment is on the picture."""
        return self.start <= when <= self.end
