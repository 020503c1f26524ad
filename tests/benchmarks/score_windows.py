"""What a venue's calibration is worth, by how it was learned and on what it is used.

Made-up rain by the minute (`synthetic_rain`), an hourly gauge, and twenty made-up forecasts of it
that are shifted in time, wrong in amount, smeared over hours, at times dry, and drizzle (or not).
Learned in the first year, judged by the minute in the second: Brier scores of half hours.

Run `python tests/benchmarks/score_windows.py` from the root of the repository (half a minute).
"""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
import pandas as pd
from builders import weather
from synthetic_rain import minutes_of_rain, totals

from trackday.outlook.rain_window import member_window_chances, window_amounts
from trackday.scoring.came import hours_around
from trackday.scoring.training import LENGTH, STARTS, training
from trackday.verification.brier import brier_score
from trackday.verification.calibration import Pairs, fit_calibration

DAYS = 730
MEMBERS = 20
FIRST = datetime(2024, 1, 1, tzinfo=UTC)


def forecasts(hours: np.ndarray, rng: np.random.Generator, *, drizzle: bool) -> np.ndarray:
    """Hourly amounts of each forecast (M, T), mm."""

    def daily(values: np.ndarray) -> np.ndarray:
        return np.repeat(values, 24)

    def one() -> np.ndarray:
        late = daily(rng.normal(0.0, 1.5, DAYS)).round().astype(int)
        amount = hours[np.clip(np.arange(len(hours)) + late, 0, len(hours) - 1)]
        amount = amount * daily(rng.lognormal(0.0, 0.5, DAYS))
        amount = 0.5 * amount + 0.5 * np.convolve(amount, np.ones(3) / 3, "same")
        if drizzle:
            amount = np.where((amount < 0.3) & (rng.random(len(hours)) < 0.15), 0.3, amount)
        return np.round(np.where(daily(rng.random(DAYS) < 0.2), 0.0, amount), 1)

    return np.array([one() for _ in range(MEMBERS)])


def series(rain_mm: np.ndarray):
    """Weather of these amounts from `FIRST` on."""
    made = weather(members=len(rain_mm), hours=rain_mm.shape[1], rain_mm=rain_mm)
    times = pd.date_range(FIRST, periods=rain_mm.shape[1] + 1, freq="h", unit="s")[1:]
    return replace(made, times=times)


def predictors(sky, starts) -> tuple[np.ndarray, np.ndarray]:
    """Raw chance and mean root amount of each window, over the members."""
    chance, root = [], []
    for start in starts:
        rain, times = hours_around(sky, start=start, end=start + LENGTH)
        each = member_window_chances(rain, times, start=start, end=start + LENGTH)
        amounts = window_amounts(rain, times, start=start, end=start + LENGTH)
        chance.append(float(each.mean()))
        root.append(float(np.sqrt(amounts).mean()))
    return np.array(chance), np.array(root)


def whole_hours(single, gauge, days) -> Pairs:
    """The other way to learn: whole hours, whose rain the gauge tells for sure."""
    places = [24 * day + start.hour for day in days for start in STARTS]
    amount, seen = single.rain_mm[0, places], gauge.rain_mm[0, places]
    return Pairs(
        days=tuple(single.times[place].date() for place in places),
        chance=(amount >= 0.0999).astype(float),
        root_mm=np.sqrt(amount),
        observed=(seen >= 0.0999).astype(float),
        threshold_mm=0.1,
    )


def compare(seed: int, *, drizzle: bool) -> None:
    """Print one line for one made-up venue."""
    rng = np.random.default_rng(seed)
    rain = minutes_of_rain("midland", days=DAYS, seed=seed)
    hours = totals(rain, 60)
    ensemble = series(forecasts(hours, rng, drizzle=drizzle))
    gauge = series(np.round(hours, 1)[None])
    single = series(ensemble.rain_mm[:1])
    half = 24 * (DAYS // 2)
    first = single.between(single.times[0], single.times[half - 1])
    starts = [
        datetime.combine(day.date(), start, UTC)
        for day in pd.date_range(FIRST, periods=DAYS - 1)[DAYS // 2 :]
        for start in STARTS
    ]
    minute = [round((start - FIRST).total_seconds() / 60) for start in starts]
    came = np.array([float(rain[m : m + 30].sum() >= 0.1) for m in minute])
    alone, together = predictors(single, starts), predictors(ensemble, starts)
    learned = {
        "half hours": fit_calibration(training([first], gauge, zone=UTC).pairs),
        "whole hours": fit_calibration(whole_hours(first, gauge, range(DAYS // 2 - 1))),
    }
    told = [
        f"seed {seed}, {'drizzle' if drizzle else 'no drizzle'}: it rained in {came.mean():.3f}"
    ]
    told.append(f"single {brier_score(alone[0], came):.4f}")
    told.append(f"ensemble {brier_score(together[0], came):.4f}")
    for name, found in learned.items():
        if found is None:
            told.append(f"by {name}: none used")
            continue
        used = found.apply(alone[0], root_mm=alone[1], threshold_mm=0.1)
        wrong = found.apply(together[0], root_mm=together[1], threshold_mm=0.1)
        told.append(
            f"by {name}: single {brier_score(used, came):.4f} (says {used.mean():.3f}), "
            f"ensemble {brier_score(wrong, came):.4f}"
        )
    print("; ".join(told))


if __name__ == "__main__":
    for number in (1, 2, 3):
        for drizzles in (True, False):
            compare(number, drizzle=drizzles)
