"""The one kind of error that a user can mend.

Everything else that goes wrong is a bug and may show a traceback.
"""

from __future__ import annotations


class TrackdayError(Exception):
    """Something the user can mend; `lines` holds one full sentence per fault.

    Each line names the file (or option), the field, what is wrong and how to mend it.
    """

    exit_code = 2

    def __init__(self, *lines: str) -> None:
        """Take one line per fault."""
        super().__init__("\n".join(lines))
        self.lines = lines


class NoWeatherError(TrackdayError):
    """No source had any weather for the weekend."""

    exit_code = 3
