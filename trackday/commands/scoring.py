"""Judging: `score`."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trackday.commands.shared import AsJson, AsOf, Offline, UnitChoice, Units, progress, say
from trackday.errors import TrackdayError

if TYPE_CHECKING:
    from trackday.score import Score
    from trackday.weekend.garage import Garage
    from trackday.weekend.venue import Venue


def score(
    target: Annotated[
        Path | None, typer.Argument(help="Event or venue file. Default: the whole logbook.")
    ] = None,
    fit: Annotated[
        bool,
        typer.Option(
            "--fit",
            help="Learn how to read this venue's forecasts of rain, and keep it if it helps.",
        ),
    ] = False,
    lead: Annotated[
        int, typer.Option(min=1, max=7, help="Days ahead of the forecasts that --fit learns from.")
    ] = 1,
    since: Annotated[
        str | None,
        typer.Option(metavar="YYYY-MM-DD", help="First day that counts. With --fit: two years."),
    ] = None,
    as_of: AsOf = None,
    offline: Offline = False,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
    svg: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.svg", help="Draw the chances that were said against how often it rained."
        ),
    ] = None,
) -> None:
    """Compare what was said with what came: rain, wet tires, track temperature."""
    from trackday.options import parse_day
    from trackday.report.console import open_console
    from trackday.report.score_data import score_json
    from trackday.report.text_score import print_score

    first = None if since is None else parse_day(since, "--since")
    if fit and target is None:
        raise TrackdayError("--fit: learns for one venue; name its file, as venues/x.toml")
    made = _make_score(target, as_of, fit=fit, lead=lead, since=first, offline=offline)
    if json_:
        typer.echo(score_json(made))
    else:
        print_score(open_console(), made, units.value)
    if svg is not None:
        _draw(made, svg)


def _make_score(
    target: Path | None,
    as_of: str | None,
    *,
    fit: bool,
    lead: int,
    since: date | None,
    offline: bool,
) -> Score:
    from contextlib import ExitStack

    from trackday.live import live_session
    from trackday.logbook.store import open_book
    from trackday.options import parse_as_of
    from trackday.score import score_book
    from trackday.scoring.fitting import fit_venue
    from trackday.scoring.keeping import keep_fit, kept_fit
    from trackday.scoring.wets_value import wets_costs

    event, venue, garage = (None, None, None) if target is None else _read(target)
    moment = parse_as_of(as_of, zone=UTC if venue is None else venue.zone, now=datetime.now(UTC))
    settings, session = live_session(os.environ, offline=offline, warn=say)
    with ExitStack() as stack:
        stack.enter_context(session)
        stack.enter_context(progress("Asking for what came …", quiet=offline))
        learned = None
        if fit and venue is not None:
            learned = fit_venue(
                venue,
                settings=settings,
                session=session,
                as_of=moment,
                offline=offline,
                lead_days=lead,
                since=since,
            )
        book = None
        if learned is not None or settings.logbook.exists():
            book = stack.enter_context(open_book(settings.logbook))
        if learned is not None and book is not None:
            keep_fit(book, learned)
        elif book is not None and venue is not None:
            learned = kept_fit(book, venue)
        return score_book(
            book,
            venue=venue,
            event=event,
            costs=wets_costs(None if garage is None else garage.cost),
            settings=settings,
            as_of=moment,
            offline=offline,
            since=since,
            fit=learned,
        )


def _read(target: Path) -> tuple[str | None, Venue, Garage | None]:
    """Read an event with its venue and garage, or a venue and the garage beside its folder."""
    from trackday.weekend.reading import GARAGE_FILE, load_weekend, read_garage, read_venue
    from trackday.weekend.target import is_event

    if is_event(target):
        weekend = load_weekend(target)
        return weekend.event.name, weekend.venue, weekend.garage
    above = (folder / GARAGE_FILE for folder in target.resolve().parents)
    garage = next((path for path in above if path.exists()), None)
    return None, read_venue(target), None if garage is None else read_garage(garage)


def _draw(made: Score, path: Path) -> None:
    from trackday.commands.writing import write_whole
    from trackday.report.reliability_svg import reliability_svg

    where = "every venue" if made.venue is None else made.venue.name
    drawn = reliability_svg(
        () if made.rain is None else made.rain.tenths,
        title=f"Chance of rain in a session: {made.event or where}",
    )
    write_whole(path, "--svg", drawn.encode())
