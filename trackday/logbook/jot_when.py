"""Which day, session and moment a jotted line is about."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from difflib import get_close_matches

from trackday.logbook.entry import RanOn
from trackday.units import US, UnitSystem
from trackday.weekend.localtime import read_date, settled_to_utc
from trackday.weekend.sessions import Session

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_SHORT_DAYS = {"tues": 1, "weds": 2, "thur": 3, "thurs": 3}
# These are also words of English: in lower case before other words they are part of a note.
_ALSO_WORDS = frozenset({"sat", "sun", "wed"})

_KIND_WORDS = {
    "practice": "practice", "prac": "practice", "fp": "practice", "p": "practice",
    "qualifying": "qualifying", "qualy": "qualifying", "quali": "qualifying",
    "qually": "qualifying", "qual": "qualifying", "q": "qualifying",
    "race": "race", "r": "race",
}  # fmt: skip
_CODE = re.compile(r"(?P<kind>fp|[pqr])(?P<number>\d)", re.ASCII)

MEASURED_BEFORE = timedelta(hours=2)
"""How long before a session its tires may be measured (assumption)."""
MEASURED_AFTER = timedelta(hours=3)
"""How long after a session's end something of it may be measured (assumption)."""


@dataclass(frozen=True)
class JotContext:
    """What is known beside the line: the moment of writing, the event and the garage.

    `as_of` is aware. `units` says what a bare number means: psi and °F, or kPa or bar (told apart
    by their size) and °C. `tire_sets` maps the name of each set in the garage to what it runs as.
    """

    as_of: datetime
    zone: tzinfo
    units: UnitSystem = US
    venue: str = ""
    event: str = ""
    sessions: tuple[Session, ...] = ()
    tire_sets: Mapping[str, RanOn] = field(default_factory=dict)

    @property
    def local_date(self) -> date:
        """The venue's date at the moment of writing."""
        return self.as_of.astimezone(self.zone).date()

    def day_of(self, session: Session) -> date:
        """The venue's date at the start of a session."""
        return session.start.astimezone(self.zone).date()

    @property
    def days(self) -> tuple[date, ...]:
        """The dates on which the event has sessions, earliest first."""
        return tuple(sorted({self.day_of(session) for session in self.sessions}))


def folded(name: str) -> str:
    """Write a name in the form to compare: lower case, its words and numbers one space apart."""
    return " ".join(re.findall(r"\w+", name.casefold()))


def weekday_number(word: str) -> int | None:
    """Give 0 for "mon" or "monday", … 6; None for any other word."""
    if word in _SHORT_DAYS:
        return _SHORT_DAYS[word]
    return next((n for n, name in enumerate(WEEKDAYS) if word in {name, name[:3]}), None)


def reads_as_word(text: str) -> bool:
    """Tell whether a short day, as written, is rather a word of English ("sat in the pits")."""
    return text in _ALSO_WORDS


def day_named(word: str, context: JotContext) -> date | None:
    """Give the date meant by a day's name or by "today" and "yesterday".

    A weekday is the event's; where the event has none or several, the last one so far.
    """
    if word in {"today", "yesterday"}:
        return context.local_date - timedelta(days=word == "yesterday")
    number = weekday_number(word)
    if number is None:
        return None
    in_event = [day for day in context.days if day.weekday() == number]
    if len(in_event) == 1:
        return in_event[0]
    return context.local_date - timedelta(days=(context.local_date.weekday() - number) % 7)


def days_written(first: int, second: int, year: int | None, context: JotContext) -> list[date]:
    """List the dates that "5/6" may mean: one where only one order is in the calendar or the event.

    The order of the reader's units comes first. Without a year, a date of the event or the latest
    one so far is meant.
    """
    orders = [(first, second), (second, first)]
    if context.units.name == "metric":
        orders.reverse()
    found = [
        day for month, number in orders if (day := _date(month, number, year, context)) is not None
    ]
    found = list(dict.fromkeys(found))
    in_event = [day for day in found if day in context.days]
    return in_event if len(in_event) == 1 else found


def _date(month: int, number: int, year: int | None, context: JotContext) -> date | None:
    if year is not None and year < 100:
        year += context.local_date.year // 100 * 100
    years = [year] if year is not None else [context.local_date.year, context.local_date.year - 1]
    for each in years:
        try:
            day = read_date(f"{each:04d}-{month:02d}-{number:02d}")
        except ValueError:
            continue
        if year is not None or day <= context.local_date or day in context.days:
            return day
    return None


def looks_like_code(phrase: str) -> bool:
    """Tell whether a word can only be a session: "Q3", "P1", "R2"."""
    return _CODE.fullmatch(phrase) is not None


def sessions_called(
    phrase: str, context: JotContext, *, day: date | None = None
) -> tuple[Session, ...]:
    """List the sessions that a phrase may mean, on one day where that is given.

    The first way to read it that fits any session wins: the whole label or name, initials ("P1"
    for "Practice 1"), a kind and its number in the event or on the day, the beginning of a name,
    a kind. Where that way leads only to other days, their sessions are listed.
    """
    sought = folded(phrase)
    ways = (
        [s for s in context.sessions if sought in {folded(s.label), folded(s.name)}],
        [s for s in context.sessions if sought == _initials(s.name)],
        _numbered_on(sought, context, day),
        [s for s in context.sessions if _begins(s, sought)],
        [
            s
            for s in context.sessions
            if sought not in {"p", "r"} and _KIND_WORDS.get(sought) == s.kind
        ],
    )
    first = next((way for way in ways if way), [])
    on_day = [s for s in first if day is None or context.day_of(s) == day]
    return tuple(on_day or first)


def nearest_name(word: str, names: Sequence[str]) -> str | None:
    """Give the one of some names that a misspelled word is near to."""
    known = {folded(name): name for name in names}
    found = get_close_matches(folded(word), list(known), n=1, cutoff=0.8)
    return known[found[0]] if found else None


def session_words(context: JotContext) -> list[str]:
    """List the names of sessions and their kinds, to compare misspelled words with."""
    kinds = {session.kind for session in context.sessions}
    return [*(session.name for session in context.sessions), *sorted(kinds)]


def _initials(name: str) -> str:
    """Give "fp1" for "Free Practice 1"; empty for names of one word."""
    words = folded(name).split()
    return "".join(w if w.isdecimal() else w[0] for w in words) if len(words) > 1 else ""


def _numbered(sought: str, sessions: Sequence[Session]) -> list[Session]:
    """Find the second race for "r2", "race 2" or "race2"."""
    match = re.fullmatch(r"(?P<kind>[a-z]+) ?(?P<number>\d)", sought, re.ASCII)
    kind = _KIND_WORDS.get(match["kind"]) if match is not None else None
    of_kind = [session for session in sessions if session.kind == kind]
    number = int(match["number"]) if match is not None else 0
    return of_kind[number - 1 : number] if number > 0 else []


def _numbered_on(sought: str, context: JotContext, day: date | None) -> list[Session]:
    """Count the sessions of a kind through the event, or else on the day alone."""
    in_event = _numbered(sought, context.sessions)
    if day is None or any(context.day_of(session) == day for session in in_event):
        return in_event
    on_day = _numbered(sought, [s for s in context.sessions if context.day_of(s) == day])
    return on_day or in_event


def _begins(session: Session, sought: str) -> bool:
    """Tell whether a session's name begins with at least three letters that were written."""
    return len(sought) >= 3 and folded(session.name).startswith(sought)


_CLOCK = re.compile(
    r"(?P<hour>\d{1,2}):?(?P<minute>\d\d)(?:\s?(?P<half>[ap])m)?"
    r"(?P<offset>Z|[+\-−]\d\d:?\d\d)?",
    re.IGNORECASE | re.ASCII,
)


@dataclass(frozen=True)
class ClockTime:
    """A time of day as written: aware where an offset was; `either` if 1:40 may be 13:40."""

    at: time
    either: bool = False


def read_clock_time(text: str) -> ClockTime | None:
    """Read "11:52", "1:40 pm", "1152" or "01:30-05:00"; None for what is no time of day."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        return None
    hour, minute, half = int(match["hour"]), int(match["minute"]), (match["half"] or "").lower()
    if half and not 1 <= hour <= 12:
        return None
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    if hour > 23 or minute > 59:
        return None
    offset = None
    if match["offset"]:
        try:
            offset = _written(f"2000-01-01T00:00:00{match['offset']}").tzinfo
        except ValueError:
            return None
    # Nobody writes 01:40 for the afternoon, but many write 1:40 (common practice).
    either = not half and offset is None and 1 <= hour <= 6 and len(match["hour"]) == 1
    return ClockTime(time(hour, minute, tzinfo=offset), either)


def moment_of(
    clock: ClockTime, *, day: date, session: Session | None, context: JotContext
) -> datetime:
    """Put a time of day on a date, UTC.

    ValueError, worded as a question, where the clock skips it or shows it twice, and where it may
    be in the night or in the afternoon and the session does not settle which.
    """
    first = settled_to_utc(datetime.combine(day, clock.at), context.zone)
    if not clock.either:
        return first
    later = clock.at.replace(hour=clock.at.hour + 12)
    second = settled_to_utc(datetime.combine(day, later), context.zone)
    if session is not None:
        near = [when for when in (first, second) if _is_near(when, session)]
        if len(near) == 1:
            return near[0]
    raise ValueError(f"{clock.at:%H:%M} or {later:%H:%M}? Write one of them")


def _is_near(when: datetime, session: Session) -> bool:
    return session.start - MEASURED_BEFORE <= when <= session.end + MEASURED_AFTER


def moment_written(text: str) -> datetime:
    """Read a whole moment, "2027-06-12T16:52Z", as UTC; ValueError where it is none we know."""
    when = _written(text)
    read_date(when.date())
    return when.astimezone(UTC)


def _written(text: str) -> datetime:
    """Read a moment with the offset that was written."""
    return datetime.fromisoformat(text.upper().replace("−", "-"))
