"""What a day's picture is drawn from, in SI and the venue's time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from trackday.outlook.course import DayCourse
from trackday.units import UnitSystem


@dataclass(frozen=True)
class Band:
    """A session on the time axis; `tire` is the choice made for it."""

    start: datetime
    end: datetime
    name: str
    tire: str


@dataclass(frozen=True)
class SunTimes:
    """The sun's moments of one day, UTC; None where there is none.

    `always_up` and `always_down` settle a day on which the sun does neither rise nor set.
    """

    civil_dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    civil_dusk: datetime | None
    always_up: bool = False
    always_down: bool = False


@dataclass(frozen=True)
class Thunder:
    """Chance of thunder on the day (NaN where unknown) and its likely hours, None without any."""

    chance: float
    likely_from: datetime | None
    likely_to: datetime | None


@dataclass(frozen=True)
class GustLimit:
    """A gust, m/s, that matters to something that stands there, and the words for it."""

    gust_ms: float
    words: str


@dataclass(frozen=True)
class DayPicture:
    """One day: its course, the sessions, the sun, thunder and what the wind must not pass.

    `as_of` is marked where the time axis holds it.
    """

    course: DayCourse
    bands: tuple[Band, ...]
    sun: SunTimes
    thunder: Thunder | None
    limits: tuple[GustLimit, ...]
    units: UnitSystem
    zone: tzinfo
    as_of: datetime


def in_units(values: npt.ArrayLike, units: UnitSystem, quantity: str) -> list[float]:
    """Convert SI values (N) to the reader's unit, NaN staying NaN."""
    unit = units.display(quantity).unit
    return [unit.from_si(float(value)) for value in np.asarray(values, dtype=float)]


def unknown_steps(
    steps: Sequence[tuple[datetime, datetime]], values: npt.ArrayLike
) -> list[tuple[datetime, datetime]]:
    """Join the steps whose value is NaN to stretches."""
    found: list[tuple[datetime, datetime]] = []
    for (start, end), value in zip(steps, np.asarray(values, dtype=float), strict=True):
        if np.isfinite(value):
            continue
        if found and found[-1][1] == start:
            found[-1] = (found[-1][0], end)
        else:
            found.append((start, end))
    return found


def between(moments: Sequence[datetime]) -> list[tuple[datetime, datetime]]:
    """Give each moment the time that is nearest to it: halfway to its neighbors."""
    halves = [a + (b - a) / 2 for a, b in pairwise(moments)]
    return list(zip([moments[0], *halves], [*halves, moments[-1]], strict=True))
