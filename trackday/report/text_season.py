"""`trackday season` as text: one row an event, then what each asks for."""

from __future__ import annotations

import shlex
from datetime import date, datetime

from rich.console import Console

from trackday.plan import SessionPlan
from trackday.report.layout import bullet, heading, indented, line, table, title
from trackday.report.text_parts import rain_cell
from trackday.season import Fault, Season, SeasonEvent
from trackday.units import UnitSystem, units_named
from trackday.weekend.showing import shown_path
from trackday.wording import percent

NOT_ASKED = "–"
"""Stands where nothing was asked for: neither known nor unknown."""

MOST_ROWS = 12
"""Events too far ahead, and events that are over, that are listed one by one: the nearest in time;
the others are counted (assumption: half a screen)."""


MOST_NAMES = 3
"""Events that are named for one trouble of a source; the others are counted (assumption)."""


def print_season(console: Console, season: Season, unit_system: str) -> None:
    """Print the events ahead by date, those that are over, and the files that cannot be read."""
    units = units_named(unit_system)
    title(console, _title(season))
    when = season.as_of.astimezone(season.zone)
    line(console, f"as of {when:%a %Y-%m-%d %H:%M %Z}, days and times of each venue", indent=0)
    _next(console, season)
    reached = sum(event.reach != "beyond" for event in season.ahead)
    if reached > 2 * MOST_ROWS:
        line(
            console, f"{reached} within the forecast's reach; --days 3 shows the nearest", indent=0
        )
    if season.ahead:
        console.print()
        _table(console, season, units)
        _each(console, season, units)
    _over(console, season)
    _faults(console, season.faults)
    _sources(console, season)


def _title(season: Season) -> str:
    counts = [f"{len(season.ahead)} ahead", f"{len(season.over)} over"]
    if season.faults:
        counts.append(f"{len(season.faults)} that cannot be read")
    if season.left_out:
        counts.append(f"{season.left_out} not shown (over, or later than --days)")
    return f"Season: {', '.join(counts)}"


def _next(console: Console, season: Season) -> None:
    """Say which event is to be looked at first, and with which command."""
    event = season.next_due
    if event is None or event.next_look is None:
        return
    day = event.next_look.astimezone(event.weekend.venue.zone).date()
    command = "morning" if day >= event.first_day else "plan"
    path = shlex.quote(shown_path(event.weekend.event_path))
    when = _look(event, event.next_look, season)
    line(console, f"next look: {when}, {event.weekend.event.name}", indent=0)
    line(console, f"trackday {command} {path}")


def _table(console: Console, season: Season, units: UnitSystem) -> None:
    far = [event for event in season.ahead if event.reach == "beyond"]
    later = far[MOST_ROWS:]
    rows = [
        (
            _days(event, season),
            event.weekend.event.name,
            _to_go(event),
            _forecast(event),
            _rain(event),
            _heat(event, units),
            "none" if event.next_look is None else _look(event, event.next_look, season),
        )
        for event in season.ahead[: len(season.ahead) - len(later)]
    ]
    columns = (
        ("Dates", 9),
        ("Event", 12),
        ("In", 6),
        ("Forecast", 8),
        ("Rain", 7),
        ("Hottest", 7),
        ("Next look", 9),
    )
    indented(console, table(columns, rows))
    if later:
        dates = f"{_days(later[0], season)} to {_days(later[-1], season)}"
        line(console, f"and {len(later)} more too far ahead, {dates}; --json lists them")


def _each(console: Console, season: Season, units: UnitSystem) -> None:
    """Say of each event within reach what to take, and which sessions the row speaks of."""
    told = [event for event in season.ahead if event.reach != "beyond"]
    if not told:
        return
    heading(console, "What to take")
    for event in told:
        where = f"{_days(event, season)} {event.weekend.event.name} at {event.weekend.venue.name}"
        bullet(console, f"{where}: {_words(event, units)}")


def _words(event: SeasonEvent, units: UnitSystem) -> str:
    if event.plan is None:
        return f"UNKNOWN: {event.trouble}."
    parts = [event.plan.take_along.render(units, event.weekend.venue.zone)]
    if event.wettest is not None:
        parts.append(f"{_wettest(event, event.wettest)}.")
    if event.hottest is not None:
        hot = units.temperature(event.hottest.outlook.air.temp_c.p90)
        parts.append(f"Hottest: {event.hottest.session.label}, up to {hot}.")
    dark = len(event.left) - len(event.known)
    if dark:
        parts.append(f"Rain not known for {dark} of {len(event.left)} sessions.")
    return " ".join(parts)


def _wettest(event: SeasonEvent, wettest: SessionPlan) -> str:
    """Name the wettest session, where any has rain to speak of."""
    rain = wettest.outlook.rain
    if percent(rain.chance) != percent(0.0):
        return f"Wettest: {wettest.session.label}, rain {rain_cell(rain)}"
    which = "" if event.reach == "all" else " that a forecast reaches"
    return f"Rain {percent(rain.chance)} in every session{which}"


def _days(event: SeasonEvent, season: Season) -> str:
    """Write dates as short as they can be read: "Jun 12–13", "Jun 30–Jul 1", "Jan 8 2028"."""
    first, last = event.first_day, event.last_day
    text = _day(first)
    if (first.year, first.month) != (last.year, last.month):
        text += f"–{_day(last)}"
    elif first != last:
        text += f"–{last.day}"
    today = season.as_of.astimezone(event.weekend.venue.zone)
    return text if last.year == today.year else f"{text} {last.year}"


def _day(day: date) -> str:
    return f"{day:%b} {day.day}"


def _to_go(event: SeasonEvent) -> str:
    if event.state == "under way":
        return "now"
    if event.days_to_go <= 0:
        return "today"
    return "1 day" if event.days_to_go == 1 else f"{event.days_to_go} days"


def _forecast(event: SeasonEvent) -> str:
    """How much of the event has a forecast."""
    if event.reach == "part":
        return f"{len(event.known)} of {len(event.left)}"
    return {"all": "all", "none": "NONE", "beyond": "too far"}[event.reach]


def _rain(event: SeasonEvent) -> str:
    if event.reach == "beyond":
        return NOT_ASKED
    return "unknown" if event.wettest is None else percent(event.wettest.outlook.rain.chance)


def _heat(event: SeasonEvent, units: UnitSystem) -> str:
    if event.reach == "beyond":
        return NOT_ASKED
    hottest = event.hottest
    return units.temperature(None if hottest is None else hottest.outlook.air.temp_c.p90)


def _look(event: SeasonEvent, when: datetime, season: Season) -> str:
    """Write the day of a look, with the hour once the event's first day has come."""
    local = when.astimezone(event.weekend.venue.zone)
    if local.date() >= event.first_day:
        return f"{local:%a %H:%M}"
    today = season.as_of.astimezone(event.weekend.venue.zone)
    year = "" if local.year == today.year else f" {local.year}"
    return f"{local:%a} {_day(local.date())}{year}"


def _over(console: Console, season: Season) -> None:
    if not season.over:
        return
    heading(console, "Over")
    earlier = season.over[:-MOST_ROWS]
    if earlier:
        dates = f"{_days(earlier[0], season)} to {_days(earlier[-1], season)}"
        bullet(console, f"{len(earlier)} more, {dates}; --json lists them")
    for event in season.over[-MOST_ROWS:]:
        where = f"{event.weekend.event.name} at {event.weekend.venue.name}"
        bullet(console, f"{_days(event, season)} {where}")


def _faults(console: Console, faults: tuple[Fault, ...]) -> None:
    """Print each fault once, however many events it stops, and the events that it stops."""
    if not faults:
        return
    heading(console, "Cannot be read")
    stopped: dict[str, list[Fault]] = {}
    for fault in faults:
        stopped.setdefault(fault.lines[0], []).append(fault)
    for text, together in stopped.items():
        more = sum(len(fault.lines) - 1 for fault in together)
        others = f" (and {more} more; `trackday check` names them)" if more else ""
        names = ", ".join(f.path.name for f in together if not text.startswith(shown_path(f.path)))
        stops = f"; stops {names}" if names else ""
        bullet(console, f"{text}{stops}{others}")


def _sources(console: Console, season: Season) -> None:
    """Say which sources are in trouble, by event, and whose data were used."""
    told: dict[str, list[str]] = {}
    for event in season.ahead:
        for source in () if event.plan is None else event.plan.sources:
            if source.status in ("stale", "failed"):
                text = f"{source.name}: {source.status}; {source.detail}"
                told.setdefault(text, []).append(event.weekend.event.name)
    if not (told or season.attribution):
        return
    heading(console, "Sources")
    for text, names in told.items():
        more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
        bullet(console, f"{', '.join(names[:MOST_NAMES])}{more}: {text}")
    for text in season.attribution:
        bullet(console, text)
