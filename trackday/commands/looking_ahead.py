"""Looking ahead: `plan`, `load`, `morning` and `light`."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trackday.commands.planning import Request, end_if_unchanged, look_ahead
from trackday.commands.shared import AsJson, AsOf, EventFile, Offline, UnitChoice, Units, Wait
from trackday.commands.writing import CalendarFile, Page, write_calendar, write_page
from trackday.errors import TrackdayError

if TYPE_CHECKING:
    from trackday.commands.planning import Seen

Replay = Annotated[
    bool,
    typer.Option(
        "--replay",
        help="Say again what the look at --as-of (or the last before it) said, from the weather "
        "and files kept with it.",
    ),
]
IfChanged = Annotated[
    bool,
    typer.Option(
        "--if-changed",
        help="Print only where a decision or a chance has changed since the last look; "
        "otherwise exit with code 4, for schedulers.",
    ),
]


def plan(
    event: EventFile,
    as_of: AsOf = None,
    offline: Offline = False,
    wait: Wait = 20.0,
    replay: Replay = False,
    if_changed: IfChanged = False,
    page: Page = None,
    calendar: CalendarFile = None,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
) -> None:
    """Plan a weekend: tires, pressures, canopy, fog, heat and light for each session and day."""
    from trackday.report.console import open_console
    from trackday.report.data import plan_json
    from trackday.report.text_plan import print_plan

    seen = look_ahead(
        Request(
            "plan",
            event,
            as_of,
            offline=offline,
            wait_s=wait,
            replay=replay,
            with_courses=page is not None,
        )
    )
    if if_changed:
        end_if_unchanged(seen)
    _say_if_over(seen, aside=json_)
    if json_:
        typer.echo(plan_json(seen.plan, seen.changes))
    else:
        print_plan(open_console(), seen.plan, units.value, changes=seen.changes)
    _write_files(seen, page, calendar, units)


def load(
    event: EventFile,
    as_of: AsOf = None,
    offline: Offline = False,
    wait: Wait = 20.0,
    replay: Replay = False,
    if_changed: IfChanged = False,
    page: Page = None,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
    csv_: Annotated[bool, typer.Option("--csv", help="Print the list as a table.")] = False,
) -> None:
    """List what to load, the week before: tire sets that fit, what the weather asks for, yours."""
    from trackday.report.console import open_console
    from trackday.report.data import load_json
    from trackday.report.load_csv import load_csv
    from trackday.report.text_load import print_load
    from trackday.units import units_named

    if json_ and csv_:
        raise TrackdayError("--json and --csv: two forms of output; give one of them")
    seen = look_ahead(
        Request(
            "load",
            event,
            as_of,
            offline=offline,
            wait_s=wait,
            replay=replay,
            with_courses=page is not None,
        )
    )
    if if_changed:
        end_if_unchanged(seen)
    _say_if_over(seen, aside=json_ or csv_)
    if json_:
        typer.echo(load_json(seen.plan))
    elif csv_:
        text = load_csv(seen.plan.load, units=units_named(units.value), zone=seen.plan.venue.zone)
        typer.echo(text, nl=False)
    else:
        print_load(open_console(), seen.plan, seen.plan.load, units.value)
    _write_files(seen, page, None, units, opens_at="load")


def morning(
    event: EventFile,
    day: Annotated[
        str | None,
        typer.Option(
            metavar="YYYY-MM-DD",
            help="Day of the event, or its weekday, as Sat. Default: the day of --as-of.",
        ),
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
    replay: Replay = False,
    if_changed: IfChanged = False,
    page: Page = None,
    calendar: CalendarFile = None,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
) -> None:
    """Rain tires today: yes, no, or until when one can wait."""
    from trackday.report.console import open_console
    from trackday.report.data import morning_json
    from trackday.report.text_morning import print_morning

    seen = look_ahead(
        Request(
            "morning",
            event,
            as_of,
            offline=offline,
            wait_s=wait,
            replay=replay,
            measured=track or (),
            day=day,
            with_courses=page is not None,
        )
    )
    if seen.morning is None:
        raise TypeError("a morning look has a morning")
    if if_changed:
        end_if_unchanged(seen)
    _say_if_over(seen, aside=json_)
    if json_:
        typer.echo(morning_json(seen.morning, seen.changes))
    else:
        print_morning(open_console(), seen.morning, units.value, changes=seen.changes)
    _write_files(seen, page, calendar, units)


def light(
    event: EventFile,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
) -> None:
    """Sunrise, sunset, twilight and work after dark; needs no weather and no network."""
    from trackday.advice.light import advise_light
    from trackday.weekend.reading import load_weekend

    weekend = load_weekend(event)
    days = advise_light(
        weekend.sessions, venue=weekend.venue, work=weekend.garage.work, travel=weekend.travel
    )
    if json_:
        from trackday.report.data import light_json

        typer.echo(light_json(days, weekend.venue))
    else:
        from trackday.report.console import open_console
        from trackday.report.text_light import print_light

        print_light(open_console(), days, weekend, units.value)


def _say_if_over(seen: Seen, *, aside: bool) -> None:
    """Say first that an event is over, with what is of use then; `aside` from the output."""
    last = seen.over_since
    if last is None:
        return
    from trackday.weekend.showing import shown_path

    path = shlex.quote(shown_path(seen.weekend.event_path))
    for text in (
        f"This event is over ({last:%a %Y-%m-%d}). What came:",
        f"  trackday score {path}",
    ):
        typer.echo(text, err=aside)


def _write_files(
    seen: Seen,
    page: Path | None,
    calendar: Path | None,
    units: UnitChoice,
    *,
    opens_at: str = "",
) -> None:
    """Write the page and the calendar that were asked for, once all is said: they may fail."""
    if page is not None:
        write_page(
            page,
            seen.plan,
            units,
            morning=seen.morning,
            changes=seen.changes,
            opens_at=opens_at,
        )
    if calendar is not None:
        write_calendar(calendar, seen.plan, units)
