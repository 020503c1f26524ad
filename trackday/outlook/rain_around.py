"""The chance of rain before, during and just after a session."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from trackday.outlook.rain_window import WET_MM, window_chance
from trackday.weather.series import Weather

BEFORE_MINUTES = 60.0
"""Time before a session, min, whose rain the track still shows; assumption."""

AFTER_MINUTES = 30.0
"""Time after a session, min, for loading or for a late start; assumption."""


@dataclass(frozen=True)
class RainAround:
    """Chances that it rains before, during and just after a session; NaN where unknown."""

    before: float
    during: float
    after: float


def rain_around(
    weather: Weather,
    *,
    start: datetime,
    end: datetime,
    before_minutes: float = BEFORE_MINUTES,
    after_minutes: float = AFTER_MINUTES,
    threshold_mm: float = WET_MM,
) -> RainAround:
    """Read the members at three windows: up to `start`, until `end`, and from `end` on."""
    start, end = start.astimezone(UTC), end.astimezone(UTC)  # so that minutes are minutes

    def chance(first: datetime, last: datetime) -> float:
        return window_chance(
            weather.rain_mm,
            weather.times,
            start=first,
            end=last,
            threshold_mm=threshold_mm,
            step_hours=weather.step_hours,
            weights=weather.weights,
        )

    return RainAround(
        before=chance(start - timedelta(minutes=before_minutes), start),
        during=chance(start, end),
        after=chance(end, end + timedelta(minutes=after_minutes)),
    )
