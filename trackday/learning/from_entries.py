"""Lines of a logbook as what the fits take; a line that lacks something essential gives none."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from typing import Protocol

from trackday.learning.hot_reading import AXLES, Axle, HotReading, RanOn
from trackday.learning.tire_calls import TireCall


class Pressures(Protocol):
    """Pressures of one car, gauge kPa."""

    def axle(self, name: Axle, /) -> float | None:
        """Give an axle's mean, None where it is not known."""


class Line(Protocol):
    """What a fit reads of one line of the logbook; the fields are those of its entries."""

    @property
    def day(self) -> date: ...  # noqa: D102
    @property
    def venue(self) -> str: ...  # noqa: D102
    @property
    def cold_kpa(self) -> Pressures | None: ...  # noqa: D102
    @property
    def hot_kpa(self) -> Pressures | None: ...  # noqa: D102
    @property
    def minutes_since_stop(self) -> float | None: ...  # noqa: D102
    @property
    def minutes_run(self) -> float | None: ...  # noqa: D102
    @property
    def track_temp_c(self) -> float | None: ...  # noqa: D102
    @property
    def air_temp_c(self) -> float | None: ...  # noqa: D102
    @property
    def cold_air_temp_c(self) -> float | None: ...  # noqa: D102
    @property
    def ran_on(self) -> RanOn | None: ...  # noqa: D102
    @property
    def right_tire(self) -> RanOn | None: ...  # noqa: D102


def hot_readings(
    lines: Iterable[Line],
    *,
    ambient_kpa: Callable[[str], float],
    warmed_to_c: float | None = None,
) -> tuple[HotReading, ...]:
    """Give one reading an axle of every line with cold and hot pressures.

    `ambient_kpa` gives the air's pressure at a venue by its name; NaN, where it is not known, makes
    the reading unusable, and the fit says so. Without the air at the time of setting, the session's
    air stands in; tires that are warmed before setting are at `warmed_to_c`. A line that does not
    name the tire counts as run on dry ones.
    """
    found = []
    for line in lines:
        if line.cold_kpa is None or line.hot_kpa is None:
            continue
        set_at = line.air_temp_c if line.cold_air_temp_c is None else line.cold_air_temp_c
        for axle in AXLES:
            cold, hot = line.cold_kpa.axle(axle), line.hot_kpa.axle(axle)
            if cold is None or hot is None:
                continue
            found.append(
                HotReading(
                    cold_kpa=cold,
                    hot_kpa=hot,
                    cold_air_c=_number(set_at if warmed_to_c is None else warmed_to_c),
                    ambient_kpa=ambient_kpa(line.venue),
                    track_temp_c=_number(line.track_temp_c),
                    air_temp_c=_number(line.air_temp_c),
                    axle=axle,
                    ran_on=line.ran_on or "dry",
                    minutes_run=line.minutes_run,
                    minutes_since_stop=line.minutes_since_stop,
                    taken_at=line.day,
                    venue=line.venue,
                )
            )
    return tuple(found)


def tire_calls(lines: Iterable[Line]) -> tuple[TireCall, ...]:
    """Give the lines that say on what was run and what would have been right."""
    return tuple(
        TireCall(chosen=line.ran_on, right=line.right_tire, day=line.day)
        for line in lines
        if line.ran_on is not None and line.right_tire is not None
    )


def _number(value: float | None) -> float:
    return float("nan") if value is None else value
