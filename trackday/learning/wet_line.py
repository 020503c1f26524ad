"""Where this racer's eye puts dry, damp and wet on the model's film of water.

One factor on all three limits, on a logarithmic scale: the drains, the texture and the eye all
stretch the film alike. It begins at one and is held there while sightings are few.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Literal

import numpy as np
from scipy.special import ndtr

from trackday.learning.robust import Array

TrackSeen = Literal["dry", "damp", "wet", "standing"]
STATES: Final[tuple[TrackSeen, ...]] = ("dry", "damp", "wet", "standing")

FACTOR_LOG_SD: Final = 0.5
"""How far the logarithm of the factor is from zero before any sighting, –: limits within 0.6 and
1.65 times in two of three cases. Assumption."""

SIGHTING_LOG_SD: Final = 0.7
"""Scatter of the logarithm of the film at which a racer changes the word, –: a factor of two.
Assumption."""

SLIP_SHARE: Final = 0.05
"""Share of sightings that are slips of the pen or of another corner, –. Assumption."""

DRIEST_MM: Final = 0.005
"""A film under this is taken for it, mm: the model cannot tell less from none. Assumption."""

LEAST_SIGHTINGS: Final = 3
"""Sightings from which leaving one out tells anything."""

GRID: Final = np.linspace(-3.0, 3.0, 601)
"""Logarithms of the factor over which its posterior is summed, –: six of the prior's spreads."""

UNLIKELY: Final = 0.02
"""A sighting less likely than this, slips apart, is flagged, –. Assumption."""

SCHEMA: Final = "trackday.wet-line/1"


@dataclass(frozen=True)
class Limits:
    """Films, mm, from which a track counts as damp, wet, and standing in water."""

    damp_mm: float
    wet_mm: float
    standing_mm: float

    @property
    def logs(self) -> Array:
        """Their natural logarithms, (3,)."""
        return np.log([self.damp_mm, self.wet_mm, self.standing_mm])


@dataclass(frozen=True)
class Sighting:
    """What the track looked like, and the model's film, mm, at that moment."""

    film_mm: float
    seen: TrackSeen
    day: date


@dataclass(frozen=True)
class FlaggedSighting:
    """A sighting that the film makes unlikely, or whose film is not known."""

    day: date
    seen: TrackSeen
    film_mm: float
    why: str


@dataclass(frozen=True)
class WetLine:
    """One factor on the limits, from `n` sightings, `first` to `last`.

    `log_factor` and `log_sd` are mean and standard deviation of its logarithm: below zero the
    racer calls a track wet with less water than the limits say. `hits_without` and `hits_with` of
    the `n` sightings are called right, each foretold from the others; None under three.
    """

    venue: str
    n: int
    first: date | None
    last: date | None
    log_factor: float
    log_sd: float
    hits_without: int | None
    hits_with: int | None
    flagged: tuple[FlaggedSighting, ...]

    @property
    def used(self) -> bool:
        """Whether the limits are moved: not where that called fewer sightings right."""
        if self.hits_without is None or self.hits_with is None:
            return self.n > 0
        return self.hits_with >= self.hits_without

    def limits(self, limits: Limits) -> Limits:
        """Return the limits moved by the factor; they keep their order."""
        factor = math.exp(self.log_factor) if self.used else 1.0
        return Limits(limits.damp_mm * factor, limits.wet_mm * factor, limits.standing_mm * factor)

    def to_data(self) -> dict[str, Any]:
        """Give plain JSON data, in SI; an unknown film is None."""
        return vars(self) | {
            "schema": SCHEMA,
            "first": None if self.first is None else self.first.isoformat(),
            "last": None if self.last is None else self.last.isoformat(),
            "flagged": [
                vars(row)
                | {
                    "day": row.day.isoformat(),
                    "film_mm": row.film_mm if math.isfinite(row.film_mm) else None,
                }
                for row in self.flagged
            ],
        }

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> WetLine:
        """Read what `to_data` gave; ValueError for data of another form."""
        if data.get("schema") != SCHEMA:
            raise ValueError(f"not data of the form {SCHEMA}")
        read = {
            "first": None if data["first"] is None else date.fromisoformat(data["first"]),
            "last": None if data["last"] is None else date.fromisoformat(data["last"]),
            "flagged": tuple(
                FlaggedSighting(
                    day=date.fromisoformat(row["day"]),
                    seen=row["seen"],
                    film_mm=math.nan if row["film_mm"] is None else row["film_mm"],
                    why=row["why"],
                )
                for row in data["flagged"]
            ),
        }
        return cls(**{name: value for name, value in data.items() if name != "schema"} | read)


def fit_wet_line(sightings: Sequence[Sighting], *, limits: Limits, venue: str = "") -> WetLine:
    """Learn the factor from what was seen; `limits` are those that it multiplies.

    Sightings with an unknown film are flagged and not used. ValueError for limits that do not rise
    from above zero.
    """
    if not 0.0 < limits.damp_mm < limits.wet_mm < limits.standing_mm:
        raise ValueError("limits must rise from above zero")
    used = [row for row in sightings if math.isfinite(row.film_mm) and row.film_mm >= 0.0]
    unknown = [
        FlaggedSighting(row.day, row.seen, row.film_mm, "the film is not known")
        for row in sightings
        if row not in used
    ]
    log_chances = _log_chances(used, limits)
    mean, sd = _factor(log_chances.sum(axis=0))
    enough = len(used) >= LEAST_SIGHTINGS
    hits = _hits(used, limits, log_chances) if enough else (None, None)
    days = [row.day for row in used]
    return WetLine(
        venue=venue,
        n=len(used),
        first=min(days, default=None),
        last=max(days, default=None),
        log_factor=mean,
        log_sd=sd,
        hits_without=hits[0],
        hits_with=hits[1],
        flagged=(*unknown, *(_odd(used, limits, mean) if enough else ())),
    )


def _log_chances(used: Sequence[Sighting], limits: Limits) -> Array:
    """Log chance of every sighting for each factor of the grid, slips included; (N, K)."""
    chances = np.array([_chance(row, limits, GRID) for row in used]).reshape(len(used), len(GRID))
    return np.asarray(np.log((1.0 - SLIP_SHARE) * chances + SLIP_SHARE / len(STATES)))


def _factor(log_chance: Array) -> tuple[float, float]:
    """Mean and standard deviation of the factor's logarithm; `log_chance` (K,) is of all seen."""
    log_mass = log_chance - 0.5 * (GRID / FACTOR_LOG_SD) ** 2
    mass = np.exp(log_mass - log_mass.max())
    mass /= mass.sum()
    mean = float(mass @ GRID)
    return mean, float(np.sqrt(mass @ (GRID - mean) ** 2))


def _chance(row: Sighting, limits: Limits, log_factor: Array) -> Array:
    """Chance of a sighting for each factor (K,), slips apart."""
    above = np.log(max(row.film_mm, DRIEST_MM)) - (limits.logs[:, np.newaxis] + log_factor)
    at_least = np.ones((len(STATES) + 1, len(log_factor)))
    at_least[1:-1] = ndtr(above / SIGHTING_LOG_SD)
    at_least[-1] = 0.0
    place = STATES.index(row.seen)
    return np.asarray(at_least[place] - at_least[place + 1])


def _hits(used: Sequence[Sighting], limits: Limits, log_chances: Array) -> tuple[int, int]:
    """How many sightings the limits call right, as they are and as the others move them."""
    every = log_chances.sum(axis=0)
    without = with_others = 0
    for row, own in zip(used, log_chances, strict=True):
        moved = _factor(every - own)[0]
        without += _called(row.film_mm, limits.logs) == row.seen
        with_others += _called(row.film_mm, limits.logs + moved) == row.seen
    return without, with_others


def _called(film_mm: float, log_limits: Array) -> TrackSeen:
    return STATES[int(np.sum(film_mm >= np.exp(log_limits)))]


def _odd(
    used: Sequence[Sighting], limits: Limits, log_factor: float
) -> tuple[FlaggedSighting, ...]:
    return tuple(
        FlaggedSighting(row.day, row.seen, row.film_mm, "far from your other calls")
        for row in used
        if _chance(row, limits, np.array([log_factor]))[0] < UNLIKELY
    )
