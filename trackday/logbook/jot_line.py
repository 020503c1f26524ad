"""Write an entry of the logbook as one line that reads back to the same entry."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import Literal

from trackday.logbook.entry import Corners, Entry
from trackday.logbook.jot_tokens import SHORT_FIELDS, cut_keyed, is_only_marks, quote
from trackday.logbook.jot_when import JotContext
from trackday.units import METRIC, UnitSystem, parse_quantity
from trackday.weekend.localtime import settled_to_utc

MOST_DECIMALS = 6
"""Decimals to which a value is tried in the racer's unit before it is written in SI."""

_LABELS = {"front_left": "fl", "front_right": "fr", "rear_left": "rl", "rear_right": "rr"}
_STATES = {"standing": "standing water"}
_KEYS = {
    "alignment": "alignment",
    "changes": "changed",
    "decision": "decided",
    "todo": "todo",
    "note": "note",
}


def jot_line(entry: Entry, *, context: JotContext) -> str:
    """Write an entry as a line that `read_jotting` reads to the same entry, without a question.

    Venue and event are not written: they are the context's. Numbers stand in the racer's unit
    where that reads back to the same value, in SI otherwise. A line says nothing that reading
    would doubt: an entry that contradicts itself or the context (hot below cold, an unknown
    session, a known set without what it ran as) reads back with a question or a default.
    """
    clauses = [
        entry.day.isoformat(),
        _named("session", "session", entry.session),
        f"at {_moment(entry, entry.at, context)}" if entry.at is not None else "",
        _pressures("cold", entry.cold_kpa, context.units),
        _temperature("cold air", entry.cold_air_temp_c, context.units),
        _pressures("hot", entry.hot_kpa, context.units),
        _amount("after", entry.minutes_since_stop, " min"),
        _temperature("track", entry.track_temp_c, context.units),
        _temperature("air", entry.air_temp_c, context.units),
        _STATES.get(entry.track_state or "", entry.track_state or ""),
        {None: "", True: "raining", False: "no rain"}[entry.raining],
        _named("set", "tire_set", entry.tire_set),
        f"ran on: {entry.ran_on}" if entry.ran_on else "",
        f"right tire: {entry.right_tire}" if entry.right_tire else "",
        _amount("laps", entry.laps, ""),
        _amount("ran", entry.minutes_run, " min"),
        *(_named(key, name, getattr(entry, name)) for name, key in _KEYS.items()),
    ]
    return "; ".join(clause for clause in clauses if clause)


def _named(key: str, field: str, text: str) -> str:
    """Write text behind its key, in quotation marks where it would not read back without them."""
    if not text:
        return ""
    plain = f"{key}: {text}"
    rest, keyed = cut_keyed(plain)
    is_safe = (
        [(each.field, each.text) for each in keyed] == [(field, text)]
        and not keyed[0].readings
        and not keyed[0].quoted
        and not (field in SHORT_FIELDS and "," in text)
        and is_only_marks(rest)
        and ";" not in text
        and not text.startswith('"')
    )
    return plain if is_safe else f"{key}: {quote(text)}"


def _moment(entry: Entry, at: datetime, context: JotContext) -> str:
    """Write a moment as the venue's clock shows it, or whole where that would not be enough."""
    local = at.astimezone(context.zone)
    clock = f"{local:%H:%M}"
    written = datetime.combine(entry.day, datetime.strptime(clock, "%H:%M").time())  # noqa: DTZ007
    try:
        same = settled_to_utc(written, context.zone) == at
    except ValueError:  # the clock shows it twice
        same = False
    return clock if same else at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _pressures(name: str, corners: Corners | None, units: UnitSystem) -> str:
    """Write pressures, all in one unit; with their wheels where not all four are known."""
    known = {} if corners is None else {k: getattr(corners, k) for k in _LABELS}
    known = {corner: value for corner, value in known.items() if value is not None}
    if not known:
        return ""
    numbers, symbol = _exact(list(known.values()), "pressure", units)
    if len(known) < len(_LABELS):
        numbers = [f"{_LABELS[c]} {number}" for c, number in zip(known, numbers, strict=True)]
    return f"{name} {' '.join(numbers)} {symbol}"


def _temperature(name: str, temp_c: float | None, units: UnitSystem) -> str:
    if temp_c is None:
        return ""
    numbers, symbol = _exact([temp_c], "temperature", units)
    return f"{name} {numbers[0]} {symbol}"


def _exact(
    values: list[float], quantity: Literal["pressure", "temperature"], units: UnitSystem
) -> tuple[list[str], str]:
    """Write values in the racer's unit if each reads back the same, else in SI; gives the unit."""
    unit = units.display(quantity).unit
    numbers = [_plain(round(unit.from_si(value), MOST_DECIMALS)) for value in values]
    back = [parse_quantity(f"{number} {unit.symbol}", quantity) for number in numbers]
    if back == values:
        return numbers, unit.symbol
    return [_plain(value) for value in values], METRIC.symbol(quantity)


def _amount(key: str, value: float | None, unit: str) -> str:
    return "" if value is None else f"{key} {_plain(value)}{unit}"


def _plain(value: float) -> str:
    """Write a number with all its digits and without an exponent."""
    return format(Decimal(repr(value)), "f").removesuffix(".0")
