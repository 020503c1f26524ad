"""How good the chance of rain in a window is, beside simpler ways to make one.

    OMP_NUM_THREADS=1 python tests/benchmarks/rain_window.py           # the tables in docs/rain.md
    OMP_NUM_THREADS=1 python tests/benchmarks/rain_window.py --timing  # members at wrong times
    OMP_NUM_THREADS=1 python tests/benchmarks/rain_window.py --fit     # the constants, anew
    OMP_NUM_THREADS=1 python tests/benchmarks/rain_window.py --learner # what the amounts could tell

Amounts are perfect (one member that knows each interval's rain), so what is scored is the step from
intervals to windows. Sources are three synthetic climates and, where the package pycomlink is
installed (`pip install --no-deps pycomlink`, BSD license), eleven days of May 2018 on the German
weather service's gauge-adjusted radar (product RADOLAN-YW, 5 minutes, 1 km), which it carries as an
example. The radar data are the German weather service's (Deutscher Wetterdienst, open data);
nothing of them is kept here.
"""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from synthetic_rain import (
    BESIDE,
    CLIMATES,
    WET_MM,
    Windows,
    minutes_of_rain,
    shifted,
    tipped,
    windows,
)

from trackday.outlook.rain import member_chances, window_amounts
from trackday.outlook.rain_share import FITTED_LAWS, ShareLaw
from trackday.verification.brier import brier_skill, decompose
from trackday.verification.reliability import TENTHS

Array = npt.NDArray[np.float64]

LENGTHS = (20, 30, 40)
FIT_LENGTHS = (15, 20, 30, 40, 60)
RADAR_STRIDE = 8
"""Every eighth pixel each way: nearer ones see the same shower."""


@dataclass(frozen=True, eq=False)
class Source:
    """Rain by the minute in stretches of `stretch` minutes that do not belong together."""

    name: str
    minutes: Array
    stretch: int
    every: int
    """Windows start at multiples of so many minutes."""

    def windows(self, *, minutes: int, step_minutes: int, count: int, seed: int) -> list[Windows]:
        """Cut `count` random windows that keep three steps from the ends of their stretch."""
        rng = np.random.default_rng(seed)
        starts = rng.integers(0, len(self.minutes) // self.every, count) * self.every
        place = starts % self.stretch
        far = (place > 3 * step_minutes) & (place < self.stretch - 4 * step_minutes)
        return list(
            windows(self.minutes, minutes=minutes, step_minutes=step_minutes, starts=starts[far])
        )


def radar_file() -> Path | None:
    """The example data of the package pycomlink, or None where it is not installed."""
    spec = importlib.util.find_spec("pycomlink")
    if spec is None or spec.origin is None:
        return None
    found = Path(spec.origin).parent / "io" / "example_data" / "example_areal_reference_data.nc"
    return found if found.is_file() else None


def radar_source(path: Path) -> Source:
    """Read the radar's 5-minute sums, each spread over its minutes, pixel after pixel."""
    import h5py

    with h5py.File(path) as data:
        raw = data["rainfall_amount"][:, ::RADAR_STRIDE, ::RADAR_STRIDE]
    five = raw.reshape(len(raw), -1)
    five = five[:, (five >= 0).all(axis=0)] / 100.0
    minutes = np.repeat(five / 5.0, 5, axis=0)
    return Source("radar", minutes.T.ravel(), stretch=len(minutes), every=5)


def sources(*, days: int) -> list[Source]:
    """All that there is to score on."""
    made = [
        Source(name, minutes_of_rain(name, days=days, seed=11), stretch=1440 * days, every=1)
        for name in CLIMATES
    ]
    coast = next(source for source in made if source.name == "coast")
    made += [
        replace(coast, name=f"coast, {tip_mm} mm tips", minutes=tipped(coast.minutes, tip_mm))
        for tip_mm in (0.1, 0.2)
    ]
    path = radar_file()
    return made if path is None else [*made, radar_source(path)]


def ways(batch: Windows) -> dict[str, Array]:
    """Chances of one batch of windows (N,) by each way of making them."""
    inside = window_amounts(
        batch.amounts_mm,
        batch.interval_ends,
        start=batch.start,
        end=batch.end,
        step_hours=batch.step_hours,
    )
    touched = np.isfinite(inside) & (inside > 0)
    wet = touched_amounts(batch) >= WET_MM
    return {
        "this formula": batch.chances(),
        "even share, logistic": member_chances(inside),
        "any touched interval wet": (wet & touched[:, None]).any(axis=1).astype(float),
    }


def touched_amounts(batch: Windows) -> Array:
    """Amounts (N, K) of the intervals that the windows touch."""
    begins = batch.interval_ends - (batch.interval_ends[1] - batch.interval_ends[0])
    touched = (batch.interval_ends > batch.start) & (begins < batch.end)
    return batch.amounts_mm[:, np.asarray(touched)]


def score(source: Source, *, lengths: tuple[int, ...], step_minutes: int, count: int) -> None:
    """Print skill, reliability and bias of each way, on windows of `lengths` together."""
    batches = [
        batch
        for minutes in lengths
        for batch in source.windows(minutes=minutes, step_minutes=step_minutes, count=count, seed=5)
    ]
    came = np.concatenate([batch.truth_mm >= WET_MM for batch in batches]).astype(float)
    said = [ways(batch) for batch in batches]
    for way in said[0]:
        chance = np.concatenate([chances[way] for chances in said])
        terms = decompose(chance, came, edges=TENTHS)
        print(
            f"{source.name:20s} {step_minutes:4d} min  {way:26s} skill {terms.skill:6.3f}  "
            f"reliability {terms.reliability:.4f}  mean {chance.mean():.4f} of {came.mean():.4f}"
        )


def fit(step_minutes: int, chosen: list[Source], *, count: int) -> ShareLaw:
    """Find the law with the least Brier score over all sources, each weighing the same."""
    every = max(5, step_minutes // 24)
    batches = {
        source.name: [
            batch
            for minutes in FIT_LENGTHS
            for batch in replace(source, every=every).windows(
                minutes=minutes, step_minutes=step_minutes, count=count, seed=3
            )
        ]
        for source in chosen
    }
    variance = {
        name: np.concatenate([batch.truth_mm >= WET_MM for batch in group]).var()
        for name, group in batches.items()
    }

    def loss(logs: Array) -> float:
        law = ShareLaw(kappa=float(np.exp(logs[0])), inside=float(np.exp(logs[1])))
        total = 0.0
        for name, group in batches.items():
            misses = [np.square(b.chances(law=law) - (b.truth_mm >= WET_MM)) for b in group]
            total += float(np.concatenate(misses).mean()) / variance[name]
        return total / len(batches)

    simplex = np.array([[0.3, 0.5], [0.8, 0.5], [0.3, 0.8]])
    found = minimize(
        loss,
        simplex[0],
        method="Nelder-Mead",
        options={"initial_simplex": simplex, "xatol": 0.01, "fatol": 1e-5, "maxfev": 60},
    )
    return ShareLaw(kappa=float(np.exp(found.x[0])), inside=float(np.exp(found.x[1])))


def skill(law: ShareLaw, source: Source, *, step_minutes: int) -> float:
    """Brier skill of a law on windows that no fit has seen."""
    batches = [
        batch
        for minutes in FIT_LENGTHS
        for batch in source.windows(
            minutes=minutes, step_minutes=step_minutes, count=20_000, seed=8
        )
    ]
    chance = np.concatenate([batch.chances(law=law) for batch in batches])
    came = np.concatenate([batch.truth_mm >= WET_MM for batch in batches]).astype(float)
    return decompose(chance, came, edges=TENTHS).skill


LEARNING_DAYS = 6
"""Days of radar, of eleven, that the learner sees; it is scored on the others."""


def split(radar: Source) -> tuple[Source, Source]:
    """Cut the radar's stretches into the first days and the last."""
    days = radar.minutes.reshape(-1, radar.stretch)
    at = LEARNING_DAYS * 1440
    return tuple(
        Source(name, part.ravel(), stretch=part.shape[1], every=radar.every)
        for name, part in (("radar, first", days[:, :at]), ("radar, last", days[:, at:]))
    )


def features(batches: list[Windows]) -> tuple[Array, Array]:
    """Amounts from one step before the window's to two after, its place in it (N, 6); what came."""
    rows = []
    for batch in batches:
        step = (batch.interval_ends[1] - batch.interval_ends[0]).total_seconds()
        opens = (pd.Timestamp(batch.start) - batch.interval_ends[BESIDE - 1]).total_seconds() / step
        length = (batch.end - batch.start).total_seconds() / step
        place = np.tile([opens, opens + length], (len(batch.truth_mm), 1))
        rows.append(np.hstack([batch.amounts_mm[:, BESIDE - 1 : BESIDE + 3], place]))
    came = np.concatenate([batch.truth_mm >= WET_MM for batch in batches])
    return np.concatenate(rows), came


def learner(step_minutes: int, radar: Source, synthetic: list[Source], *, count: int) -> None:
    """Print the skill of boosted trees on radar days they have not seen, beside the formula's.

    Trees may use the same amounts freely, or may only say more where there is more rain.
    """
    from sklearn.ensemble import HistGradientBoostingClassifier

    first, last = split(radar)

    def cut(source: Source) -> list[Windows]:
        return [
            batch
            for minutes in LENGTHS
            for batch in replace(source, every=5).windows(
                minutes=minutes, step_minutes=step_minutes, count=count, seed=4
            )
        ]

    unseen = cut(last)
    x_last, came = features(unseen)
    formula = brier_skill(np.concatenate([batch.chances() for batch in unseen]), came)
    seen = [features(cut(source)) for source in (*synthetic, first)]
    x, y = (np.concatenate(column) for column in zip(*seen, strict=True))
    weight = np.concatenate([np.full(len(c), 1 / (len(c) * c.var())) for _, c in seen])
    said = {}
    for name, monotone in (("free", None), ("rising with rain", [1, 1, 1, 1, 0, 0])):
        trees = HistGradientBoostingClassifier(
            max_iter=150,
            learning_rate=0.06,
            max_leaf_nodes=16,
            min_samples_leaf=60,
            l2_regularization=5.0,
            monotonic_cst=monotone,
            random_state=0,
        ).fit(x, y, weight / weight.mean())
        said[name] = round(brier_skill(trees.predict_proba(x_last)[:, 1], came), 3)
    print(f"{step_minutes} min, last radar days: formula {formula:.3f}, trees {said}", flush=True)


def main() -> None:
    """Print the tables that the options ask for."""
    if "--learner" in sys.argv[1:]:
        path = radar_file()
        if path is None:
            sys.exit("the learner is scored on radar days: install pycomlink (see above)")
        made = [source for source in sources(days=1500) if source.name in CLIMATES]
        for step in (60, 180, 360):
            learner(step, radar_source(path), made, count=20_000)
        return
    if "--fit" in sys.argv[1:]:
        chosen = [source for source in sources(days=1500) if "tips" not in source.name]
        for hours in FITTED_LAWS:
            step = round(60 * hours)
            print(f"{step} min, all sources: {fit(step, chosen, count=5_000)}", flush=True)
            for out in chosen:
                law = fit(step, [source for source in chosen if source is not out], count=5_000)
                print(
                    f"   without {out.name}: {law}, skill there "
                    f"{skill(law, out, step_minutes=step):.3f}",
                    flush=True,
                )
        return
    if "--timing" in sys.argv[1:]:
        for climate in CLIMATES:
            series = minutes_of_rain(climate, days=1500, seed=21)
            for sd_hours in (1, 3, 6):
                chance, came, rivals = shifted(series, sd_hours=sd_hours, minutes=30, each=1000)
                said = {"this formula": chance, **rivals}
                skills = {name: round(brier_skill(each, came), 2) for name, each in said.items()}
                print(f"{climate:8s} timing error {sd_hours} h: {skills}")
        return
    for source in sources(days=3000):
        for step in (15, 60, 180, 360):
            score(source, lengths=LENGTHS, step_minutes=step, count=60_000)


if __name__ == "__main__":
    main()
