"""Keeping the logbook: tires in stock, export, import and check."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from trackday.commands.log_options import home_zone, logbook_path, moment_given, the_book
from trackday.commands.shared import AsJson, AsOf, say
from trackday.errors import TrackdayError


def sets(as_of: AsOf = None, json_: AsJson = False) -> None:
    """Show the tires in stock: laps, heat cycles, age, grooves."""
    from trackday.report.console import open_console
    from trackday.report.log_data import sets_json
    from trackday.report.text_log import print_sets

    today = moment_given(as_of)(home_zone()).astimezone(home_zone()).date()
    with the_book() as book:
        stock = book.sets()
    if json_:
        typer.echo(sets_json(stock, today=today))
    elif not stock:
        typer.echo("No tires in stock yet: trackday log set NAME --kind dry")
    else:
        print_sets(open_console(), stock, today=today)


def set_(
    name: Annotated[str, typer.Argument(help="Name of the set, as in garage.toml.")],
    kind: Annotated[str | None, typer.Option(help="dry or wet.")] = None,
    bought: Annotated[
        str | None, typer.Option(metavar="YYYY-MM-DD", help="Day it was bought.")
    ] = None,
    grooved: Annotated[
        str | None, typer.Option(metavar="YYYY-MM-DD", help="Day rain grooves were cut into it.")
    ] = None,
    retired: Annotated[bool, typer.Option("--retired", help="Out of use from today.")] = False,
    laps: Annotated[int | None, typer.Option(help="Laps before it was in this book.")] = None,
    heat_cycles: Annotated[
        int | None, typer.Option(help="Heat cycles before it was in this book.")
    ] = None,
    note: Annotated[str | None, typer.Option(help="What else to know of it.")] = None,
    as_of: AsOf = None,
) -> None:
    """Put a tire set into stock, or change what is known of it."""
    from trackday.options import parse_day
    from trackday.report.console import open_console
    from trackday.report.text_log import print_sets

    when = moment_given(as_of)(home_zone())
    today = when.astimezone(home_zone()).date()
    if kind not in (None, "dry", "wet"):
        raise TrackdayError(f"--kind: {kind!r} is neither dry nor wet; write one of these")
    facts: dict[str, Any] = {
        "kind": kind,
        "bought_on": None if bought is None else parse_day(bought, "--bought"),
        "grooved_on": None if grooved is None else parse_day(grooved, "--grooved"),
        "retired_on": today if retired else None,
        "laps_before": laps,
        "heat_cycles_before": heat_cycles,
        "note": note,
    }
    given = {key: value for key, value in facts.items() if value is not None}
    with the_book(create=True) as book:
        print_sets(open_console(), [book.put_set(name, when=when, **given)], today=today)


def export(
    folder: Annotated[Path, typer.Argument(help="Folder to write to; made if missing.")],
    everything: Annotated[
        bool, typer.Option("--all", help="All there is, as CSV and JSON: the backup.")
    ] = False,
) -> None:
    """Write the entries as CSV, or with --all the whole book."""
    from trackday.log_export import export_entries
    from trackday.logbook.export import export_all

    with the_book() as book:
        written = export_all(book, folder) if everything else (export_entries(book, folder),)
    for path in written:
        if path.parent == folder:
            typer.echo(path)


def import_(
    source: Annotated[Path, typer.Argument(help="CSV of entries, or the folder of an export.")],
) -> None:
    """Take in entries from CSV, or a whole export, beside what is there."""
    from trackday.log_export import import_any

    with the_book(create=True) as book:
        done_ = import_any(source, book, when=datetime.now(UTC))
    added = [f"{count} {table}" for table, count in done_.added.items() if count]
    typer.echo(f"Added: {', '.join(added) or 'nothing'}. There already: {done_.known} entries.")
    for line in done_.differing:
        say(line)


def check() -> None:
    """Check that the logbook is sound, and list what looks like a slip."""
    from trackday.logbook.check import check_book

    found = check_book(logbook_path())
    for line in (*found.facts, *found.odd):
        typer.echo(line)
    if found.faults:
        raise TrackdayError(*found.faults)
