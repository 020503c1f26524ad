"""Options that several commands share, and what they say while they work."""

from __future__ import annotations

import sys
from contextlib import AbstractContextManager, nullcontext
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class UnitChoice(StrEnum):
    """Units of the text output."""

    US = "us"
    METRIC = "metric"


EventFile = Annotated[Path, typer.Argument(help="Event file, for example events/2027-05-15-x.toml")]
AsOf = Annotated[
    str | None,
    typer.Option(
        "--as-of",
        metavar="ISO",
        help="As of this moment, for example 2027-05-15T06:10 (venue time unless it has an offset "
        "from UTC). Default: now.",
    ),
]
Offline = Annotated[
    bool, typer.Option("--offline", help="Ask no server; use the replies saved earlier.")
]
Wait = Annotated[
    float,
    typer.Option(
        "--wait",
        metavar="SECONDS",
        min=1.0,
        max=300.0,
        help="Longest wait for all weather services; what has not answered is left out.",
    ),
]


def _read_units(text: str) -> UnitChoice:
    """Read --units in words of our own: the library's speak of a "Value error"."""
    try:
        return UnitChoice(text)
    except ValueError as error:
        known = " or ".join(UnitChoice)
        raise typer.BadParameter(f"{text!r} is not known; write {known}") from error


Units = Annotated[
    UnitChoice,
    typer.Option(
        "--units",
        parser=_read_units,
        metavar=f"<{'|'.join(UnitChoice)}>",
        autocompletion=lambda: list(UnitChoice),
        help="Units of the text output.",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print data (SI units) instead of text.")]


def first_day_of(text: str | None) -> date:
    """Read --date by today's date on this computer."""
    from trackday.options import parse_first_day

    return parse_first_day(text, today=datetime.now().astimezone().date())


def progress(message: str, *, quiet: bool) -> AbstractContextManager[object]:
    """Show that something is going on, on a terminal only."""
    if quiet or not sys.stderr.isatty():
        return nullcontext()
    from rich.console import Console

    return Console(stderr=True).status(message)


def say(line: str) -> None:
    """Write one line to stderr, without anything in it that would steer the terminal."""
    from trackday.weekend.showing import one_line

    typer.echo(one_line(line), err=True)
