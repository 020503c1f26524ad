"""Text of others as one plain line: nothing in it steers a terminal or turns the reading around."""

from __future__ import annotations


def plain_line(text: str) -> str:
    """Fold white space and put "�" in place of every character that cannot be printed.

    Those are control characters (escape sequences begin with one), marks that turn the direction of
    reading, and halves of characters. (Unicode's classes, by `str.isprintable`.)
    """
    return "".join(
        char if char.isprintable() else "\N{REPLACEMENT CHARACTER}"
        for char in " ".join(text.split())
    )
