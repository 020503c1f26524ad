"""How much of the past days' rain is still in the ground."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

KEPT_A_DAY: Final = 0.9
"""Share of the index that is left a day later, – (Kohler & Linsley 1951 give .80 to .98)."""


def antecedent_precipitation_mm(
    rain_mm: npt.ArrayLike, *, step_hours: float = 24.0, kept_a_day: float = KEPT_A_DAY
) -> Array:
    """Return the antecedent precipitation index (…, T), mm, after each step of `rain_mm` (…, T).

    Each step keeps what its length leaves of the index before, and adds its own rain; the ground is
    taken to be dry before the first. From a missing amount on all is NaN. Raises ValueError for a
    share outside 0…1 or a step that is not positive. Source: Kohler & Linsley 1951.
    """
    if not 0.0 <= kept_a_day <= 1.0:
        raise ValueError("kept_a_day must lie within 0 and 1")
    if not step_hours > 0.0:
        raise ValueError("step_hours must be positive")
    kept = kept_a_day ** (step_hours / 24.0)
    index = np.array(rain_mm, dtype=np.float64)
    for step in range(1, index.shape[-1]):
        index[..., step] += kept * index[..., step - 1]
    return index
