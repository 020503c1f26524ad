"""The command line: which commands there are, and how a fault ends."""

from __future__ import annotations

import atexit
import gc
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated, NoReturn

import typer

from trackday import __version__
from trackday.commands import looking_ahead, looking_back, scoring, season, setting_up
from trackday.commands.log import log_app
from trackday.commands.shared import say
from trackday.errors import TrackdayError

app = typer.Typer(
    name="trackday",
    help="Weather in, decisions out: tires, pressures, canopy, fog and light for a race weekend.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


@app.callback(invoke_without_command=True)
def trackday(
    version: Annotated[bool, typer.Option("--version", help="Show the version and exit.")] = False,
) -> None:
    """Weather in, decisions out: tires, pressures, canopy, fog and light for a race weekend."""
    if version:
        typer.echo(f"trackday {__version__}")
        raise typer.Exit


for command in (
    setting_up.demo,
    setting_up.init,
    setting_up.check,
    looking_ahead.plan,
    looking_ahead.load,
    looking_ahead.morning,
    looking_ahead.light,
    looking_back.past,
    season.season,
    scoring.score,
):
    app.command()(command)
app.add_typer(log_app)


@contextmanager
def _no_garbage() -> Iterator[None]:
    """Leave the garbage where it is: a command ends before it is worth looking for.

    The collector would read through all objects of the libraries while they load, and once more
    when the program ends, which takes longer than many a command.
    """
    gc.disable()
    atexit.register(gc.freeze)
    try:
        yield
    finally:
        gc.enable()


def main() -> NoReturn:
    """Run the command line; a fault that the user can mend is one line on stderr."""
    try:
        with _no_garbage():
            app(standalone_mode=True)
    except TrackdayError as error:
        for line in error.lines:
            say(line)
        sys.exit(error.exit_code)
    except BrokenPipeError:
        # The reader of a pipe has gone; Python must not complain again when it flushes at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    sys.exit(0)
