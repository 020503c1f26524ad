"""`trackday log` as text: a venue's page, the stock of tires, changes, and what was learned.

Only light modules are imported: the page must be there at once. The fits come in as sentences.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, tzinfo

from rich.console import Console

from trackday.log_page import Setting, VenuePage, Visit
from trackday.logbook.entry import Corners, Entry
from trackday.logbook.stock import StockSet
from trackday.logbook.store import Change, Stored, Todo
from trackday.report.layout import bullet, heading, indented, line, table, title
from trackday.units import UnitSystem, units_named
from trackday.wording import Say, clock

TODOS_SHOWN = 12
"""To-dos that a page shows, the newest, unless all are asked for (assumption: half a screen)."""

VISITS_SHOWN = 3
"""Weekends that a page shows unless all are asked for (assumption: about a screen or two)."""

_STATES = {"standing": "standing water"}
_RAIN = {None: "", True: "raining", False: "no rain"}
_WHEELS = "(front left, front right / rear left, rear right)"


def print_page(console: Console, page: VenuePage, unit_system: str, *, every: bool = False) -> None:
    """Print a venue's page: the newest `VISITS_SHOWN` weekends, or all of them with `every`."""
    units = units_named(unit_system)
    title(console, f"{page.venue} in your logbook")
    if not page.visits:
        line(console, "nothing written here yet", indent=0)
    _settings(console, page, units)
    _todos(console, page.todos if every else page.todos[:TODOS_SHOWN], of=len(page.todos))
    shown = page.visits if every else page.visits[:VISITS_SHOWN]
    for visit in shown:
        _visit(console, visit, units, page.zone)
    older = len(page.visits) - len(shown)
    if older:
        console.print()
        line(console, f"{_count(older, 'older weekend')} more: --all shows them", indent=0)
    if page.sets:
        heading(console, "Tires in stock")
        print_sets(console, page.sets, today=page.as_of.astimezone(page.zone).date())
    if page.elsewhere:
        console.print()
        line(console, f"Also written about: {', '.join(page.elsewhere)}", indent=0)


def print_sets(console: Console, sets: Sequence[StockSet], *, today: date) -> None:
    """Print the stock: laps, heat cycles, age and grooves of each set; retired ones last."""
    ordered = sorted(sets, key=lambda each: each.retired_on is not None)
    columns = (
        ("Set", 10), ("Kind", 7), ("Laps", 5), ("Cycles", 6), ("Age", 8), ("Last run", 10), ("", 0),
    )  # fmt: skip
    indented(console, table(columns, [_set_row(each, today) for each in ordered]))
    if any(each.uncounted for each in sets):
        line(console, "+ and sessions without laps written")


def print_fit(
    console: Console,
    venue: str,
    sections: Iterable[tuple[str, Sequence[Say]]],
    *,
    unit_system: str,
    zone: tzinfo,
) -> None:
    """Print what was learned, in sections of sentences."""
    units = units_named(unit_system)
    title(console, f"What your logbook teaches for {venue}")
    for name, says in sections:
        heading(console, name)
        for each in says:
            bullet(console, each.render(units, zone))


def change_line(change: Change, units: UnitSystem, zone: tzinfo) -> str:
    """Say what a value was and is: "track temp: 106 °F → 108 °F"."""
    old, new = (_value(change.field, value, units, zone) for value in (change.old, change.new))
    return f"{_field_name(change.field)}: {old} → {new}"


def entry_line(line: Stored, units: UnitSystem) -> str:
    """Name an entry and what it holds in one line."""
    entry = line.entry
    parts = [
        ", ".join(filter(None, (_day(entry.day), entry.session))),
        _pressures("cold", entry.cold_kpa, units),
        _pressures("hot", entry.hot_kpa, units),
        "" if entry.track_temp_c is None else f"track {units.temperature(entry.track_temp_c)}",
        "" if entry.air_temp_c is None else f"air {units.temperature(entry.air_temp_c)}",
        _seen(entry),
        *(f"{name}{text}" for name, text in _words(entry)),
        f"to do: {entry.todo}" if entry.todo else "",
    ]
    return f"entry {line.id}: {'; '.join(' '.join(part.split()) for part in parts if part)}"


def todo_line(todo: Todo) -> str:
    """Say a to-do with its number and where it comes from."""
    place = ", ".join(filter(None, (_day(todo.day, year=True), todo.venue)))
    return f"{todo.id}  {' '.join(todo.text.split())}  ({place})"


def _settings(console: Console, page: VenuePage, units: UnitSystem) -> None:
    if not page.settings and page.alignment is None:
        return
    heading(console, "Last settings")
    for setting in page.settings:
        bullet(console, _setting(setting, units))
    if page.alignment is not None:
        aligned = page.alignment.entry
        bullet(
            console,
            f"alignment, {_day(aligned.day, year=True)}: {' '.join(aligned.alignment.split())}",
        )
    if page.settings:
        bullet(console, f"pressures are {_WHEELS}")


def _setting(setting: Setting, units: UnitSystem) -> str:
    cold = setting.cold.entry
    hot = None if setting.hot is None else setting.hot.entry
    after = hot or cold
    tires = after.tire_set or cold.tire_set
    where = ", ".join(filter(None, (_day(cold.day, year=True), cold.session, tires)))
    air = "" if cold.cold_air_temp_c is None else f" at {units.temperature(cold.cold_air_temp_c)}"
    parts = [f"{_pressures('cold', cold.cold_kpa, units)}{air}"]
    if hot is not None:
        wait = hot.minutes_since_stop
        late = "" if wait is None else f" after {wait:g} min"
        parts.append(f"gave {_pressures('hot', hot.hot_kpa, units)}{late}")
    if after.track_temp_c is not None:
        parts.append(f"track {units.temperature(after.track_temp_c)}")
    if after.air_temp_c is not None:
        parts.append(f"air {units.temperature(after.air_temp_c)}")
    if setting.named:
        kind = f"{setting.ran_on.title()} tires"
    else:
        kind = f"Tires not named (taken for {setting.ran_on})"
    return f"{kind}, {where}: {', '.join(filter(None, (*parts, _seen(after))))}"


def _todos(console: Console, todos: Sequence[Todo], *, of: int) -> None:
    if not todos:
        return
    heading(console, "To do before the next weekend")
    for todo in todos:
        bullet(console, todo_line(todo))
    if of > len(todos):
        line(console, f"{of - len(todos)} more: --all shows them")
    line(console, f"Tick one off: trackday log done {todos[0].id}")


def _visit(console: Console, visit: Visit, units: UnitSystem, zone: tzinfo) -> None:
    days = _day(visit.first_day, year=True)
    if visit.last_day != visit.first_day:
        days = f"{_day(visit.first_day)} – {_day(visit.last_day, year=True)}"
    heading(console, ", ".join(filter(None, (visit.event, days))))
    measured = [line for line in visit.entries if _is_measured(line.entry)]
    if measured:
        psi, degrees = units.symbol("pressure"), units.symbol("temperature")
        columns = (
            ("No", 4), ("Session", 10), (f"Cold {psi}", 9), (f"Hot {psi}", 9),
            (f"Temp {degrees}", 9), ("Seen", 8), ("Tires", 8),
        )  # fmt: skip
        indented(console, table(columns, [_row(line, units, zone) for line in measured]))
    for stored in visit.entries:
        for name, text in _words(stored.entry):
            about = " ".join(filter(None, (str(stored.id), stored.entry.session)))
            bullet(console, f"{about}: {name}{' '.join(text.split())}")


def _is_measured(entry: Entry) -> bool:
    values = (
        entry.cold_kpa, entry.hot_kpa, entry.track_temp_c, entry.air_temp_c, entry.track_state,
        entry.raining, entry.tire_set or None, entry.ran_on, entry.laps, entry.minutes_run,
    )  # fmt: skip
    return any(value is not None for value in values)


def _row(line: Stored, units: UnitSystem, zone: tzinfo) -> tuple[str, ...]:
    """One entry; pressures lie as the wheels do, seen from above."""
    entry = line.entry
    day = f"{entry.day:%a}"
    when = day if entry.at is None else f"{day} {clock(entry.at, zone)}"
    session = entry.session.removeprefix(f"{day} ")
    ran = entry.ran_on or ""
    tires = (
        entry.tire_set,
        "" if ran.casefold() in entry.tire_set.casefold() else ran,
        "" if entry.laps is None else _count(entry.laps, "lap"),
    )
    temps = (
        _degrees("track", entry.track_temp_c, units),
        _degrees("air", entry.air_temp_c, units),
    )
    return (
        str(line.id),
        _stacked(session, when),
        _wheels(entry.cold_kpa, units),
        _wheels(entry.hot_kpa, units),
        _stacked(*temps),
        _stacked(entry.track_state or "", _RAIN[entry.raining]),
        _stacked(*tires),
    )


def _degrees(name: str, temp_c: float | None, units: UnitSystem) -> str:
    return "" if temp_c is None else f"{name} {_number('temperature', temp_c, units)}"


def _stacked(*lines: str) -> str:
    return "\n".join(filter(None, lines))


def _words(entry: Entry) -> list[tuple[str, str]]:
    """Give the free texts of an entry, each with what stands before it."""
    right = "" if entry.right_tire is None else f"{entry.right_tire} tires"
    texts = (
        ("", entry.note),
        ("changed: ", entry.changes),
        ("decided: ", entry.decision),
        ("alignment: ", entry.alignment),
        ("would have been right: ", right),
    )
    return [(name, text) for name, text in texts if text]


def _set_row(each: StockSet, today: date) -> tuple[str, ...]:
    kind = each.kind or "?"
    cut = "" if each.grooved_on is None else f"grooved {_day(each.grooved_on)}"
    gone = "" if each.retired_on is None else f"retired {_day(each.retired_on)}"
    days = each.age_days(today)
    last = "never" if each.last_used is None else each.last_used.isoformat()
    remarks = ", ".join(filter(None, (cut, gone, " ".join(each.note.split()))))
    laps = f"{each.laps}+" if each.uncounted else str(each.laps)
    return (each.name, kind, laps, str(each.heat_cycles), _age(days), last, remarks)


def _age(days: int | None) -> str:
    """Say an age as one would: "3 weeks", "14 months"; "?" where nobody said."""
    if days is None or days < 0:
        return "?"
    if days < 60:
        return _count(days // 7, "week") if days >= 14 else _count(days, "day")
    return f"{round(days / 30.44)} months"  # mean length of a month, days


def _seen(entry: Entry) -> str:
    """Say what the track and the sky were in a sentence: "standing water, raining"."""
    state = _STATES.get(entry.track_state or "", entry.track_state or "")
    return ", ".join(filter(None, (state, _RAIN[entry.raining])))


def _pressures(name: str, corners: Corners | None, units: UnitSystem) -> str:
    """Write pressures in one line, front before rear: "cold 24.5 24.5 / 24.0 24.0 psi"."""
    if corners is None:
        return ""
    return f"{name} {_wheels(corners, units, between=' / ')} {units.symbol('pressure')}"


def _wheels(corners: Corners | None, units: UnitSystem, *, between: str = "\n") -> str:
    if corners is None:
        return ""
    shown = [_number("pressure", value, units) or "–" for value in corners]
    return f"{shown[0]} {shown[1]}{between}{shown[2]} {shown[3]}"


def _number(quantity: str, value: float | None, units: UnitSystem) -> str:
    return "" if value is None else units.display(quantity).digits(value)


def _field_name(field: str) -> str:
    return field.removesuffix("_kpa").removesuffix("_c").replace("_", " ")


def _value(field: str, value: object, units: UnitSystem, zone: tzinfo) -> str:
    """Show a value of a column in the reader's units; "nothing" where there is none."""
    if value is None or value == "":
        return "nothing"
    if isinstance(value, float) and field.endswith("_kpa"):
        return units.pressure(value)
    if isinstance(value, float) and field.endswith("_temp_c"):
        return units.temperature(value)
    if isinstance(value, datetime):
        return f"{value.astimezone(zone):%Y-%m-%d %H:%M}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else " ".join(str(value).split())


def _day(day: date, *, year: bool = False) -> str:
    return f"{day:%a %b} {day.day}" + (f", {day.year}" if year else "")


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
