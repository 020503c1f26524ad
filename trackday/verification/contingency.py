"""Yes–no forecasts against what came: the four counts and the scores made of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy.typing as npt

from trackday.verification.pairs import known_pairs


@dataclass(frozen=True)
class Contingency:
    """Counts of a 2×2 table. Scores without a case to judge by are NaN.

    Names and formulas as in Wilks, Statistical Methods in the Atmospheric Sciences, ch. 9.
    """

    hits: float
    false_alarms: float
    misses: float
    correct_negatives: float

    def __post_init__(self) -> None:
        """Refuse negative counts and an empty table."""
        counts = (self.hits, self.false_alarms, self.misses, self.correct_negatives)
        if min(counts) < 0 or sum(counts) <= 0:
            raise ValueError("counts must not be negative, and at least one case is needed")

    @property
    def count(self) -> float:
        """All cases."""
        return self.hits + self.false_alarms + self.misses + self.correct_negatives

    @property
    def base_rate(self) -> float:
        """Share of cases in which the event came."""
        return (self.hits + self.misses) / self.count

    @property
    def pod(self) -> float:
        """Probability of detection: events that were forecast."""
        return _ratio(self.hits, self.hits + self.misses)

    @property
    def far(self) -> float:
        """False alarm ratio: forecasts of the event that were wrong."""
        return _ratio(self.false_alarms, self.hits + self.false_alarms)

    @property
    def pofd(self) -> float:
        """Probability of false detection: quiet cases that were forecast as the event."""
        return _ratio(self.false_alarms, self.false_alarms + self.correct_negatives)

    @property
    def csi(self) -> float:
        """Critical success index (threat score): hits among all but the correct negatives."""
        return _ratio(self.hits, self.hits + self.false_alarms + self.misses)

    @property
    def gss(self) -> float:
        """Gilbert skill score (equitable threat score): CSI less the hits of chance."""
        by_chance = (self.hits + self.misses) * (self.hits + self.false_alarms) / self.count
        return _ratio(
            self.hits - by_chance, self.hits + self.false_alarms + self.misses - by_chance
        )

    @property
    def hss(self) -> float:
        """Heidke skill score: share right beyond the share right by chance."""
        a, b, c, d = self.hits, self.false_alarms, self.misses, self.correct_negatives
        return _ratio(2 * (a * d - b * c), (a + c) * (c + d) + (a + b) * (b + d))

    @property
    def pss(self) -> float:
        """Peirce skill score (Hanssen–Kuipers): POD − POFD."""
        return self.pod - self.pofd

    @property
    def bias(self) -> float:
        """Frequency bias: forecasts of the event per event."""
        return _ratio(self.hits + self.false_alarms, self.hits + self.misses)


def contingency(chance: npt.ArrayLike, observed: npt.ArrayLike, *, threshold: float) -> Contingency:
    """Count the table of "forecast if the chance exceeds `threshold`" against events (N,)."""
    p, o = known_pairs(chance, observed)
    said, came = p > threshold, o == 1.0
    return Contingency(
        hits=float((said & came).sum()),
        false_alarms=float((said & ~came).sum()),
        misses=float((~said & came).sum()),
        correct_negatives=float((~said & ~came).sum()),
    )


def _ratio(part: float, whole: float) -> float:
    return part / whole if whole != 0 else float("nan")
