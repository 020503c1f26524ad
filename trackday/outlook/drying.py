"""When a wet track is dry again, over members."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import pandas as pd

from trackday.weather.series import Array, epoch_seconds


@dataclass(frozen=True)
class DryingOutlook:
    """When the film falls below the damp limit and stays there, as p10, p50 and p90 (UTC).

    None for a percentile by which it is not dry within the hours looked at. `chance` is the weight
    of the members that are dry within them.
    """

    p10: datetime | None
    p50: datetime | None
    p90: datetime | None
    chance: float


def drying_outlook(
    times: pd.DatetimeIndex,
    film_mm: Array,
    weights: Array,
    *,
    since: datetime,
    until: datetime,
    damp_mm: float,
) -> DryingOutlook:
    """Read off films (M, K) when each member's track is dry for the rest of `since` to `until`.

    A member that is dry from the start counts as dry at `since`; one with an unknown film at the
    end never counts as dry.
    """
    clock = epoch_seconds(times)
    inside = (clock >= since.timestamp()) & (clock <= until.timestamp())
    if not inside.any():
        return DryingOutlook(None, None, None, 0.0)
    dry_at = _dry_from(clock[inside], film_mm[:, inside], damp_mm)
    p10, p50, p90 = (_by_when(dry_at, weights, level) for level in (0.1, 0.5, 0.9))
    chance = float(weights[np.isfinite(dry_at)].sum() / weights.sum())
    return DryingOutlook(p10, p50, p90, chance)


def _dry_from(clock: Array, film_mm: Array, damp_mm: float) -> Array:
    """Second from which each member's film (M, K) stays below the limit, infinite if never."""
    # A missing film is not below any limit, so it counts as wet.
    wet = ~(film_mm < damp_mm)
    last_wet = np.where(wet.any(axis=1), wet.shape[1] - 1 - np.argmax(wet[:, ::-1], axis=1), -1)
    after = np.append(clock, np.inf)
    return np.asarray(after[last_wet + 1])


def _by_when(dry_at: Array, weights: Array, level: float) -> datetime | None:
    """First moment by which this share of the members is dry; None if it never comes to that."""
    order = np.argsort(dry_at)
    reached = np.cumsum(weights[order]) / weights.sum()
    first = min(int(np.searchsorted(reached, level - 1e-9)), len(order) - 1)
    seconds = float(dry_at[order[first]])
    return datetime.fromtimestamp(seconds, UTC) if np.isfinite(seconds) else None
