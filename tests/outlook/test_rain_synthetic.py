"""The chance of a wet window against rain whose every minute is known.

The climates reproduce what was measured on public gauge series; `tests/benchmarks/rain_window.py`
prints the whole table, also for public radar.
"""

from functools import cache

import numpy as np
import pytest
from synthetic_rain import (
    BESIDE,
    CLIMATES,
    MEASURED,
    WET_MM,
    Windows,
    minutes_of_rain,
    rain_facts,
    shifted,
    tipped,
    totals,
    windows,
)

from trackday.outlook.rain import member_chances, window_amounts
from trackday.verification.brier import brier_score, decompose
from trackday.verification.reliability import TENTHS

DAYS = 1500


@cache
def rain(climate: str) -> np.ndarray:
    return minutes_of_rain(climate, days=DAYS, seed=21)


def cut(series: np.ndarray, *, minutes: int, step_minutes: int, count: int) -> list[Windows]:
    starts = np.random.default_rng(2).integers(0, len(series), count)
    return list(windows(series, minutes=minutes, step_minutes=step_minutes, starts=starts))


def wet(batches: list[Windows]) -> np.ndarray:
    return np.concatenate([batch.truth_mm >= WET_MM for batch in batches]).astype(float)


@pytest.mark.parametrize("climate", ["midland", "coast"])
def test_the_climates_are_like_the_measured_ones(climate):
    """Protects the bench: made-up rain has the measured statistics, each within its tolerance.

    Source: fitted by this project on public gauge data (docs/rain.md).
    """
    facts = rain_facts(totals(minutes_of_rain(climate, days=2500, seed=4), 5))
    far = {
        name: (round(facts[name], 3), value)
        for name, (value, tolerance) in MEASURED.items()
        if abs(facts[name] - value) > tolerance
    }
    assert not far


@pytest.mark.parametrize("climate", CLIMATES)
@pytest.mark.parametrize(
    ("step_minutes", "at_least", "over_even"),
    [(15, 0.90, 0.02), (60, 0.73, 0.02), (180, 0.48, 0.08), (360, 0.28, 0.15)],
)
def test_skill_with_perfect_amounts(climate, step_minutes, at_least, over_even):
    """Protects each native step's relation: its skill, reliable to .005, and above even shares."""
    batches = [
        batch
        for minutes in (20, 30, 40)
        for batch in cut(rain(climate), minutes=minutes, step_minutes=step_minutes, count=10_000)
    ]
    came = wet(batches)
    chance = np.concatenate([batch.chances() for batch in batches])
    even = np.concatenate(
        [
            member_chances(
                window_amounts(
                    batch.amounts_mm,
                    batch.interval_ends,
                    start=batch.start,
                    end=batch.end,
                    step_hours=batch.step_hours,
                )
            )
            for batch in batches
        ]
    )
    got = decompose(chance, came, edges=TENTHS)
    assert got.skill >= at_least
    assert got.reliability <= 0.005
    assert got.skill >= decompose(even, came, edges=TENTHS).skill + over_even


@pytest.mark.parametrize("tip_mm", [0.1, 0.2])
def test_skill_on_a_tipping_gauge(tip_mm):
    """Protects gauges that tip by 0.1 or 0.2 mm: .60 at least, reliable to .005."""
    batches = cut(tipped(rain("coast"), tip_mm), minutes=30, step_minutes=60, count=30_000)
    chance = np.concatenate([batch.chances() for batch in batches])
    got = decompose(chance, wet(batches), edges=TENTHS)
    assert got.skill >= 0.60
    assert got.reliability <= 0.005


@pytest.mark.parametrize(("threshold_mm", "at_least"), [(0.2, 0.70), (1.0, 0.50)])
def test_skill_at_other_thresholds(threshold_mm, at_least):
    """Protects thresholds that the law was not fitted to: skill and reliability hold."""
    batches = cut(rain("midland"), minutes=30, step_minutes=60, count=30_000)
    chance = np.concatenate([batch.chances(threshold_mm=threshold_mm) for batch in batches])
    came = np.concatenate([batch.truth_mm >= threshold_mm for batch in batches])
    got = decompose(chance, came, edges=TENTHS)
    assert got.skill >= at_least
    assert got.reliability <= 0.005


@pytest.mark.parametrize("climate", ["midland", "coast"])
def test_unbiased(climate):
    """Protects the mean chance: right within 2 % of itself. Shifting whole hours keeps it so."""
    batches = cut(rain(climate), minutes=30, step_minutes=60, count=150_000)
    chance = np.concatenate([batch.chances() for batch in batches])
    assert chance.mean() == pytest.approx(wet(batches).mean(), rel=0.02)


@pytest.mark.parametrize("climate", ["midland", "coast"])
def test_windows_of_a_wet_hour(climate):
    """Protects the duration dependence: 20 to 40 minutes of a wet hour are wet as often as said.

    That the made-up ones are as often wet as measured (.57, .71, .82) is tested above.
    """
    for minutes in (20, 30, 40):
        inside = [
            (batch.chances(), batch.truth_mm >= WET_MM, batch.amounts_mm[:, BESIDE] >= WET_MM)
            for batch in cut(rain(climate), minutes=minutes, step_minutes=60, count=40_000)
            if batch.start.minute + minutes <= 60
        ]
        chance = np.concatenate([chances[wet_hour] for chances, _, wet_hour in inside])
        came = np.concatenate([events[wet_hour] for _, events, wet_hour in inside])
        assert chance.mean() == pytest.approx(came.mean(), abs=0.03)


@pytest.mark.parametrize("climate", ["midland", "coast"])
def test_half_an_hour_by_the_total_of_its_hour(climate):
    """Protects the relation itself: 30 minutes of an hour get near the chance measured for it.

    Source: fitted by this project on public gauge data (docs/rain.md): .30, .71, .89 and .94.
    """
    batches = [
        batch
        for batch in cut(rain(climate), minutes=30, step_minutes=60, count=40_000)
        if batch.start.minute <= 30
    ]
    chance = np.concatenate([batch.chances() for batch in batches])
    hour = np.concatenate([batch.amounts_mm[:, BESIDE] for batch in batches])
    for low, high, measured in (
        (0.1, 0.2, 0.30),
        (0.2, 0.5, 0.71),
        (0.5, 1.0, 0.89),
        (1.0, np.inf, 0.94),
    ):
        chosen = (hour >= low) & (hour < high)
        assert chance[chosen].mean() == pytest.approx(measured, abs=0.06)


@pytest.mark.parametrize("climate", ["midland", "coast"])
def test_chance_by_length(climate):
    """Protects the growth with the session's length: from 20 to 60 minutes by a power near .515.

    Source: fitted by this project on public gauge data (docs/rain.md).
    """
    lengths = (20, 30, 40, 60)
    mean = [
        np.concatenate(
            [b.chances() for b in cut(rain(climate), minutes=m, step_minutes=60, count=20_000)]
        ).mean()
        for m in lengths
    ]
    slope = np.polyfit(np.log(lengths), np.log(mean), 1)[0]
    assert slope == pytest.approx(0.515, abs=0.06)


@pytest.mark.parametrize("climate", CLIMATES)
@pytest.mark.parametrize("sd_hours", [1, 3, 6])
def test_with_timing_errors(climate, sd_hours):
    """Protects the use on ensembles: 30 members, each with the true rain at a wrong time.

    The Brier score is better than with the share of members with a touched hour wet, the highest
    touched hour's share, and independent hours; the mean chance is within .02 of what came.
    """
    chance, came, rivals = shifted(rain(climate), sd_hours=sd_hours, minutes=30)
    assert chance.mean() == pytest.approx(came.mean(), abs=0.02)
    score = brier_score(chance, came)
    assert all(score < brier_score(rival, came) for rival in rivals.values())
    assert chance.mean() < min(rival.mean() for rival in rivals.values())
