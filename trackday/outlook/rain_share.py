"""How an interval's rain is shared out within it: the law that turns hours into minutes.

Forecasts give the rain of 15 minutes, of 1, 3 or 6 hours. The share of it that falls in a part of
the interval is random: showers fill a few minutes of an hour, and the end of a wet hour is likelier
dry when the next hour is. For a part from x₀ to x₁ (0 and 1 are the interval's own ends) the share
is taken to follow a beta law,

    share ~ Beta(κ·c·A, κ·(1 − f)),    f = x₁ − x₀,
    A = ∫ from x₀ to x₁ of 1 − (1 − g₋)·(1 − x)² − (1 − g₊)·x² dx,

where g₋ and g₊ in [0, 1] say how wet the intervals before and after are. Between two wet neighbors
the rain falls anywhere (A = f); between two dry ones it keeps to the middle (the parabola
2x·(1 − x)). A small κ means all or nothing, a large one nearly the mean. Since A is never smaller
for more rain beside the part, and c·A against 1 − f never smaller for a longer part, neither ever
lowers the chance; a law that moves rain from one end of the hour to the other would fit closer, but
could not promise that.

κ and c were fitted by this project, by least Brier score, on three synthetic climates that
reproduce what was measured on public gauge series, and on eleven days of public radar;
`docs/rain.md` has the table, also with each of the four left out of the fit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import betaincc

from trackday.weather.series import Array

WET_NEIGHBOR_MM = 0.05
"""Rain in a neighboring interval, mm, that makes it half as telling as a downpour: half of what a
gauge can see. Assumption: the fits hardly depend on it."""

TOLERANCE_MM = 1e-3
"""Slack, mm, a tenth of the hundredths that gauges record: what adds up to 0.1 mm is 0.1 mm, and an
hour of just 0.1 mm may have had all of it in the window. At most a hundredth of what is asked for.
Assumption."""

_SLICES = 32
"""Slices of the threshold when two partly covered intervals share it; an approximation that asks
for up to 3 % more rain than needed, and keeps the chance monotone."""


@dataclass(frozen=True)
class ShareLaw:
    """Constants of the beta law for one length of interval, without unit: κ and c."""

    kappa: float
    inside: float


@dataclass(frozen=True, eq=False)
class Part:
    """A part of one interval, member by member (M,).

    `amount_mm` falls in the whole interval, of which the part reaches from `opens` to `closes`, in
    [0, 1]; `before` and `after` are `wetness` of the neighboring intervals.
    """

    amount_mm: Array
    opens: Array
    closes: Array
    before: Array
    after: Array


FITTED_LAWS: dict[float, ShareLaw] = {
    0.25: ShareLaw(kappa=2.65, inside=1.47),
    1.0: ShareLaw(kappa=1.53, inside=1.46),
    3.0: ShareLaw(kappa=1.43, inside=1.67),
    6.0: ShareLaw(kappa=2.18, inside=1.46),
}
"""Laws by length of interval in hours. Fitted by this project on synthetic climates and public
radar (`python tests/benchmarks/rain_window.py --fit`)."""


def share_law(step_hours: float) -> ShareLaw:
    """Law of an interval of `step_hours`; between the fitted lengths, along the logarithm.

    Shorter and longer intervals than those fitted take the nearest (assumption).
    """
    if not step_hours > 0:
        raise ValueError("an interval must last longer than no time")
    at, lengths = np.log(step_hours), np.log(list(FITTED_LAWS))
    return ShareLaw(
        kappa=float(np.interp(at, lengths, [law.kappa for law in FITTED_LAWS.values()])),
        inside=float(np.interp(at, lengths, [law.inside for law in FITTED_LAWS.values()])),
    )


def wetness(neighbor_mm: Array) -> Array:
    """How telling a neighbor's rain is, in [0, 1): 0 for none, rising with it."""
    wet: Array = neighbor_mm / (neighbor_mm + WET_NEIGHBOR_MM)
    return wet


def chance_of_part(part: Part, need_mm: Array, *, law: ShareLaw) -> Array:
    """Chance that at least `need_mm`, (M,) or (M, K), falls in the part; of that shape.

    Certain where nothing is needed, impossible where more is needed than the interval holds; a
    whole interval holds its amount. Unknown amounts give NaN.
    """
    rows = (slice(None),) + (None,) * (need_mm.ndim - 1)
    amount, fraction = part.amount_mm[rows], (part.closes - part.opens)[rows]
    inner = (fraction > 0.0) & (fraction < 1.0)
    possible = amount > np.maximum(need_mm, 0.0)
    asked = np.divide(need_mm, amount, out=np.ones(possible.shape), where=possible)
    enough = betaincc(
        law.kappa * law.inside * np.where(inner, _likely_part(part)[rows], np.nan),
        law.kappa * np.where(inner, 1.0 - fraction, np.nan),
        np.maximum(asked, 0.0),
    )
    chance = np.where(inner & possible, enough, 0.0)
    chance = np.where(fraction >= 1.0, amount >= need_mm, chance)
    known = np.isfinite(amount) & np.isfinite(need_mm)
    chance = np.where(need_mm <= 0.0, 1.0, chance)
    return np.asarray(np.where(known, chance, np.nan), dtype=np.float64)


def chance_of_two(first: Part, last: Part, need_mm: Array, *, law: ShareLaw) -> Array:
    """Chance (M,) that two parts together hold `need_mm` (M,), each drawing its own share.

    The rain of the last is rounded down to `_SLICES` slices of what is needed, so that the sum is
    a weighted mean of chances of the first: monotone in every amount and length, and exact where
    one part is empty.
    """
    slices = need_mm[:, None] * (np.arange(_SLICES + 1) / _SLICES)
    reaches = chance_of_part(last, slices, law=law)
    first_fills = chance_of_part(first, need_mm[:, None] - slices[:, :-1], law=law)
    both = (first_fills * -np.diff(reaches, axis=1)).sum(axis=1) + reaches[:, -1]
    chance: Array = np.clip(both, 0.0, 1.0)
    return chance


def _likely_part(part: Part) -> Array:
    """A of the law, (M,): the part's length, less what dry neighbors take from the ends."""
    x0, x1 = part.opens, part.closes
    near_start = ((1.0 - x0) ** 3 - (1.0 - x1) ** 3) / 3.0
    near_end = (x1**3 - x0**3) / 3.0
    likely: Array = (x1 - x0) - (1.0 - part.before) * near_start - (1.0 - part.after) * near_end
    return likely
