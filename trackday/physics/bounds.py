"""What missing weather leaves unknown: members run again with bounds on what is missing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from trackday.physics.balance import Balance, run_balance
from trackday.physics.forcing import Forcing
from trackday.physics.forcing_members import members_of, steps_of
from trackday.physics.start import State
from trackday.physics.surfaces import Surface

Array = npt.NDArray[np.float64]

HEAVY_RAIN_KGM2S: Final = 10.0 / 3600.0
"""Rain that bounds what may have fallen in a gap, kg/(m²·s): 10 mm/h (assumption)."""

BOUNDING_HEAT_WM2: Final = 150.0
"""Heat on the surface that bounds what a gap in the other fields may have hidden, W/m²: a cloudy
hour taken for a sunny one on average over the day (assumption)."""

KNOWN_FILM_MM: Final = 0.01
KNOWN_TEMP_C: Final = 1.0
"""A film, mm, or a surface temperature, °C, that depends on a gap by more than this is unknown."""

PART_STEPS: Final = 480
"""Steps that are put side by side with their bounds at a time: a day at the usual step. More would
take memory and be no faster."""


def run_with_bounds(
    forcing: Forcing, state: State, surface: Surface
) -> tuple[Balance, Array, Array]:
    """Run every member; return the run, and temperature and film with NaN where unknown.

    From the first step at which anybody lacks something, members that lack something run once more
    in the same pass, with a bound in place of the guess: heavy rain where rain is missing, more
    heat where anything else is. What differs is unknown.
    """
    lacking = np.flatnonzero((forcing.rain_unknown | forcing.heat_unknown).any(axis=1))
    first = int(lacking[0]) if len(lacking) else len(forcing.traffic)
    known = run_balance(
        steps_of(forcing, slice(first)), state.temperatures_c, state.film_mm, surface=surface
    )
    if not len(lacking):
        return known, known.surface_temp_c, known.film_mm
    rest = _run_bounded(
        steps_of(forcing, slice(first, None)),
        known.temperatures_c,
        known.film_mm[-1],
        surface=surface,
    )
    # The state between the two is known, unless it is the first of all.
    edge = min(first, 1)
    best = Balance(
        np.concatenate([known.surface_temp_c[:-1], rest.best.surface_temp_c]),
        np.concatenate([known.film_mm[:-1], rest.best.film_mm]),
        np.concatenate([known.flux_wm2, rest.best.flux_wm2]),
        rest.best.temperatures_c,
    )
    return (
        best,
        np.concatenate([known.surface_temp_c[: first + edge], rest.temp_c[edge:]]),
        np.concatenate([known.film_mm[: first + edge], rest.film_mm[edge:]]),
    )


class _Judged(NamedTuple):
    """A run, and its temperature and film (S+1, M) with NaN where unknown."""

    best: Balance
    temp_c: Array
    film_mm: Array


@dataclass(frozen=True, eq=False)
class _Rows:
    """Who runs: every member, then again those that lack rain, and those that lack heat."""

    members: int
    wet: npt.NDArray[np.int64]
    hot: npt.NDArray[np.int64]

    @property
    def all(self) -> npt.NDArray[np.int64]:
        """Members in the order in which they run, some of them up to three times."""
        return np.concatenate([np.arange(self.members), self.wet, self.hot])

    @property
    def wetter(self) -> slice:
        """Where those run that lack rain."""
        return slice(self.members, self.members + len(self.wet))

    @property
    def hotter(self) -> slice:
        """Where those run that lack heat."""
        return slice(self.wetter.stop, self.wetter.stop + len(self.hot))


def _run_bounded(
    forcing: Forcing, temperatures_c: Array, film_mm: Array, *, surface: Surface
) -> _Judged:
    """Do what `run_with_bounds` does, with the bounds from the first step on, part by part."""
    rows = _Rows(
        len(film_mm),
        np.flatnonzero(forcing.rain_unknown.any(axis=0)),
        np.flatnonzero(forcing.heat_unknown.any(axis=0)),
    )
    temperatures_c, film_mm = temperatures_c[rows.all], film_mm[rows.all]
    parts: list[_Judged] = []
    for first in range(0, len(forcing.traffic), PART_STEPS):
        part = steps_of(forcing, slice(first, first + PART_STEPS))
        done = run_balance(_bounded(part, rows), temperatures_c, film_mm, surface=surface)
        temperatures_c, film_mm = done.temperatures_c, done.film_mm[-1]
        parts.append(_judged(done, part, rows))
    return _Judged(
        Balance(
            _in_a_row([part.best.surface_temp_c for part in parts]),
            _in_a_row([part.best.film_mm for part in parts]),
            np.concatenate([part.best.flux_wm2 for part in parts]),
            parts[-1].best.temperatures_c,
        ),
        _in_a_row([part.temp_c for part in parts]),
        _in_a_row([part.film_mm for part in parts]),
    )


def _in_a_row(states: Sequence[Array]) -> Array:
    """Put states of parts together; each part but the first begins where the one before ends."""
    return np.concatenate([states[0], *(each[1:] for each in states[1:])])


def _bounded(forcing: Forcing, rows: _Rows) -> Forcing:
    """Put the bounds in place of the guesses of those that run again."""
    stacked = members_of(forcing, rows.all)
    rain, heat = stacked.rain_kgm2s, stacked.longwave_wm2
    rain[:, rows.wetter][stacked.rain_unknown[:, rows.wetter]] = HEAVY_RAIN_KGM2S
    heat[:, rows.hotter] += BOUNDING_HEAT_WM2 * stacked.heat_unknown[:, rows.hotter]
    return stacked


def _judged(done: Balance, forcing: Forcing, rows: _Rows) -> _Judged:
    """Take every member's own run, and call unknown what differs in those that ran again."""
    members, wet, hot = rows.members, rows.wet, rows.hot
    best = Balance(
        done.surface_temp_c[:, :members].copy(),
        done.film_mm[:, :members].copy(),
        done.flux_wm2[:, :members].copy(),
        done.temperatures_c[:members],
    )
    temp, film = best.surface_temp_c.copy(), best.film_mm.copy()

    differs = np.abs(done.film_mm[:, rows.wetter] - film[:, wet]) > KNOWN_FILM_MM
    differs[1:] |= forcing.rain_unknown[:, wet]
    film[:, wet] = np.where(differs, np.nan, film[:, wet])

    # The first state stands only on what is known of the first step.
    guessed = np.concatenate([forcing.heat_unknown[:1], forcing.heat_unknown])[:, hot]
    hotter_c, hotter_mm = done.surface_temp_c[:, rows.hotter], done.film_mm[:, rows.hotter]
    differs = guessed | (np.abs(hotter_c - temp[:, hot]) > KNOWN_TEMP_C)
    blurred = guessed | (np.abs(hotter_mm - best.film_mm[:, hot]) > KNOWN_FILM_MM)
    blurred |= differs & (best.film_mm[:, hot] > KNOWN_FILM_MM)
    temp[:, hot] = np.where(differs, np.nan, temp[:, hot])
    film[:, hot] = np.where(blurred, np.nan, film[:, hot])
    return _Judged(best, temp, film)
