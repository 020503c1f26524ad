"""A hot pressure beside the cold one it came of: what the gas reached, by the gas law."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

from trackday.advice.assumptions_learning import HOTTEST_GAS_C, LATEST_READING_MINUTES
from trackday.physics.tire_gas import gas_temp_c

Axle = Literal["front", "rear"]
AXLES: Final[tuple[Axle, Axle]] = ("front", "rear")
RanOn = Literal["dry", "grooved", "wet"]


@dataclass(frozen=True)
class HotReading:
    """One axle after one session.

    Pressures are gauge kPa in air of `ambient_kpa`; `cold_air_c` is the gas when the cold pressure
    was set. `minutes_since_stop` None counts as straight after, as the target pressure is meant;
    `minutes_run` None as a session of usual length. `taken_at` is the venue's date, None where
    nobody wrote it down.
    """

    cold_kpa: float
    hot_kpa: float
    cold_air_c: float
    ambient_kpa: float
    track_temp_c: float
    air_temp_c: float
    axle: Axle
    ran_on: RanOn = "dry"
    minutes_run: float | None = None
    minutes_since_stop: float | None = None
    taken_at: date | None = None
    venue: str = ""

    @property
    def hot_gas_c(self) -> float:
        """Temperature of the gas when the hot pressure was read, °C."""
        return float(
            gas_temp_c(
                self.hot_kpa,
                cold_gauge_kpa=self.cold_kpa,
                cold_c=self.cold_air_c,
                ambient_kpa=self.ambient_kpa,
            )
        )

    @property
    def place(self) -> str:
        """The venue's name as names are compared."""
        return self.venue.strip().casefold()

    @property
    def session(self) -> tuple[object, ...]:
        """What both axles of one session have in common."""
        return (
            self.taken_at,
            self.place,
            self.ran_on,
            self.track_temp_c,
            self.air_temp_c,
            self.minutes_run,
        )


def why_unusable(reading: HotReading) -> str | None:
    """Say why a reading tells nothing of the gas, None where it does."""
    numbers = (
        reading.cold_kpa,
        reading.hot_kpa,
        reading.cold_air_c,
        reading.ambient_kpa,
        reading.track_temp_c,
        reading.air_temp_c,
    )
    late = reading.minutes_since_stop
    if not all(math.isfinite(number) for number in numbers):
        return "a number is missing"
    if reading.hot_kpa <= reading.cold_kpa:
        return "hot is not above cold"
    if reading.hot_gas_c > HOTTEST_GAS_C:
        return "hotter than tire gas gets"
    if late is not None and not 0.0 <= late <= LATEST_READING_MINUTES:
        return "read too long after the stop"
    if reading.minutes_run is not None and not reading.minutes_run > 0.0:
        return "no minutes run"
    return None
