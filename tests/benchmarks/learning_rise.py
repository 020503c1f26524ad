"""What hot pressures teach in invented seasons whose truth is known.

    python tests/benchmarks/learning_rise.py [FIRST_SEED SEEDS]

Reported seeds are 0 to 199; the prior's standard deviations were settled on 1000 to 1099. A
season's truth is drawn from ranges wider than the prior's own standard deviations: level within
20 °C of the prior's (one standard deviation there: 6), axles within 6 (3), slopes .45 ± .40 and
.25 ± .40 (.15), each venue within 5 (3), all uniform. Scatter is normal: 2.5 °C that both axles of
a session share and 2 °C for each, and one hot pressure in thirty is 5 psi wrong. Gauges show half
psi. The error is that of the cold pressure advised for a session at the next venue, against that of
the true gas.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from trackday.learning.hot_reading import Axle, HotReading
from trackday.learning.rise import RiseFit, fit_rise
from trackday.physics.tire_gas import cold_pressure_kpa, pressure_at

Array = npt.NDArray[np.float64]

PSI_KPA = 6.894757293168361
AMBIENT_KPA = 98.0
TARGET_KPA = 30.0 * PSI_KPA
STEP_KPA = 0.5 * PSI_KPA
TO_P90 = 1.2815515655446004
COUNTS = (1, 2, 3, 4, 6, 8, 12, 16, 20)
SHOWN = (3, 8, 20)
AXLES: tuple[Axle, Axle] = ("front", "rear")


@dataclass(frozen=True)
class Season:
    """Readings in order, the session to advise for, and its true gas by axle, °C."""

    readings: tuple[HotReading, ...]
    last_good: tuple[HotReading, ...]
    next_track_c: float
    next_air_c: float
    next_cold_c: float
    gas_c: dict[Axle, float]


def season(seed: int, *, level_within_c: float = 20.0, weekends: int = 4) -> Season:
    """Draw one season: a few weekends of four sessions, each at its own venue."""
    draw = np.random.default_rng(seed)
    level = 67.0 + draw.uniform(-level_within_c, level_within_c)
    axle = {name: draw.uniform(-6.0, 6.0) for name in AXLES}
    per_track, per_air = draw.uniform(0.05, 0.85), draw.uniform(-0.15, 0.65)

    def weather() -> tuple[float, float]:
        air = float(draw.uniform(8.0, 34.0))
        return air, air + float(draw.uniform(2.0, 22.0))

    def gas(name: Axle, air_c: float, track_c: float) -> float:
        warm = per_track * (track_c - 35.0) + per_air * (air_c - 22.0)
        return float(level + axle[name] + warm)

    def session(day: date, venue: str, venue_c: float, near_c: float) -> list[HotReading]:
        air = near_c + float(draw.uniform(-5.0, 5.0))
        track, cold_c = air + float(draw.uniform(2.0, 22.0)), air - float(draw.uniform(0.0, 6.0))
        shared = draw.normal(0.0, 2.5)
        rows = []
        for name in AXLES:
            true = gas(name, air, track) + venue_c + shared + draw.normal(0.0, 2.0)
            cold = 24.0 * PSI_KPA
            set_to = cold + draw.uniform(-STEP_KPA / 2, STEP_KPA / 2)
            hot = float(pressure_at(set_to, from_c=cold_c, to_c=true, ambient_kpa=AMBIENT_KPA))
            if draw.random() < 1.0 / 30.0:
                hot += draw.choice([-5.0, 5.0]) * PSI_KPA
            rows.append(
                HotReading(
                    cold_kpa=cold,
                    hot_kpa=round(hot / STEP_KPA) * STEP_KPA,
                    cold_air_c=cold_c,
                    ambient_kpa=AMBIENT_KPA,
                    track_temp_c=round(track),
                    air_temp_c=round(air),
                    axle=name,
                    taken_at=day,
                    venue=venue,
                )
            )
        return rows

    readings: list[HotReading] = []
    last_good: list[HotReading] = []
    for number in range(weekends):
        near, _ = weather()
        venue_c = draw.uniform(-5.0, 5.0)
        day = date(2027, 4, 3) + timedelta(days=21 * number)
        if number == 0:
            last_good = session(day - timedelta(days=200), "", draw.uniform(-5.0, 5.0), near)
        for run in range(4):
            readings += session(day + timedelta(days=run // 2), f"V{number}", venue_c, near)
    air, track = weather()
    venue_c = float(draw.uniform(-5.0, 5.0))
    return Season(
        readings=tuple(readings),
        last_good=tuple(replace(reading, venue="", taken_at=None) for reading in last_good),
        next_track_c=track,
        next_air_c=air,
        next_cold_c=air - 3.0,
        gas_c={name: gas(name, air, track) + venue_c for name in AXLES},
    )


def advised_error(fit: RiseFit, year: Season) -> tuple[float, float]:
    """Return the mean error of both axles' cold pressures, kPa, and the share within p10 to p90.

    Both are against the gas that sessions there have on average.
    """
    errors, inside = [], []
    for name in AXLES:
        mean, sd = fit.hot_gas_c(year.next_track_c, year.next_air_c, axle=name)
        said, true = (
            float(
                cold_pressure_kpa(
                    TARGET_KPA, hot_c=gas, cold_c=year.next_cold_c, ambient_kpa=AMBIENT_KPA
                )
            )
            for gas in (float(mean), year.gas_c[name])
        )
        errors.append(abs(said - true))
        inside.append(abs(float(mean) - year.gas_c[name]) <= TO_P90 * float(sd))
    return float(np.mean(errors)), float(np.mean(inside))


def errors_by_count(
    seeds: Sequence[int],
    counts: Sequence[int],
    *,
    with_last_good: bool = False,
    make: Callable[[int], Season] = season,
) -> tuple[Array, Array, Array]:
    """Return errors without (S,), with learning (S, N), kPa, and shares inside (S, N).

    The n-th column has learned from the first n readings of each season; the next session is at a
    venue that none of them saw.
    """
    without, learned, inside = [], [], []
    for seed in seeds:
        year = make(seed)
        good = year.last_good if with_last_good else ()

        def fitted(count: int, year: Season = year, good: tuple[HotReading, ...] = good) -> RiseFit:
            return fit_rise(
                year.readings[:count], venue="next", as_of=date(2027, 8, 1), last_good=good
            )

        without.append(advised_error(fitted(0), year)[0])
        rows = [advised_error(fitted(count), year) for count in counts]
        learned.append([row[0] for row in rows])
        inside.append([row[1] for row in rows])
    return np.array(without), np.array(learned), np.array(inside)


def main(first: int, seeds: int) -> None:
    """Print the tables of docs/learning.md."""
    chosen = range(first, first + seeds)
    cases = {
        "labeled prior, no last good setting": {},
        "with a last good setting": {"with_last_good": True},
        "prior's level right within 3 °C": {"make": lambda seed: season(seed, level_within_c=3.0)},
    }
    for name, options in cases.items():
        without, learned, inside = errors_by_count(chosen, COUNTS, **options)  # type: ignore[arg-type]
        print(f"\n{name}: seeds {first} to {first + seeds - 1}")
        print(
            "| Readings | Error, psi: without | with | p10–p90 with | less | worse in | in range |"
        )
        print("|---|---|---|---|---|---|---|")
        for column, count in enumerate(COUNTS):
            now = learned[:, column]
            low, high = np.quantile(now, (0.1, 0.9)) / PSI_KPA
            print(
                f"| {count} | {without.mean() / PSI_KPA:.2f} | {now.mean() / PSI_KPA:.2f} "
                f"| {low:.2f}–{high:.2f} | {100 * (1 - now.mean() / without.mean()):.0f} % "
                f"| {(now > 1.05 * without).mean():.2f} | {inside[:, column].mean():.2f} |"
            )


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:3]) if len(sys.argv) > 2 else (0, 200))
