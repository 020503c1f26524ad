"""The season at a glance: `season`."""

from __future__ import annotations

import os
import shlex
from datetime import UTC, datetime
from pathlib import Path
from time import sleep
from typing import TYPE_CHECKING, Annotated

import typer

from trackday.commands.planning import open_logbook
from trackday.commands.shared import AsJson, AsOf, Offline, UnitChoice, Units, progress, say
from trackday.errors import NoWeatherError, TrackdayError

if TYPE_CHECKING:
    from trackday.season import Season

Folder = Annotated[
    Path, typer.Argument(metavar="DIR", help="Folder with garage.toml, venues and events.")
]
WaitEach = Annotated[
    float,
    typer.Option(
        "--wait",
        metavar="SECONDS",
        min=1.0,
        max=300.0,
        help="Longest wait for the weather services of each venue; what has not answered is left "
        "out.",
    ),
]
Within = Annotated[
    int | None,
    typer.Option(
        "--days",
        min=0,
        max=366,
        help="Show and ask for only the events that begin within so many days or are under way.",
    ),
]


def season(
    folder: Folder,
    days: Within = None,
    as_of: AsOf = None,
    offline: Offline = False,
    wait: WaitEach = 20.0,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
) -> None:
    """Show every event by date: forecast, rain, heat, tires to take, and when to look again."""
    from trackday.report.console import open_console
    from trackday.report.season_data import season_json
    from trackday.report.text_season import print_season

    made = _make_season(folder, as_of, days=days, offline=offline, wait_s=wait)
    if json_:
        typer.echo(season_json(made))
    else:
        print_season(open_console(), made, units.value)
    _tell_faults(made, offline=offline)


def _make_season(
    folder: Path, as_of: str | None, *, days: int | None, offline: bool, wait_s: float
) -> Season:
    from trackday.live import live_gather
    from trackday.recall import BookKnowledge
    from trackday.season import make_season, read_season, season_moment, soon
    from trackday.season_asking import PatientGather
    from trackday.weekend.reading import elevations_beside

    files = read_season(folder)
    moment = season_moment(as_of, files, now=datetime.now(UTC))
    wanted = files if days is None else soon(files, days=days, as_of=moment)
    live = live_gather(os.environ, offline=offline, wait_s=wait_s, warn=say)
    gather = PatientGather(live, pause=sleep, tell=_tell_waiting)
    with (
        open_logbook(needed=False) as book,
        progress("Asking the weather services …", quiet=offline),
    ):
        knows = None if book is None else BookKnowledge(book, elevations_beside(files.any_path))
        return make_season(wanted, gather, knows, as_of=moment, offline=offline)


def _tell_waiting() -> None:
    say(
        "the free calls of this minute are used up; waiting for more "
        "(--days N asks for fewer events, --offline asks nobody)"
    )


def _tell_faults(made: Season, *, offline: bool) -> None:
    """End with the exit code of what went wrong; the season itself has been shown by now."""
    from trackday.weekend.showing import shown_path

    if made.faults:
        raise TrackdayError(
            *(
                f"{name}: cannot be read; run: trackday check {shlex.quote(name)}"
                for name in (shown_path(fault.path) for fault in made.faults)
            )
        )
    troubled = [event for event in made.events if event.trouble]
    if troubled and not any(event.plan for event in made.events):
        names = ", ".join(event.weekend.event.name for event in troubled)
        mend = "run it once without --offline" if offline else "try again"
        raise NoWeatherError(f"no weather could be had for {names}; {mend} where there is a signal")
