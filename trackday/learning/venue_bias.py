"""What the track's own readings say of the surface model at one venue.

Shade that nobody entered, a fresh seal or a pale old surface make the model wrong by the same part
of the heat it puts on the surface, again and again: correction = level + per_heat·(model − air).
Both are held strongly to zero, and where leaving out one reading shows no gain, nothing is changed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from trackday.advice.assumptions_learning import FAR_OFF_SD
from trackday.learning.robust import Array, Belief, Learned, learn
from trackday.physics.reading import FADE_HOURS

LEVEL_SD_C: Final = 0.4
PER_HEAT_SD: Final = 0.3
"""How far the two coefficients are from zero before any reading, standard deviations, °C and °C per
°C. Chosen by this project among twenty pairs on the measured street, walls entered and left out,
with the whole of July 2010 to March 2011 in view (`tests/benchmarks/learning_venue.py`)."""

CHECK_SD_C: Final = 1.8
"""Expected scatter of a reading about the corrected model, °C: 1 °C of the gun's own and 1.5 °C of
the model's in some sun. Assumption; the readings correct it."""

LEAST_CHECKS: Final = 3
"""Readings from which leaving one out tells anything."""

SCHEMA: Final = "trackday.venue-bias/1"


@dataclass(frozen=True)
class TrackCheck:
    """A track temperature that was measured, what the bare model made of that moment, and the air.

    °C; `modeled_c` is the model's surface without this correction and without a reading followed.
    """

    measured_c: float
    modeled_c: float
    air_c: float
    at: datetime

    @property
    def is_known(self) -> bool:
        """Whether no number is missing."""
        return all(map(math.isfinite, (self.measured_c, self.modeled_c, self.air_c)))


@dataclass(frozen=True)
class FlaggedCheck:
    """A reading `off_c` °C from the corrected model, or one that lacks a number (None)."""

    at: datetime
    why: str
    off_c: float | None = None


@dataclass(frozen=True)
class VenueBias:
    """A correction of the surface model from `n` readings on `days` days, `first` to `last` (UTC).

    `gain` is how much smaller the mean absolute error of readings foretold from the others got:
    .4 is 40 % less; None under three readings. Where it is not above zero the correction is not
    `used`. `level_c` (°C) and `per_heat` (–) are the coefficients as learned, `covariance` (2, 2)
    theirs, `noise_sd_c` the scatter of readings.
    """

    venue: str
    n: int
    days: int
    first: date | None
    last: date | None
    gain: float | None
    level_c: float
    per_heat: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    noise_sd_c: float
    flagged: tuple[FlaggedCheck, ...]

    @property
    def used(self) -> bool:
        """Whether the correction is applied."""
        return self.n > 0 and (self.gain is None or self.gain > 0.0)

    def correction_c(self, surface_c: npt.ArrayLike, air_c: npt.ArrayLike) -> Array:
        """What to add to the modeled surface, °C; they broadcast.

        Zero where the surface or the air is unknown, and everywhere while the correction is not
        used.
        """
        heat = np.asarray(surface_c, dtype=np.float64) - np.asarray(air_c, dtype=np.float64)
        if not self.used:
            return np.zeros_like(heat)
        return np.nan_to_num(self.level_c + self.per_heat * heat, nan=0.0)

    def apply(self, surface_c: npt.ArrayLike, air_c: npt.ArrayLike) -> Array:
        """Return the corrected surface, °C; an unknown surface stays unknown."""
        return np.asarray(surface_c, dtype=np.float64) + self.correction_c(surface_c, air_c)

    def error_c(
        self,
        surface_c: npt.ArrayLike,
        air_c: npt.ArrayLike,
        *,
        by_name_sd_c: npt.ArrayLike,
        described_sd_c: npt.ArrayLike,
    ) -> Array:
        """Return the standard deviation, °C, that is left of the model's error; they broadcast.

        `by_name_sd_c` is that of a surface known by its name, `described_sd_c` that of one whose
        properties are known. Readings take away what lies between in the measure in which they
        settle the correction, and widen the rest where they scatter more than expected.
        `surface_c` is the model's, uncorrected. Where it or the air is unknown nothing is taken.
        """
        by_name = np.square(np.asarray(by_name_sd_c, dtype=np.float64))
        described = np.square(np.asarray(described_sd_c, dtype=np.float64))
        if not self.used:
            return np.sqrt(by_name + 0.0 * described)
        heat = np.asarray(surface_c, dtype=np.float64) - np.asarray(air_c, dtype=np.float64)
        (level, both), (_, slope) = self.covariance
        before = LEVEL_SD_C**2 + (PER_HEAT_SD * heat) ** 2
        left = np.nan_to_num((level + 2.0 * both * heat + slope * heat**2) / before, nan=1.0)
        scatter = max(1.0, (self.noise_sd_c / CHECK_SD_C) ** 2)
        return np.asarray(np.sqrt(described * scatter + (by_name - described) * left))

    def to_data(self) -> dict[str, Any]:
        """Give plain JSON data, in SI."""
        return vars(self) | {
            "schema": SCHEMA,
            "first": None if self.first is None else self.first.isoformat(),
            "last": None if self.last is None else self.last.isoformat(),
            "covariance": [list(row) for row in self.covariance],
            "flagged": [vars(check) | {"at": check.at.isoformat()} for check in self.flagged],
        }

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> VenueBias:
        """Read what `to_data` gave; ValueError for data of another form."""
        if data.get("schema") != SCHEMA:
            raise ValueError(f"not data of the form {SCHEMA}")
        (level, both), (same, slope) = data["covariance"]
        read = {
            "first": None if data["first"] is None else date.fromisoformat(data["first"]),
            "last": None if data["last"] is None else date.fromisoformat(data["last"]),
            "covariance": ((level, both), (same, slope)),
            "flagged": tuple(
                FlaggedCheck(**(check | {"at": datetime.fromisoformat(check["at"])}))
                for check in data["flagged"]
            ),
        }
        return cls(**{name: value for name, value in data.items() if name != "schema"} | read)


def fit_venue_bias(checks: Sequence[TrackCheck], *, venue: str = "") -> VenueBias:
    """Learn one venue's correction from its own readings; without any it changes nothing."""
    used = sorted((check for check in checks if check.is_known), key=lambda check: check.at)
    got = _learn(used)
    (level, both), (_, slope) = got.belief.covariance
    enough = len(used) >= LEAST_CHECKS
    lacking = [
        FlaggedCheck(check.at, "a number is missing") for check in checks if not check.is_known
    ]
    days = {check.at.date() for check in used}
    return VenueBias(
        venue=venue,
        n=len(used),
        days=len(days),
        first=min(days, default=None),
        last=max(days, default=None),
        gain=_gain(used) if enough else None,
        level_c=float(got.belief.mean[0]),
        per_heat=float(got.belief.mean[1]),
        covariance=((float(level), float(both)), (float(both), float(slope))),
        noise_sd_c=got.noise_sd,
        flagged=(*lacking, *(_odd(used, got) if enough else ())),
    )


def _learn(used: Sequence[TrackCheck]) -> Learned:
    heat = np.array([check.modeled_c - check.air_c for check in used], dtype=np.float64)
    off = np.array([check.measured_c - check.modeled_c for check in used], dtype=np.float64)
    return learn(
        np.column_stack([np.ones_like(heat), heat]),
        off,
        prior=Belief(np.zeros(2), np.diag([LEVEL_SD_C**2, PER_HEAT_SD**2])),
        noise_sd=CHECK_SD_C,
        say=_say(used),
    )


def _say(used: Sequence[TrackCheck]) -> Array:
    """Say of readings that lie so close together that the model errs in them alike.

    One over the sum of the correlations exp(−|Δt|/τ) with all readings, as of Kish's design effect.
    """
    hours = np.array([check.at.timestamp() for check in used], dtype=np.float64) / 3600.0
    alike = np.exp(-np.abs(hours[:, np.newaxis] - hours) / FADE_HOURS)
    return np.asarray(1.0 / alike.sum(axis=1))


def _gain(used: Sequence[TrackCheck]) -> float:
    """Reduction of the mean absolute error of each reading foretold from the others."""
    before = after = 0.0
    for left_out, check in enumerate(used):
        rest = [*used[:left_out], *used[left_out + 1 :]]
        level, per_heat = _learn(rest).belief.mean
        off = check.measured_c - check.modeled_c
        before += abs(off)
        after += abs(off - float(level + per_heat * (check.modeled_c - check.air_c)))
    return 1.0 - after / before if before > 0.0 else 0.0


def _odd(used: Sequence[TrackCheck], got: Learned) -> tuple[FlaggedCheck, ...]:
    far = np.abs(got.off) > FAR_OFF_SD * got.noise_sd
    return tuple(
        FlaggedCheck(check.at, "far from your other readings", float(off))
        for check, off, is_far in zip(used, got.off, far, strict=True)
        if is_far
    )
