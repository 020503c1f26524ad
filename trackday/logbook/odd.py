"""Values that are more likely a slip of the pen or the wrong unit than a measurement."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from trackday.logbook.entry import Corners, Entry
from trackday.logbook.rows import CORNERS
from trackday.logbook.stock import StockSet
from trackday.units import METRIC, US

Limits = tuple[float, float]

# Wide ranges (assumption), the same as in the racer's files.
PRESSURE_KPA: Limits = (35.0, 450.0)
TRACK_TEMP_C: Limits = (-40.0, 90.0)
AIR_TEMP_C: Limits = (-50.0, 60.0)
MINUTES: Limits = (0.0, 1440.0)
"""A day, min: the longest race (assumption)."""
LAPS: Limits = (0, 1000)
"""More than anybody drives in a day, laps (assumption)."""
DAYS: tuple[date, date] = (date(1970, 1, 1), date(2100, 1, 1))

_TEMPERATURES = {
    "track_temp_c": ("track", TRACK_TEMP_C),
    "air_temp_c": ("air", AIR_TEMP_C),
    "cold_air_temp_c": ("air at the cold pressures", AIR_TEMP_C),
}


def odd_values(entry: Entry) -> list[str]:
    """Say what is odd about an entry, one short sentence each with the mend."""
    return [
        *_odd_day(entry),
        *_odd_pressures(entry),
        *_odd_temperatures(entry),
        *_odd_counts(entry),
    ]


def odd_use(entry: Entry, tires: StockSet) -> list[str]:
    """Say what does not fit between an entry and the set it names."""
    return [f"{tires.name}: {fault}" for fault in _odd_use(entry, tires)]


def _odd_day(entry: Entry) -> Iterator[str]:
    if not DAYS[0] <= entry.day <= DAYS[1]:
        yield f"the year {entry.day.year} cannot be; mend the date"


def _odd_pressures(entry: Entry) -> Iterator[str]:
    for name, corners in (("cold", entry.cold_kpa), ("hot", entry.hot_kpa)):
        for corner, pressure in zip(CORNERS, corners or Corners(), strict=True):
            if pressure is not None and not _within(pressure, PRESSURE_KPA):
                yield (
                    f"{name} {corner.replace('_', ' ')} {_shown('pressure', pressure)} cannot be; "
                    "check the number and its unit"
                )
    pairs = zip(CORNERS, entry.cold_kpa or Corners(), entry.hot_kpa or Corners(), strict=True)
    for corner, cold, hot in pairs:
        if cold is not None and hot is not None and hot <= cold:
            yield (
                f"{corner.replace('_', ' ')} hot {_shown('pressure', hot)} is not above cold "
                f"{_shown('pressure', cold)}; mend one of them"
            )


def _odd_temperatures(entry: Entry) -> Iterator[str]:
    for field, (name, limits) in _TEMPERATURES.items():
        temp_c = getattr(entry, field)
        if temp_c is not None and not _within(temp_c, limits):
            yield f"{name} {_shown('temperature', temp_c)} cannot be; check the number and its unit"


def _odd_counts(entry: Entry) -> Iterator[str]:
    if entry.laps is not None and not _within(entry.laps, LAPS):
        yield f"{entry.laps} laps cannot be; check the number"
    for name, minutes in (
        ("since the stop", entry.minutes_since_stop),
        ("driven", entry.minutes_run),
    ):
        if minutes is not None and not _within(minutes, MINUTES):
            yield f"{minutes:g} min {name} cannot be; check the number"


def _odd_use(entry: Entry, tires: StockSet) -> Iterator[str]:
    if tires.kind is not None and entry.ran_on is not None:
        ran_kind = "wet" if entry.ran_on == "wet" else "dry"
        if ran_kind != tires.kind:
            yield f"is a {tires.kind} set, but ran as {entry.ran_on}; mend the set or the entry"
    if tires.bought_on is not None and entry.day < tires.bought_on:
        yield f"was used before it was bought on {tires.bought_on}; mend one of the dates"
    if tires.retired_on is not None and entry.day > tires.retired_on:
        yield f"was used after it was retired on {tires.retired_on}; mend one of the dates"


def _within(value: float, limits: Limits) -> bool:
    return limits[0] <= value <= limits[1]


def _shown(quantity: str, value: float) -> str:
    """Show a value in both unit systems, since which one was meant is what is in doubt."""
    return f"{US.show(quantity, value)} ({METRIC.show(quantity, value)})"
