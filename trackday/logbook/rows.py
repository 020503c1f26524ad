"""An entry as a row of the book: one column for each field, four for the pressures of a kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, get_args

from trackday.logbook.columns import Column, DbValue, Kind, Value
from trackday.logbook.entry import Corners, Entry, RanOn, TrackSeen

CORNER_FIELDS = ("cold_kpa", "hot_kpa")
"""Fields of an entry that hold a pressure for each wheel."""

CORNERS = tuple(field.name for field in fields(Corners))

_KINDS: Mapping[str, Kind] = {
    "day": "day",
    "at": "moment",
    "minutes_since_stop": "real",
    "track_temp_c": "real",
    "air_temp_c": "real",
    "cold_air_temp_c": "real",
    "track_state": "choice",
    "raining": "flag",
    "ran_on": "choice",
    "right_tire": "choice",
    "laps": "whole",
    "minutes_run": "real",
}
"""What the fields hold that are not text."""

_CHOICES = {
    "track_state": get_args(TrackSeen),
    "ran_on": get_args(RanOn),
    "right_tire": get_args(RanOn),
}


def corner_column(field: str, corner: str) -> str:
    """Name the column of one wheel: "cold_front_left_kpa"."""
    return f"{field.removesuffix('_kpa')}_{corner}_kpa"


def _columns_of(field: str) -> tuple[Column, ...]:
    if field in CORNER_FIELDS:
        return tuple(Column(corner_column(field, corner), "real") for corner in CORNERS)
    return (Column(field, _KINDS.get(field, "text"), _CHOICES.get(field, ())),)


ENTRY_COLUMNS = tuple(column for field in fields(Entry) for column in _columns_of(field.name))
"""The columns that hold what the racer wrote, in the order of the entry's fields."""

COLUMN_NAMES = tuple(column.name for column in ENTRY_COLUMNS)


def to_row(entry: Entry) -> dict[str, DbValue]:
    """Give an entry's columns as SQLite keeps them; ValueError or TypeError as `Column.to_db`.

    Pressures of which none is known are the same as no pressures.
    """
    values: dict[str, Value] = {}
    for field in fields(Entry):
        value = getattr(entry, field.name)
        if field.name in CORNER_FIELDS:
            for corner in CORNERS:
                values[corner_column(field.name, corner)] = getattr(value, corner, None)
        else:
            values[field.name] = value
    return {column.name: column.to_db(values[column.name]) for column in ENTRY_COLUMNS}


def from_row(row: Mapping[str, Any]) -> Entry:
    """Make an entry of what SQLite keeps; ValueError for what `to_row` never writes."""
    values = {column.name: column.from_db(row[column.name]) for column in ENTRY_COLUMNS}
    given: dict[str, Any] = {}
    for field in fields(Entry):
        if field.name not in CORNER_FIELDS:
            given[field.name] = values[field.name]
            continue
        pressures = {each: values[corner_column(field.name, each)] for each in CORNERS}
        known = any(pressure is not None for pressure in pressures.values())
        given[field.name] = Corners(**pressures) if known else None  # type: ignore[arg-type]
    return Entry(**given)
