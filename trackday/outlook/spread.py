"""Weighted distributions over members: quantiles, shares and how sure a share can be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from trackday.weather.series import Array

RANGE_LEVEL = 0.80
"""Share of cases that a shown low–high range is meant to hold: p10 to p90."""


@dataclass(frozen=True)
class Spread:
    """The 10th, 50th and 90th percentile over members; NaN where no member with a say knows.

    `unknown_share` is the weight of the members that do not know, 0…1.
    """

    p10: float
    p50: float
    p90: float
    unknown_share: float = 0.0


def spread(values: Array, weights: Array) -> Spread:
    """Summarize one value a member, shape (M,), NaN for unknown, by weights (M,).

    A member of no weight has no say, whatever it knows.
    """
    heard = np.isfinite(values) & (weights > 0.0)
    if not heard.any():
        return Spread(np.nan, np.nan, np.nan, 1.0)
    p10, p50, p90 = weighted_quantiles(values[heard], weights[heard], (0.1, 0.5, 0.9))
    return Spread(p10, p50, p90, 1.0 - float(weights[heard].sum()) / float(weights.sum()))


def weighted_quantiles(
    values: Array, weights: Array, levels: tuple[float, ...]
) -> tuple[float, ...]:
    """Quantiles of values (M,) with weights (M,) above zero, linear between members' mid-ranks.

    With equal weights this is Hazen's plotting position, (k − ½)/M.
    """
    order = np.argsort(values, kind="stable")
    ordered, mass = values[order], weights[order] / weights.sum()
    middle = np.cumsum(mass) - mass / 2
    return tuple(float(q) for q in np.interp(levels, middle, ordered))


def weighted_mean(values: Array, weights: Array) -> float:
    """Mean (M,) over the members that know and have a say; NaN where there is none."""
    heard = np.isfinite(values) & (weights > 0.0)
    if not heard.any():
        return float("nan")
    return float(np.average(values[heard], weights=weights[heard]))


def effective_count(weights: Array) -> float:
    """Kish's effective sample size, (Σw)²/Σw²: equal weights give the member count."""
    return float(weights.sum() ** 2 / np.square(weights).sum())


def share_range(share: float, count: float) -> tuple[float, float]:
    """Wilson's score interval at `RANGE_LEVEL` for a share seen in `count` members.

    One forecast that says "dry" leaves a wide range; eighty that agree leave a narrow one.
    Source: Wilson (1927), J. Am. Stat. Assoc. 22, 209–212.
    """
    z = float(ndtri(0.5 + RANGE_LEVEL / 2))
    center = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z * np.sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    half /= 1 + z * z / count
    # Rounding must not leave the share itself outside.
    low, high = min(share, float(center - half)), max(share, float(center + half))
    return max(0.0, low), min(1.0, high)
