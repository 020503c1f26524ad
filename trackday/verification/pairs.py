"""Chances and what came, checked once for every score."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def known_pairs(chance: npt.ArrayLike, observed: npt.ArrayLike) -> tuple[Array, Array]:
    """Chances (N,) in [0, 1] and events (N,) as 0 or 1, without the pairs that miss either.

    A missing chance or a missing observation (NaN) is unknown, and is neither a hit nor a miss.
    Raises ValueError for shapes that differ, for values out of range and when no pair is left.
    """
    p = np.asarray(chance, dtype=float)
    o = np.asarray(observed, dtype=float)
    if p.ndim != 1 or p.shape != o.shape:
        raise ValueError(f"chances {p.shape} and events {o.shape} must be equally long rows")
    known = np.isfinite(p) & np.isfinite(o)
    p, o = p[known], o[known]
    if not len(p):
        raise ValueError("no pair of a chance and an event is known")
    if p.min() < 0 or p.max() > 1:
        raise ValueError("a chance lies between 0 and 1")
    if not np.isin(o, (0.0, 1.0)).all():
        raise ValueError("an event is 0 (did not happen) or 1 (happened)")
    return p, o
