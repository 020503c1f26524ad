"""Cold pressures and the hot ones that came of them, also where they were written at two times.

One sets the cold pressures in the morning and reads the hot ones after the session; the gas law
needs both in one line.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import groupby

from trackday.logbook.store import Stored


def hot_of(cold: Stored, entries: Iterable[Stored]) -> Stored | None:
    """Find the line with the hot pressures that came of a line's cold ones; itself, or a later one.

    That is the next with hot pressures of the day and place, and of the same session where one was
    named with the cold ones. None where others were set before, or other tires ran.
    """
    if cold.entry.hot_kpa is not None:
        return cold
    for line in entries:
        if line.id <= cold.id or not _is_of_day(cold, line):
            continue
        if line.entry.cold_kpa is not None or _other_tires(cold, line):
            return None
        if line.entry.hot_kpa is not None and _may_be_of_session(cold, line):
            return line
    return None


def paired(entries: Sequence[Stored]) -> list[Stored]:
    """Give the entries, by day, with cold pressures put into the lines with their hot ones.

    Such a line also takes the air at the setting, and the tires where it names none. The first hot
    pressures after the cold ones count: later ones may be of tires that were set anew.
    """
    lines: list[Stored] = []
    for _, group in groupby(entries, key=lambda line: line.entry.day):
        day = list(group)
        joined = {
            hot.id: _join(line, hot)
            for line in day
            if line.entry.cold_kpa is not None
            for hot in [hot_of(line, day)]
            if hot is not None and hot is not line
        }
        lines += [joined.get(line.id, line) for line in day]
    return lines


def _join(cold: Stored, hot: Stored) -> Stored:
    set_, ran = cold.entry, hot.entry
    # The air in a line of cold pressures is that in which they were set.
    set_in = set_.air_temp_c if set_.cold_air_temp_c is None else set_.cold_air_temp_c
    return replace(
        hot,
        entry=replace(
            ran,
            cold_kpa=set_.cold_kpa,
            cold_air_temp_c=set_in if ran.cold_air_temp_c is None else ran.cold_air_temp_c,
            tire_set=ran.tire_set or set_.tire_set,
            ran_on=ran.ran_on or set_.ran_on,
        ),
    )


def _is_of_day(cold: Stored, line: Stored) -> bool:
    return (
        line.entry.day == cold.entry.day
        and line.entry.venue.casefold() == cold.entry.venue.casefold()
    )


def _other_tires(cold: Stored, line: Stored) -> bool:
    """Whether a line names other tires than the cold pressures were set on."""
    was, now = cold.entry, line.entry
    names = (was.tire_set.casefold(), now.tire_set.casefold())
    if all(names):
        return names[0] != names[1]
    return was.ran_on is not None and now.ran_on is not None and was.ran_on != now.ran_on


def _may_be_of_session(cold: Stored, line: Stored) -> bool:
    return cold.entry.session.casefold() in ("", line.entry.session.casefold())
