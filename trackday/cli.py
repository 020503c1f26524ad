"""The command line: parse, call, hand to a report. Heavy imports stay inside the commands."""

from __future__ import annotations

import os
import sys
from contextlib import AbstractContextManager, nullcontext
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from trackday import __version__
from trackday.errors import TrackdayError

if TYPE_CHECKING:
    from trackday.plan import Gather, Plan
    from trackday.weekend.reading import Weekend

app = typer.Typer(
    name="trackday",
    help="Weather in, decisions out: tires, pressures, canopy, fog and light for a race weekend.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


EXAMPLE_PLACE = (43.6125, -91.0375)
"""Degrees north and east of no circuit, for a starter venue without coordinates."""


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
        help="Plan as of this moment, for example 2027-05-15T06:10 (venue time unless it has a "
        "zone). Default: now.",
    ),
]
Offline = Annotated[
    bool, typer.Option("--offline", help="Ask no server; use the replies saved earlier.")
]
Units = Annotated[UnitChoice, typer.Option("--units", help="Units of the text output.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print data (SI units) instead of text.")]


@app.callback(invoke_without_command=True)
def trackday(
    version: Annotated[bool, typer.Option("--version", help="Show the version and exit.")] = False,
) -> None:
    """Weather in, decisions out: tires, pressures, canopy, fog and light for a race weekend."""
    if version:
        typer.echo(f"trackday {__version__}")
        raise typer.Exit


@app.command()
def demo(units: Units = UnitChoice.US) -> None:
    """Show three looks at one invented weekend; needs no network and no set-up."""
    from trackday.demo import show_demo
    from trackday.report.console import open_console

    show_demo(open_console(), units.value)


@app.command()
def init(
    directory: Annotated[Path, typer.Argument(help="Folder for your files; made if missing.")],
    venue: Annotated[str, typer.Option(help="Name of the venue.")] = "My Venue",
    lat: Annotated[
        float | None, typer.Option(help="Latitude in degrees north.", show_default=False)
    ] = None,
    lon: Annotated[
        float | None, typer.Option(help="Longitude in degrees east (west is negative).")
    ] = None,
    elevation: Annotated[
        float | None, typer.Option(help="Elevation of the paddock in meters above sea level.")
    ] = None,
    first_day: Annotated[
        str | None,
        typer.Option("--date", metavar="YYYY-MM-DD", help="First day. Default: next Saturday."),
    ] = None,
) -> None:
    """Write commented starter files: garage.toml, a venue and an event."""
    from trackday.weekend.starter import write_starter

    if (lat is None) != (lon is None):
        raise TrackdayError("--lat and --lon: one is missing; give both, in degrees")
    written = write_starter(
        directory,
        venue_name=venue,
        latitude=EXAMPLE_PLACE[0] if lat is None else lat,
        longitude=EXAMPLE_PLACE[1] if lon is None else lon,
        elevation_m=0.0 if elevation is None else elevation,
        timezone=None,
        first_day=_first_day(first_day),
    )
    for path in written:
        typer.echo(path)
    venue_file = next(path for path in written if path.parent.name == "venues")
    if lat is None:
        _say(f"{venue_file}: latitude and longitude are an example; write your venue's")
    if elevation is None:
        _say(f"{venue_file}: elevation_m is 0 until you write the paddock's, in meters")
    _say(f"Change what is not yours in these files, then: trackday check {written[-1]}")


@app.command()
def check(
    files: Annotated[list[Path], typer.Argument(help="garage.toml, venue and event files.")],
) -> None:
    """Read files and tell what is wrong with them, one line a fault."""
    from trackday.weekend.reading import check_file

    faults = [line for path in files for line in check_file(path)]
    if faults:
        raise TrackdayError(*faults)
    for path in files:
        typer.echo(f"{path}: good")


@app.command()
def plan(
    event: EventFile,
    as_of: AsOf = None,
    offline: Offline = False,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
) -> None:
    """Plan a weekend: tires, pressures, canopy, fog and light for each session."""
    from trackday.report.console import open_console
    from trackday.report.data import plan_json
    from trackday.report.text_plan import print_plan

    made = _make_plan(event, as_of, offline)
    if json_:
        typer.echo(plan_json(made))
    else:
        print_plan(open_console(), made, units.value)


@app.command()
def morning(
    event: EventFile,
    day: Annotated[
        str | None,
        typer.Option(metavar="YYYY-MM-DD", help="Day of the event. Default: the day of --as-of."),
    ] = None,
    as_of: AsOf = None,
    offline: Offline = False,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
) -> None:
    """Rain tires today: yes, no, or until when one can wait."""
    from trackday.morning import make_morning
    from trackday.report.console import open_console
    from trackday.report.data import morning_json
    from trackday.report.text_morning import print_morning

    made = _make_plan(event, as_of, offline)
    look = make_morning(made, day=None if day is None else _parse_date(day, "--day"))
    if json_:
        typer.echo(morning_json(look))
    else:
        print_morning(open_console(), look, units.value)


@app.command()
def light(
    event: EventFile,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
) -> None:
    """Sunrise, sunset, twilight and work after dark; needs no weather and no network."""
    from trackday.advice.light import advise_light
    from trackday.report.console import open_console
    from trackday.report.data import light_json
    from trackday.report.text_light import print_light
    from trackday.weekend.reading import load_weekend

    weekend = load_weekend(event)
    days = advise_light(weekend.sessions, venue=weekend.venue, work=weekend.garage.work)
    if json_:
        typer.echo(light_json(days, weekend.venue))
    else:
        print_light(open_console(), days, weekend, units.value)


def main() -> NoReturn:
    """Run the command line; a fault that the user can mend is one line on stderr."""
    try:
        app(standalone_mode=True)
    except TrackdayError as error:
        for line in error.lines:
            _say(line)
        sys.exit(error.exit_code)
    except BrokenPipeError:
        # The reader of a pipe has gone; Python must not complain again when it flushes at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    sys.exit(0)


def _make_plan(event: Path, as_of: str | None, offline: bool) -> Plan:
    from trackday.plan import make_plan
    from trackday.weekend.reading import load_weekend

    weekend = load_weekend(event)
    moment = _parse_as_of(as_of, weekend)
    with _progress("Asking the weather services …", quiet=offline):
        return make_plan(
            weekend.event, weekend.garage, weekend.venue, _live_gather(offline), as_of=moment
        )


def _live_gather(offline: bool) -> Gather:
    from functools import partial

    from trackday.settings import load_settings, settings_path
    from trackday.weather.gather import gather
    from trackday.weather.http import open_session

    settings = load_settings(os.environ, settings_path())
    session = open_session(settings.cache_dir, offline=offline, warn=_say)
    return partial(gather, session=session, settings=settings, offline=offline)


def _parse_as_of(text: str | None, weekend: Weekend) -> datetime:
    """Turn --as-of into UTC; a moment without a zone is the venue's time."""
    from datetime import UTC

    from trackday.weekend.localtime import to_utc

    if text is None:
        return datetime.now(UTC)
    try:
        moment = datetime.fromisoformat(text)
        return (
            to_utc(moment, weekend.venue.zone) if moment.tzinfo is None else moment.astimezone(UTC)
        )
    except ValueError as error:
        raise TrackdayError(
            f"--as-of: {text!r} is not a moment ({error}); write it like 2027-05-15T06:10"
        ) from error


def _parse_date(text: str, option: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise TrackdayError(
            f"{option}: {text!r} is not a date; write it like 2027-05-15"
        ) from error


def _first_day(text: str | None) -> date:
    """Day that --date names, or the next Saturday (today counts)."""
    from datetime import timedelta

    if text is not None:
        return _parse_date(text, "--date")
    today = datetime.now().astimezone().date()
    return today + timedelta(days=(5 - today.weekday()) % 7)


def _progress(message: str, *, quiet: bool) -> AbstractContextManager[object]:
    """Show that something is going on, on a terminal only."""
    if quiet or not sys.stderr.isatty():
        return nullcontext()
    from rich.console import Console

    return Console(stderr=True).status(message)


def _say(line: str) -> None:
    """Write one line to stderr."""
    typer.echo(line, err=True)
