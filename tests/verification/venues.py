"""Made-up venues whose ensembles have one fault each, for calibration."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from scipy.special import ndtri

from trackday.verification.calibration import Pairs

MEMBERS = 30
FRESH = 4000
"""Pairs kept apart to judge by."""

VENUES = {
    # name: (pairs, base rate, skill of the signal, spread told over spread true, bias, drizzle mm)
    "biased": (200, 0.3, 0.8, 1.0, 0.8, 0.0),
    "biased dry": (200, 0.3, 0.8, 1.0, -0.8, 0.0),
    "drizzling": (400, 0.3, 0.8, 1.0, 0.0, 0.4),
    "drizzling, long": (1000, 0.3, 0.8, 1.0, 0.0, 0.4),
    "sharp": (200, 0.3, 0.7, 0.4, 0.0, 0.0),
    "sharp, short": (60, 0.3, 0.7, 0.4, 0.0, 0.0),
    "useless": (300, 0.3, 0.0, 0.5, 0.0, 0.0),
    "good": (1000, 0.3, 0.9, 1.0, 0.0, 0.0),
    "good, short": (80, 0.3, 0.9, 1.0, 0.0, 0.0),
    "too short": (15, 0.3, 0.8, 1.0, 0.8, 0.0),
}


def venue(name: str, *, count: int, seed: int) -> Pairs:
    """Forecasts of at least 0.1 mm a day by an ensemble, and what came.

    Truth and members share a signal; rain is what exceeds a level, squared into mm. Members may be
    shifted (bias), too alike (spread), or add drizzle to every dry member.
    """
    _, base, skill, spread, bias, drizzle = VENUES[name]
    rng = np.random.default_rng(seed)
    level = float(ndtri(1.0 - base))
    signal = rng.normal(size=count)
    noise = np.sqrt(1 - skill**2)
    truth = skill * signal + noise * rng.normal(size=count)
    scatter = spread * noise * rng.normal(size=(count, MEMBERS))
    told = (skill if skill > 0 else 1.0) * signal[:, None] + scatter + bias
    amount = 4.0 * np.square(np.clip(told - level, 0.0, None))
    amount = np.where(rng.uniform(size=amount.shape) < 0.7, np.maximum(amount, drizzle), amount)
    return Pairs(
        days=tuple(date(2020, 1, 1) + timedelta(days=3 * i) for i in range(count)),
        chance=(amount >= 0.1).mean(axis=1),
        root_mm=np.sqrt(amount).mean(axis=1),
        observed=(truth > level).astype(float),
        threshold_mm=0.1,
    )
