"""How hot this car's tire gas gets, learned from its own hot pressures.

hot gas = level of the axle + track·(track − 35 °C) + air·(air − 22 °C) + terms for the time since
the stop, the length of the run, wet or grooved tires, + what this venue adds. All coefficients
begin at the labeled prior; venues share the car's level and differ from it by little until their
own readings say more. A last good setting is taken at its word for the level, as the advice without
readings does, and weighs as one reading a tire.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from trackday.advice import assumptions as known
from trackday.advice import assumptions_learning as assumed
from trackday.learning.hot_reading import Axle, HotReading, RanOn, why_unusable
from trackday.learning.robust import Array, Belief, Learned, learn

SHARED: Final = ("front", "rear", "track", "air", "stop", "run", "wet", "grooved")
"""Coefficients that all venues share; one a venue follows."""

LEAST_SESSIONS: Final = 3
"""Sessions from which leaving one out tells anything, and from which one can be called odd."""

SCHEMA: Final = "trackday.rise/1"


@dataclass(frozen=True)
class FlaggedReading:
    """A reading that was not used, or that lies `off_c` °C from what the others say."""

    taken_at: date | None
    venue: str
    axle: Axle
    why: str
    off_c: float | None = None


@dataclass(frozen=True)
class RiseFit:
    """Hot gas of one car at one venue, after `n` readings of `sessions` sessions.

    `n_here` of them are from this venue; `first` and `last` are their dates. `gain` is how much
    smaller the mean absolute error got against the prior (with the last good setting, if there is
    one), each session foretold from the others: .4 is 40 % less, below zero is worse; None under
    three sessions. `noise_sd_c` is the scatter between sessions. `mean` (9,) and `covariance`
    (9, 9) are those of the coefficients in `SHARED` and of this venue.
    """

    venue: str
    n: int
    n_here: int
    sessions: int
    first: date | None
    last: date | None
    gain: float | None
    noise_sd_c: float
    flagged: tuple[FlaggedReading, ...]
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    def hot_gas_c(
        self,
        track_temp_c: npt.ArrayLike,
        air_temp_c: npt.ArrayLike,
        *,
        axle: Axle,
        minutes: float | None = None,
        ran_on: RanOn = "dry",
    ) -> tuple[Array, Array]:
        """Gas straight after a session, °C, and its standard deviation; both broadcast.

        The deviation holds what the fit does not know and the scatter between sessions. NaN where a
        temperature is unknown.
        """
        track, air = np.broadcast_arrays(
            np.asarray(track_temp_c, dtype=np.float64), np.asarray(air_temp_c, dtype=np.float64)
        )
        rows = np.zeros((track.size, len(SHARED) + 1))
        rows[:] = _row(axle=axle, ran_on=ran_on, minutes_run=minutes, minutes_since_stop=None)
        rows[:, SHARED.index("track")] = track.ravel() - known.HOT_GAS_REFERENCE_TRACK_C
        rows[:, SHARED.index("air")] = air.ravel() - known.HOT_GAS_REFERENCE_AIR_C
        rows[:, -1] = 1.0
        belief = Belief(np.array(self.mean), np.array(self.covariance))
        mean, variance = belief.predict(rows)
        sd = np.sqrt(variance + self.noise_sd_c**2)
        return mean.reshape(track.shape), sd.reshape(track.shape)

    def to_data(self) -> dict[str, Any]:
        """Give plain JSON data, in SI."""
        return {
            "schema": SCHEMA,
            "venue": self.venue,
            "n": self.n,
            "n_here": self.n_here,
            "sessions": self.sessions,
            "first": _iso(self.first),
            "last": _iso(self.last),
            "gain": self.gain,
            "noise_sd_c": self.noise_sd_c,
            "flagged": [
                vars(flagged) | {"taken_at": _iso(flagged.taken_at)} for flagged in self.flagged
            ],
            "coefficients": [*SHARED, "here"],
            "mean": list(self.mean),
            "covariance": [list(row) for row in self.covariance],
        }

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> RiseFit:
        """Read what `to_data` gave; ValueError for data of another form."""
        if data.get("schema") != SCHEMA or data.get("coefficients") != [*SHARED, "here"]:
            raise ValueError(f"not data of the form {SCHEMA}")
        return cls(
            venue=data["venue"],
            n=data["n"],
            n_here=data["n_here"],
            sessions=data["sessions"],
            first=_date(data["first"]),
            last=_date(data["last"]),
            gain=data["gain"],
            noise_sd_c=data["noise_sd_c"],
            flagged=tuple(
                FlaggedReading(**(flagged | {"taken_at": _date(flagged["taken_at"])}))
                for flagged in data["flagged"]
            ),
            mean=tuple(data["mean"]),
            covariance=tuple(tuple(row) for row in data["covariance"]),
        )


def fit_rise(
    readings: Sequence[HotReading],
    *,
    venue: str,
    as_of: date,
    last_good: Sequence[HotReading] = (),
) -> RiseFit:
    """Learn from all of a car's readings for one venue, as of a date.

    Readings from after `as_of` are left out. `last_good` is the last good setting as readings, one
    an axle, and must not be among `readings` too. Without either this is the prior.
    """
    past = [
        reading for reading in readings if reading.taken_at is None or reading.taken_at <= as_of
    ]
    faults = [why_unusable(reading) for reading in past]
    used = [reading for reading, why in zip(past, faults, strict=True) if why is None]
    here = venue.strip().casefold()
    table = _table(used, start=_start(last_good), here=here, as_of=as_of)
    got = table.learn()
    sessions = len({reading.session for reading in used})
    unusable = [
        FlaggedReading(reading.taken_at, reading.venue, reading.axle, why)
        for reading, why in zip(past, faults, strict=True)
        if why is not None
    ]
    dates = [reading.taken_at for reading in used if reading.taken_at is not None]
    known_here = slice(0, len(SHARED) + 1)
    return RiseFit(
        venue=venue,
        n=len(used),
        n_here=sum(reading.place == here for reading in used),
        sessions=sessions,
        first=min(dates, default=None),
        last=max(dates, default=None),
        gain=_gain(used, table) if sessions >= LEAST_SESSIONS else None,
        noise_sd_c=got.noise_sd,
        flagged=(*unusable, *(_odd(used, got) if sessions >= LEAST_SESSIONS else ())),
        mean=tuple(float(value) for value in got.belief.mean[known_here]),
        covariance=tuple(
            tuple(float(value) for value in row)
            for row in got.belief.covariance[known_here, known_here]
        ),
    )


def _start(last_good: Sequence[HotReading]) -> Belief:
    """Give what is believed of the shared coefficients before the first reading."""
    prior = _labeled_prior()
    used = [reading for reading in last_good if why_unusable(reading) is None]
    if not used:
        return prior
    rows = np.array([_shared_row(reading) for reading in used])
    seen = np.array([reading.hot_gas_c for reading in used])
    # Nothing is known of the venue where it was measured.
    noise = np.hypot(assumed.HOT_READING_SD_C, assumed.HOT_GAS_VENUE_SD_C)
    weight = _pair_say(used) / noise**2
    covariance = np.linalg.inv(np.linalg.inv(prior.covariance) + (rows.T * weight) @ rows)
    mean, off = prior.mean.copy(), seen - rows @ prior.mean
    for reading, level in zip(used, off, strict=True):
        mean[SHARED.index(reading.axle)] += level
    return Belief(mean, covariance)


def _labeled_prior() -> Belief:
    """Give the labeled assumptions as means and standard deviations of `SHARED`."""
    base = known.HOT_GAS_BASE_C
    mean = np.array(
        [
            base,
            base,
            known.HOT_GAS_PER_TRACK,
            known.HOT_GAS_PER_AIR,
            assumed.STOP_TERM_C,
            assumed.RUN_TERM_C,
            -known.WET_GAS_DROP_C,
            0.0,
        ]
    )
    spread = np.array(
        [
            assumed.HOT_GAS_AXLE_SD_C,
            assumed.HOT_GAS_AXLE_SD_C,
            assumed.HOT_GAS_PER_TRACK_SD,
            assumed.HOT_GAS_PER_AIR_SD,
            assumed.STOP_TERM_SD_C,
            assumed.RUN_TERM_SD_C,
            assumed.WET_GAS_DROP_SD_C,
            assumed.GROOVED_GAS_SD_C,
        ]
    )
    covariance = np.diag(spread**2)
    covariance[:2, :2] += assumed.HOT_GAS_CAR_SD_C**2
    return Belief(mean, covariance)


@dataclass(frozen=True, eq=False)
class _Table:
    """Readings (N) as regression takes them: `rows` (N, P), what was `seen` and how much it counts.

    The last columns of `rows` are the venues; `prior` is that of all columns.
    """

    rows: Array
    seen: Array
    say: Array
    prior: Belief

    def learn(self, keep: npt.NDArray[np.bool_] | slice = slice(None)) -> Learned:
        """Fit all readings, or those to keep."""
        return learn(
            self.rows[keep],
            self.seen[keep],
            prior=self.prior,
            noise_sd=assumed.HOT_READING_SD_C,
            say=self.say[keep],
        )


def _table(used: Sequence[HotReading], *, start: Belief, here: str, as_of: date) -> _Table:
    """Lay out shared coefficients and one a venue; the first venue is the one asked for."""
    places = (here, *sorted({reading.place for reading in used} - {here}))
    size = len(SHARED) + len(places)
    covariance = np.eye(size) * assumed.HOT_GAS_VENUE_SD_C**2
    covariance[: len(SHARED), : len(SHARED)] = start.covariance
    rows = np.zeros((len(used), size))
    for row, reading in zip(rows, used, strict=True):
        row[: len(SHARED)] = _shared_row(reading)
        row[len(SHARED) + places.index(reading.place)] = 1.0
    return _Table(
        rows=rows,
        seen=np.array([reading.hot_gas_c for reading in used]),
        say=_pair_say(used) * _age_say(used, as_of),
        prior=Belief(np.append(start.mean, np.zeros(len(places))), covariance),
    )


def _pair_say(used: Sequence[HotReading]) -> Array:
    """Say of each reading where both axles of a session err together (Kish's design effect)."""
    count = Counter(reading.session for reading in used)
    together = np.array([count[reading.session] for reading in used], dtype=np.float64)
    return np.asarray(1.0 / (1.0 + assumed.AXLES_SHARE * (together - 1.0)))


def _age_say(used: Sequence[HotReading], as_of: date) -> Array:
    days = [0 if reading.taken_at is None else (as_of - reading.taken_at).days for reading in used]
    return np.asarray(0.5 ** (np.array(days, dtype=np.float64) / assumed.READING_HALF_LIFE_DAYS))


def _gain(used: Sequence[HotReading], table: _Table) -> float:
    """Reduction of the mean absolute error of each session foretold from the others."""
    number = {session: n for n, session in enumerate(dict.fromkeys(r.session for r in used))}
    belongs = np.array([number[reading.session] for reading in used])
    before = np.abs(table.seen - table.rows @ table.prior.mean).sum()
    after = 0.0
    for left_out in number.values():
        told = belongs == left_out
        mean = table.learn(~told).belief.mean
        after += float(np.abs(table.seen[told] - table.rows[told] @ mean).sum())
    return 1.0 - after / float(before) if before > 0.0 else 0.0


def _odd(used: Sequence[HotReading], got: Learned) -> tuple[FlaggedReading, ...]:
    far = np.abs(got.off) > assumed.FAR_OFF_SD * got.noise_sd
    return tuple(
        FlaggedReading(
            reading.taken_at,
            reading.venue,
            reading.axle,
            "far from your other readings",
            float(off),
        )
        for reading, off, is_far in zip(used, got.off, far, strict=True)
        if is_far
    )


def _shared_row(reading: HotReading) -> Array:
    row = _row(
        axle=reading.axle,
        ran_on=reading.ran_on,
        minutes_run=reading.minutes_run,
        minutes_since_stop=reading.minutes_since_stop,
    )[: len(SHARED)]
    row[SHARED.index("track")] = reading.track_temp_c - known.HOT_GAS_REFERENCE_TRACK_C
    row[SHARED.index("air")] = reading.air_temp_c - known.HOT_GAS_REFERENCE_AIR_C
    return row


def _row(
    *, axle: Axle, ran_on: RanOn, minutes_run: float | None, minutes_since_stop: float | None
) -> Array:
    """Give the regressors of everything but weather and venue; shape (9,)."""
    row = np.zeros(len(SHARED) + 1)
    row[SHARED.index(axle)] = 1.0
    if ran_on != "dry":
        row[SHARED.index(ran_on)] = 1.0
    if minutes_since_stop is not None:
        row[SHARED.index("stop")] = 1.0 - np.exp(-minutes_since_stop / assumed.STOP_FADE_MINUTES)
    if minutes_run is not None:
        run, usual = np.exp(
            -np.array([minutes_run, assumed.RUN_REFERENCE_MINUTES]) / assumed.RUN_FADE_MINUTES
        )
        row[SHARED.index("run")] = run - usual
    return row


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _date(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)
