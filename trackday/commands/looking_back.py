"""Looking back: `past`."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trackday.commands.shared import AsJson, Offline, UnitChoice, Units, first_day_of, progress, say
from trackday.errors import TrackdayError

if TYPE_CHECKING:
    from trackday.past import Past


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


def _make_past(target: Path, day: str | None, *, years: int, offline: bool) -> Past:
    from trackday.live import live_session
    from trackday.past import look_back
    from trackday.weekend.target import is_event, read_event_target, read_venue_target

    if is_event(target):
        if day is not None:
            raise TrackdayError("--date: an event has its own dates; leave it out")
        found = read_event_target(target)
    else:
        found = read_venue_target(target, day=first_day_of(day))
    settings, session = live_session(os.environ, offline=offline, warn=say)
    with session, progress("Asking for other years …", quiet=offline):
        return look_back(
            found,
            years=years,
            settings=settings,
            session=session,
            as_of=datetime.now(UTC),
            offline=offline,
        )
