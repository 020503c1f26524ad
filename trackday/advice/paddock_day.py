"""The hours of each day that a crew spends in the paddock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

import numpy as np
import numpy.typing as npt

from trackday.advice.assumptions_paddock import PADDOCK_HOURS_AFTER, PADDOCK_HOURS_BEFORE
from trackday.weather.series import Array, Weather, epoch_seconds
from trackday.weekend.sessions import Session


@dataclass(frozen=True)
class PaddockDay:
    """One local day: its sessions, and from when to when (UTC) the crew is there."""

    day: date
    sessions: tuple[Session, ...]
    start: datetime
    end: datetime


def paddock_days(sessions: Sequence[Session], zone: tzinfo) -> tuple[PaddockDay, ...]:
    """Sort sessions into the venue's days, in order of time."""
    by_day: dict[date, list[Session]] = {}
    for session in sorted(sessions, key=lambda each: each.start):
        by_day.setdefault(session.start.astimezone(zone).date(), []).append(session)
    return tuple(
        PaddockDay(
            day=day,
            sessions=tuple(found),
            start=found[0].start - timedelta(hours=PADDOCK_HOURS_BEFORE),
            end=max(each.end for each in found) + timedelta(hours=PADDOCK_HOURS_AFTER),
        )
        for day, found in by_day.items()
    )


def touched(weather: Weather, *, start: datetime, end: datetime) -> npt.NDArray[np.intp] | None:
    """Places (K,) of the intervals that touch a window; None where they do not fill it."""
    ends, step = epoch_seconds(weather.times), 3600.0 * weather.step_hours
    places = np.flatnonzero((ends > start.timestamp()) & (ends < end.timestamp() + step))
    if not len(places):
        return None
    found = ends[places]
    whole = found[0] - step <= start.timestamp() and found[-1] >= end.timestamp()
    return places if whole and (np.diff(found) <= step).all() else None


def interval_start(weather: Weather, place: int) -> datetime:
    """Moment (UTC) at which an interval begins."""
    stamp: datetime = weather.times[place].to_pydatetime()
    return stamp - timedelta(hours=weather.step_hours)


def middles(values: Array) -> Array:
    """Bring instants (M, T) to the middles of the intervals that end at the stamps; (M, T).

    The first is unknown, and so is any beside a missing value.
    """
    middle = np.full_like(values, np.nan)
    middle[:, 1:] = (values[:, 1:] + values[:, :-1]) / 2.0
    return middle
