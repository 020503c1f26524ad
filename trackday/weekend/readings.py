"""Track temperatures that the racer measured, as written on the command line."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from trackday.errors import TrackdayError
from trackday.units import METRIC, US, parse_quantity
from trackday.weekend.localtime import read_clock, settled_to_utc

COLDEST_C, HOTTEST_C = -40.0, 90.0
"""Readings outside these are a slip of the finger or the wrong unit, °C (assumption)."""


@dataclass(frozen=True)
class TrackReading:
    """What an infrared thermometer showed on the track, °C, and when (UTC)."""

    temp_c: float
    at: datetime


def parse_track_reading(text: str, *, day: date, zone: tzinfo) -> TrackReading:
    """Read "31C@09:10": a temperature with its unit, and the venue's local time that day.

    Raises TrackdayError, one line with the mend, for anything else.
    """
    written, mark, clock = text.partition("@")
    if not mark:
        raise TrackdayError(f"--track: {text!r} has no time; write it like 31C@09:10")
    try:
        temp_c = parse_quantity(written, "temperature")
        at = settled_to_utc(datetime.combine(day, read_clock(clock.strip())), zone)
    except ValueError as error:
        raise TrackdayError(f"--track: {text!r}: {error}") from error
    if not COLDEST_C <= temp_c <= HOTTEST_C:
        limits = " or ".join(
            system.range("temperature", COLDEST_C, HOTTEST_C) for system in (US, METRIC)
        )
        raise TrackdayError(f"--track: {text!r} is no track temperature; write one of {limits}")
    return TrackReading(temp_c, at)
