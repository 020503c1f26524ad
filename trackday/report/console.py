"""The console that text reports are printed on."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterable
from typing import TextIO, cast

from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment

PLAIN_WIDTH = 80
"""Columns when the output is piped or the terminal is wider than a line is easy to read."""

WIDEST = 100

NARROWEST = 36
"""Fewest columns that sentences are wrapped for (assumption: a phone in large print)."""


def open_console(file: TextIO | None = None) -> Console:
    """A console for stdout: no markup in what users wrote, color on a terminal only.

    NO_COLOR is honored by rich. On a terminal narrower than 80 columns sentences are wrapped for
    it; the tables still get 80 and the terminal wraps or scrolls them, since cut numbers would be
    worse.
    """
    stream = file or sys.stdout
    if not stream.isatty():
        return _console(cast("TextIO", _Trimmed(stream)), PLAIN_WIDTH)
    return _console(stream, min(_columns(stream), WIDEST))


def _console(stream: TextIO, columns: int) -> Console:
    made = PlainConsole(
        file=stream, width=max(columns, PLAIN_WIDTH), markup=False, emoji=False, highlight=False
    )
    made.sentence_width = max(columns, NARROWEST)
    return made


class PlainConsole(Console):
    """Prints "�" for what would steer the terminal; rich's own colors are made later."""

    sentence_width = PLAIN_WIDTH
    """Columns that a sentence may take; tables may take the console's own width."""

    def render(
        self, renderable: RenderableType, options: ConsoleOptions | None = None
    ) -> Iterable[Segment]:
        """Render, and make every character plain that is neither printable nor a line's end."""
        for segment in super().render(renderable, options):
            if segment.control or segment.text.isprintable():
                yield segment
            else:
                yield Segment("".join(map(_plain, segment.text)), segment.style)


def _plain(character: str) -> str:
    return (
        character if character.isprintable() or character == "\n" else "\N{REPLACEMENT CHARACTER}"
    )


class _Trimmed:
    """A stream that drops the spaces with which table cells fill up the end of a line."""

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream

    def write(self, text: str) -> int:
        return self.stream.write(re.sub(r" +(?=\n)", "", text))

    def flush(self) -> None:
        self.stream.flush()

    def isatty(self) -> bool:
        return False


def _columns(stream: TextIO) -> int:
    """Width of the terminal; 80 where it does not tell."""
    try:
        return os.get_terminal_size(stream.fileno()).columns
    except OSError:
        return PLAIN_WIDTH
