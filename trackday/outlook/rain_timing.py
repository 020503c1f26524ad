"""When rain is likeliest to start and to stop in a day, and where a session fits between."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt

from trackday.outlook.rain_window import WET_MM, window_chance
from trackday.weather.series import Array, Weather, epoch_seconds

DRY_CHANCE = 0.2
"""Chance of rain in a session below which its window is called dry; assumption."""

SCAN_MINUTES = 15.0
"""Distance, min, of the session starts that are tried; assumption."""


@dataclass(frozen=True)
class Moment:
    """A moment that members disagree about; times are UTC and name the beginning of a step.

    `likeliest` is the step that most members name (the earliest of equals) and `share` their part
    of those that name any; `p10` and `p90` are steps that members name, hold the middle 80 % and
    the likeliest.
    """

    likeliest: datetime
    share: float
    p10: datetime
    p90: datetime


@dataclass(frozen=True)
class DryWindow:
    """A stretch in which every session of the asked length is likely dry; times are UTC.

    `chance` is the highest chance of rain of such a session in it.
    """

    start: datetime
    end: datetime
    chance: float


@dataclass(frozen=True)
class RainTiming:
    """Rain over a period, by members that know it throughout.

    `chance` is the part of them with a wet step. `starts` is their first wet step, unless it rains
    from the beginning (`wet_at_start`); `stops` the end of their last one, unless it rains to the
    end (`wet_at_end`). `starts` and `stops` are None where no member names a moment. `unknown` is
    the part of all members that miss an amount; chances are NaN where none knows.
    """

    chance: float
    wet_at_start: float
    wet_at_end: float
    starts: Moment | None
    stops: Moment | None
    dry_windows: tuple[DryWindow, ...]
    unknown: float


def rain_timing(
    weather: Weather,
    *,
    start: datetime,
    end: datetime,
    minutes: float,
    threshold_mm: float = WET_MM,
    dry_chance: float = DRY_CHANCE,
) -> RainTiming:
    """Time the rain between `start` and `end`, and find dry windows for sessions of `minutes`.

    A step is wet with `threshold_mm`, a window dry below `dry_chance`. Steps count whole if the
    period touches them. Raises ValueError for a period that is empty or shorter than a session.
    """
    start, end = start.astimezone(UTC), end.astimezone(UTC)  # so that minutes are minutes
    if end - start < timedelta(minutes=minutes) or minutes <= 0:
        raise ValueError("the period must hold at least one session")
    steps = weather.touching(start, end)
    amounts = weather.rain_mm[:, steps]
    is_covered = weather.covering(start, end) is not None
    known = np.isfinite(amounts).all(axis=1) & is_covered & (weather.weights > 0)
    weights = weather.weights[known]
    dry = dry_windows(
        weather,
        start=start,
        end=end,
        minutes=minutes,
        threshold_mm=threshold_mm,
        dry_chance=dry_chance,
    )
    unknown = 1.0 - float(weights.sum()) / float(weather.weights.sum())
    if not known.any():
        return RainTiming(np.nan, np.nan, np.nan, None, None, dry, 1.0)
    wet = np.asarray(amounts[known] >= threshold_mm)
    ends = epoch_seconds(weather.times[steps])
    length = weather.step_hours * 3600.0
    first, last = wet.argmax(axis=1), wet.shape[1] - 1 - wet[:, ::-1].argmax(axis=1)
    any_wet = np.asarray(wet.any(axis=1))
    return RainTiming(
        chance=_share(any_wet, weights),
        wet_at_start=_share(wet[:, 0], weights),
        wet_at_end=_share(wet[:, -1], weights),
        starts=_moment((ends - length)[first], any_wet & ~wet[:, 0], weights),
        stops=_moment(ends[last], any_wet & ~wet[:, -1], weights),
        dry_windows=dry,
        unknown=unknown,
    )


def dry_windows(
    weather: Weather,
    *,
    start: datetime,
    end: datetime,
    minutes: float,
    threshold_mm: float = WET_MM,
    dry_chance: float = DRY_CHANCE,
) -> tuple[DryWindow, ...]:
    """Stretches between `start` and `end` whose sessions of `minutes` all stay below `dry_chance`.

    Starts are tried every `SCAN_MINUTES`, none where the period is shorter than a session. An
    unknown chance is not dry and ends a stretch.
    """
    start, end = start.astimezone(UTC), end.astimezone(UTC)  # so that minutes are minutes
    length = timedelta(minutes=minutes)
    apart = timedelta(minutes=SCAN_MINUTES)
    tries = (end - length - start) // apart + 1
    found: list[DryWindow] = []
    open_stretch = False
    for begin in (start + apart * i for i in range(tries)):
        chance = window_chance(
            weather.rain_mm,
            weather.times,
            start=begin,
            end=begin + length,
            threshold_mm=threshold_mm,
            step_hours=weather.step_hours,
            weights=weather.weights,
        )
        if not chance < dry_chance:
            open_stretch = False
            continue
        if open_stretch:
            stretch = found.pop()
            found.append(DryWindow(stretch.start, begin + length, max(stretch.chance, chance)))
        else:
            found.append(DryWindow(begin, begin + length, chance))
        open_stretch = True
    return tuple(found)


def _share(mask: npt.NDArray[np.bool_], weights: Array) -> float:
    return float(weights[mask].sum() / weights.sum())


def _moment(seconds: Array, named: npt.NDArray[np.bool_], weights: Array) -> Moment | None:
    """Summarize the moments (M,) of the members that name one, in seconds since 1970."""
    if not named.any():
        return None
    choices, place = np.unique(seconds[named], return_inverse=True)
    votes = np.bincount(place, weights=weights[named])
    reached = np.cumsum(votes) / votes.sum()
    likeliest = int(votes.argmax())
    first, last = (int(np.searchsorted(reached, level - 1e-9)) for level in (0.1, 0.9))
    return Moment(
        likeliest=_utc(choices[likeliest]),
        share=float(votes[likeliest] / votes.sum()),
        p10=_utc(choices[min(first, likeliest)]),
        p90=_utc(choices[max(last, likeliest)]),
    )


def _utc(seconds: float) -> datetime:
    return datetime.fromtimestamp(float(seconds), tz=UTC)
