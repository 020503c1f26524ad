"""Linear regression that starts from a prior, takes few readings and doubts the odd one.

The prior says what is expected before the first reading and how sure that is; each reading pulls
the answer by as much as it is surer. A reading far from what the others say loses its pull instead
of dragging the fit along: the likelihood is Student's t, solved by iterated weights.
Source: Lange, Little & Taylor 1989, J. Am. Stat. Assoc. 84, 881–896 (t errors by iterated weights).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

TAIL_DEGREES: Final = 4.0
"""Degrees of freedom of the t distribution, –. Common practice for data with a slip of the pen now
and then (the value that Lange, Little & Taylor recommend for small samples, value from memory)."""

NOISE_PRIOR_WEIGHT: Final = 6.0
"""As many readings as the expected noise counts for against the readings' own, –. Assumption."""

MOST_ROUNDS: Final = 100
SMALL_STEP: Final = 1e-6
"""Rounds end when no coefficient moves by more, in its own unit, or after so many. Assumptions."""


@dataclass(frozen=True, eq=False)
class Belief:
    """What is known of the coefficients: `mean` (P,) and `covariance` (P, P), normal."""

    mean: Array
    covariance: Array

    def predict(self, rows: Array) -> tuple[Array, Array]:
        """Return mean and variance (K,) of the line at `rows` (K, P), without a reading's noise."""
        return rows @ self.mean, np.sum((rows @ self.covariance) * rows, axis=1)


@dataclass(frozen=True, eq=False)
class Learned:
    """A belief after readings, the noise of a reading (sd), and each reading's pull (N,), 0…1.25.

    `off` (N,) is how far each reading lies from the line, positive above it.
    """

    belief: Belief
    noise_sd: float
    pull: Array
    off: Array


def learn(
    rows: Array,
    seen: Array,
    *,
    prior: Belief,
    noise_sd: float,
    say: Array | None = None,
) -> Learned:
    """Move a prior by readings `seen` (N,) at `rows` (N, P).

    `noise_sd` is the expected scatter of one reading; it is learned too, held by
    `NOISE_PRIOR_WEIGHT`. `say` (N,), 0…1, is how much each reading counts (1 when not given).
    Without readings the prior comes back. ValueError for values that are not finite.
    """
    counts = np.ones(len(seen)) if say is None else say
    if not (np.isfinite(rows).all() and np.isfinite(seen).all() and np.isfinite(counts).all()):
        raise ValueError("rows, seen and say must be finite")
    held = np.linalg.inv(prior.covariance)
    pull, variance = np.ones(len(seen)), noise_sd**2
    off = np.zeros(len(seen))
    mean: Array = prior.mean
    covariance: Array = prior.covariance
    for _ in range(MOST_ROUNDS):
        before = mean
        weight = counts * pull / variance
        covariance = np.asarray(np.linalg.inv(held + (rows.T * weight) @ rows), dtype=np.float64)
        mean = prior.mean + covariance @ (rows.T @ (weight * (seen - rows @ prior.mean)))
        off = seen - rows @ mean
        # What the fit itself used up of each reading tells nothing of the noise.
        used = weight * np.sum((rows @ covariance) * rows, axis=1)
        free = float(np.sum(counts * (1.0 - used)))
        variance = (NOISE_PRIOR_WEIGHT * noise_sd**2 + float(np.sum(counts * pull * off**2))) / (
            NOISE_PRIOR_WEIGHT + free
        )
        pull = (TAIL_DEGREES + 1.0) / (TAIL_DEGREES + off**2 / variance)
        if np.max(np.abs(mean - before), initial=0.0) < SMALL_STEP:
            break
    return Learned(Belief(mean, covariance), float(np.sqrt(variance)), pull, off)
