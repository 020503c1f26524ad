"""How good the foretold track temperatures were, against the racer's own readings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trackday.outlook.spread import share_range
from trackday.scoring.said import LEAD_CLASSES, LeadClass, SaidPair


@dataclass(frozen=True)
class TrackLead:
    """The errors of one lead class, K; NaN without any look."""

    lead: LeadClass
    looks: int
    bias_k: float
    mae_k: float


@dataclass(frozen=True)
class TrackScore:
    """Foretold medians against readings, of `looks` at `sessions`.

    `bias_k` is the mean of foretold minus read, `mae_k` the mean size of it, K. `inside` looks held
    the reading between p10 and p90; `share_low` and `share_high` are Wilson's range of that share
    for the number of sessions. A range that is right holds four readings of five.
    """

    looks: int
    sessions: int
    bias_k: float
    mae_k: float
    inside: int
    inside_share: float
    share_low: float
    share_high: float
    by_lead: tuple[TrackLead, ...]


def track_score(pairs: Sequence[SaidPair]) -> TrackScore | None:
    """Score the pairs that have a foretold range and a reading; None without any."""
    known = [
        pair
        for pair in pairs
        if all(map(math.isfinite, pair.track_c)) and math.isfinite(pair.came.track_temp_c)
    ]
    if not known:
        return None
    inside = [pair.track_c[0] <= pair.came.track_temp_c <= pair.track_c[2] for pair in known]
    sessions = len({pair.session_key for pair in known})
    share = sum(inside) / len(known)
    low, high = share_range(share, sessions)
    bias, mae = _errors(known)
    return TrackScore(
        looks=len(known),
        sessions=sessions,
        bias_k=bias,
        mae_k=mae,
        inside=sum(inside),
        inside_share=share,
        share_low=low,
        share_high=high,
        by_lead=tuple(_of_lead(lead, known) for lead in LEAD_CLASSES),
    )


def _of_lead(lead: LeadClass, known: Sequence[SaidPair]) -> TrackLead:
    here = [pair for pair in known if pair.lead_class == lead]
    return TrackLead(lead, len(here), *_errors(here))


def _errors(pairs: Sequence[SaidPair]) -> tuple[float, float]:
    """Mean error and mean absolute error, K; NaN without pairs."""
    if not pairs:
        return math.nan, math.nan
    errors = np.array([pair.track_c[1] - pair.came.track_temp_c for pair in pairs])
    return float(errors.mean()), float(np.abs(errors).mean())
