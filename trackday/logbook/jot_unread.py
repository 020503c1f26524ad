"""Readings that hide in what became a note: "trk 41 dry sat q" behind a word nobody knows.

A remark such as "loose in the wet" or "dry line in 3" has words of the grammar too, and is no
reading. So a question is asked only where such a word stands as a reading would: alone, with its
number, and of a thing that the line does not say elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from trackday.logbook.jot_pressure import UNITS, may_be_pressures
from trackday.logbook.jot_scan import Claim, Doubt, Scan
from trackday.logbook.jot_times import is_plain
from trackday.logbook.jot_when import (
    day_named,
    looks_like_code,
    reads_as_word,
    sessions_called,
    weekday_number,
)

TEMPERATURE_UNITS = frozenset({
    "c", "celsius", "deg", "degc", "degf", "degree", "degrees", "f", "fahrenheit",
})  # fmt: skip

_ABOUT = {
    "hot": "hot", "hots": "hot", "fronts": "hot", "rears": "hot",
    "cold": "cold", "colds": "cold",
    "track": "track", "surface": "track", "asphalt": "track",
    "air": "air", "ambient": "air",
    "dry": "state", "damp": "state", "wet": "state",
}  # fmt: skip
"""The option of `log add` that a word of the grammar belongs to."""

_FIELDS = {
    "hot": frozenset({"hot_kpa", "cold_kpa"}),
    "cold": frozenset({"cold_kpa"}),
    "track": frozenset({"track_temp_c"}),
    "air": frozenset({"air_temp_c", "cold_air_temp_c"}),
    "state": frozenset({"track_state"}),
    "session": frozenset({"session"}),
    "day": frozenset[str](),
}
_LIKE = {"hot": "hot 31/30", "cold": "cold 24/23", "track": "track 41C", "air": "air 27C"}

# "Loose in the wet", "same as Saturday", "for the race": spoken of, not reported.
_SPOKEN_OF = frozenset({
    "a", "an", "as", "before", "by", "during", "every", "for", "from", "if", "in", "into", "last",
    "like", "next", "no", "not", "of", "on", "once", "our", "since", "than", "the", "till", "to",
    "until", "when", "while", "with",
})  # fmt: skip
# "In 3", "turn 12" and "lap 20" count something else.
_COUNTED = frozenset({
    "corner", "for", "gear", "grid", "in", "lap", "lost", "no", "number", "p", "row", "turn", "t",
})  # fmt: skip

COLDEST_WRITTEN, HOTTEST_WRITTEN = 5.0, 160.0
"""A number without a unit outside these is no temperature of a track or of air, in °C or °F
(assumption)."""


@dataclass(frozen=True)
class Unread:
    """A clause that is kept as a note only, though it holds a number or a word of the grammar.

    `about` is the option of `log add` that it may belong to, "" where its words do not tell; `word`
    is what to write there where one word of it says it all, as "dry".
    """

    text: str
    about: str
    word: str = ""


def unread_clauses(scan: Scan) -> tuple[Unread, ...]:
    """List the clauses that no reader took and that may hold a reading, as they were written."""
    return tuple(filter(None, (_unread(scan, clause) for clause in _clauses_left(scan))))


def doubts_of_words(
    scan: Scan, claims: Sequence[Claim], asked: Sequence[Doubt], *, day: date
) -> list[Doubt]:
    """Ask about clauses with a word that stands there as a reading would.

    `claims` is what the whole line says, `day` the entry's; what `asked` is about is not asked
    about again.
    """
    said = {claim.field for claim in claims}
    doubts = []
    for clause in _clauses_left(scan):
        start, end = scan.tokens[clause[0]].start, scan.tokens[clause[-1]].end
        if any(doubt.start < end and start < doubt.end for doubt in asked):
            continue
        examples = dict.fromkeys(_examples(scan, clause, said, day))
        if examples:
            question = (
                f'"{scan.text[start:end]}": only a remark? Then put "note:" before it. '
                f'If not, write "{", ".join(examples)}" behind a comma'
            )
            doubts.append(Doubt(question, start, end))
    return doubts


def _clauses_left(scan: Scan) -> list[list[int]]:
    """Group the places that were left, clause by clause, without what was understood as well."""
    clauses: list[list[int]] = []
    for place in sorted(set(scan.left)):
        token = scan.tokens[place]
        if any(claim.start <= token.start < claim.end for claim in scan.claims):
            continue
        if clauses and clauses[-1][-1] == place - 1:
            clauses[-1].append(place)
        else:
            clauses.append([place])
    return clauses


def _text(scan: Scan, clause: Sequence[int]) -> str:
    return scan.text[scan.tokens[clause[0]].start : scan.tokens[clause[-1]].end]


def _unread(scan: Scan, clause: Sequence[int]) -> Unread | None:
    """Tell what a clause may hold by its first word of the grammar, else by a number in it."""
    text = _text(scan, clause)
    for place in clause:
        about = _about(scan, place)
        if about:
            return Unread(text, about, "" if about in _LIKE else scan.tokens[place].text)
    numbers = [place for place in clause if _is_value(scan, place)]
    if any(_is_pressure(scan, place) or _is_temperature(scan, place) for place in numbers):
        return Unread(text, "")
    return None


def _about(scan: Scan, place: int) -> str:
    """Give the option of `log add` that one word belongs to; "" for none."""
    token = scan.tokens[place]
    if token.kind != "word":
        return ""
    if token.word in _ABOUT:
        return _ABOUT[token.word]
    if weekday_number(token.word) is not None:
        is_word = reads_as_word(token.text) and is_plain(scan, place + 1 - scan.pos)
        return "" if is_word else "day"
    return "session" if _names_session(scan, place) else ""


def _names_session(scan: Scan, place: int) -> bool:
    """Tell whether a word names a session: "Q1", "race". "P4" is rather where the car finished."""
    word = scan.tokens[place].word
    if looks_like_code(word):
        return not word.startswith("p")
    return bool(sessions_called(word, scan.context)) and _stands_beside_known(scan, place)


def _stands_beside_known(scan: Scan, place: int) -> bool:
    """Tell whether a word has another of the grammar right before or behind it: "sat q"."""
    beside = (each for each in (place - 1, place + 1) if 0 <= each < len(scan.tokens))
    return any(
        scan.tokens[each].word in _ABOUT or weekday_number(scan.tokens[each].word) is not None
        for each in beside
    )


def _examples(scan: Scan, clause: Sequence[int], said: set[str], day: date) -> Iterator[str]:
    """Say how each word of a clause that stands as a reading would be written."""
    values = [place for place in clause if _is_value(scan, place)]
    for place in clause:
        about = _about(scan, place)
        if not about or said & _FIELDS[about]:
            continue
        word = scan.tokens[place].text
        if about in {"hot", "cold"}:
            if any(_is_pressure(scan, each) for each in values):
                yield _LIKE[about]
        elif about in {"track", "air"}:
            if any(_is_temperature(scan, each) for each in values):
                yield _LIKE[about]
        elif _is_reported(scan, place) and not _is_the_day(scan, word, day):
            yield word


def _is_reported(scan: Scan, place: int) -> bool:
    """Tell whether a word stands alone as a report: not "the wet", nor "dry line"."""
    before = scan.tokens[place - 1].word if place > 0 else ""
    ahead = place + 1 - scan.pos
    return before not in _SPOKEN_OF and not is_plain(scan, ahead) and not scan.is_number(ahead)


def _is_the_day(scan: Scan, word: str, day: date) -> bool:
    """Tell whether a weekday is the one that the entry has anyway."""
    return day_named(word.casefold(), scan.context) == day


def _is_value(scan: Scan, place: int) -> bool:
    """Tell whether a number may be a reading: it counts no turns, laps or clicks."""
    token = scan.tokens[place]
    if token.kind != "number" or (place > 0 and scan.tokens[place - 1].word in _COUNTED):
        return False
    ahead = place + 1 - scan.pos
    behind = scan.word(ahead)
    if behind in TEMPERATURE_UNITS or behind in UNITS:
        return True
    # "About 31 and greasy" and "31ish" end a reading; "12 places" does not.
    return (
        scan.is_over(ahead)
        or behind in _ABOUT
        or behind in {"and", "/", "-"}
        or (scan.is_number(ahead) or not is_plain(scan, ahead))
    )


def _is_pressure(scan: Scan, place: int) -> bool:
    """Tell whether a number may be a tire pressure in its unit, or in one of the racer's."""
    behind = scan.word(place + 1 - scan.pos)
    if behind in TEMPERATURE_UNITS:
        return False
    own = ("psi",) if scan.context.units.name == "us" else ("bar", "kPa")
    units = (UNITS[behind],) if behind in UNITS else own
    return may_be_pressures([scan.tokens[place].text], units)


def _is_temperature(scan: Scan, place: int) -> bool:
    """Tell whether a number may be a temperature of the track or the air."""
    behind = scan.word(place + 1 - scan.pos)
    if behind in TEMPERATURE_UNITS:
        return True
    text = scan.tokens[place].text
    return (
        behind not in UNITS
        and text.replace(".", "", 1).isdecimal()
        and len(text) < 6
        and COLDEST_WRITTEN <= float(text) <= HOTTEST_WRITTEN
    )
