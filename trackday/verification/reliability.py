"""How often it rained when a chance said so: the reliability table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackday.verification.pairs import Array, known_pairs


@dataclass(frozen=True, eq=False)
class ReliabilityTable:
    """One row a group of chances (G,): how many, what they said on average, what came.

    `mean_chance` and `observed_share` are NaN for a bin without cases: nothing is known of it.
    """

    count: Array
    mean_chance: Array
    observed_share: Array

    def __post_init__(self) -> None:
        """Refuse columns of unequal length and tables without a case."""
        if not len(self.count) == len(self.mean_chance) == len(self.observed_share):
            raise ValueError("the columns of a reliability table must be equally long")
        if self.count.sum() <= 0:
            raise ValueError("a reliability table needs at least one case")


TENTHS = np.arange(11) / 10.0
"""Edges of ten equal bins; common practice. Quotients, since a step of 0.1 added up passes 0.3, and
30 % belongs to the bin from 30 % on."""


def reliability_table(
    chance: npt.ArrayLike, observed: npt.ArrayLike, *, edges: npt.ArrayLike | None = None
) -> ReliabilityTable:
    """Group chances (N,) and events (N,) by equal chances, or by bins between rising `edges`.

    A bin holds its lower edge; the last also its upper one. Edges must span [0, 1].
    """
    p, o = known_pairs(chance, observed)
    if edges is None:
        groups, group = np.unique(p, return_inverse=True)
        bins = len(groups)
    else:
        limits = np.asarray(edges, dtype=float)
        if limits[0] > 0 or limits[-1] < 1 or (np.diff(limits) <= 0).any():
            raise ValueError("edges must rise from 0 to 1")
        bins = len(limits) - 1
        group = np.clip(np.searchsorted(limits, p, side="right") - 1, 0, bins - 1)
    count = np.bincount(group, minlength=bins).astype(float)
    with np.errstate(invalid="ignore"):
        mean_chance = np.bincount(group, weights=p, minlength=bins) / count
        share = np.bincount(group, weights=o, minlength=bins) / count
    return ReliabilityTable(count=count, mean_chance=mean_chance, observed_share=share)
