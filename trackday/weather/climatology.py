"""Other years' weather on an event's dates: real hours, moved onto its calendar."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd

from trackday.weather.failures import SourceError
from trackday.weather.series import (
    MEMBER_FIELDS,
    Array,
    Weather,
    equal_center_weights,
    unknown_probabilities,
)

CENTER: Final = "climatology"

WINDOW_DAYS: Final = 7
"""Days before and after the date that count as the same time of year (assumption: the season moves
less in a week than one year differs from the next)."""

YEARS: Final = 20
"""Years that are looked at unless told otherwise (assumption: a standard period of 30 years is
steadier, but older than the climate of today)."""


class Stretch(NamedTuple):
    """The days of another year that stand for the event's: its year, and the shift in days."""

    year: int
    shift_days: int


def years_before(
    first_day: date,
    last_day: date,
    *,
    as_of: datetime,
    count: int = YEARS,
    window_days: int = WINDOW_DAYS,
) -> tuple[int, ...]:
    """Name the last `count` years before the event's own whose days were over at `as_of`, rising.

    `first_day` to `last_day` are the event's dates; a year is that of the first of them.
    """
    span = last_day - first_day + timedelta(days=window_days + 1)
    year = first_day.year - 1
    while _same_date(first_day, year) + span >= as_of.astimezone(UTC).date():
        year -= 1
    return tuple(range(year - count + 1, year + 1))


def stretches(years: Sequence[int], *, window_days: int = WINDOW_DAYS) -> tuple[Stretch, ...]:
    """List every year with every shift, −`window_days` to `window_days`, year by year."""
    shifts = range(-window_days, window_days + 1)
    return tuple(Stretch(year, shift) for year in years for shift in shifts)


def asked_hours(
    *,
    first_day: date,
    last_day: date,
    zone: tzinfo,
    years: Sequence[int],
    window_days: int = WINDOW_DAYS,
) -> pd.DatetimeIndex:
    """List the hours of other years (UTC, rising) that `other_years` reads: what to ask for."""
    which = stretches(years, window_days=window_days)
    hours = _source_hours(_event_hours(first_day, last_day), which, first_day, zone)
    return hours.unique().sort_values()


def year_days(
    history: Weather,
    *,
    first_day: date,
    last_day: date,
    zone: tzinfo,
    years: Sequence[int],
    window_days: int = WINDOW_DAYS,
) -> Weather:
    """Move other years' hours onto an event's dates, one member a stretch, as `stretches` lists.

    `history` holds the real hours (its first member counts); `first_day` and `last_day` are the UTC
    dates of the weather that is wanted. Each hour is the one that the venue's clock showed in the
    other year, so that a change to or from daylight-saving time in between does not move a session
    against the morning. Where one of the two days lacks or repeats an hour of the clock, the other
    year's neighboring hour is read twice, or one is left out. 29 February stands on 28 February of
    common years. Hours that `history` lacks are NaN.
    """
    which = stretches(years, window_days=window_days)
    times = _event_hours(first_day, last_day)
    hours = _source_hours(times, which, first_day, zone)
    places = history.times.as_unit("s").get_indexer(hours).reshape((len(which), len(times)))
    found = places >= 0

    def moved(values: Array) -> Array:
        return np.where(found, values[0][np.where(found, places, 0)], np.nan)

    fields: dict[str, Any] = {name: moved(getattr(history, name)) for name in MEMBER_FIELDS}
    centers = (CENTER,) * len(which)
    return Weather(
        times=times,
        members=tuple(f"{CENTER}/{each.year}{each.shift_days:+03d}" for each in which),
        centers=centers,
        weights=equal_center_weights(centers),
        **unknown_probabilities(len(times)),
        **fields,
    )


def other_years(
    history: Weather,
    *,
    first_day: date,
    last_day: date,
    zone: tzinfo,
    years: Sequence[int],
    window_days: int = WINDOW_DAYS,
) -> Weather:
    """Give other years' weather as members of equal weight on an event's dates.

    As `year_days`, without the stretches that know no rain at all. Raises SourceError where none is
    left.
    """
    moved = year_days(
        history,
        first_day=first_day,
        last_day=last_day,
        zone=zone,
        years=years,
        window_days=window_days,
    )
    keep = np.flatnonzero(np.isfinite(moved.rain_mm).any(axis=1))
    if not len(keep):
        raise SourceError("no other year has a rain amount on these dates")
    centers = (CENTER,) * len(keep)
    return replace(
        moved,
        members=tuple(moved.members[row] for row in keep),
        centers=centers,
        weights=equal_center_weights(centers),
        **{name: getattr(moved, name)[keep] for name in MEMBER_FIELDS},
    )


def year_of(member: str) -> int:
    """The year that a member's hours are from, by its name ("climatology/2019-03")."""
    return int(member.removeprefix(f"{CENTER}/")[:-3])


def _event_hours(first_day: date, last_day: date) -> pd.DatetimeIndex:
    """Whole hours from the start of the first UTC date to the end of the last."""
    start = datetime.combine(first_day, time(), UTC)
    end = datetime.combine(last_day + timedelta(days=1), time(), UTC)
    return pd.date_range(start, end, freq="h", unit="s")


def _source_hours(
    times: pd.DatetimeIndex, which: Sequence[Stretch], first_day: date, zone: tzinfo
) -> pd.DatetimeIndex:
    """Hours (UTC) of every stretch for every time, as one index of length stretches × times."""
    clock = times.tz_convert(zone).tz_localize(None).as_unit("s").to_numpy()
    days = [(_same_date(first_day, each.year) - first_day).days + each.shift_days for each in which]
    shown = clock[np.newaxis, :] + np.array(days, dtype="timedelta64[D]")[:, np.newaxis]
    local = pd.DatetimeIndex(shown.ravel())
    hours = local.tz_localize(
        zone, ambiguous=np.ones(len(local), dtype=bool), nonexistent="shift_forward"
    )
    # A zone that has changed by half an hour since then shows whole hours at other minutes.
    return hours.tz_convert("UTC").as_unit("s").ceil("h")


def _same_date(day: date, year: int) -> date:
    """Give the same date of another year; 28 February where that has no 29th."""
    if (day.month, day.day) == (2, 29):
        day = day.replace(day=28)
    return day.replace(year=year)
