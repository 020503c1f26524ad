"""Show the racer's own paths and values in messages: on one line, and not too long."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

MAX_SHOWN = 40
"""Longest piece of the racer's own text that is repeated in a message, in characters."""


def one_line(text: str) -> str:
    """Replace what would break or garble a line on a terminal."""
    return "".join(char if char.isprintable() else "\N{REPLACEMENT CHARACTER}" for char in text)


def shown_path(path: Path) -> str:
    """Write a path so that it fits in a message, whatever bytes its name is made of."""
    return one_line(str(path))


def shown_value(value: Any) -> str:
    """Repeat the racer's value, shortened; a table or list by its kind only."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and value.bit_length() > 64:
        return "a huge number"
    if isinstance(value, str):
        return repr(shortened(value))
    if isinstance(value, Mapping):
        return "a table"
    return "a list" if isinstance(value, list) else str(value)


def shortened(text: str) -> str:
    """Cut a long piece of text."""
    return text if len(text) <= MAX_SHOWN else f"{text[:MAX_SHOWN]}…"
