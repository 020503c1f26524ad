"""A provider's block of columns made clean: keys, times, units and gross errors, no meaning."""

from __future__ import annotations

import re
import reprlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackday.weather.failures import SourceError
from trackday.weather.series import Array
from trackday.weather.variables import VARIABLES, Variable
from trackday.weather.wmo import number

Seconds = npt.NDArray[np.int64]

_EARLIEST_S, _LATEST_S = -(2**30), 2**32
"""Seconds since 1970 outside which a time is not believed: 1935-12, before the reanalysis begins in
1940, and 2106-02 (assumption)."""


class Key(NamedTuple):
    """A column's key, taken apart; `member` 0 is the control run, `model` "" the only model."""

    variable: str
    member: int
    model: str


class Row(NamedTuple):
    """Which run a row of the columns belongs to."""

    model: str
    member: int


@dataclass(frozen=True, eq=False)
class Columns:
    """A block of hours or quarter-hours in SI units.

    `times` is a rising UTC index of shape (T,); `values` maps a field to an array (M, T) with one
    row for each of `rows`, NaN where nothing (credible) was sent. Fields without any column are
    missing. `notes` tells what was wrong with the block and has been mended.
    """

    times: pd.DatetimeIndex
    rows: tuple[Row, ...]
    values: Mapping[str, Array]
    notes: tuple[str, ...]

    def get(self, field: str) -> Array:
        """Values of a field, shape (M, T); all NaN if it is missing."""
        shape = (len(self.rows), len(self.times))
        return self.values.get(field, np.full(shape, np.nan))


def read_hourly(data: Mapping[str, Any]) -> Columns:
    """Read the `hourly` block of a reply, and no other; raises SourceError as `read_block`."""
    return read_block(data, "hourly")


def read_block(data: Mapping[str, Any], block: str) -> Columns:
    """Read one block of a reply ("hourly", "minutely_15") with its units.

    Other blocks of the same reply are not looked at. Raises SourceError where the reply is an error
    or the form of the block is not understood.
    """
    refuse_error(data)
    named, units = data.get(block), data.get(f"{block}_units", {})
    if not isinstance(named, dict) or not isinstance(units, dict):
        raise SourceError(f"the reply has no {block} values")
    seconds = _read_times(named.get("time"), data.get("utc_offset_seconds"))
    columns = _read_columns(named, units, len(seconds))
    order, notes = _rising(seconds)
    rows = tuple(sorted({Row(key.model, key.member) for key in columns}))
    values: dict[str, Array] = {}
    for name in dict.fromkeys(key.variable for key in columns):
        field, table = VARIABLES[name].field, np.full((len(rows), len(order)), np.nan)
        for place, row in enumerate(rows):
            column = columns.get(Key(name, row.member, row.model))
            if column is not None:
                table[place] = column[order]
        values[field], impossible = _credible(table, VARIABLES[name])
        if impossible:
            notes.append(f"{impossible} impossible values of {name} ignored")
    return Columns(
        times=pd.to_datetime(seconds[order], unit="s", utc=True).as_unit("s"),
        rows=rows,
        values=values,
        notes=tuple(notes),
    )


def refuse_error(data: Mapping[str, Any]) -> None:
    """Raise SourceError for a reply that is the provider's own report of an error."""
    if data.get("error"):
        raise SourceError(f"the service reports an error: {reprlib.repr(data.get('reason'))}")


def split_key(key: str, variables: Sequence[str]) -> Key | None:
    """Take `{variable}[_memberNN][_{model}]` apart; None if it is none of `variables`."""
    # The longest first, or "precipitation_probability" would be rain by a model "probability".
    names = "|".join(re.escape(name) for name in sorted(variables, key=len, reverse=True))
    match = re.fullmatch(rf"({names})(?:_member(\d{{1,4}}))?(?:_(\w+))?", key, flags=re.ASCII)
    if match is None:
        return None
    variable, member, model = match.groups()
    return Key(variable, int(member or 0), model or "")


def _read_columns(
    block: Mapping[str, Any], units: Mapping[str, Any], length: int
) -> dict[Key, Array]:
    """Read every column that we know, in SI units, in the order it came."""
    names = {key: split_key(key, tuple(VARIABLES)) for key in block}
    known = {text: key for text, key in names.items() if key is not None}
    models = _models(known.values())
    columns: dict[Key, Array] = {}
    for text, key in known.items():
        if key.model not in models:
            continue
        values = _read_values(text, block[text], length)
        columns[key] = _to_si(text, values, units.get(text), VARIABLES[key.variable])
    if not any(np.isfinite(column).any() for column in columns.values()):
        raise SourceError("the reply holds none of the values that were asked")
    return columns


def _models(keys: Iterable[Key]) -> set[str]:
    """Tell the models from other suffixes ("_low"): a model comes with every variable."""
    suffixes: dict[str, set[str]] = {}
    for key in keys:
        suffixes.setdefault(key.variable, set()).add(key.model)
    return set.intersection(*suffixes.values()) if suffixes else set()


def _read_values(text: str, column: object, length: int) -> Array:
    if not isinstance(column, list) or len(column) != length:
        raise SourceError(f"the column {text} does not have one value for each time")
    if set(map(type, column)) == {float}:
        # The usual column, without a null: no value needs to be looked at by itself.
        values = np.array(column, dtype=np.float64)
        values[~np.isfinite(values)] = np.nan
        return values
    return np.array([number(value) for value in column], dtype=np.float64)


def _to_si(text: str, values: Array, unit: object, variable: Variable) -> Array:
    # A variable that a model lacks is a column of nulls with the unit "undefined".
    if not np.isfinite(values).any():
        return values
    if not isinstance(unit, str) or unit not in variable.units:
        raise SourceError(f"the unit {reprlib.repr(unit)} of {text} is not known")
    scale, offset = variable.units[unit]
    with np.errstate(over="ignore"):  # what overflows is no credible value anyway
        converted: Array = values * scale + offset
    return converted


def _credible(values: Array, variable: Variable) -> tuple[Array, int]:
    """Replace what cannot be by NaN, and count it."""
    # Rounding in a conversion must not make 100 % or 0 mm impossible, nor reach past them.
    slack = 1e-9 * max(abs(variable.low), abs(variable.high))
    wrong = (values < variable.low - slack) | (values > variable.high + slack)
    within = np.clip(values, variable.low, variable.high)
    return np.where(wrong, np.nan, within), int(wrong.sum())


def _read_times(times: object, utc_offset_s: object) -> Seconds:
    """Return UTC seconds since 1970, in the order they came; raises SourceError."""
    if not isinstance(times, list) or not times:
        raise SourceError("the reply has no times")
    seconds = [_utc_seconds(time, utc_offset_s) for time in times]
    return np.array(seconds, dtype=np.int64)


def _utc_seconds(time: object, utc_offset_s: object) -> int:
    """Read one time: Unix seconds are UTC; ISO text is local by the reply's one fixed offset."""
    if isinstance(time, str):
        seconds = _iso_seconds(time, utc_offset_s)
    elif isinstance(time, int | float) and not isinstance(time, bool) and time == time // 1:
        seconds = int(time)
    else:
        raise SourceError(f"the time {reprlib.repr(time)} is not understood")
    if not _EARLIEST_S <= seconds < _LATEST_S:
        raise SourceError(f"the time {reprlib.repr(time)} is not credible")
    return seconds


def _iso_seconds(text: str, utc_offset_s: object) -> int:
    try:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None:
            if not isinstance(utc_offset_s, int) or isinstance(utc_offset_s, bool):
                raise SourceError("the reply has local times, but no utc_offset_seconds")
            moment = moment.replace(tzinfo=UTC) - timedelta(seconds=utc_offset_s)
        return int(moment.timestamp())
    except (ValueError, OverflowError) as error:
        raise SourceError(f"the time {reprlib.repr(text)} is not understood") from error


def _rising(seconds: Seconds) -> tuple[Seconds, list[str]]:
    """Return the positions that put the times in order, the last of each repeated time."""
    notes: list[str] = []
    order = np.argsort(seconds, kind="stable")
    if not np.array_equal(order, np.arange(len(seconds))):
        notes.append("times were out of order and have been sorted")
    # In a stable order, the last of equal times is the one before a change.
    last = np.append(np.diff(seconds[order]) > 0, True)
    if not last.all():
        notes.append(f"{int((~last).sum())} repeated times: the last of each counts")
    return order[last], notes
