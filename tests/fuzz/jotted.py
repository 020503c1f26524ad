"""Fuzz the reader of jotted lines: nothing raises, and what was understood is written and read."""

from __future__ import annotations

from harness import PIECES, broken_text, demand_lines, fuzz
from hypothesis import strategies as st
from logbook.jot_cases import CLEAR, DOUBTFUL, context

from trackday.errors import TrackdayError
from trackday.logbook.jot import read_jotting
from trackday.logbook.jot_line import jot_line
from trackday.logbook.rows import from_row, to_row

LINES = [case.line for case in (*CLEAR, *DOUBTFUL)]
WORDS = sorted({word for line in LINES for word in line.split()})


def read(text: str) -> None:
    where = context()
    try:
        jotted = read_jotting(text, context=where)
    except TrackdayError as error:
        demand_lines(error)
        return
    try:
        row = to_row(jotted.entry)
    except ValueError:
        assert any(0xD800 <= ord(char) <= 0xDFFF for char in text)  # halves are no text
        return
    assert from_row(row) == jotted.entry
    jot_line(jotted.entry, context=where)


if __name__ == "__main__":
    fuzz(
        {
            "spoilt": (st.sampled_from(LINES).flatmap(broken_text), read),
            "words": (
                st.lists(st.sampled_from([*WORDS, *PIECES]), max_size=20).map(" ".join),
                read,
            ),
        }
    )
