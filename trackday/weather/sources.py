"""What each source said, or failed to say."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from trackday.weather.series import Weather

RainBasis = Literal["ensemble", "probability", "single forecast"]
Status = Literal["fresh", "stale", "failed", "skipped"]


@dataclass(frozen=True)
class SourceReport:
    """One source's part in a plan.

    `name` is what a reader sees ("GEFS ensemble"), `role` what it was asked for ("rain odds"),
    `detail` one plain sentence: what it gave, or why it gave nothing. `fetched_at` is UTC.
    """

    name: str
    role: str
    status: Status
    detail: str
    fetched_at: datetime | None = None
    age_minutes: float | None = None
    attribution: str | None = None


@dataclass(frozen=True)
class Gathered:
    """The combined weather together with the report of every source that was asked."""

    weather: Weather
    sources: tuple[SourceReport, ...]
    basis: RainBasis
    """How the odds of rain were made."""
