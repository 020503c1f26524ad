"""What goes on the two printed sheets: how many decisions on each, how tall the pictures.

A page of HTML cannot ask how much paper is left, so the room is reckoned here from counts. The
figures are of the style's own sizes, measured on its prints with a wide typeface.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

PAPER_MM = 252.0
"""Height to fill: Letter (279 mm) without its margins and with a line to spare."""

TEXT_MM = 4.2
"""Height of a line of text on the sheet."""

LINE_CHARACTERS = 100
"""Characters of a line across the sheet."""

HALF_LINE_CHARACTERS = 44
"""Characters of a line in one of the two columns of decisions."""

HEAD_MM, BOARD_MM, CAPTION_MM = 14.0, 24.0, 7.0
SESSION_MM, DENSE_SESSION_MM = 5.6, 3.8
DENSE_SESSIONS = 12
"""Sessions from which the table is set smaller."""

FIGURES_MM = (112, 104, 96, 88, 80)
"""Heights of the pictures that the style knows; below the last their words are too small."""

GOOD_FIGURE_MM = 104
"""Height for which decisions give way, as long as `FEWEST_DECISIONS` are left."""

MOST_FIGURES = 2
"""Pictures beside each other; a single one is as wide as the sheet."""

MOST_DECISIONS, FEWEST_DECISIONS = 12, 6


@dataclass(frozen=True)
class Sheet:
    """How many decisions and pictures the sheet holds, and the pictures' height in mm."""

    decisions: int
    figures: int
    figure_mm: int
    dense: bool


def plan_sheet(
    *,
    answer: Sequence[str],
    flags: Sequence[str],
    sessions: int,
    decisions: Sequence[str],
    days: int,
) -> Sheet:
    """Reckon the sheet from its texts: the answer with its reasons, what is flagged, decisions.

    A picture that would be too small is left out, and then decisions have its room.
    """
    dense = sessions > DENSE_SESSIONS
    used = HEAD_MM + BOARD_MM + 2 * CAPTION_MM
    used += sum(TEXT_MM * _lines(text, LINE_CHARACTERS) + 3.0 for text in flags)
    used += sum(TEXT_MM * _lines(text, LINE_CHARACTERS) for text in answer)
    used += sessions * (DENSE_SESSION_MM if dense else SESSION_MM)
    left = PAPER_MM - used
    most = min(len(decisions), MOST_DECISIONS)
    fewest = min(len(decisions), FEWEST_DECISIONS)
    for least, counts in (
        (GOOD_FIGURE_MM, range(most, fewest - 1, -1)),
        (FIGURES_MM[-1], range(most, fewest - 1, -1)),
    ):
        for count in counts if days else ():
            room = left - _decisions_mm(decisions[:count]) - CAPTION_MM
            fitting = [height for height in FIGURES_MM if least <= height <= room]
            if fitting:
                return Sheet(count, min(days, MOST_FIGURES), fitting[0], dense)
    return Sheet(_decisions_that_fit(decisions, left), 0, FIGURES_MM[-1], dense)


@dataclass(frozen=True)
class Print:
    """How a load list is set: mm a line and between boxes, columns, characters of their lines."""

    line_mm: float
    gap_mm: float
    columns: int
    characters: int


PRINTS = {
    "roomy": Print(4.8, 1.8, 2, 36),
    "full": Print(3.8, 1.8, 2, 44),
    "dense": Print(3.0, 0.8, 3, 34),
}
"""The style's three ways to set the load list, by `LoadList.density`."""

LOAD_HEAD_MM, GROUP_MM = 20.0, 4.0
"""Heading and the event's name over the list; what a group's heading takes beside its line."""


def decisions_overleaf(
    decisions: Sequence[str],
    *,
    head: Sequence[str],
    rows: Sequence[str],
    groups: int,
    density: str,
) -> int:
    """Count the first decisions that have room under the load list, on the second sheet.

    `head` is what is said over the list, `rows` its lines in `groups`; a list that fills the sheet
    leaves none.
    """
    way = PRINTS[density]
    lines = sum(_lines(row, way.characters) for row in rows) + groups
    list_mm = way.line_mm * lines + way.gap_mm * len(rows) + GROUP_MM * groups
    head_mm = LOAD_HEAD_MM + sum(1.5 * TEXT_MM * _lines(text, LINE_CHARACTERS) for text in head)
    # A group that does not break leaves a column shorter than the other.
    room_mm = PAPER_MM - head_mm - list_mm / way.columns - 3 * CAPTION_MM
    count = len(decisions)
    while count > 0 and _decisions_mm(decisions[:count]) > room_mm:
        count -= 1
    return count


def _decisions_that_fit(decisions: Sequence[str], room_mm: float) -> int:
    """Count the first decisions that fit a height."""
    count = min(len(decisions), MOST_DECISIONS)
    while count > 0 and _decisions_mm(decisions[:count]) > room_mm:
        count -= 1
    return count


def _decisions_mm(decisions: Sequence[str]) -> float:
    """Height of decisions in two columns, with a heading for each of three parts."""
    lines = sum(_lines(text, HALF_LINE_CHARACTERS) for text in decisions)
    return (TEXT_MM * lines + 1.2 * len(decisions) + 3 * CAPTION_MM) / 2.0


def _lines(text: str, characters: int) -> int:
    return math.ceil(len(text) / characters)
