"""Temperatures in a jotted line: "track 41C", "27 air", "cold air 15C"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trackday.logbook.jot_scan import Scan
from trackday.logbook.jot_tokens import number_text
from trackday.logbook.jot_when import JotContext
from trackday.units import METRIC, US, UnitSystem, parse_quantity

# Bare numbers are taken in the racer's unit only within the narrow limits; a number with its own
# unit is believed further (assumptions, °C: a racing day in most of the world, and on all of it).
_USUAL_C = {
    "track_temp_c": (0.0, 70.0),
    "air_temp_c": (0.0, 45.0),
    "cold_air_temp_c": (0.0, 45.0),
}
_POSSIBLE_C = {
    "track_temp_c": (-30.0, 80.0),
    "air_temp_c": (-35.0, 52.0),
    "cold_air_temp_c": (-35.0, 52.0),
}
MOST_BELOW_AIR_C = 12.0
"""A track further below the air than this is the wrong unit or a slip, °C (assumption)."""
MOST_ABOVE_AIR_C = 40.0
"""A track further above the air than this is the wrong unit or a slip, °C (assumption)."""

_FIELDS = {
    "track": "track_temp_c",
    "surface": "track_temp_c",
    "asphalt": "track_temp_c",
    "air": "air_temp_c",
    "ambient": "air_temp_c",
}
NAMES = {"track_temp_c": "track", "air_temp_c": "air", "cold_air_temp_c": "cold air"}
"""What the fields are called in a line."""
_BETWEEN = frozenset({"temp", "temps", "temperature", "reading"})
_OF_SOMETHING_ELSE = frozenset({
    "c", "celsius", "deg", "degc", "degf", "f", "fahrenheit", "h", "hour", "hours", "hr", "hrs",
    "lap", "laps", "min", "mins", "minute", "minutes", "mm",
})  # fmt: skip


@dataclass(frozen=True)
class TemperatureWords:
    """A temperature as written: its number, and "c", "f" or "" for no unit."""

    number: str
    unit: str


def is_of_something_else(scan: Scan, ahead: int) -> bool:
    """Tell whether the number there is no pressure: "12 laps", "41C", "27 air"."""
    behind = scan.word(ahead + 1)
    if behind in _FIELDS:
        return not _starts_reading(scan, ahead + 1)
    return behind in _OF_SOMETHING_ELSE


def _starts_reading(scan: Scan, ahead: int) -> bool:
    """Tell whether the keyword there has a number behind it."""
    return scan.is_number(_past_fillers(scan, ahead + 1))


def _past_fillers(scan: Scan, ahead: int) -> int:
    while scan.word(ahead) in _BETWEEN or scan.past_links(ahead) > ahead:
        ahead += 1
    return ahead


def temperature_at(scan: Scan, ahead: int) -> tuple[TemperatureWords, int] | None:
    """Read a number with or without a unit; gives it and where it ends, or None."""
    if not scan.is_number(ahead):
        return None
    number, end, unit = scan.word(ahead), ahead + 1, ""
    if scan.word(end) in {"deg", "degree", "degrees"}:
        end += 1
    if scan.word(end) in {"c", "degc", "celsius", "f", "degf", "fahrenheit"}:
        unit = scan.word(end).removeprefix("deg")[0]
        end += 1
    return TemperatureWords(number, unit), end


def read_temperature(scan: Scan) -> bool:
    """Read "track 41C", "cold air 15" or "41C track"."""
    return _keyword_first(scan) or _value_first(scan)


def _keyword_first(scan: Scan) -> bool:
    is_cold = scan.word() == "cold" and _FIELDS.get(scan.word(1)) == "air_temp_c"
    ahead = 1 if is_cold else 0
    name = "cold_air_temp_c" if is_cold else _FIELDS.get(scan.word(ahead), "")
    if not name:
        return False
    found = temperature_at(scan, _past_fillers(scan, ahead + 1))
    if found is None:
        return False
    words, end = found
    if not words.unit and scan.word(end) in _OF_SOMETHING_ELSE:
        return False
    if scan.word(end) in {"/", "-", "–", "to"} and scan.is_number(end + 1):
        return _refuse_two(scan, end + 1)
    scan.claim(name, words, end)
    return scan.understood(end)


def _refuse_two(scan: Scan, last: int) -> bool:
    """Ask which one is meant where two temperatures stand behind one keyword."""
    found = temperature_at(scan, last)
    end = found[1] if found is not None else last + 1
    scan.ask(f"{scan.written(end)} are two temperatures. Which one?", end)
    scan.leave(end)
    scan.loose = False
    return True


def _value_first(scan: Scan) -> bool:
    found = temperature_at(scan, 0)
    if found is None:
        return False
    words, end = found
    name = _FIELDS.get(scan.word(end), "")
    if not name:
        return False
    behind = end + 2 if scan.word(end + 1) in _BETWEEN else end + 1
    # "2 track limits" is no temperature; "41C track" is, and so is "27 air" alone.
    if not words.unit and (scan.loose or not _ends_or_repeats(scan, behind)):
        return False
    scan.claim(name, words, behind)
    return scan.understood(behind)


def _ends_or_repeats(scan: Scan, ahead: int) -> bool:
    """Tell whether a clause is over there, or another number with its keyword behind follows."""
    following = temperature_at(scan, ahead)
    return scan.is_over(ahead) or (following is not None and scan.word(following[1]) in _FIELDS)


def settle_temperature(
    name: str, words: TemperatureWords, *, line_units: Sequence[str], context: JotContext
) -> tuple[float, str]:
    """Turn a temperature as written into °C and the line that says how it was understood.

    `name` is the field, `line_units` has the units ("c", "f") written anywhere in the line.
    ValueError, worded as a question, where in doubt.
    """
    number = number_text(words.number)
    if number is None:
        raise ValueError(f"{NAMES[name]}: {words.number} is not one number. Write {_example(name)}")
    unit, why = words.unit, ""
    if not unit and len(line_units) == 1:
        unit, why = line_units[0], " (in the unit of the line)"
    elif not unit:
        unit = "f" if context.units.name == "us" else "c"
    temp_c = parse_quantity(f"{number} {unit}", "temperature")
    limits = _POSSIBLE_C if words.unit else _USUAL_C
    shown = _shown(number, unit)
    if not limits[name][0] <= temp_c <= limits[name][1]:
        mend = "Write it again" if words.unit else "Write it with its unit if it is right"
        raise ValueError(f"{NAMES[name]}: {_implausible(name, number, unit)} {mend}".rstrip())
    return temp_c, f"{shown}{why}"


def _example(name: str) -> str:
    return f'"{NAMES[name]} 27C"'


def _shown(number: str, unit: str) -> str:
    return f"{number.replace('-', '−')} °{unit.upper()}"


def _implausible(name: str, number: str, unit: str) -> str:
    """Word the question about a temperature that nobody would have measured there."""
    shown = _shown(number, unit)
    other: UnitSystem = METRIC if unit == "f" else US
    other_unit = "c" if unit == "f" else "f"
    converted = other.temperature(parse_quantity(f"{number} {unit}", "temperature"))
    low, high = _USUAL_C[name]
    if low <= parse_quantity(f"{number} {other_unit}", "temperature") <= high:
        return f"{shown} is {converted}. Did you mean {_shown(number, other_unit)}?"
    return f"{shown} is {converted}."


def doubt_of_pair(temps_c: Mapping[str, float], units: UnitSystem) -> str | None:
    """Word the question about a track that is too far from the air; None where all is well.

    Meant for temperatures of which at least one was written without a unit.
    """
    track, air = temps_c.get("track_temp_c"), temps_c.get("air_temp_c")
    if track is None or air is None or -MOST_BELOW_AIR_C <= track - air <= MOST_ABOVE_AIR_C:
        return None
    apart = units.temperature_difference(abs(track - air))
    side = "below" if track < air else "above"
    return (
        f"Track {units.temperature(track)} is {apart} {side} the air, {units.temperature(air)}. "
        "Which one is wrong? Write both with their units"
    )
