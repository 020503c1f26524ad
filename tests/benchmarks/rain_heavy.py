"""Fit the chance of heavy rain in a window, and score it on sources left out of the fit.

    OMP_NUM_THREADS=1 python tests/benchmarks/rain_heavy.py

Sources are those of `rain_window.py`; heavy is 0.76 mm in six minutes (on radar,
0.63 mm in five, the same rate).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from rain_window import FIT_LENGTHS, Source, sources
from scipy.optimize import minimize
from scipy.special import expit

from trackday.outlook.rain_heavy import HEAVY_LAWS, HEAVY_MM_H

Array = npt.NDArray[np.float64]


class Cases(NamedTuple):
    """Windows (N,) with rain in their intervals: amounts and fractions (N, K), and what came."""

    amounts_mm: Array
    fraction: Array
    heavy: npt.NDArray[np.bool_]


def cases(source: Source, *, step_minutes: int, seed: int, count: int = 30_000) -> Cases:
    """Draw windows of all lengths."""
    span = 6 if source.every == 1 else source.every
    total = np.concatenate([[0.0], np.cumsum(source.minutes)])
    begins_heavy = (total[span:] - total[:-span]) >= HEAVY_MM_H * span / 60.0
    heavy_before = np.concatenate([[0], np.cumsum(begins_heavy)])
    steps = len(source.minutes) // step_minutes
    amounts = source.minutes[: steps * step_minutes].reshape(steps, -1).sum(axis=1)
    rng = np.random.default_rng(seed)
    parts = []
    for minutes in FIT_LENGTHS:
        start = rng.integers(0, len(source.minutes) // source.every, count) * source.every
        place = start % source.stretch
        start = start[(place > 3 * step_minutes) & (place < source.stretch - 4 * step_minutes)]
        step = start[:, None] // step_minutes + np.arange(max(FIT_LENGTHS) // step_minutes + 2)
        opens = np.maximum(step * step_minutes, start[:, None])
        closes = np.minimum((step + 1) * step_minutes, start[:, None] + minutes)
        fraction = np.clip(closes - opens, 0, None) / step_minutes
        inside = amounts[np.minimum(step, steps - 1)] * (fraction > 0)
        came = heavy_before[start + minutes - span + 1] > heavy_before[start]
        wet = inside.sum(axis=1) > 0
        parts.append((inside[wet], fraction[wet], came[wet]))
    return Cases(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def chance(law: Array, drawn: Cases) -> Array:
    """Chance of heavy rain (N,) by intercept, amount and length."""
    wet = drawn.amounts_mm > 0
    score = (
        law[0]
        + law[1] * np.log(np.where(wet, drawn.amounts_mm, 1.0))
        + law[2] * np.log(np.where(wet, drawn.fraction, 1.0))
    )
    return 1.0 - np.prod(1.0 - np.where(wet, expit(score), 0.0), axis=1)


def loss(law: Array, drawn: Cases) -> float:
    """Brier score over the variance of what came."""
    return float(np.mean(np.square(chance(law, drawn) - drawn.heavy)) / drawn.heavy.var())


def fit(drawn: list[Cases]) -> Array:
    """Find the law with the least loss, each source weighing the same."""
    found = minimize(
        lambda law: sum(loss(law, each) for each in drawn),
        np.array([-2.7, 2.5, 1.4]),
        method="Nelder-Mead",
        options={"maxfev": 200, "xatol": 0.01, "fatol": 1e-5},
    )
    return np.asarray(found.x)


def main() -> None:
    """Print the constants, and the Brier skill on each source left out."""
    chosen = [source for source in sources(days=2000) if "tips" not in source.name]
    for hours in HEAVY_LAWS:
        step = round(60 * hours)
        seen = {source.name: cases(source, step_minutes=step, seed=1) for source in chosen}
        print(f"{step} min: {np.round(fit(list(seen.values())), 2)}", flush=True)
        for source in chosen:
            law = fit([each for name, each in seen.items() if name != source.name])
            fresh = cases(source, step_minutes=step, seed=2)
            bias = chance(law, fresh).mean() / fresh.heavy.mean()
            print(
                f"   without {source.name}: {np.round(law, 2)}, skill there "
                f"{1 - loss(law, fresh):.3f}, mean over what came {bias:.2f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
