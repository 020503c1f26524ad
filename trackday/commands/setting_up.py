"""Setting up: `demo`, `init` and `check`."""

from __future__ import annotations

import os
import shlex
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trackday.commands.shared import Offline, UnitChoice, Units, first_day_of, progress, say
from trackday.commands.writing import Page, write_page
from trackday.errors import TrackdayError

if TYPE_CHECKING:
    from trackday.whereabouts import Finder


def demo(
    name: Annotated[
        str | None, typer.Argument(help="One invented weekend; --list names them.")
    ] = None,
    list_: Annotated[bool, typer.Option("--list", help="List the invented weekends.")] = False,
    page: Page = None,
    units: Units = UnitChoice.US,
) -> None:
    """Show invented weekends; needs no network and no set-up."""
    from trackday.demo import show_demo
    from trackday.demo.stories import demo_weekends, find_story, plan_story
    from trackday.demo.telling import show_list, show_story
    from trackday.report.console import open_console

    console = open_console()
    if page is not None and name is None:
        raise TrackdayError(
            "--page: shows one weekend; name it, for example: "
            f"trackday demo gale --page {shlex.quote(str(page))}"
        )
    if list_:
        show_list(console, demo_weekends())
    elif name is not None:
        story = find_story(name)
        show_story(console, story, units.value)
        if page is not None:
            write_page(page, plan_story(story, with_courses=True), units)
    else:
        show_demo(console, units.value)


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
    from trackday.weekend.reading import VENUES_FOLDER
    from trackday.weekend.starter import is_venue_kept, slug_of, write_starter
    from trackday.whereabouts import whereabouts, whereabouts_kept

    if (lat is None) != (lon is None):
        raise TrackdayError("--lat and --lon: one is missing; give both, in degrees")
    if place is not None and lat is not None:
        raise TrackdayError("--place and --lat: both say where it lies; give one of them")
    day = first_day_of(first_day)
    looks_up = place is not None or (lat is not None and elevation is None)
    with (
        progress("Looking the place up …", quiet=offline),
        _finder(offline=offline) if looks_up else nullcontext() as finder,
    ):
        town = None
        if finder is not None and place is not None:
            town = finder.place(place)
            say(f"--place: {town.label} at {town.coordinates}")
        name = venue if venue is not None else town.name if town is not None else "My Venue"
        at = (town.latitude, town.longitude) if town is not None else _both(lat, lon)
        kept = is_venue_kept(directory, venue_name=name, at=at, first_day=day)
        where = (
            whereabouts_kept(town)
            if kept
            else whereabouts(lat, lon, elevation, town=town, finder=finder)
        )
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
    venue_file = directory / VENUES_FOLDER / f"{slug_of(name)}.toml"
    for remark in where.remarks:
        say(f"{venue_file}: {remark}")
    if where.attribution is not None:
        say(where.attribution)
    event_file = shlex.quote(str(written[-1]))
    say(f"Change what is not yours in these files, then: trackday check {event_file}")


def _both(lat: float | None, lon: float | None) -> tuple[float, float] | None:
    return None if lat is None or lon is None else (lat, lon)


def _finder(*, offline: bool) -> AbstractContextManager[Finder]:
    from trackday.live import live_finder

    return live_finder(os.environ, offline=offline, warn=say)


def check(
    files: Annotated[
        list[Path], typer.Argument(help="Your files: garage, venues, events, tables.")
    ],
) -> None:
    """Read files and tell what is wrong with them, one line a fault."""
    from trackday.weekend.reading import check_file

    # Each once: an event is checked together with its venue and garage, which have whole paths.
    here = f"{Path.cwd()}{os.sep}"
    lines = (line.removeprefix(here) for path in files for line in check_file(path))
    faults = dict.fromkeys(lines)
    if faults:
        raise TrackdayError(*faults)
    for path in files:
        typer.echo(f"{path}: good")
