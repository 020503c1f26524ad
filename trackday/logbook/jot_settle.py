"""From what the clauses of a line say to one entry, with a question where they do not agree."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, TypeVar, cast

from trackday.logbook.entry import Corners, RanOn
from trackday.logbook.jot_pressure import CORNERS, PressureWords, settle_pressures
from trackday.logbook.jot_scan import Claim, Doubt
from trackday.logbook.jot_temperature import (
    NAMES,
    TemperatureWords,
    doubt_of_pair,
    settle_temperature,
)
from trackday.logbook.jot_times import Dates
from trackday.logbook.jot_tokens import number_text
from trackday.logbook.jot_when import (
    ClockTime,
    JotContext,
    moment_of,
    moment_written,
    nearest_name,
    session_words,
    sessions_called,
)
from trackday.logbook.jot_words import fits, kind_named, only_set_of, unknown_set
from trackday.weekend.sessions import Session

MOST_LAPS = 400
"""More laps in one session are a slip, laps (assumption)."""
MOST_MINUTES_RUN = 600.0
"""A longer drive in one session is a slip, minutes (assumption)."""
MOST_MINUTES_SINCE_STOP = 60.0
"""Tires that have stood longer are no longer hot, minutes (assumption)."""
MOST_DAYS_BESIDE = 3
"""How far from the event's days an entry of the event may be, days (assumption)."""

_TEXT_NAMES = {
    "alignment": "alignment",
    "changes": "changed",
    "decision": "decided",
    "todo": "todo",
}
_STATE_WORDS = {"standing": "standing water"}

T = TypeVar("T")


@dataclass
class Settled:
    """Fields of the entry, how they were understood, and what was doubtful."""

    fields: dict[str, Any] = field(default_factory=dict)
    understood: list[str] = field(default_factory=list)
    doubts: list[Doubt] = field(default_factory=list)


@dataclass
class _Settling:
    """The claims of one line on their way into an entry."""

    claims: Sequence[Claim]
    context: JotContext
    result: Settled = field(default_factory=Settled)

    def of(self, *names: str) -> list[Claim]:
        """List the claims of some fields, as they stand in the line."""
        return [claim for claim in self.claims if claim.field in names]

    def ask(self, question: str, claims: Iterable[Claim]) -> None:
        """Doubt some claims: ask once, and leave their words to the note."""
        for number, claim in enumerate(claims):
            self.result.doubts.append(Doubt("" if number else question, claim.start, claim.end))

    def put(self, name: str, value: object, shown: str) -> None:
        """Settle a field of the entry."""
        self.result.fields[name] = value
        self.result.understood.append(shown)

    def one(
        self, name: str, read: Callable[[Any], tuple[T, str]], *, called: str
    ) -> tuple[T, str] | None:
        """Read all claims of a field; None, with a question, where they fail or differ."""
        claims, found = self.of(name), []
        for claim in claims:
            try:
                found.append(read(claim.value))
            except ValueError as fault:
                self.ask(str(fault), [claim])
                return None
        if not found:
            return None
        if any(value != found[0][0] for value, _ in found):
            shown = " and ".join(dict.fromkeys(text for _, text in found))
            self.ask(f"{called}: {shown}. Which one?", claims)
            return None
        return found[0]


def settle(claims: Sequence[Claim], context: JotContext) -> Settled:
    """Make fields of an entry from the claims of a line.

    What is doubtful is in no field: its question is in `doubts`, with the words it is about.
    """
    work = _Settling(claims, context)
    day = _settle_day(work)
    session = _settle_session(work, day)
    if day is None:
        day = context.day_of(session) if session is not None else context.local_date
        why = "the session's" if session is not None else "today"
        work.result.fields["day"] = day
        work.result.understood.insert(0, f"day: {day:%a %Y-%m-%d} ({why})")
    _settle_moment(work, day, session)
    _settle_pressures(work)
    _settle_temperatures(work)
    _settle_words(work)
    _settle_tires(work)
    _settle_amounts(work)
    for name, called in _TEXT_NAMES.items():
        texts = [str(claim.value) for claim in work.of(name)]
        if texts:
            work.put(name, "; ".join(texts), f"{called}: {'; '.join(texts)}")
    _doubt_the_future(work, day, session)
    return work.result


def _settle_day(work: _Settling) -> date | None:
    """Settle the date; None where none was written, or none that all agree on."""
    claims = work.of("day")
    if not claims:
        return None
    written = [cast("Dates", claim.value) for claim in claims]
    common = [day for day in written[0].days if all(day in each.days for each in written)]
    names = " and ".join(dict.fromkeys(each.written for each in written))
    if not common:
        work.ask(f"{names} are different days. Which one?", claims)
        return None
    if len(common) > 1:
        choices = " or ".join(f"{day:%Y-%m-%d}" for day in common)
        work.ask(f"{names}: {choices}?", claims)
        return None
    day = common[0]
    event = work.context.days
    if event and min(abs(day - each) for each in event) > timedelta(days=MOST_DAYS_BESIDE):
        days = ", ".join(f"{each:%a %Y-%m-%d}" for each in event)
        work.ask(f"{names} is {day:%Y-%m-%d}, but the event is on {days}. Which day?", claims)
        return None
    work.put("day", day, f"day: {day:%a %Y-%m-%d}")
    return day


def _settle_session(work: _Settling, day: date | None) -> Session | None:
    """Settle the session; None where none was written, or none that is sure."""
    found = work.one("session", lambda text: _session(text, day, work.context), called="session")
    if found is None:
        return None
    (label, session), shown = found
    work.put("session", label, f"session: {shown}")
    return session


def _session(
    text: str, day: date | None, context: JotContext
) -> tuple[tuple[str, Session | None], str]:
    """Find the session that was written: its label, itself where the event has it, and words."""
    if not context.sessions:
        return (text, None), text
    found = sessions_called(text, context, day=day)
    if not found:
        near = nearest_name(text, session_words(context))
        labels = ", ".join(session.label for session in context.sessions)
        meant = f"Did you mean {near}?" if near else "Which one?"
        raise ValueError(f'"{text}" is no session of the event ({labels}). {meant}')
    if len(found) > 1:
        choices = " or ".join(f"{s.label} ({_start(s, context)})" for s in found)
        raise ValueError(f'"{text}": {choices}?')
    session = found[0]
    if day is not None and context.day_of(session) != day:
        raise ValueError(f"{session.label} is {_start(session, context)}, not {day:%a}. Which one?")
    return (session.label, session), f"{session.label} ({_start(session, context)})"


def _start(session: Session, context: JotContext) -> str:
    return f"{session.start.astimezone(context.zone):%a %H:%M}"


def _settle_moment(work: _Settling, day: date, session: Session | None) -> None:
    """Settle the moment of measurement."""

    def read(value: object) -> tuple[datetime, str]:
        if isinstance(value, ClockTime):
            at = moment_of(value, day=day, session=session, context=work.context)
        else:
            at = moment_written(str(value))
        if at > work.context.as_of:
            local = at.astimezone(work.context.zone)
            raise ValueError(f"{local:%a %H:%M} is still to come. When was it measured?")
        return at, f"{at.astimezone(work.context.zone):%H:%M}"

    found = work.one("at", read, called="time")
    if found is not None:
        work.put("at", found[0], f"at: {found[1]}")


def _settle_pressures(work: _Settling) -> None:
    """Settle cold and hot pressures, and doubt both where a tire lost pressure as it ran."""
    claims = work.of("cold_kpa", "hot_kpa")
    words = [cast("PressureWords", claim.value) for claim in claims]
    units = sorted({unit for each in words for unit in each.units})
    found: dict[str, tuple[Corners, str]] = {}
    for name in ("cold", "hot"):

        def read(value: PressureWords, name: str = name) -> tuple[Corners, str]:
            result = settle_pressures(name, value, line_units=units, context=work.context)
            return result.corners, result.shown

        settled = work.one(f"{name}_kpa", read, called=name)
        if settled is not None:
            found[name] = settled
    if len(found) == 2 and not work.of("bled"):
        lower = _lower_when_hot(found["cold"][0], found["hot"][0])
        if lower:
            work.ask(
                f"hot {_numbers(found['hot'])} is below cold {_numbers(found['cold'])} "
                f"at the {lower}. "
                'Are they swapped? If air was let out, write "bled"',
                claims,
            )
            return
    for name, (corners, shown) in found.items():
        work.put(f"{name}_kpa", corners, f"{name}: {shown}")


def _numbers(read: tuple[Corners, str]) -> str:
    """Repeat pressures without the names of the wheels."""
    return read[1].partition(" (")[0]


def _lower_when_hot(cold: Corners, hot: Corners) -> str:
    """Name the first wheel that has less pressure hot than cold; empty where none has."""
    for corner, before, after in zip(CORNERS, cold, hot, strict=True):
        if before is not None and after is not None and after < before:
            return corner.replace("_", " ")
    return ""


def _settle_temperatures(work: _Settling) -> None:
    """Settle track and air, and doubt both where they cannot stand side by side."""
    claims = work.of(*NAMES)
    words = [cast("TemperatureWords", claim.value) for claim in claims]
    units = sorted({each.unit for each in words if each.unit})
    found: dict[str, tuple[float, str]] = {}
    for name, called in NAMES.items():

        def read(value: TemperatureWords, name: str = name) -> tuple[float, str]:
            return settle_temperature(name, value, line_units=units, context=work.context)

        settled = work.one(name, read, called=called)
        if settled is not None:
            found[name] = settled
    failed = any(claim.field not in found and not _has_unit(claim) for claim in claims)
    for claim in claims:
        if failed and claim.field in found and not _has_unit(claim) and len(units) != 1:
            work.ask(f"{NAMES[claim.field]} {found.pop(claim.field)[1]}: in which unit?", [claim])
    pair = work.of("track_temp_c", "air_temp_c")
    if not all(map(_has_unit, pair)):
        temps_c = {name: value for name, (value, _) in found.items()}
        question = doubt_of_pair(temps_c, work.context.units)
        if question is not None:
            work.ask(question, pair)
            found.pop("track_temp_c")
            found.pop("air_temp_c")
    for name, (temp_c, shown) in found.items():
        work.put(name, temp_c, f"{NAMES[name]}: {shown}")


def _has_unit(claim: Claim) -> bool:
    return bool(cast("TemperatureWords", claim.value).unit)


def _settle_words(work: _Settling) -> None:
    """Settle the state of the track and the rain."""
    state = work.one("track_state", _as_written, called="track")
    if state is not None:
        work.put("track_state", state[0], f"track state: {_STATE_WORDS.get(state[1], state[1])}")
    rain = work.one("raining", _rain, called="rain")
    if rain is not None:
        work.put("raining", rain[0], f"rain: {rain[1]}")


def _as_written(value: str) -> tuple[str, str]:
    return value, value


def _rain(falls: bool) -> tuple[bool, str]:
    return falls, "yes" if falls else "no"


def _settle_tires(work: _Settling) -> None:
    """Settle the set, what it ran as, and what would have been right."""
    context = work.context
    name = work.one("tire_set", lambda text: _tire_set(text, context), called="tire set")
    kinds = work.of("tires", "ran_on")
    found = _kind_of_claims(work, kinds)
    if name is not None and name[0] in context.tire_sets:
        set_kind = context.tire_sets[name[0]]
        if found is not None and not fits(found, set_kind):
            claims = [*work.of("tire_set"), *kinds]
            work.ask(f"{name[0]} is a {set_kind} set, not {found}. Which one ran?", claims)
            name = found = None
        elif found is None and not kinds:
            found = set_kind
    only = only_set_of(found, context) if found and name is None and work.of("tires") else ""
    if only and not work.of("tire_set"):
        work.put("tire_set", only, f"tire set: {only} (the only {found} set)")
    elif name is not None:
        work.put("tire_set", name[0], f"tire set: {name[0]}")
    if found is not None:
        work.put("ran_on", found, f"ran on: {found} tires")
    right = work.one("right_tire", _kind, called="right tire")
    if right is not None:
        work.put("right_tire", right[0], f"right tire: {right[0]}")


def _kind_of_claims(work: _Settling, claims: Sequence[Claim]) -> RanOn | None:
    """Give the one kind that all claims name; None, with a question, where they differ."""
    try:
        kinds = list(dict.fromkeys(_kind(str(claim.value))[0] for claim in claims))
    except ValueError as fault:
        work.ask(str(fault), claims)
        return None
    if len(kinds) > 1:
        work.ask(f"tires: {' and '.join(kinds)}. Which ones ran?", claims)
    return kinds[0] if len(kinds) == 1 else None


def _kind(text: str) -> tuple[RanOn, str]:
    kind = kind_named(text)
    if kind is None:
        raise ValueError(f'"{text}" is no kind of tire. Write dry, grooved or wet')
    return kind, kind


def _tire_set(text: str, context: JotContext) -> tuple[str, str]:
    """Find a set by the name that was written; any name where the garage is not known."""
    known = {name.casefold(): name for name in context.tire_sets}
    if known and text.casefold() not in known:
        near = nearest_name(text, list(context.tire_sets))
        question = unknown_set(text, context)
        raise ValueError(question if near is None else f"{question} {near}?")
    name = known.get(text.casefold(), text)
    return name, name


def _settle_amounts(work: _Settling) -> None:
    """Settle laps and minutes."""
    laps = work.one("laps", _laps, called="laps")
    if laps is not None:
        work.put("laps", laps[0], f"laps: {laps[1]}")
    for name, called, most in (
        ("minutes_run", "ran", MOST_MINUTES_RUN),
        ("minutes_since_stop", "measured after", MOST_MINUTES_SINCE_STOP),
    ):

        def read(
            value: float | None, called: str = called, most: float = most
        ) -> tuple[float, str]:
            if value is None or not 0.0 <= value <= most:
                raise ValueError(f"{called}: write minutes from 0 to {most:.0f}")
            return value, f"{value:g} min"

        found = work.one(name, read, called=called)
        if found is not None:
            work.put(name, found[0], f"{called}: {found[1]}")


def _laps(text: str) -> tuple[int, str]:
    number = number_text(text)
    if number is None or not number.isdecimal() or len(number) > 6 or int(number) > MOST_LAPS:
        raise ValueError(f"laps: {text} is no number of laps. Write a whole one to {MOST_LAPS}")
    return int(number), number


_NOT_MEASURED = frozenset(
    ("day", "session", "at", "cold_kpa", "cold_air_temp_c", "tire_set", "ran_on", *_TEXT_NAMES)
)
_AT_SETTING = frozenset(("air_temp_c", "track_temp_c", "track_state", "raining"))


def _doubt_the_future(work: _Settling, day: date, session: Session | None) -> None:
    """Ask where something is said to have been measured in a session that has not begun."""
    fields = work.result.fields
    # Who sets cold pressures for a session writes down the weather of the moment beside them.
    is_setting = "cold_kpa" in fields and "hot_kpa" not in fields
    beside = _NOT_MEASURED | (_AT_SETTING if is_setting else frozenset())
    measured = [name for name in fields if name not in beside]
    if not measured:
        return
    context = work.context
    if session is not None and session.start > context.as_of:
        question = f"{session.label} starts {_start(session, context)}, still to come. Which one?"
        work.ask(question, work.of("session"))
        del work.result.fields["session"]
    elif day > context.local_date:
        work.ask(f"{day:%a %Y-%m-%d} is still to come. Which day?", work.of("day"))
        work.result.fields["day"] = context.local_date
