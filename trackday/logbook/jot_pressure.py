"""Pressures in a jotted line: "hot 31.5 31 29.8 30.2", "cold F 24 R 23.5 psi at 15C"."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields

from trackday.logbook.entry import Corners
from trackday.logbook.jot_scan import Scan
from trackday.logbook.jot_temperature import is_of_something_else, temperature_at
from trackday.logbook.jot_tokens import comma_decimal, comma_list
from trackday.logbook.jot_when import JotContext
from trackday.units import parse_quantity

LOWEST_KPA, HIGHEST_KPA = 60.0, 400.0
"""Gauge pressures outside these are the wrong unit or a slip, kPa (assumption).

The ranges that they make in psi (8.7–58), bar (0.6–4) and kPa do not overlap.
"""

UNITS = {"psi": "psi", "psig": "psi", "bar": "bar", "kpa": "kPa"}
"""Units of pressure as they may be written, in lower case, and as `parse_quantity` reads them."""
_FIELDS = {"hot": "hot_kpa", "hots": "hot_kpa", "cold": "cold_kpa", "colds": "cold_kpa"}
_BETWEEN = frozenset({"pressure", "pressures", "tire", "tires", "tyre", "tyres", "set"})
# "Aim for hot 31/30" tells of no measurement.
_WISHES = frozenset({"target", "want", "aim", "for", "goal", "need", "try"})
_LABELS = {
    "fl": "front_left", "lf": "front_left", "fr": "front_right", "rf": "front_right",
    "rl": "rear_left", "lr": "rear_left", "rr": "rear_right",
    "f": "front", "front": "front", "fronts": "front",
    "r": "rear", "rear": "rear", "rears": "rear",
}  # fmt: skip
CORNERS = tuple(field.name for field in fields(Corners))
_IN_WORDS = ", ".join(name.replace("_", " ") for name in CORNERS)
_MEND = f"Write 4 ({_IN_WORDS}) or 2 (front, rear)"


@dataclass(frozen=True)
class PressureWords:
    """Pressures as written: number tokens behind their labels ("" without), and the units."""

    items: tuple[tuple[str, tuple[str, ...]], ...]
    units: tuple[str, ...]


@dataclass(frozen=True)
class ReadPressures:
    """Pressures in SI, and the line that says how they were understood."""

    corners: Corners
    shown: str


def read_pressures(scan: Scan) -> bool:
    """Read "hot" or "cold" with the numbers behind it, and the air at which cold ones were set."""
    if scan.word() in {"pressure", "pressures"} and scan.word(scan.past_links(1)) in _FIELDS:
        scan.pos += scan.past_links(1)
    found = _keyword_first(scan) or _numbers_first(scan)
    if found is None:
        return False
    name, words, count = found
    if scan.loose and not _WISHES.isdisjoint({scan.word(-1), scan.word(-2)}):
        scan.ask(f'Was "{scan.written(count)}" measured? Then write it behind a comma', count)
        scan.leave(count)
        return True
    scan.claim(name, words, count)
    scan.understood(count)
    if name == "cold_kpa":
        _read_air_when_set(scan)
    return True


def _keyword_first(scan: Scan) -> tuple[str, PressureWords, int] | None:
    """Read "hot 31 31 30 30"; gives the field, the numbers and how many tokens they took."""
    name = _FIELDS.get(scan.word())
    if name is None:
        return None
    words, count = _collect(scan, 1)
    return (name, words, count) if words.items else None


def _numbers_first(scan: Scan) -> tuple[str, PressureWords, int] | None:
    """Read "31 31 30 30 psi hot"."""
    if scan.loose or not (scan.is_number() or _label(scan, 0)[0]):
        return None
    words, count = _collect(scan, 0)
    name = _FIELDS.get(scan.word(count))
    if name is None or sum(len(numbers) for _, numbers in words.items) < 2:
        return None
    return name, words, count + 1


def _read_air_when_set(scan: Scan) -> None:
    """Read the "at 15C" behind cold pressures: the air, and so the gas, when they were set."""
    ahead = 1 if scan.word() == "set" else 0
    if scan.word(ahead) not in {"at", "@"}:
        return
    found = temperature_at(scan, ahead + 1)
    if found is not None:
        words, end = found
        scan.claim("cold_air_temp_c", words, end)
        scan.understood(end)


def _collect(scan: Scan, begin: int) -> tuple[PressureWords, int]:
    """Gather labels, numbers and units from a place on; gives them and how far they reach."""
    items: list[tuple[str, list[str]]] = []
    units: list[str] = []
    ahead = end = begin
    while True:
        word = scan.word(ahead)
        label, behind = _label(scan, ahead)
        if label:
            items.append((label, []))
            ahead = behind
        elif scan.is_number(ahead) and not is_of_something_else(scan, ahead):
            if not items:
                items.append(("", []))
            items[-1][1].append(word)
            ahead = end = ahead + 1
        elif word in UNITS:
            units.append(UNITS[word])
            ahead += 1
            end = ahead if items else end
        elif (not items and _is_filler(scan, ahead)) or _goes_on(scan, ahead, items):
            ahead += 1
        else:
            break
    whole = tuple((label, tuple(numbers)) for label, numbers in items)
    return PressureWords(whole, tuple(dict.fromkeys(units))), end


def _is_filler(scan: Scan, ahead: int) -> bool:
    """Tell whether a token may stand between the keyword and the first number."""
    return scan.word(ahead) in _BETWEEN or scan.past_links(ahead) > ahead


def _goes_on(scan: Scan, ahead: int, items: Sequence[tuple[str, list[str]]]) -> bool:
    """Tell whether a comma, slash or new line stands between two pressures of one clause."""
    token = scan.at(ahead)
    is_break = token is not None and token.kind == "break" and set(token.text) <= {",", "\n"}
    if not is_break and scan.word(ahead) not in {"/", "|", "-", "–", "and"}:
        return False
    if is_break and sum(len(numbers) for _, numbers in items) == len(CORNERS):
        return False
    is_next = scan.is_number(ahead + 1) and not is_of_something_else(scan, ahead + 1)
    return is_next or bool(_label(scan, ahead + 1)[0])


def _label(scan: Scan, ahead: int) -> tuple[str, int]:
    """Read a wheel or axle with a number behind it; gives it ("" if none) and where that is."""
    words = scan.word(ahead), scan.word(ahead + 1)
    sides = [word for word in words if word in {"left", "right"}]
    axles = [word for word in words if word in {"front", "rear"}]
    if sides and axles:
        label, behind = f"{axles[0]}_{sides[0]}", ahead + 2
    else:
        label, behind = _LABELS.get(words[0], ""), ahead + 1
    while scan.word(behind) in {":", "="}:
        behind += 1
    return (label, behind) if scan.is_number(behind) else ("", ahead)


def may_be_pressures(texts: Sequence[str], units: Iterable[str]) -> bool:
    """Tell whether number tokens may all be tire pressures in one of some units."""
    # A longer number is no reading, and its value may be beyond what a float holds.
    numbers = [number for text in texts for number in comma_decimal(text) if len(number) < 9]
    return bool(numbers) and any(
        all(_is_plausible(_kpa(number, unit)) for number in numbers) for unit in units
    )


def settle_pressures(
    name: str, words: PressureWords, *, line_units: Sequence[str], context: JotContext
) -> ReadPressures:
    """Turn pressures as written into SI; ValueError, worded as a question, where in doubt.

    `name` is "hot" or "cold", `line_units` has the units that were written anywhere in the line.
    """
    read: list[ReadPressures] = []
    faults: list[str] = []
    for style in (comma_decimal, comma_list):
        try:
            result = _settle(words, style, line_units=line_units, context=context)
        except ValueError as fault:
            faults.append(str(fault))
        else:
            if result not in read:
                read.append(result)
    if not read:
        raise ValueError(f"{name}: {faults[0]}")
    if len(read) > 1:
        choices = " or ".join(each.shown.partition(" (")[0] for each in read)
        raise ValueError(f"{name}: {choices}? Write decimals with a point")
    return read[0]


def _settle(
    words: PressureWords,
    style: Callable[[str], tuple[str, ...]],
    *,
    line_units: Sequence[str],
    context: JotContext,
) -> ReadPressures:
    """Read the number tokens in one style of commas."""
    groups: list[tuple[str, list[str]]] = []
    for label, written in words.items:
        parts = [style(token) for token in written]
        if not all(parts):
            raise ValueError(f"{' '.join(written)}: not all are numbers. {_MEND}")
        groups.append((label, [number for each in parts for number in each]))
    placed = _placed(groups)
    unit = _unit(words.units, tuple(placed.values()), line_units=line_units, context=context)
    in_kpa = {corner: _kpa(number, unit) for corner, number in placed.items()}
    if not all(_is_plausible(value) for value in in_kpa.values()):
        raise ValueError(_implausible([number for _, group in groups for number in group], unit))
    return ReadPressures(Corners(**in_kpa), _shown(groups, unit))


def _placed(groups: Sequence[tuple[str, Sequence[str]]]) -> dict[str, str]:
    """Put each number on its wheels."""
    placed: dict[str, str] = {}
    for label, numbers in groups:
        if label == "" and len(groups) > 1:
            raise ValueError("a pressure without its wheel beside others with one. Write all")
        for corner, number in zip(*_wheels(label, numbers), strict=True):
            if corner in placed:
                raise ValueError(f"two pressures for {corner.replace('_', ' ')}. Which one?")
            placed[corner] = number
    return placed


def _wheels(label: str, numbers: Sequence[str]) -> tuple[Sequence[str], Sequence[str]]:
    """Name the wheels of the numbers behind one label, and repeat those of a whole axle."""
    if label == "" and len(numbers) in {2, 4}:
        return CORNERS, [n for n in numbers for _ in range(len(CORNERS) // len(numbers))]
    if label in {"front", "rear"} and len(numbers) in {1, 2}:
        return (f"{label}_left", f"{label}_right"), [numbers[0], numbers[-1]]
    if label in CORNERS and len(numbers) == 1:
        return (label,), numbers
    count = f"{len(numbers)} pressure{'s' if len(numbers) != 1 else ''}"
    if label:
        raise ValueError(f"{count} for {label.replace('_', ' ')}. Which one?")
    raise ValueError(f"{count}, {' '.join(numbers)}. {_MEND}")


def _unit(
    written: Sequence[str],
    numbers: Sequence[str],
    *,
    line_units: Sequence[str],
    context: JotContext,
) -> str:
    """Choose the unit: the one written, the only one in the line, or the racer's own."""
    if len(written) > 1:
        raise ValueError(f"{' and '.join(written)} in one list. Which unit?")
    if written:
        return written[0]
    if len(line_units) == 1:
        return line_units[0]
    if context.units.name == "us":
        return "psi"
    return "bar" if all(_is_plausible(_kpa(number, "bar")) for number in numbers) else "kPa"


def _kpa(number: str, unit: str) -> float:
    """Convert a number to kPa by the package's one reader of units."""
    return parse_quantity(f"{number} {unit}", "pressure")


def _is_plausible(pressure_kpa: float) -> bool:
    return LOWEST_KPA <= pressure_kpa <= HIGHEST_KPA


def _implausible(numbers: Sequence[str], unit: str) -> str:
    """Word the question about numbers that are no tire pressures, with what may be meant."""
    tenths = [f"{float(number) / 10:.6f}".rstrip("0").rstrip(".") for number in numbers]
    choices = [(tenths, unit), *((numbers, each) for each in ("psi", "bar", "kPa"))]
    guesses = [
        f"{' '.join(guess)} {each}"
        for guess, each in choices
        if all(_is_plausible(_kpa(number, each)) for number in guess)
    ]
    meant = f"Did you mean {' or '.join(guesses)}?" if guesses else "Which are right?"
    return f"{' '.join(numbers)} {unit} is no tire pressure. {meant}"


def _shown(groups: Sequence[tuple[str, Sequence[str]]], unit: str) -> str:
    """Say how the numbers were understood."""
    if groups[0][0] == "":
        numbers = groups[0][1]
        places = _IN_WORDS if len(numbers) == len(CORNERS) else "front, rear"
        return f"{' '.join(numbers)} {unit} ({places})"
    named = (f"{label.replace('_', ' ')} {' '.join(numbers)}" for label, numbers in groups)
    return f"{', '.join(named)} {unit}"
