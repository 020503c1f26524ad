"""The console that text is printed on."""

import io
import re

import pytest
from rich.table import Table
from rich.text import Text

from trackday.report.console import PLAIN_WIDTH, open_console
from trackday.report.layout import bullet, heading, indented, line, table, title


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self):
        return True

    def fileno(self):
        raise OSError


@pytest.fixture(autouse=True)
def _color_terminal(monkeypatch):
    for name in ("NO_COLOR", "FORCE_COLOR", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")


def printed(stream):
    console = open_console(stream)
    console.print(Text("wet", style="red"))
    return stream.getvalue()


def test_a_terminal_gets_color_and_a_pipe_does_not():
    """Protects pipes and files from escape codes."""
    assert "\x1b" in printed(Terminal())
    assert "\x1b" not in printed(io.StringIO())


def test_no_color_is_honored(monkeypatch):
    """Protects readers who asked for no color (the NO_COLOR convention, no-color.org)."""
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b[31m" not in printed(Terminal())


def test_a_pipe_has_80_columns(monkeypatch):
    """Protects logs and mails from lines as wide as some terminal."""
    monkeypatch.setenv("COLUMNS", "200")
    assert open_console(io.StringIO()).width == PLAIN_WIDTH


def test_no_text_steers_the_terminal():
    """Protects from notes and names with escape sequences: they are shown, not obeyed."""
    out = io.StringIO()
    console = open_console(out)
    console.print(Text("a\x1b[31mb\u202ec"))
    grid = Table.grid()
    grid.add_row("\x1b[2J cell")
    console.print(grid)
    shown = out.getvalue()
    assert "\x1b" not in shown
    assert "\u202e" not in shown
    assert "�" in shown


def test_sentences_fit_a_narrow_terminal_and_tables_stay_whole(monkeypatch):
    """Protects a phone's terminal: 40 columns wrap words between words, and cut no number."""
    monkeypatch.setattr("trackday.report.console._columns", lambda stream: 40)
    out = Terminal()
    console = open_console(out)
    for say in (title, heading, line, bullet):
        say(console, "Take the canopy down for the night before you leave, by 17:30. " * 2)
    sentences = plain(out)
    assert max(map(len, sentences)) <= 40
    indented(console, table([("Session", 30), ("Rain", 30)], [("Practice", "20 % (10–35)")]))
    assert max(map(len, plain(out))) > 40


def plain(out):
    """The lines that a terminal shows, without colors and the spaces at their ends."""
    return [text.rstrip() for text in re.sub(r"\x1b\[[0-9;]*m", "", out.getvalue()).splitlines()]
