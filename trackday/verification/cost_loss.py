"""What a chance is worth to somebody who can protect against a loss at a cost.

Source: Murphy (1977), Mon. Wea. Rev. 105, 803–816; Richardson (2000), Q. J. R. Meteorol. Soc. 126,
649–667. Money is in units of the loss, so that protecting costs `cost_loss` = C/L.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from trackday.verification.contingency import Contingency, contingency
from trackday.verification.pairs import Array


def act(chance: npt.ArrayLike, *, cost_loss: float) -> npt.NDArray[np.bool_]:
    """Whether to protect: when the chance exceeds the cost of protecting over the loss.

    A missing chance is unknown, and protects.
    """
    _check_ratio(cost_loss)
    p = np.asarray(chance, dtype=float)
    decision: npt.NDArray[np.bool_] = ~(p <= cost_loss)
    return decision


def mean_expense(table: Contingency, *, cost_loss: float) -> float:
    """Mean expense a case, in units of the loss, of acting on the forecasts of a table."""
    _check_ratio(cost_loss)
    acted = table.hits + table.false_alarms
    return (acted * cost_loss + table.misses) / table.count


def relative_value(table: Contingency, *, cost_loss: float) -> float:
    """Share of what perfect foresight saves over the base rate alone: 1 perfect, 0 worthless.

    The base rate alone either always or never protects, whichever is cheaper. Negative when
    acting on the forecast costs more than that; NaN where the event always or never came, since
    then there is nothing to save.
    """
    by_base_rate = min(cost_loss, table.base_rate)
    by_foresight = table.base_rate * cost_loss
    saving = by_base_rate - by_foresight
    if saving <= 0:
        return float("nan")
    return (by_base_rate - mean_expense(table, cost_loss=cost_loss)) / saving


def value_curve(
    chance: npt.ArrayLike, observed: npt.ArrayLike, *, cost_loss: npt.ArrayLike
) -> Array:
    """Relative value (K,) to users of each C/L (K,) who act when the chance exceeds their C/L."""
    ratios = np.atleast_1d(np.asarray(cost_loss, dtype=float))
    return np.array(
        [
            relative_value(contingency(chance, observed, threshold=float(c)), cost_loss=float(c))
            for c in ratios
        ]
    )


def _check_ratio(cost_loss: float) -> None:
    if not 0.0 < cost_loss < 1.0:
        raise ValueError("cost over loss must lie between 0 and 1: dearer protection never pays")
