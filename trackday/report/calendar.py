"""A plan as an iCalendar file (RFC 5545): sessions, deadlines and sunsets, each with an alarm.

Every entry has a UID made of what it is about, not of what is said about it, and a SEQUENCE made of
the plan's moment: importing a later file moves and rewords the entries of an earlier one.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from types import MappingProxyType

import icalendar

from trackday.advice.assumptions import SETTING_LEAD_MINUTES
from trackday.advice.assumptions_season import DEADLINE_MINUTES, SUNSET_ALARM_MINUTES
from trackday.advice.decision import Decision
from trackday.plan import Plan, SessionPlan
from trackday.report import text_parts
from trackday.report.layout import capitalized
from trackday.report.text_decisions import chance_of
from trackday.units import UnitSystem
from trackday.wording import Say, clock, day_clock, percent

PRODUCT = "-//trackday//trackday//EN"
"""Who made the file, by which one of ours is known again."""

GONE = "No longer: "
"""What stands before an entry that an earlier file had and that no longer holds."""

_NAMESPACE = uuid.uuid5(uuid.NAMESPACE_DNS, "trackday.invalid")
"""Root of the UIDs; RFC 2606 keeps the domain "invalid" from ever being anybody's."""

_NO_TEXT: Mapping[int, str] = MappingProxyType(
    {code: "\N{REPLACEMENT CHARACTER}" for code in (*range(0x20), 0x7F) if chr(code) not in "\t\n"}
)
"""Control characters, which no text of a calendar may hold (RFC 5545, section 3.3.11)."""


class CalendarFileError(ValueError):
    """The bytes are not a calendar that `plan_calendar` wrote."""


@dataclass(frozen=True)
class _Entry:
    """One entry: `key` tells what it is about; it rings `rings_before` its `start` (UTC).

    `alarm` is what the alarm says, `lines` what stands under the entry.
    """

    key: tuple[str, ...]
    start: datetime
    end: datetime
    summary: str
    lines: tuple[str, ...]
    alarm: str
    rings_before: timedelta = timedelta()


def plan_calendar(plan: Plan, *, units: UnitSystem, earlier: bytes | None = None) -> bytes:
    """Write a plan as an iCalendar file, times in UTC, words in `units` and the venue's time.

    `earlier` is the file that an earlier look at the same event left: what it announces for later
    than this plan's moment and what no longer holds goes out as cancelled. Raises CalendarFileError
    where `earlier` is something else than a calendar of this program.
    """
    before = None if earlier is None else _read(earlier)
    made = icalendar.Calendar()
    made.add("prodid", PRODUCT)
    made.add("version", "2.0")
    made.add("uid", _uid(plan, ("calendar",)))
    # The library does not know this property (RFC 7986, section 5.1) for a text to be escaped.
    made.add("name", icalendar.vText(_clean(f"{plan.event_name} at {plan.venue.name}")))
    events = [_event(entry, plan) for entry in _entries(plan, units)]
    for event in (*events, *_gone(before, made, events, plan.as_of)):
        made.add_component(event)
    return bytes(made.to_ical())


def _entries(plan: Plan, units: UnitSystem) -> Iterator[_Entry]:
    """Every entry of a plan; deadlines that have passed are left out."""
    for session in plan.sessions:
        yield _session(session, plan, units)
    for key, decision in _deadlines(plan):
        if decision.by is not None and decision.by > plan.as_of and decision.urgency != "nothing":
            yield _deadline(key, decision, decision.by, plan, units)
    yield from _sunsets(plan, units)


def _deadlines(plan: Plan) -> Iterator[tuple[tuple[str, ...], Decision]]:
    """The decisions whose time an alarm should keep, each with what tells it from all others."""
    yield ("load",), plan.load.decision
    for leg in plan.tow:
        yield ("tow", leg.decision.about), leg.decision
    for session in plan.sessions:
        if session not in plan.beyond_forecast:
            yield ("tires", *_session_key(session, plan)), session.tire.decision
    for day in plan.canopy or ():
        yield ("canopy", day.day.isoformat()), day.decision
    for night in plan.nights:
        yield ("canopy night", night.evening.isoformat()), night.decision
    for frost in (night for day in plan.days for night in day.frost):
        yield ("frost", frost.evening.isoformat()), frost.decision


def _session(planned: SessionPlan, plan: Plan, units: UnitSystem) -> _Entry:
    """A session under its tire; it rings when the cold pressures are to be set.

    Other years decide on no tire: a session that no forecast reaches stands there by its name.
    """
    session, zone = planned.session, plan.venue.zone

    def said(say: Say) -> str:
        return say.render(units, zone)

    rain = text_parts.rain_cell(planned.outlook.rain)
    track = text_parts.track_cell(planned.outlook.track, units)
    pressure = said(planned.pressure.decision.do)
    fog = (said(planned.fog.decision.do),) if planned.fog.prepare else ()
    is_foretold = planned not in plan.beyond_forecast
    basis = () if is_foretold else ("No forecast reaches this session; other years say:",)
    return _Entry(
        key=("session", *_session_key(planned, plan)),
        start=session.start,
        end=session.end,
        summary=f"{session.label}: {said(planned.tire.decision.do)}"
        if is_foretold
        else session.label,
        lines=(
            *basis,
            f"Rain {rain}, track {track}, air {units.temperature(planned.outlook.air.temp_c.p50)}.",
            *_reasons(planned.tire.decision, plan, units),
            pressure,
            *fog,
        ),
        alarm=f"{session.label}: {pressure}",
        rings_before=timedelta(minutes=SETTING_LEAD_MINUTES),
    )


def _deadline(
    key: tuple[str, ...], decision: Decision, by: datetime, plan: Plan, units: UnitSystem
) -> _Entry:
    """A deadline: the entry begins and rings a little before it, and ends with it."""
    do = decision.do.render(units, plan.venue.zone)
    # The day or the leg that another decision is about shows in the calendar, or in its words.
    summary = f"{decision.about}: {do}" if decision.topic == "tires" else do
    chance = decision.chance
    sure = () if chance is None else (f"{capitalized(chance_of(decision))}: {percent(chance)}.",)
    return _Entry(
        key=key,
        start=by - timedelta(minutes=DEADLINE_MINUTES),
        end=by,
        summary=summary,
        lines=(
            f"By {day_clock(by, plan.venue.zone)}.",
            *_reasons(decision, plan, units),
            *sure,
        ),
        alarm=summary,
    )


def _sunsets(plan: Plan, units: UnitSystem) -> Iterator[_Entry]:
    """Each day's sunset, up to the end of civil twilight; none where the sun does not set."""
    zone = plan.venue.zone
    for day in plan.light:
        sunset, dusk = day.sun.sunset, day.sun.civil_dusk
        if sunset is None:
            continue
        dark = () if dusk is None else (f"Too dark to work outside from {clock(dusk, zone)}.",)
        summary = f"Sunset {clock(sunset, zone)}. {day.decision.do.render(units, zone)}"
        yield _Entry(
            key=("sunset", day.day.isoformat()),
            start=sunset,
            end=dusk or sunset,
            summary=summary,
            lines=(*dark, *_reasons(day.decision, plan, units)),
            alarm=summary,
            rings_before=timedelta(minutes=SUNSET_ALARM_MINUTES),
        )


def _session_key(planned: SessionPlan, plan: Plan) -> tuple[str, str]:
    """Day and name, which no two sessions of an event share, whatever hour it is moved to."""
    return _local_day(planned.session.start, plan).isoformat(), planned.session.name


def _local_day(when: datetime, plan: Plan) -> date:
    return when.astimezone(plan.venue.zone).date()


def _reasons(decision: Decision, plan: Plan, units: UnitSystem) -> tuple[str, ...]:
    """Why, a dash before each reason, then what to look out for."""
    zone = plan.venue.zone
    why = tuple(f"- {reason.render(units, zone)}" for reason in decision.why)
    if decision.caution is None:
        return why
    return (*why, f"! {decision.caution.render(units, zone)}")


def _event(entry: _Entry, plan: Plan) -> icalendar.Event:
    """One entry with everything that a calendar needs to know it again."""
    venue, (start, end) = plan.venue, map(_minute, (entry.start, entry.end))
    made = icalendar.Event()
    made.add("uid", _uid(plan, entry.key))
    _stamp(made, plan.as_of)
    made.add("dtstart", start)
    if end > start:
        made.add("dtend", end)
    made.add("summary", _clean(entry.summary))
    made.add("description", _clean("\n".join((*entry.lines, *_footing(plan)))))
    made.add("location", _clean(venue.name))
    made.add("geo", (venue.latitude, venue.longitude))
    made.add("status", "CONFIRMED")
    made.add("transp", "TRANSPARENT")
    alarm = icalendar.Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", -entry.rings_before)
    alarm.add("description", _clean(entry.alarm))
    made.add_component(alarm)
    return made


def _minute(when: datetime) -> datetime:
    """The minute that a clock shows at a moment, UTC."""
    return when.astimezone(UTC).replace(second=0, microsecond=0)


def _footing(plan: Plan) -> tuple[str, ...]:
    """As of when this was said, how old the forecast was then, and on which clock."""
    age = plan.forecast_age_minutes
    old = "no forecast yet" if age is None else f"forecast {text_parts.age_text(age)} old"
    when = plan.as_of.astimezone(plan.venue.zone)
    said = f"{plan.event_name}, as of {when:%a %Y-%m-%d %H:%M}, {old}"
    return (f"{said}; times in words are {plan.venue.timezone}.",)


def _stamp(event: icalendar.Event, as_of: datetime) -> None:
    """Say when an entry was last changed; minutes since 1970 fit a calendar's 32-bit integer."""
    event.add("dtstamp", as_of.astimezone(UTC))
    event.add("last-modified", as_of.astimezone(UTC))
    event.add("sequence", int(as_of.timestamp()) // 60)


def _uid(plan: Plan, key: Iterable[str]) -> str:
    """Name what an entry is about: the same for every look at the same event (RFC 7986, 5.3)."""
    parts = (plan.venue.name, plan.event_name, *key)
    return str(uuid.uuid5(_NAMESPACE, "\x1f".join(parts)))


def _clean(text: str) -> str:
    """Leave out what no text of a calendar may hold."""
    return text.replace("\r\n", "\n").replace("\r", "\n").translate(_NO_TEXT)


def _read(earlier: bytes) -> icalendar.Calendar:
    """Read a file of ours; raises CalendarFileError for any other."""
    try:
        read = icalendar.Calendar.from_ical(earlier)
    except ValueError as error:
        raise CalendarFileError("is no calendar") from error
    if not isinstance(read, icalendar.Calendar) or read.get("prodid") != PRODUCT:
        raise CalendarFileError("is a calendar that trackday did not write")
    return read


def _gone(
    before: icalendar.Calendar | None,
    after: icalendar.Calendar,
    events: Iterable[icalendar.Event],
    as_of: datetime,
) -> Iterator[icalendar.Event]:
    """Cancel what an earlier file of the same event announces for later and holds no more."""
    if before is None or before.get("uid") != after.get("uid"):
        return
    kept = {str(event["uid"]) for event in events}
    for old in before.events:
        start = _start(old)
        if start is None or start <= as_of or str(old.get("uid")) in kept:
            continue
        summary = str(old.get("summary", "")).removeprefix(GONE)
        made = icalendar.Event()
        made.add("uid", old.get("uid"))
        _stamp(made, as_of)
        made.add("dtstart", start)
        made.add("summary", f"{GONE}{summary}")
        made.add("status", "CANCELLED")
        made.add("transp", "TRANSPARENT")
        yield made


def _start(event: icalendar.Event) -> datetime | None:
    """When an entry begins; None for an entry that somebody has added by hand in another form."""
    start = getattr(event.get("dtstart"), "dt", None)
    if "uid" not in event or not isinstance(start, datetime) or start.tzinfo is None:
        return None
    return start
