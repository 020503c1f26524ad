"""How often calibration is used on made-up venues, and what it gains on pairs it has not seen.

OMP_NUM_THREADS=1 python tests/benchmarks/calibration_gain.py
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from verification.venues import FRESH, VENUES, venue

from trackday.verification.brier import brier_score
from trackday.verification.calibration import fit_calibration

TRIES = 40


def main() -> None:
    """Print for each venue how often a calibration was used, and its gains in Brier score."""
    for name, (count, *_) in VENUES.items():
        gains = []
        for seed in range(50, 50 + TRIES):
            found = fit_calibration(venue(name, count=count, seed=seed))
            if found is None:
                continue
            fresh = venue(name, count=FRESH, seed=9000 + seed)
            chance = found.apply(fresh.chance, root_mm=fresh.root_mm, threshold_mm=0.1)
            raw = brier_score(fresh.chance, fresh.observed)
            gains.append(raw - brier_score(chance, fresh.observed))
        spread = f"least {min(gains):.4f}, mean {np.mean(gains):.4f}" if gains else ""
        worse = sum(gain < 0 for gain in gains)
        print(f"{name:16s} used {len(gains)} of {TRIES}, worse {worse}  {spread}")


if __name__ == "__main__":
    main()
