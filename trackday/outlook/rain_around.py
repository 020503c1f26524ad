"""The chance of rain before and just after a session."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from trackday.outlook.rain_chance import NOTHING, Sharpening, sharpened_chance
from trackday.weather.series import Weather
from trackday.weather.sources import RainBasis

BEFORE_MINUTES = 60.0
"""Time before a session, min, whose rain the track still shows; assumption."""

AFTER_MINUTES = 30.0
"""Time after a session, min, for loading or for a late start; assumption."""


@dataclass(frozen=True)
class RainAround:
    """Chances that it rains before and just after a session; NaN where unknown."""

    before: float
    after: float


def rain_around(
    weather: Weather,
    *,
    start: datetime,
    end: datetime,
    basis: RainBasis = "ensemble",
    by: Sharpening = NOTHING,
) -> RainAround:
    """Read the windows up to `start` and from `end` on, made as the session's own chance is."""
    start, end = start.astimezone(UTC), end.astimezone(UTC)  # so that minutes are minutes

    def chance(first: datetime, last: datetime) -> float:
        return sharpened_chance(weather, start=first, end=last, basis=basis, by=by).chance

    return RainAround(
        before=chance(start - timedelta(minutes=BEFORE_MINUTES), start),
        after=chance(end, end + timedelta(minutes=AFTER_MINUTES)),
    )
