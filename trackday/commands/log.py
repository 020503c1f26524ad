"""The logbook: `log add`, `show`, `undo`, `restore`, `edit`, `done` and `fit`."""

from __future__ import annotations

import sys
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trackday.commands import log_keep
from trackday.commands.log_options import (
    After,
    Air,
    Alignment,
    At,
    Changed,
    Cold,
    ColdAir,
    Day,
    Decided,
    EventOption,
    Hot,
    Laps,
    Minutes,
    Note,
    Number,
    RanOn,
    RightTire,
    Session,
    State,
    Tires,
    ToDay,
    Todo,
    ToEvent,
    ToVenue,
    Track,
    VenueOption,
    given_fields,
    home_zone,
    logbook_path,
    moment_given,
    the_book,
    where_given,
)
from trackday.commands.shared import AsJson, AsOf, UnitChoice, Units, say
from trackday.errors import TrackdayError

if TYPE_CHECKING:
    from trackday.log_where import Moment, Where
    from trackday.logbook.jot import Jotted
    from trackday.logbook.stock import StockSet
    from trackday.logbook.store import Book, Stored

log_app = typer.Typer(
    name="log",
    help="Your logbook: write down what you measured, look it up, and learn from it.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


@log_app.command()
def add(
    line: Annotated[
        str,
        typer.Argument(help='As you would jot it: "Sat Q1 hot 31 31 30 30 track 41C dry".'),
    ] = "",
    event: EventOption = None,
    venue: VenueOption = None,
    day: Day = None,
    at: At = None,
    session: Session = None,
    cold: Cold = None,
    cold_air: ColdAir = None,
    hot: Hot = None,
    after: After = None,
    track: Track = None,
    air: Air = None,
    state: State = None,
    tires: Tires = None,
    ran_on: RanOn = None,
    right_tire: RightTire = None,
    laps: Laps = None,
    minutes: Minutes = None,
    alignment: Alignment = None,
    changed: Changed = None,
    decided: Decided = None,
    todo: Todo = None,
    note: Note = None,
    yes: Annotated[
        bool,
        typer.Option("--yes", "-y", help="Save without asking; doubtful words go to the note."),
    ] = False,
    as_of: AsOf = None,
    units: Units = UnitChoice.US,
) -> None:
    """Write down what you measured, in one line or by options."""
    given = given_fields(locals())
    from trackday.log_line import note_mends, placed, read_line, timed
    from trackday.units import units_named

    moment = moment_given(as_of)
    stock, written = _known()
    where = where_given(event, venue, moment, written=written)
    when = moment(where.zone)
    context = where.context(when, units_named(units.value), stock)
    jotted = placed(timed(read_line(line, given, context=context), context), where)
    _tell(jotted, where)
    if not _agreed(jotted, yes=yes):
        typer.echo("Nothing saved.")
        return
    with the_book(create=True) as book:
        number = book.add(jotted.entry, when=when)
        typer.echo(f"Saved as entry {number}. To take it back: trackday log undo")
        for text in note_mends(jotted.unread, number):
            typer.echo(text)
        _set_beside_model(book, book.get(number), when)


@log_app.command()
def show(
    what: Annotated[
        str | None,
        typer.Argument(
            metavar="[VENUE]", help="Venue by name, or a venue or event file. Default: at hand."
        ),
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="Show every weekend.")] = False,
    as_of: AsOf = None,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
) -> None:
    """Show a venue's page: settings, readings, notes, to-dos, tires."""
    from trackday.log_page import venue_page
    from trackday.report.console import open_console
    from trackday.report.log_data import page_json
    from trackday.report.text_log import print_page

    moment = moment_given(as_of)
    with the_book() as book:
        name, zone = _venue_to_show(what, book, moment)
        page = venue_page(book, name, as_of=moment(zone), zone=zone)
    if json_:
        typer.echo(page_json(page))
    else:
        print_page(open_console(), page, units.value, every=every)


@log_app.command()
def undo(units: Units = UnitChoice.US) -> None:
    """Take the last entry back; it is kept and can be restored."""
    with the_book() as book:
        undone = book.undo(when=datetime.now(UTC))
        if undone is None:
            raise TrackdayError("log undo: there is no entry to take back")
        typer.echo(f"Taken back: {_in_a_line(undone, units)}")
        typer.echo(f"To have it again: trackday log restore {undone.id}")


@log_app.command()
def restore(number: Number, units: Units = UnitChoice.US) -> None:
    """Bring an entry back that was taken back."""
    with the_book() as book:
        typer.echo(f"Back: {_in_a_line(book.restore(number), units)}")


@log_app.command()
def edit(
    number: Number,
    event: ToEvent = None,
    venue: ToVenue = None,
    day: ToDay = None,
    at: At = None,
    session: Session = None,
    cold: Cold = None,
    cold_air: ColdAir = None,
    hot: Hot = None,
    after: After = None,
    track: Track = None,
    air: Air = None,
    state: State = None,
    tires: Tires = None,
    ran_on: RanOn = None,
    right_tire: RightTire = None,
    laps: Laps = None,
    minutes: Minutes = None,
    alignment: Alignment = None,
    changed: Changed = None,
    decided: Decided = None,
    todo: Todo = None,
    note: Note = None,
    as_of: AsOf = None,
    units: Units = UnitChoice.US,
) -> None:
    """Mend an entry; what stood there is kept, and "" empties a field."""
    given = given_fields(locals())
    from trackday.log_line import edited_fields
    from trackday.log_page import written_venues
    from trackday.log_where import of_entry
    from trackday.report.text_log import change_line
    from trackday.units import units_named

    moment, shown = moment_given(as_of), units_named(units.value)
    with the_book() as book:
        entry = book.get(number).entry
        if event is not None or venue is not None:
            where = where_given(event, venue, moment, written=written_venues(book))
            if where.doubt:
                say(where.doubt)
        else:
            where = of_entry(entry.venue, entry.event, entry.day, folder=Path(), home=home_zone())
        when = moment(where.zone)
        context = where.context(when, shown, book.sets())
        changes = edited_fields(given, entry.day, context=context)
        if event is not None or venue is not None:
            changes |= {"venue": where.venue, "event": where.event}
        if not changes:
            raise TrackdayError("log edit: no option says what to change; add one like --track 42C")
        before = len(book.history(number))
        mended = book.edit(number, when=when, **changes)
        lines = [change_line(each, shown, where.zone) for each in book.history(number)[before:]]
        for text in lines or ["Nothing changed: that is what stands there."]:
            typer.echo(text)
        if lines:
            _set_beside_model(book, mended, when)


@log_app.command()
def done(number: Number) -> None:
    """Tick a to-do off."""
    with the_book() as book:
        ticked = book.tick(number, when=datetime.now(UTC))
        left = len(book.todos())
    typer.echo(f"Done: {ticked.text}. {left or 'Nothing'} left to do.")


@log_app.command()
def fit(
    target: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="Event or venue. Default: at hand.")
    ] = None,
    as_of: AsOf = None,
    units: Units = UnitChoice.US,
    json_: AsJson = False,
) -> None:
    """Show what your readings teach, and how sure that is."""
    from trackday.log_fit import explain_fit, fit_log
    from trackday.log_where import garage_and_venue
    from trackday.report.console import open_console
    from trackday.report.log_data import fit_json
    from trackday.report.text_log import print_fit
    from trackday.weekend.reading import elevations_beside

    moment = moment_given(as_of)
    path = target or _event_at_hand(moment)
    garage, venue = garage_and_venue(path)
    with the_book() as book:
        learned = fit_log(
            book,
            garage,
            venue,
            elevations_m=elevations_beside(path),
            as_of=moment(venue.zone),
        )
    if json_:
        typer.echo(fit_json(learned))
    else:
        sections = explain_fit(learned)
        print_fit(open_console(), venue.name, sections, unit_system=units.value, zone=venue.zone)


for command in (log_keep.sets, log_keep.export, log_keep.check):
    log_app.command()(command)
log_app.command(name="set")(log_keep.set_)
log_app.command(name="import")(log_keep.import_)


def _known() -> tuple[tuple[StockSet, ...], tuple[str, ...]]:
    """Read the stock and the venues written about; empty where there is no logbook yet."""
    from trackday.log_page import written_venues

    if not logbook_path().exists():
        return (), ()
    with the_book() as book:
        return book.sets(), written_venues(book)


def _event_at_hand(moment: Moment) -> Path:
    """Give the file of the event at hand, or of the next one; TrackdayError without any."""
    from trackday.log_where import near_event, next_event

    near = near_event(Path(), moment)
    if near is not None and near.path is not None:
        return near.path
    coming = next_event(Path(), moment)
    if coming is None:
        raise TrackdayError(
            "log fit: there is no event in ./events; name an event or venue file, as "
            "`trackday log fit venues/x.toml`"
        )
    return coming[0]


def _tell(jotted: Jotted, where: Where) -> None:
    """Say where the line goes and what was understood."""
    from trackday.log_where import title_of

    for remark in where.remarks:
        say(remark)
    if where.venue and not jotted.entry.venue:
        typer.echo(f"For no event: {where.event} is long over")
    else:
        typer.echo(f"{title_of(where.event, where.venue)} ({where.how})")
    for line in jotted.understood:
        typer.echo(f"  {line}")


def _agreed(jotted: Jotted, *, yes: bool) -> bool:
    """Whether to save: asked on a terminal; elsewhere a doubtful line is an error without --yes."""
    if yes:
        for question in jotted.questions:
            say(f"? {question}")
        return True
    if not _on_terminal():
        if jotted.questions:
            raise TrackdayError(
                *(f"log add: {question}" for question in jotted.questions),
                "log add: nothing saved; write it anew, or add --yes to save it with what is "
                "doubtful as a note",
            )
        return True
    for question in jotted.questions:
        typer.echo(f"? {question}")
    if jotted.questions:
        return typer.confirm("Save with what is doubtful as a note?", default=False)
    return typer.confirm("Save?", default=True)


def _on_terminal() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


def _set_beside_model(book: Book, line: Stored, when: datetime) -> None:
    """Keep what the model says of an entry's moment, where a look from before it tells."""
    from trackday.log_expected import has_weather, is_compared, keep_expected

    if not is_compared(line.entry) or not has_weather(book, line.entry):
        return
    try:
        keep_expected(book, [line], when=when)
    except TrackdayError as error:
        say(f"{error.lines[0]} (the entry is saved; trackday log fit compares it again)")


def _venue_to_show(what: str | None, book: Book, moment: Moment) -> tuple[str, tzinfo]:
    """Give the venue that is asked for, or at hand, newest in the book or next, and its clock."""
    from trackday.log_page import newest_venue, venue_called, written_venues
    from trackday.log_where import near_event, next_event, venue_of_file, zone_of

    if what is None:
        near = near_event(Path(), moment)
        if near is not None:
            return near.venue, near.zone
        coming = None if written_venues(book) else next_event(Path(), moment)
        name = newest_venue(book) if coming is None else venue_of_file(coming[0]).name
    elif what.lower().endswith(".toml"):
        venue = venue_of_file(Path(what))
        return venue.name, venue.zone
    else:
        name = venue_called(book, what)
    return name, zone_of(name, folder=Path(), home=home_zone())


def _in_a_line(line: Stored, units: UnitChoice) -> str:
    from trackday.report.text_log import entry_line
    from trackday.units import units_named

    return entry_line(line, units_named(units.value))
