"""Brier score, its skill, and the parts that it is made of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import isotonic_regression

from trackday.verification.pairs import known_pairs
from trackday.verification.reliability import ReliabilityTable, reliability_table


@dataclass(frozen=True)
class Decomposition:
    """Murphy's three terms of a Brier score, and what grouping leaves over.

    score = reliability − resolution + uncertainty + within, all in squared probability.
    `reliability` is 0 when every chance came true as often as it said; `resolution` is how far
    the groups differ from the base rate; `uncertainty` is the score of the base rate itself.
    `within` is 0 where each group holds one chance only. `count` is the number of pairs.
    Source: Murphy (1973), J. Appl. Meteor. 12, 595–600.
    """

    score: float
    reliability: float
    resolution: float
    uncertainty: float
    within: float
    count: int

    @property
    def skill(self) -> float:
        """Share of the base rate's score that the forecast saves; NaN where nothing varied."""
        return 1.0 - self.score / self.uncertainty if self.uncertainty > 0 else float("nan")


@dataclass(frozen=True)
class IsotonicDecomposition:
    """Score = miscalibration − discrimination + uncertainty, without a choice of bins.

    The forecast is compared with its own best monotone recalibration. Source: Dimitriadis,
    Gneiting and Jordan (2021), Proc. Natl. Acad. Sci. 118, e2016191118.
    """

    score: float
    miscalibration: float
    discrimination: float
    uncertainty: float
    count: int


def brier_score(chance: npt.ArrayLike, observed: npt.ArrayLike) -> float:
    """Mean squared difference of chances (N,) and events (N,); 0 is perfect."""
    p, o = known_pairs(chance, observed)
    return float(np.mean(np.square(p - o)))


def brier_skill(
    chance: npt.ArrayLike, observed: npt.ArrayLike, *, reference: npt.ArrayLike | None = None
) -> float:
    """Share of the reference's Brier score that the forecast saves: 1 perfect, 0 no better.

    `reference` is a chance a pair (N,) or one for all; by default the base rate of the events
    scored. Pairs that miss the chance, the event or the reference are left out of both scores.
    NaN where the reference is perfect, as a base rate is when the event always or never came.
    """
    p = np.asarray(chance, dtype=float)
    o = np.asarray(observed, dtype=float)
    if reference is None:
        p, o = known_pairs(p, o)
        r = np.full(len(o), o.mean())
    else:
        r = np.broadcast_to(np.asarray(reference, dtype=float), p.shape)
        known = np.isfinite(r)
        p, r, o = p[known], r[known], o[known]
        complete = np.isfinite(p) & np.isfinite(o)
        p, r, o = p[complete], r[complete], o[complete]
    base = brier_score(r, o)
    return 1.0 - brier_score(p, o) / base if base > 0 else float("nan")


def decompose(
    chance: npt.ArrayLike, observed: npt.ArrayLike, *, edges: npt.ArrayLike | None = None
) -> Decomposition:
    """Split the Brier score by groups: equal chances, or the bins between `edges`."""
    table = reliability_table(chance, observed, edges=edges)
    terms = decompose_table(table)
    score = brier_score(chance, observed)
    return Decomposition(
        score=score,
        reliability=terms.reliability,
        resolution=terms.resolution,
        uncertainty=terms.uncertainty,
        within=score - terms.score,
        count=terms.count,
    )


def decompose_table(table: ReliabilityTable) -> Decomposition:
    """Murphy's terms of a reliability table, as if each of its bins held one chance only."""
    weight = table.count / table.count.sum()
    filled = table.count > 0
    weight, p, o = weight[filled], table.mean_chance[filled], table.observed_share[filled]
    base = float(weight @ o)
    reliability = float(weight @ np.square(p - o))
    resolution = float(weight @ np.square(o - base))
    uncertainty = base * (1.0 - base)
    return Decomposition(
        score=reliability - resolution + uncertainty,
        reliability=reliability,
        resolution=resolution,
        uncertainty=uncertainty,
        within=0.0,
        count=int(table.count.sum()),
    )


def decompose_isotonic(chance: npt.ArrayLike, observed: npt.ArrayLike) -> IsotonicDecomposition:
    """Split the Brier score against the forecast's best monotone recalibration."""
    p, o = known_pairs(chance, observed)
    group = np.unique(p, return_inverse=True)[1]
    count = np.bincount(group).astype(float)
    share = np.bincount(group, weights=o) / count
    fitted = isotonic_regression(share, weights=count).x[group]
    score = brier_score(p, o)
    recalibrated = float(np.mean(np.square(fitted - o)))
    uncertainty = float(o.mean() * (1 - o.mean()))
    return IsotonicDecomposition(
        score=score,
        miscalibration=score - recalibrated,
        discrimination=uncertainty - recalibrated,
        uncertainty=uncertainty,
        count=len(p),
    )
