"""Pairs to learn from: what a single forecast said of past half hours, and what the station saw.

A session is half an hour, and rain in half an hour is rarer than rain in the hour: what is learned
on hours calls sessions too wet. So the windows are half hours. Where the station's hour was dry, so
was its half; where it was wet, whether its half was is drawn by the odds of docs/rain.md, with
draws that are fixed for each window. `tests/benchmarks/score_windows.py` compares both ways.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Final

import numpy as np

from trackday.outlook.rain import WET_MM, window_amounts, window_chance
from trackday.scoring.came import hours_around, station_chance
from trackday.verification.calibration import Pairs
from trackday.weather.series import Array, Weather

STARTS: Final = (time(9, 0), time(11, 15), time(13, 30), time(15, 45))
"""Local starts of the windows, at different places within the hour (assumption: club sessions run
from nine to five)."""

LENGTH: Final = timedelta(minutes=30)
"""Length of a window: that of a usual session (assumption)."""


@dataclass(frozen=True, eq=False)
class Training:
    """Pairs of one lead, and for how many of them `drawn` tells what came."""

    pairs: Pairs
    drawn: int


@dataclass(frozen=True)
class _Row:
    day: date
    chance: float
    root_mm: float
    observed: float
    drawn: bool


def training(forecasts: Sequence[Weather], observed: Weather, *, zone: tzinfo) -> Training:
    """Pair forecasts, each with one member and hours of its own, with a station's hours.

    Windows that either does not know in full are left out.
    """
    rows = [
        row
        for forecast in forecasts
        for start in _starts(forecast, zone)
        if (row := _row(forecast, observed, start, zone)) is not None
    ]
    pairs = Pairs(
        days=tuple(row.day for row in rows),
        chance=_column([row.chance for row in rows]),
        root_mm=_column([row.root_mm for row in rows]),
        observed=_column([row.observed for row in rows]),
        threshold_mm=WET_MM,
    )
    return Training(pairs, sum(row.drawn for row in rows))


def _starts(forecast: Weather, zone: tzinfo) -> Iterator[datetime]:
    """Starts of the windows of every local day that a forecast touches."""
    day = forecast.times[0].tz_convert(zone).date()
    last = forecast.times[-1].tz_convert(zone).date()
    while day <= last:
        yield from (datetime.combine(day, start, zone) for start in STARTS)
        day += timedelta(days=1)


def _row(forecast: Weather, observed: Weather, start: datetime, zone: tzinfo) -> _Row | None:
    end = start + LENGTH
    rain_mm, times = hours_around(forecast, start=start, end=end)
    if not len(times):
        return None
    chance = window_chance(rain_mm, times, start=start, end=end)
    root_mm = float(np.sqrt(window_amounts(rain_mm, times, start=start, end=end)[0]))
    odds = station_chance(observed, start=start, end=end)
    if not (np.isfinite(chance) and np.isfinite(root_mm) and np.isfinite(odds)):
        return None
    came = _draw(start) < odds
    return _Row(start.astimezone(zone).date(), chance, root_mm, float(came), 0.0 < odds < 1.0)


def _draw(start: datetime) -> float:
    """A number in [0, 1) that belongs to this window, however long the record grows."""
    return float(np.random.default_rng(int(start.timestamp())).random())


def _column(values: Sequence[float]) -> Array:
    return np.array(values, dtype=np.float64)
