"""Read one jotted line of the logbook, as one would write it with cold hands.

"Sat Q1 hot 31.5 31.0 29.8 30.2 track 41C air 27 dry, loose in 3". The grammar is described in
docs/logbook-line.md. What is doubtful is asked about and goes into the note as it was written:
it is never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from trackday.errors import TrackdayError
from trackday.logbook.entry import Entry
from trackday.logbook.jot_pressure import UNITS, may_be_pressures, read_pressures
from trackday.logbook.jot_scan import Claim, Doubt, Scan
from trackday.logbook.jot_settle import settle
from trackday.logbook.jot_temperature import read_temperature
from trackday.logbook.jot_times import (
    read_alignment,
    read_bleeding,
    read_clock,
    read_day,
    read_run,
    read_session,
)
from trackday.logbook.jot_tokens import (
    Keyed,
    Token,
    cut_keyed,
    is_only_marks,
    slip_of,
    tidy,
    tokens,
)
from trackday.logbook.jot_unread import (
    TEMPERATURE_UNITS,
    Unread,
    doubts_of_words,
    unread_clauses,
)
from trackday.logbook.jot_when import JotContext
from trackday.logbook.jot_words import (
    read_rain,
    read_right_tire,
    read_state,
    read_tires,
)

__all__ = ["MOST_CHARACTERS", "JotContext", "Jotted", "read_jotting"]

MOST_CHARACTERS = 4000
"""Longest line that is read, in characters (assumption: a page of notes)."""

# In this order: what can only be one thing comes before what may be several.
_READERS: Sequence[Callable[[Scan], bool]] = (
    read_temperature,
    read_pressures,
    read_right_tire,
    read_tires,
    read_rain,
    read_state,
    read_run,
    read_clock,
    read_alignment,
    read_bleeding,
    read_day,
    read_session,
)
_MEASURED = frozenset({"hot", "cold", "track", "air", "laps", "ambient", "pressures"})
_WHEELS = frozenset({
    "fl", "fr", "rl", "rr", "lf", "rf", "lr", "left", "right", "front", "fronts", "rear", "rears",
    "l", "r", "f",
})  # fmt: skip
_JOINING = frozenset({"and", "with"})


@dataclass(frozen=True)
class Jotted:
    """An entry read from a line, with a line for each thing that was understood.

    `questions` are about what is ambiguous or doubtful; empty means sure. What they are about is
    in no field of the entry but its note, as it was written. `unread` lists what else in the note,
    not begun as one, may hold a reading.
    """

    entry: Entry
    understood: tuple[str, ...]
    questions: tuple[str, ...]
    unread: tuple[Unread, ...] = ()


def read_jotting(text: str, *, context: JotContext) -> Jotted:
    """Read one jotted line.

    Raises TrackdayError for a line with nothing in it, or one of more than `MOST_CHARACTERS`.
    """
    if len(text) > MOST_CHARACTERS:
        raise TrackdayError(
            f"log add: the line has {len(text)} characters; write at most {MOST_CHARACTERS}"
        )
    line = tidy(text)
    if is_only_marks(line):
        raise TrackdayError(
            'log add: nothing is written; write for example "Sat Q1 hot 31 31 30 30 track 41C dry"'
        )
    rest, keyed = cut_keyed(line)
    scan = _scan(rest, context)
    claims = [*map(_renamed, scan.claims), *_keyed_claims(keyed)]
    settled = settle(sorted(claims, key=lambda claim: claim.start), context)
    doubts = [*scan.doubts, *_doubts_of_text(keyed), *settled.doubts, *_doubts_of_left(scan)]
    day = settled.fields.get("day", context.local_date)
    doubts += doubts_of_words(scan, claims, doubts, day=day)
    note = _note(line, scan, keyed, settled.doubts)
    understood = [*settled.understood, *([f"note: {note}"] if note else [])]
    entry = Entry(
        **{"day": context.local_date, **settled.fields},
        venue=context.venue,
        event=context.event,
        note=note,
    )
    return Jotted(entry, tuple(understood), _questions(doubts), unread_clauses(scan))


def _scan(text: str, context: JotContext) -> Scan:
    """Read clause after clause, and leave what no reader understands."""
    scan = Scan(text, tokens(text), context)
    while (token := scan.at(0)) is not None:
        if token.kind == "break":
            scan.pause()
        elif any(reader(scan) for reader in _READERS):
            continue
        elif not scan.loose and (token.word in _JOINING or is_only_marks(token.text)):
            scan.pos += 1
        else:
            scan.leave()
    return scan


def _renamed(claim: Claim) -> Claim:
    """Put both ways to write the moment of measurement in one field."""
    name = "at" if claim.field in {"clock", "moment"} else claim.field
    return Claim(name, claim.value, claim.start, claim.end)


def _keyed_claims(keyed: Sequence[Keyed]) -> list[Claim]:
    """Make claims of the texts behind keys, but for notes."""
    return [
        Claim(each.field, each.text, each.start, each.end) for each in keyed if each.field != "note"
    ]


def _doubts_of_text(keyed: Sequence[Keyed]) -> list[Doubt]:
    """Ask about readings that stand in a text which runs to the next ";"."""
    return [
        Doubt(f'"{found}" is part of the text. Put ; before it if it is a reading.', at, at)
        for each in keyed
        for found in each.readings
        for at in (each.start,)
    ]


def _doubts_of_left(scan: Scan) -> list[Doubt]:
    """Ask about numbers that were not understood and look like readings."""
    asked = {place for place in scan.left if _is_asked(scan, scan.tokens[place])}
    doubts = []
    for run in _numbers_in_a_row([place for place in scan.left if place not in asked], scan):
        question = _question_of(run, scan)
        if question is not None:
            doubts.append(Doubt(question, scan.tokens[run[0]].start, scan.tokens[run[-1]].end))
    return doubts


def _is_asked(scan: Scan, token: Token) -> bool:
    """Tell whether a question is about this token already."""
    return any(doubt.start <= token.start < doubt.end for doubt in scan.doubts)


def _numbers_in_a_row(left: Sequence[int], scan: Scan) -> list[list[int]]:
    """Group the places of numbers with nothing but marks, commas and units between them."""
    runs: list[list[int]] = []
    for place in left:
        if scan.tokens[place].kind != "number":
            continue
        between = scan.tokens[runs[-1][-1] + 1 : place] if runs else ()
        if runs and all(_is_between(token) for token in between):
            runs[-1].append(place)
        else:
            runs.append([place])
    return runs


def _is_between(token: Token) -> bool:
    return token.text == "," or token.kind == "mark" or token.word in UNITS


def _question_of(run: Sequence[int], scan: Scan) -> str | None:
    """Word the question about numbers in a row; None where they are at home in a note."""
    first, last = run[0], run[-1]
    before, behind = _word_at(scan, first - 1), _word_at(scan, last + 1)
    end = last + 1 if behind in {*UNITS, *TEMPERATURE_UNITS} else last
    written = scan.text[scan.tokens[first].start : scan.tokens[end].end]
    meant = slip_of(before)
    if meant is not None:
        return f'"{before} {written}": did you mean {meant}?'
    if meant := slip_of(behind):
        return f'"{written} {behind}": did you mean {meant}?'
    if before in _MEASURED:
        return f'"{before} {written}": how is that meant? Write it anew, behind a comma'
    texts = [scan.tokens[place].text for place in run]
    units = [UNITS[behind]] if behind in UNITS else UNITS.values()
    if before in _WHEELS and may_be_pressures(texts, units):
        return f'"{before} {written}": hot or cold? Write all four behind that word'
    if len(run) >= 3 and may_be_pressures(texts, units):
        return f'"{written}": hot or cold? Write "hot {written}" or "cold {written}"'
    is_alone = _is_over(scan, first - 1) and _is_over(scan, end + 1)
    if behind in TEMPERATURE_UNITS and (is_alone or _is_over(scan, first - 1)):
        return f'"{written}": track or air? Write "track {written}" or "air {written}"'
    if behind in UNITS and (is_alone or len(run) > 1):
        return f'"{written}": hot or cold? Write it with the word before it'
    return f'"{written}": what was measured? Write it with its word' if is_alone else None


def _word_at(scan: Scan, place: int) -> str:
    return scan.tokens[place].word if 0 <= place < len(scan.tokens) else ""


def _is_over(scan: Scan, place: int) -> bool:
    """Tell whether a clause is over there: by a break, or by something that was understood."""
    if not 0 <= place < len(scan.tokens):
        return True
    return scan.tokens[place].kind == "break" or place not in scan.left


def _note(line: str, scan: Scan, keyed: Sequence[Keyed], doubts: Sequence[Doubt]) -> str:
    """Join what was not understood, what is doubtful and the notes, as they stand in the line."""
    notes = [(each.start, each.text) for each in keyed if each.field == "note" and each.text]
    parts = [(doubt.start, line[doubt.start : doubt.end]) for doubt in doubts]
    parts += [(start, scan.text[start:end]) for start, end in _runs_left(scan)]
    notes += [(start, text) for start, text in parts if not is_only_marks(text)]
    return "; ".join(text for _, text in sorted(notes))


def _runs_left(scan: Scan) -> list[tuple[int, int]]:
    """Give the characters of what was left, in one piece across commas."""
    runs: list[tuple[int, int]] = []
    last = -1
    for place in sorted(set(scan.left)):
        token = scan.tokens[place]
        between = scan.text[runs[-1][1] : token.start] if runs else ";"
        if place == last + 1 or re.fullmatch(r"[\s,.!?]*", between):
            start = runs.pop()[0] if runs else token.start
        else:
            start = token.start
        runs.append((start, token.end))
        last = place
    return runs


def _questions(doubts: Sequence[Doubt]) -> tuple[str, ...]:
    """List the questions, as what they are about stands in the line."""
    ordered = sorted(doubts, key=lambda doubt: doubt.start)
    asked = dict.fromkeys(doubt.question for doubt in ordered if doubt.question)
    return tuple(text if text.endswith(("?", ".")) else f"{text}." for text in asked)
