"""The command line: parse, call, hand to a report. Heavy imports stay inside the commands."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from datetime import UTC, date, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from trackday import __version__
from trackday.errors import TrackdayError

if TYPE_CHECKING:
    from trackday.past import Past
    from trackday.plan import Plan

app = typer.Typer(
    name="trackday",
    help="Weather in, decisions out: tires, pressures, canopy, fog and light for a race weekend.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


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
    venue: Annotated[
        str | None,
        typer.Option(help="Name of the venue. Default: the town of --place, or My Venue."),
    ] = None,
    place: Annotated[
        str | None,
        typer.Option(
            metavar="TOWN", help='Town to look up in place of coordinates, as "Town, State".'
        ),
    ] = None,
    lat: Annotated[
        float | None, typer.Option(help="Latitude in degrees north.", show_default=False)
    ] = None,
    lon: Annotated[
        float | None, typer.Option(help="Longitude in degrees east (west is negative).")
    ] = None,
    elevation: Annotated[
        float | None,
        typer.Option(
            help="Elevation of the paddock in meters above sea level. Default: looked up."
        ),
    ] = None,
    first_day: Annotated[
        str | None,
        typer.Option("--date", metavar="YYYY-MM-DD", help="First day. Default: next Saturday."),
    ] = None,
    offline: Offline = False,
) -> None:
    """Write commented starter files: garage.toml, a venue and an event."""
    from trackday.live import live_finder
    from trackday.weekend.starter import refuse_existing, write_starter
    from trackday.whereabouts import whereabouts

    if (lat is None) != (lon is None):
        raise TrackdayError("--lat and --lon: one is missing; give both, in degrees")
    if place is not None and lat is not None:
        raise TrackdayError("--place and --lat: both say where it lies; give one of them")
    day = _first_day(first_day)
    looks_up = place is not None or (lat is not None and elevation is None)
    with (
        _progress("Looking the place up …", quiet=offline),
        live_finder(os.environ, offline=offline, warn=_say)
        if looks_up
        else nullcontext() as finder,
    ):
        town = None
        if finder is not None and place is not None:
            town = finder.place(place)
            _say(f"--place: {town.label} at {town.coordinates}")
        name = venue if venue is not None else town.name if town is not None else "My Venue"
        refuse_existing(directory, venue_name=name, first_day=day)
        where = whereabouts(lat, lon, elevation, town=town, finder=finder)
    written = write_starter(
        directory,
        venue_name=name,
        latitude=where.latitude,
        longitude=where.longitude,
        elevation_m=where.elevation_m,
        timezone=None,
        first_day=day,
    )
    for path in written:
        typer.echo(path)
    venue_file = next(path for path in written if path.parent.name == "venues")
    for remark in where.remarks:
        _say(f"{venue_file}: {remark}")
    if where.attribution is not None:
        _say(where.attribution)
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
    wait: Wait = 20.0,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
) -> None:
    """Plan a weekend: tires, pressures, canopy, fog and light for each session."""
    from trackday.report.console import open_console
    from trackday.report.data import plan_json
    from trackday.report.text_plan import print_plan

    made = _make_plan(event, as_of, offline=offline, wait_s=wait)
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
    wait: Wait = 20.0,
    track: Annotated[
        list[str] | None,
        typer.Option(
            metavar="TEMP@HH:MM",
            help="Track temperature that you measured, as 31C@09:10 or 88F@09:10; may be repeated.",
        ),
    ] = None,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
) -> None:
    """Rain tires today: yes, no, or until when one can wait."""
    from trackday.morning import make_morning
    from trackday.options import parse_day
    from trackday.report.console import open_console
    from trackday.report.data import morning_json
    from trackday.report.text_morning import print_morning

    wanted = None if day is None else parse_day(day, "--day")
    made = _make_plan(
        event, as_of, offline=offline, wait_s=wait, measured=track or (), measured_on=wanted
    )
    look = make_morning(made, day=wanted)
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


@app.command()
def past(
    target: Annotated[Path, typer.Argument(help="Event or venue file.")],
    years: Annotated[int, typer.Option(min=1, max=80, help="How many years to look back.")] = 20,
    first_day: Annotated[
        str | None,
        typer.Option(
            "--date",
            metavar="YYYY-MM-DD",
            help="Day to look at, hour by hour, for a venue. Default: next Saturday.",
        ),
    ] = None,
    offline: Offline = False,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
    csv_: Annotated[
        bool, typer.Option("--csv", help="Print a table with a row for each session (SI units).")
    ] = False,
) -> None:
    """Show what these dates were like in other years: rain, track, air, wind and light."""
    from trackday.report.console import open_console
    from trackday.report.past_data import past_csv, past_json
    from trackday.report.text_past import print_past

    if json_ and csv_:
        raise TrackdayError("--json and --csv: two forms of output; give one of them")
    made = _make_past(target, first_day, years=years, offline=offline)
    if json_:
        typer.echo(past_json(made))
    elif csv_:
        typer.echo(past_csv(made), nl=False)
    else:
        print_past(open_console(), made, units.value)


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


def _make_plan(
    event: Path,
    as_of: str | None,
    *,
    offline: bool,
    wait_s: float,
    measured: Sequence[str] = (),
    measured_on: date | None = None,
) -> Plan:
    from trackday.live import live_gather
    from trackday.options import parse_as_of
    from trackday.plan import make_plan
    from trackday.weekend.reading import load_weekend
    from trackday.weekend.readings import parse_track_reading

    weekend = load_weekend(event)
    zone = weekend.venue.zone
    moment = parse_as_of(as_of, zone=zone, now=datetime.now(UTC))
    day = measured_on or moment.astimezone(zone).date()
    readings = [parse_track_reading(text, day=day, zone=zone) for text in measured]
    gather = live_gather(os.environ, offline=offline, wait_s=wait_s, warn=_say)
    with _progress("Asking the weather services …", quiet=offline):
        return make_plan(
            weekend.event,
            weekend.garage,
            weekend.venue,
            gather,
            as_of=moment,
            readings=readings,
        )


def _make_past(target: Path, day: str | None, *, years: int, offline: bool) -> Past:
    from trackday.live import live_session
    from trackday.past import look_back
    from trackday.weekend.target import is_event, read_event_target, read_venue_target

    if is_event(target):
        if day is not None:
            raise TrackdayError("--date: an event has its own dates; leave it out")
        found = read_event_target(target)
    else:
        found = read_venue_target(target, day=_first_day(day))
    settings, session = live_session(os.environ, offline=offline, warn=_say)
    with _progress("Asking for other years …", quiet=offline):
        return look_back(
            found,
            years=years,
            settings=settings,
            session=session,
            as_of=datetime.now(UTC),
            offline=offline,
        )


def _first_day(text: str | None) -> date:
    from trackday.options import parse_first_day

    return parse_first_day(text, today=datetime.now().astimezone().date())


def _progress(message: str, *, quiet: bool) -> AbstractContextManager[object]:
    """Show that something is going on, on a terminal only."""
    if quiet or not sys.stderr.isatty():
        return nullcontext()
    from rich.console import Console

    return Console(stderr=True).status(message)


def _say(line: str) -> None:
    """Write one line to stderr."""
    typer.echo(line, err=True)
