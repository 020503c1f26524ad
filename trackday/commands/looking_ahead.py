"""Looking ahead: `plan`, `morning` and `light`."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trackday.commands.shared import (
    AsJson,
    AsOf,
    EventFile,
    Offline,
    UnitChoice,
    Units,
    Wait,
    progress,
    say,
)

if TYPE_CHECKING:
    from trackday.plan import Plan


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
    gather = live_gather(os.environ, offline=offline, wait_s=wait_s, warn=say)
    with progress("Asking the weather services …", quiet=offline):
        return make_plan(
            weekend.event,
            weekend.garage,
            weekend.venue,
            gather,
            as_of=moment,
            readings=readings,
        )
