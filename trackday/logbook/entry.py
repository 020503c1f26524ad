"""One line of the logbook: what a racer wrote down about one session or moment."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import date, datetime
from typing import Literal

RanOn = Literal["dry", "grooved", "wet"]
TrackSeen = Literal["dry", "damp", "wet", "standing"]


@dataclass(frozen=True)
class Corners:
    """A pressure for each wheel, gauge kPa; None where it was not written down."""

    front_left: float | None = None
    front_right: float | None = None
    rear_left: float | None = None
    rear_right: float | None = None

    def __iter__(self) -> Iterator[float | None]:
        """Front left, front right, rear left, rear right."""
        return iter((self.front_left, self.front_right, self.rear_left, self.rear_right))

    def axle(self, name: Literal["front", "rear"]) -> float | None:
        """Mean of an axle's known pressures; None where neither is known."""
        pair = (getattr(self, f"{name}_left"), getattr(self, f"{name}_right"))
        known = [value for value in pair if value is not None]
        return sum(known) / len(known) if known else None


@dataclass(frozen=True)
class Entry:
    """What was written about one session, or about one moment of a day.

    Everything but `day` may be missing (None or ""). Pressures are gauge kPa, read at the
    venue. `day` is the venue's date, `at` the moment of measurement in UTC.
    `minutes_since_stop` is the time from the car's stop to the hot reading, `minutes_run` the time
    driven. `right_tire` is the tire that would have been right, as the racer judged afterwards.
    """

    day: date
    venue: str = ""
    event: str = ""
    session: str = ""
    at: datetime | None = None
    cold_kpa: Corners | None = None
    hot_kpa: Corners | None = None
    minutes_since_stop: float | None = None
    track_temp_c: float | None = None
    air_temp_c: float | None = None
    cold_air_temp_c: float | None = None
    """Air, and so the gas, when the cold pressures were set."""
    track_state: TrackSeen | None = None
    raining: bool | None = None
    tire_set: str = ""
    ran_on: RanOn | None = None
    right_tire: RanOn | None = None
    laps: int | None = None
    minutes_run: float | None = None
    alignment: str = ""
    changes: str = ""
    decision: str = ""
    note: str = ""
    todo: str = ""
    """What to do before the next weekend."""

    @property
    def is_empty(self) -> bool:
        """Whether nothing but when and where was written."""
        place = {"day", "venue", "event", "session", "at"}
        return all(
            getattr(self, field.name) in (None, "")
            for field in fields(self)
            if field.name not in place
        )
