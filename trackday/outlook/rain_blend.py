"""Mixing an ensemble's chance with what other years brought, by how far ahead it looks."""

from __future__ import annotations

import numpy as np
from scipy.special import expit, logit

LEAD_DAYS = (1.0, 3.0, 5.0, 7.0, 10.0, 16.0)
"""Lead times, days, of `ENSEMBLE_WEIGHTS`; in between, straight lines. From the last on, which is
the horizon of the global forecast, other years speak alone, though one ensemble reaches farther."""

DAILY_SKILL = (0.25, 0.21, 0.20, 0.14, 0.06, 0.0)
"""Brier skill of calibrated chances of 5 mm a day at `LEAD_DAYS`, without unit. Fitted by this
project on public gauge data to day 10; none at the horizon (assumption)."""

ENSEMBLE_WEIGHTS = tuple((skill / DAILY_SKILL[0]) ** 0.5 for skill in DAILY_SKILL)
"""Weight b of the ensemble's logit: the root of its skill over that of day 1. Skill is a squared
correlation, and regression shrinks a predictor by the correlation itself; that a day-ahead
ensemble needs no shrinking is an assumption. The weight of climatology is 1 − b, and a = 0, so that
two chances that agree stay what they are."""

TRUSTED_WEIGHT = 0.5
"""Least weight of an ensemble that may choose between wet and dry tires: with less, other years say
more about the rain than it does. Assumption."""

LEAST_CHANCE = 0.005
"""Chances are held this far from 0 and 1 before their logit is taken: no ensemble of some hundred
members tells less apart. Assumption."""


def ensemble_weight(lead_hours: float) -> float:
    """Weight b in [0, 1] of the ensemble at a lead of so many hours; falls with the lead.

    Raises ValueError for a negative lead.
    """
    if lead_hours < 0:
        raise ValueError("a forecast looks ahead: the lead is not negative")
    return float(np.interp(lead_hours / 24.0, LEAD_DAYS, ENSEMBLE_WEIGHTS))


def trusted_days() -> int:
    """How many whole days ahead an ensemble's weight still reaches `TRUSTED_WEIGHT`."""
    falling = ENSEMBLE_WEIGHTS[::-1]
    return int(np.interp(TRUSTED_WEIGHT, falling, LEAD_DAYS[::-1]))


def is_trusted(lead_hours: float) -> bool:
    """Whether an ensemble may tell wet from dry at such a lead; one that has begun may."""
    return lead_hours <= 24.0 * trusted_days()


def blend(ensemble_chance: float, climatology_chance: float, *, lead_hours: float) -> float:
    """Chance from both: logit P = b·logit(ensemble) + (1 − b)·logit(climatology).

    Past the horizon climatology speaks alone. An unknown (NaN) ensemble leaves climatology, unknown
    climatology leaves the ensemble as it is within the horizon; NaN where nothing is left. Raises
    ValueError for a chance outside 0…1 and a negative lead.
    """
    weight = ensemble_weight(lead_hours)
    for chance in (ensemble_chance, climatology_chance):
        if not (np.isnan(chance) or 0.0 <= chance <= 1.0):
            raise ValueError("a chance lies between 0 and 1")
    if weight == 0.0 or np.isnan(ensemble_chance):
        return float(climatology_chance)
    if np.isnan(climatology_chance) or weight == 1.0:
        return float(ensemble_chance)
    return float(
        expit(weight * _held(ensemble_chance) + (1.0 - weight) * _held(climatology_chance))
    )


def _held(chance: float) -> float:
    return float(logit(np.clip(chance, LEAST_CHANCE, 1.0 - LEAST_CHANCE)))
