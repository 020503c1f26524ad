"""A line of the logbook from what was typed: a jotted line, options, or both in one grammar."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, timedelta
from typing import Any

from trackday.errors import TrackdayError
from trackday.log_where import Where
from trackday.logbook.entry import Entry
from trackday.logbook.jot import JotContext, Jotted, read_jotting
from trackday.logbook.jot_settle import MOST_DAYS_BESIDE
from trackday.logbook.jot_tokens import quote
from trackday.logbook.jot_unread import Unread
from trackday.logbook.jot_words import kind_named
from trackday.weekend.showing import shown_value

JUST_RUN = timedelta(hours=1)
"""How long after a session what is written of it without a time counts as measured now
(assumption)."""

MEASURED = frozenset({"hot_kpa", "track_temp_c", "air_temp_c", "track_state", "raining"})
"""Fields that tell of one moment."""

_PLACE = frozenset({"day", "venue", "event", "session", "at"})
_WORDS_ALONE = frozenset({"note", "todo", "changes", "decision", "alignment"})


@dataclass(frozen=True)
class LineOption:
    """An option of `log add` and `log edit`: its clause in the grammar, and the fields it fills."""

    name: str
    clause: str
    fields: tuple[str, ...]
    example: str
    is_text: bool = False

    def says(self, text: str) -> str:
        """Write the clause that the option stands for."""
        if self.is_text:
            return f"{self.clause} {quote(text)}"
        if self.name == "tires" and kind_named(text) is None:
            return f"set: {quote(text)}"
        unit = " min" if self.name in {"after", "minutes"} and not text[-1:].isalpha() else ""
        return f"{self.clause} {text}{unit}".strip()


OPTIONS = (
    LineOption("day", "", ("day",), "Sat or 2027-06-12"),
    LineOption("at", "at", ("at",), "11:52"),
    LineOption("session", "session:", ("session",), "Q1"),
    LineOption("cold", "cold", ("cold_kpa",), '"24 24 23.5 23.5"'),
    LineOption("cold-air", "cold air", ("cold_air_temp_c",), "60F"),
    LineOption("hot", "hot", ("hot_kpa",), '"31.5 31 29.8 30.2"'),
    LineOption("after", "after", ("minutes_since_stop",), "4"),
    LineOption("track", "track", ("track_temp_c",), "41C"),
    LineOption("air", "air", ("air_temp_c",), "27C"),
    LineOption("state", "", ("track_state", "raining"), '"damp, no rain"'),
    LineOption("tires", "on", ("tire_set", "ran_on"), '"Dry A" or wets'),
    LineOption("ran-on", "ran on:", ("ran_on",), "dry, grooved or wet"),
    LineOption("right-tire", "right tire:", ("right_tire",), "dry, grooved or wet"),
    LineOption("laps", "laps", ("laps",), "9"),
    LineOption("minutes", "ran", ("minutes_run",), "18"),
    LineOption("alignment", "alignment:", ("alignment",), '"camber -2.1"', is_text=True),
    LineOption("changed", "changed:", ("changes",), '"wing +1"', is_text=True),
    LineOption("decided", "decided:", ("decision",), '"stay out"', is_text=True),
    LineOption("todo", "todo:", ("todo",), '"bolt check"', is_text=True),
    LineOption("note", "note:", ("note",), '"loose in 3"', is_text=True),
)


def read_line(line: str, given: Mapping[str, str | None], *, context: JotContext) -> Jotted:
    """Read a jotted line and the options (by their names) as one line.

    An option that fills none of its fields is asked about. TrackdayError where nothing is written.
    """
    clauses = [option.says(given[option.name] or "") for option in _given(given)]
    jotted = _read("; ".join(filter(None, (line, *clauses))), context)
    questions = [
        f"--{option.name} {given[option.name]}: not understood. Write it like {option.example}."
        for option in _given(given)
        if _is_lost(option, given[option.name] or "", context)
    ]
    return replace(jotted, questions=(*jotted.questions, *questions))


def _read(text: str, context: JotContext) -> Jotted:
    """Read a whole line; "Practice" is that of today where that settles a doubt."""
    jotted = read_jotting(text, context=context)
    if not jotted.questions or context.local_date not in context.days:
        return jotted
    today = read_jotting(f"{context.local_date.isoformat()}; {text}", context=context)
    return today if len(today.questions) < len(jotted.questions) else jotted


def timed(jotted: Jotted, context: JotContext) -> Jotted:
    """Take what tells of one moment, and has no time, as measured now, where that can be.

    It can be on the day of writing, without a session or within `JUST_RUN` of its end.
    """
    entry = jotted.entry
    tells = any(getattr(entry, name) is not None for name in MEASURED)
    if entry.at is not None or not tells or entry.day != context.local_date:
        return jotted
    about = [each for each in context.sessions if each.label == entry.session]
    if entry.session and not any(s.start <= context.as_of <= s.end + JUST_RUN for s in about):
        return jotted
    now = context.as_of.replace(second=0, microsecond=0)
    said = f"at: {now.astimezone(context.zone):%H:%M} (now; --at says otherwise)"
    place = sum(line.startswith(("day:", "session:")) for line in jotted.understood)
    understood = (*jotted.understood[:place], said, *jotted.understood[place:])
    return replace(jotted, entry=replace(entry, at=now), understood=understood)


def placed(jotted: Jotted, where: Where) -> Jotted:
    """Doubt a venue that looks like a slip, and an event that was guessed and lies far off.

    What was measured is asked about, or refused with TrackdayError where there is no event at all;
    words alone are kept without an event or venue. What says only when and where is refused.
    """
    entry = jotted.entry
    if entry.is_empty and not jotted.questions:
        raise TrackdayError("log add: says only when and where; write what you measured, or --note")
    if where.missing and not _filled(entry) <= _WORDS_ALONE:
        raise TrackdayError(where.missing)
    if where.doubt:
        jotted = replace(jotted, questions=(*jotted.questions, where.doubt))
    if not where.guessed or _is_beside(entry.day, where):
        return jotted
    if _filled(entry) <= _WORDS_ALONE:
        return replace(jotted, entry=replace(entry, venue="", event=""))
    first = where.days[0]
    question = (
        f"{where.event} was in {first:%B %Y}: is this about it? "
        "Name the event with --event, or the venue with --venue."
    )
    return replace(jotted, questions=(*jotted.questions, question))


def note_mends(unread: Sequence[Unread], number: int) -> tuple[str, ...]:
    """Say what an entry keeps only as a note though it may hold a reading, and how to mend that."""
    if not unread:
        return ()
    kept = "; ".join(" ".join(each.text.split()) for each in unread)
    told = next((each for each in unread if each.about), None)
    if told is None:
        mend = f"trackday log edit {number} --help has the options"
    else:
        (option,) = (each for each in OPTIONS if each.name == told.about)
        value = told.word or option.example.partition(" or ")[0]
        mend = f"trackday log edit {number} --{option.name} {value}"
    return f"Only a note: {kept}", f"If it is a reading: {mend}"


def edited_fields(
    given: Mapping[str, str | None], day: date, *, context: JotContext
) -> dict[str, Any]:
    """Read options as changes of an entry of a day, by the names of its fields; "" empties one.

    TrackdayError, one line each, for what is not understood or doubtful.
    """
    emptied = [option for option in _given(given, empty=True) if not (given[option.name] or "")]
    if any(option.name == "day" for option in emptied):
        raise TrackdayError("--day: an entry needs a day; write one like 2027-06-12")
    blank = Entry(day=day)
    changes = {name: getattr(blank, name) for option in emptied for name in option.fields}
    told = _given(given)
    if not told:
        return changes
    start = "" if given.get("day") else day.isoformat()
    jotted = read_line(start, given, context=context)
    faults = [f"log edit: {question}" for question in jotted.questions]
    if jotted.entry.note != (given.get("note") or "") and not faults:
        left = shown_value(jotted.entry.note)
        faults = [f"log edit: {left} is not understood; put it in --note, or leave it out"]
    if faults:
        raise TrackdayError(*faults)
    for option in told:
        for name in option.fields:
            value = getattr(jotted.entry, name)
            if value != getattr(blank, name) or name == "day":
                changes[name] = value
    return changes


def _given(given: Mapping[str, str | None], *, empty: bool = False) -> list[LineOption]:
    """List the options that were written, in the grammar's order; `empty` ones only if asked."""
    return [
        option
        for option in OPTIONS
        if (text := given.get(option.name)) is not None and (empty or text.strip())
    ]


def _is_lost(option: LineOption, text: str, context: JotContext) -> bool:
    """Whether an option ended in the note without a question: "--track warm"."""
    alone = read_jotting(option.says(text), context=context)
    if alone.questions:
        return False  # the whole line is asked about it, unless it settles the doubt
    if option.name == "day":
        return bool(alone.entry.note)
    blank = Entry(day=alone.entry.day)
    return all(getattr(alone.entry, name) == getattr(blank, name) for name in option.fields)


def _filled(entry: Entry) -> set[str]:
    """Name the fields that say more than when and where."""
    blank = Entry(day=entry.day)
    names = {field.name for field in fields(Entry)} - _PLACE
    return {name for name in names if getattr(entry, name) != getattr(blank, name)}


def _is_beside(day: date, where: Where) -> bool:
    days = where.days
    near = timedelta(days=MOST_DAYS_BESIDE)
    return not days or days[0] - near <= day <= days[-1] + near
