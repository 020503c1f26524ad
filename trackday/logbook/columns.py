"""What a column of the logbook holds, and how it is written in SQLite, in CSV and in JSON.

SQLite has no dates, moments or truth values: a date is "2027-05-15", a moment
"2027-05-15T16:52:00Z", yes and no are 1 and 0. CSV has text alone: a float is written with as few
digits as give it back exactly, and an empty cell is the empty text in a column of text, unknown in
any other.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Literal

Kind = Literal["text", "choice", "real", "whole", "flag", "day", "moment"]
DbValue = str | float | int | None
Value = str | float | int | bool | date | datetime | None

_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_REAL = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
_WHOLE = re.compile(r"[+-]?\d{1,19}", re.ASCII)
_FLAGS = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
LARGEST_WHOLE = 2**63 - 1
"""Largest whole number that SQLite holds (its documentation, "Datatypes")."""


@dataclass(frozen=True)
class Column:
    """A column: its name, with the unit in it, and what it holds."""

    name: str
    kind: Kind
    choices: tuple[str, ...] = ()
    """The words that a column of kind "choice" may hold."""

    def to_db(self, value: Value) -> DbValue:
        """Give what SQLite keeps; NaN is unknown, None.

        Raises ValueError for an infinite number, a moment without a zone, a word that is not a
        choice, text that no file can hold, and TypeError for a value of another kind.
        """
        if value is None and self.kind != "text":
            return None
        if self.kind == "text" or self.kind == "choice":
            return self._text_to_db(value)
        if self.kind == "day" or self.kind == "moment":
            return self._time_to_db(value)
        return self._number_to_db(value)

    def from_db(self, stored: DbValue) -> Value:
        """Give back what `to_db` was given; ValueError for what it never writes."""
        if stored is None:
            return None
        if self.kind == "flag":
            return bool(stored)
        if self.kind == "day":
            return date.fromisoformat(str(stored))
        if self.kind == "moment":
            return _read_moment(str(stored))
        return stored

    def to_text(self, value: Value) -> str:
        """Write a value of this column for a cell of CSV."""
        if value is None:
            return ""
        if isinstance(value, bool):
            return "yes" if value else "no"
        return repr(value) if isinstance(value, float) else str(self.to_json(value))

    def to_json(self, value: Value) -> DbValue:
        """Give a value of this column as JSON holds it."""
        if isinstance(value, datetime):
            return moment_text(value)
        return value.isoformat() if isinstance(value, date) else value

    def from_text(self, cell: str) -> Value:
        """Read a cell of CSV; ValueError says what to write instead."""
        if self.kind == "text":
            return cell
        cell = cell.strip()
        if not cell:
            return None
        if self.kind == "choice":
            return self._read_choice(cell)
        if self.kind == "flag":
            return _read_flag(cell)
        if self.kind == "day":
            return _read_day(cell)
        return _read_moment(cell) if self.kind == "moment" else self._read_number(cell)

    def _text_to_db(self, value: Value) -> str:
        if not isinstance(value, str):
            raise self._wrong(value)
        if self.kind == "choice" and value not in self.choices:
            raise ValueError(f"{self.name}: {value!r} is none of {', '.join(self.choices)}")
        try:
            value.encode()
        except UnicodeEncodeError:
            raise ValueError(f"{self.name}: holds bytes that are no text; write it anew") from None
        return value

    def _time_to_db(self, value: Value) -> str:
        if isinstance(value, datetime) and self.kind == "moment":
            return moment_text(value)
        if isinstance(value, date) and not isinstance(value, datetime) and self.kind == "day":
            return value.isoformat()
        raise self._wrong(value)

    def _number_to_db(self, value: Value) -> DbValue:
        if isinstance(value, bool) and self.kind == "flag":
            return int(value)
        if isinstance(value, bool) or not isinstance(value, int | float) or self.kind == "flag":
            raise self._wrong(value)
        if self.kind == "whole":
            if not isinstance(value, int):
                raise self._wrong(value)
            if abs(value) > LARGEST_WHOLE:
                raise ValueError(f"{self.name}: the number is too large")
            return value
        number = float(value)
        if math.isinf(number):
            raise ValueError(f"{self.name}: the number is infinite")
        return None if math.isnan(number) else number

    def _read_choice(self, cell: str) -> str:
        if cell.lower() not in self.choices:
            raise ValueError(f"{cell!r} is none of {', '.join(self.choices)}; write one of these")
        return cell.lower()

    def _read_number(self, cell: str) -> float | int:
        if self.kind == "whole":
            if not _WHOLE.fullmatch(cell):
                raise ValueError(f"{cell!r} is not a whole number; write one like 12")
            return int(cell)
        number = float(cell) if _REAL.fullmatch(cell) else math.nan
        if not math.isfinite(number):
            raise ValueError(f"{cell!r} is not a number; write one like 12.5")
        return number

    def _wrong(self, value: Value) -> TypeError:
        return TypeError(f"{self.name}: {value!r} is not of kind {self.kind}")


def moment_text(moment: datetime) -> str:
    """Write an aware moment in UTC as "2027-05-15T16:52:00Z"; ValueError for a naive one."""
    if moment.utcoffset() is None:
        raise ValueError(f"{moment} has no time zone")
    return moment.astimezone(UTC).replace(tzinfo=None).isoformat() + "Z"


def _read_moment(cell: str) -> datetime:
    try:
        moment = datetime.fromisoformat(cell)
        if moment.utcoffset() is not None:
            return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        pass
    raise ValueError(f'{cell!r} is not a moment with its zone; write "2027-05-15T16:52:00Z"')


def _read_day(cell: str) -> date:
    try:
        if _DAY.fullmatch(cell):
            return date.fromisoformat(cell)
    except ValueError:
        pass
    raise ValueError(f'{cell!r} is not a date; write year-month-day, "2027-05-15"')


def _read_flag(cell: str) -> bool:
    if cell.lower() not in _FLAGS:
        raise ValueError(f"{cell!r} is neither yes nor no; write one of these")
    return _FLAGS[cell.lower()]
