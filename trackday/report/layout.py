"""Text on a console: titles, wrapped lines, bullets and plain tables."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from trackday.report.console import PlainConsole
from trackday.units import METRIC, US

_SHOWN = (*US.displays.values(), *METRIC.displays.values())
_UNITS = ("%", "h", "min", "L", *(display.unit.symbol for display in _SHOWN))
_BEFORE_UNIT = re.compile(rf"(?<=\d) (?=(?:{'|'.join(map(re.escape, _UNITS))})(?!\w))")
_CHANCE = re.compile(r"\([a-z ]+: [<>]?\d+ %\)")
_UNBROKEN = "\N{NO-BREAK SPACE}"


def title(console: Console, text: str) -> None:
    """Print the first line of a report, or a sentence that stands out like it."""
    console.print(Text(wrapped(text, text_width(console)), style="bold"))


def text_width(console: Console) -> int:
    """Columns that a sentence may take, which are fewer than a table's on a narrow terminal."""
    return console.sentence_width if isinstance(console, PlainConsole) else console.width


def heading(console: Console, text: str) -> None:
    """Print a section's name after an empty line."""
    console.print()
    console.print(Text(wrapped(text.upper(), text_width(console)), style="bold"))


def line(console: Console, text: str, *, indent: int = 2) -> None:
    """Print a sentence, wrapped under its own indent."""
    shown = Text(wrapped(text, text_width(console) - indent))
    console.print(Padding(shown, (0, 0, 0, indent), expand=False))


def bullet(console: Console, text: str) -> None:
    """Print a sentence behind a dash, wrapped under its text."""
    grid = Table.grid(padding=0)
    grid.add_column(width=4)
    grid.add_column()
    grid.add_row("  - ", Text(wrapped(text, text_width(console) - 4)))
    console.print(grid)


def wrapped(text: str, width: int) -> str:
    """Break a text into lines of at most `width`, never within a chance or before a unit."""
    glued = _CHANCE.sub(lambda found: found[0].replace(" ", _UNBROKEN), text)
    glued = _BEFORE_UNIT.sub(_UNBROKEN, glued)
    lines = (
        part
        for paragraph in glued.split("\n")
        for part in textwrap.wrap(paragraph, width, break_on_hyphens=False) or [""]
    )
    return "\n".join(lines).replace(_UNBROKEN, " ")


def capitalized(text: str) -> str:
    """Begin a text with a capital letter, and leave the rest as it is."""
    return text[:1].upper() + text[1:]


def table(columns: Iterable[tuple[str, int]], rows: Iterable[Sequence[str]]) -> Table:
    """Lay out a plain table with fixed least widths; every cell is text, never markup."""
    made = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="bold")
    for name, width in columns:
        made.add_column(Text(name), min_width=width, overflow="fold")
    for row in rows:
        made.add_row(*(Text(cell) for cell in row))
    return made


def indented(console: Console, made: Table) -> None:
    """Print a table two columns in."""
    console.print(Padding(made, (0, 0, 0, 2), expand=False))
