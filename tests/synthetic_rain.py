"""Rain by the minute, made up, with the statistics that were measured on public gauge series.

Storms come at random; within each, cells of steady rain come at random (a Bartlett–Lewis process:
Rodriguez-Iturbe, Cox and Isham (1987), Proc. R. Soc. Lond. A 410, 269–288), and each climate mixes
two kinds of storms. The parameters were tuned until `rain_facts` came close to the measured facts
(`MEASURED`); tests/outlook/test_rain_synthetic.py holds how close.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackday.outlook.rain_window import member_window_chances

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class StormKind:
    """One kind of storm: its frequency, the means of its exponential lengths, and its rates.

    Rates are log-normal, with a spread from storm to storm and one from cell to cell, both in
    natural logarithms.
    """

    storms_per_month: float
    storm_hours: float
    cells_per_hour: float
    cell_minutes: float
    cell_rate_mm_h: float
    storm_sigma: float
    cell_sigma: float


CLIMATES = {
    "midland": (
        StormKind(6.13, 6.28, 4.85, 10.0, 0.91, 0.82, 0.51),
        StormKind(10.1, 1.34, 3.68, 7.28, 2.93, 1.04, 0.69),
    ),
    "coast": (
        StormKind(9.29, 6.59, 4.96, 10.2, 0.98, 0.91, 0.61),
        StormKind(24.2, 1.43, 3.27, 7.73, 2.00, 0.87, 0.85),
    ),
    "showers": (
        StormKind(6.5, 3.67, 3.19, 11.7, 0.81, 0.76, 0.88),
        StormKind(25.0, 1.40, 4.42, 12.7, 4.76, 1.26, 0.93),
    ),
}
"""A central European year, an Atlantic coast, and a showery spring like that of the radar data."""

MEASURED = {
    "wet steps of a wet hour": (0.59, 0.03),
    "20 min of a wet hour": (0.57, 0.03),
    "30 min of a wet hour": (0.71, 0.03),
    "40 min of a wet hour": (0.82, 0.03),
    "30 min of .1-.2 mm": (0.30, 0.03),
    "30 min of .2-.5 mm": (0.71, 0.05),
    "30 min of .5-1 mm": (0.89, 0.04),
    "30 min of 1 mm or more": (0.94, 0.02),
    "duration exponent": (0.515, 0.04),
    "duration exponent at .2 mm": (0.68, 0.03),
    "correlation of hours": (0.60, 0.10),
    "30 min of a wet half day": (0.22, 0.02),
    "base rate of 30 min": (0.07, 0.03),
    "a wet hour in 12": (0.36, 0.16),
    "a wet hour in 12, as if independent": (0.72, 0.16),
}
"""Facts and how near the midland and coast climates must come. Source: fitted by this project on
public gauge data (a range measured over several series is given by its middle and half width)."""


def minutes_of_rain(climate: str, *, days: int, seed: int) -> Array:
    """Rain in mm for each minute of so many days, (1440·days,)."""
    rng = np.random.default_rng(seed)
    minutes = 1440 * days
    return np.sum([_one_kind(kind, minutes, rng) for kind in CLIMATES[climate]], axis=0)


def _one_kind(kind: StormKind, minutes: int, rng: np.random.Generator) -> Array:
    storms = rng.poisson(kind.storms_per_month * minutes / 43_800.0)
    start = rng.uniform(0.0, minutes, storms)
    length = rng.exponential(60.0 * kind.storm_hours, storms)
    level = rng.normal(-0.5 * kind.storm_sigma**2, kind.storm_sigma, storms)
    cells = 1 + rng.poisson(kind.cells_per_hour * length / 60.0)
    storm = np.repeat(np.arange(storms), cells)
    place = rng.uniform(0.0, 1.0, len(storm))
    place[np.cumsum(cells) - cells] = 0.0  # a storm starts with its first cell
    begins = start[storm] + place * length[storm]
    ends = begins + rng.exponential(kind.cell_minutes, len(storm))
    cell_level = rng.normal(-0.5 * kind.cell_sigma**2, kind.cell_sigma, len(storm))
    rate = kind.cell_rate_mm_h / 60.0 * np.exp(level[storm] + cell_level)
    return _add_up(begins, ends, rate, minutes)


def _add_up(begins: Array, ends: Array, rate: Array, minutes: int) -> Array:
    """Rain of each minute from blocks of steady rain, exact for blocks that start within one."""
    change = np.zeros(minutes + 2)
    for moment, sign in ((np.minimum(begins, minutes), 1.0), (np.minimum(ends, minutes), -1.0)):
        whole = moment.astype(int)
        part = moment - whole
        np.add.at(change, whole, sign * rate * (1.0 - part))
        np.add.at(change, whole + 1, sign * rate * part)
    return np.clip(np.cumsum(change)[:minutes], 0.0, None)


def totals(rain: Array, minutes: int) -> Array:
    """Sums over steps of so many minutes; what does not fill the last step is left out."""
    steps = len(rain) // minutes
    return rain[: steps * minutes].reshape(steps, minutes).sum(axis=1)


def tipped(rain: Array, tip_mm: float) -> Array:
    """What a tipping bucket of `tip_mm` records of rain by the minute: tips when they fall."""
    return np.diff(np.floor(np.cumsum(rain) / tip_mm), prepend=0.0) * tip_mm


def rain_facts(five: Array, *, wet_mm: float = 0.1) -> dict[str, float]:
    """Compute what `MEASURED` names from 5-minute amounts, recorded in hundredths of a mm."""
    five = np.round(five, 2)
    wet_mm -= 1e-9
    steps = five[: len(five) // 144 * 144].reshape(-1, 12)
    hours = steps.sum(axis=1)
    wet = hours >= wet_mm
    facts = {"wet steps of a wet hour": float((steps > 0).mean(axis=1)[wet].mean())}
    for minutes in (20, 30, 40):
        windows = np.lib.stride_tricks.sliding_window_view(steps, minutes // 5, axis=1).sum(axis=2)
        inside = (windows >= wet_mm).mean(axis=1)
        facts[f"{minutes} min of a wet hour"] = float(inside[wet].mean())
        if minutes == 30:
            for low, high in ((0.1, 0.2), (0.2, 0.5), (0.5, 1.0)):
                chosen = (hours >= low - 1e-9) & (hours < high - 1e-9)
                name = f"30 min of {low:g}-{high:g} mm".replace("0.", ".")
                facts[name] = float(inside[chosen].mean())
            facts["30 min of 1 mm or more"] = float(inside[hours >= 1.0 - 1e-9].mean())
    facts["duration exponent"] = _duration_exponent(five, wet_mm)
    facts["duration exponent at .2 mm"] = _duration_exponent(five, 0.2 - 1e-9)
    facts["correlation of hours"] = float(np.corrcoef(wet[:-1], wet[1:])[0, 1])
    half_days = hours.reshape(-1, 12).sum(axis=1) >= 0.2 - 1e-9
    slots = (steps.reshape(-1, 6).sum(axis=1) >= wet_mm).reshape(-1, 24).mean(axis=1)
    facts["30 min of a wet half day"] = float(slots[half_days].mean())
    facts["base rate of 30 min"] = float(slots.mean())
    facts["a wet hour in 12"] = float(wet.reshape(-1, 12).any(axis=1).mean())
    facts["a wet hour in 12, as if independent"] = float(1.0 - (1.0 - wet.mean()) ** 12)
    return facts


def _duration_exponent(five: Array, wet_mm: float) -> float:
    """Slope of ln P(window wet) on ln(minutes), from 20 to 60 minutes."""
    lengths = np.array([20, 30, 40, 60])
    total = np.concatenate([[0.0], np.cumsum(five)])
    wet = [float((total[n:] - total[:-n] >= wet_mm).mean()) for n in lengths // 5]
    return float(np.polyfit(np.log(lengths), np.log(wet), 1)[0])


REFERENCE = datetime(2027, 6, 12, tzinfo=UTC)
"""A whole hour from which the windows' own hours are counted."""

BESIDE = 2
"""Steps kept before and after the step in which a window starts."""


@dataclass(frozen=True, eq=False)
class Windows:
    """Windows of one length that start at one moment of their step, as members of one forecast.

    `amounts_mm` (N, S) are what each sees around its window, `truth_mm` (N,) what fell in it;
    `interval_ends`, `start` and `end` are those of a window in `REFERENCE`'s step.
    """

    amounts_mm: Array
    truth_mm: Array
    interval_ends: pd.DatetimeIndex
    start: datetime
    end: datetime
    step_hours: float

    def chances(self, **options: object) -> Array:
        """Chance of each window (N,) by `member_window_chances`."""
        return member_window_chances(
            self.amounts_mm,
            self.interval_ends,
            start=self.start,
            end=self.end,
            step_hours=self.step_hours,
            **options,
        )


def windows(
    rain: Array, *, minutes: int, step_minutes: int, starts: npt.NDArray[np.intp]
) -> Iterator[Windows]:
    """Cut windows of `minutes` that start at minute `starts` (N,) out of rain by the minute."""
    total = np.concatenate([[0.0], np.cumsum(rain)])
    steps = totals(rain, step_minutes)
    last = (len(steps) - BESIDE - 1 - minutes // step_minutes) * step_minutes
    starts = starts[(starts >= BESIDE * step_minutes) & (starts < last)]
    reach = BESIDE + 1 + (minutes - 1) // step_minutes
    for phase in np.unique(starts % step_minutes):
        chosen = starts[starts % step_minutes == phase]
        places = (chosen // step_minutes)[:, None] + np.arange(-BESIDE, reach + 1)
        step = timedelta(minutes=step_minutes)
        start = REFERENCE + timedelta(minutes=int(phase))
        yield Windows(
            amounts_mm=steps[places],
            truth_mm=total[chosen + minutes] - total[chosen],
            interval_ends=pd.date_range(
                REFERENCE + step * (1 - BESIDE), periods=places.shape[1], freq=step
            ),
            start=start,
            end=start + timedelta(minutes=minutes),
            step_hours=step_minutes / 60.0,
        )


MEMBERS = 30
"""Members of an ensemble with timing errors."""

WET_MM = 0.1 - 1e-9
"""Rain from which a window is wet, mm, with slack for sums."""


def shifted(
    series: Array, *, sd_hours: float, minutes: int, each: int = 200
) -> tuple[Array, Array, dict[str, Array]]:
    """Chances, events and rival chances of windows seen by members that are early or late.

    Truth is one more member: it, too, is off the common center by a normal error.
    """
    rng = np.random.default_rng(5)
    total = np.concatenate([[0.0], np.cumsum(series)])
    margin = round(60 * (8 * sd_hours + 4))
    chances, events = [], []
    rivals: dict[str, list[Array]] = {
        "any member's touched hour": [],
        "highest hour": [],
        "independent hours": [],
    }
    starts = rng.integers(margin // 60, (len(series) - margin) // 60, (12, each)) * 60
    for phase, hours in zip(range(0, 60, 5), starts, strict=True):
        begin = hours + phase
        error = rng.normal(0.0, 60 * sd_hours, (len(hours), MEMBERS + 1))
        shift = np.rint(error[:, 1:] - error[:, :1]).astype(int)
        edges = hours[:, None, None] + shift[:, :, None] + 60 * np.arange(-BESIDE, 4)
        amounts = np.diff(total[edges], axis=2)
        template = next(
            windows(series, minutes=minutes, step_minutes=60, starts=np.array([600 + phase]))
        )
        flat = Windows(
            amounts_mm=amounts.reshape(-1, amounts.shape[2]),
            truth_mm=np.repeat(total[begin + minutes] - total[begin], MEMBERS),
            interval_ends=template.interval_ends[: amounts.shape[2]],
            start=template.start,
            end=template.end,
            step_hours=1.0,
        )
        chances.append(flat.chances().reshape(-1, MEMBERS).mean(axis=1))
        events.append(total[begin + minutes] - total[begin] >= WET_MM)
        touched = [BESIDE] + [BESIDE + 1] * (phase + minutes > 60)
        share = (amounts[:, :, touched] >= WET_MM).mean(axis=1)
        rivals["highest hour"].append(share.max(axis=1))
        rivals["independent hours"].append(1 - np.prod(1 - share, axis=1))
        rivals["any member's touched hour"].append(
            (amounts[:, :, touched] >= WET_MM).any(axis=2).mean(axis=1)
        )
    joined = {name: np.concatenate(parts) for name, parts in rivals.items()}
    return np.concatenate(chances), np.concatenate(events).astype(float), joined
