"""The plan as a calendar: what RFC 5545 asks of a file, and what a second import finds."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import astral.sun
import icalendar
import pytest
from astral import Observer
from builders import garage, venue
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import AS_OF, EVENT, climatology, gathered, plan

from trackday.plan import Plan, make_plan
from trackday.report.calendar import GONE, CalendarFileError, plan_calendar
from trackday.units import METRIC, US

GALE = {"gust_ms": 25.0, "rain_mm": 0.6}
"""A wet gale: wet tires with deadlines, and a canopy that has to come down."""


@cache
def seen_at_six(*, gale: bool) -> Plan:
    return plan(gather=gathered(**(GALE if gale else {})))


def look(minutes: int = 0, *, gale: bool = False) -> Plan:
    """The plan in calm or wet and windy weather, as of some minutes after six."""
    return replace(seen_at_six(gale=gale), as_of=AS_OF + timedelta(minutes=minutes))


@pytest.fixture
def calm_plan() -> Plan:
    return look()


@pytest.fixture
def gale_plan() -> Plan:
    return look(gale=True)


def read(written: bytes) -> list[icalendar.Event]:
    """Every entry, read back; the reader must find no fault."""
    calendar = icalendar.Calendar.from_ical(written)
    assert calendar.errors == []
    assert all(event.errors == [] for event in calendar.events)
    return calendar.events


def entries(plan_, **options):
    return read(plan_calendar(plan_, units=US, **options))


def by_uid(events):
    found = {str(event["uid"]): event for event in events}
    assert len(found) == len(events)
    return found


def test_sessions_deadlines_canopy_and_sunset_are_there(gale_plan):
    """Protects what a racer imports the file for, at the right moments (UTC)."""
    found = [(event.start, event.end, str(event["summary"])) for event in entries(gale_plan)]

    def utc(hour, minute):
        return datetime(2027, 6, 12, hour, minute, tzinfo=UTC)

    # Sessions at 09:00 and 15:00 of the venue's clock, five hours behind UTC in June.
    assert found[0][:2] == (utc(14, 0), utc(14, 20))
    assert found[1][:2] == (utc(20, 0), utc(20, 30))
    assert found[0][2].startswith("Practice: Put wet tires on, start by ")
    practice = gale_plan.sessions[0].tire.decision
    assert practice.by is not None
    deadline = next(row for row in found[2:] if row[2].startswith("Practice: "))
    assert deadline[1] == practice.by
    canopy = next(row for row in found if "canopy" in row[2])
    assert canopy[1] == gale_plan.canopy[0].decision.by
    # Astral, an independent library, works the sunset out on its own.
    place = Observer(latitude=43.6, longitude=-91.0, elevation=0.0)
    second = astral.sun.sunset(place, date=EVENT.sessions[0].date, tzinfo="America/Chicago")
    sunset = next(row for row in found if row[2].startswith("Sunset"))
    assert abs(sunset[0] - second) < timedelta(minutes=3)


def test_a_quiet_day_has_no_deadlines(calm_plan):
    """Protects from alarms that ask for nothing."""
    told = [str(event["summary"]) for event in entries(calm_plan)]
    assert [text.split(":")[0].split(" ")[0] for text in told] == ["Practice", "Race", "Sunset"]


def test_every_entry_rings_and_says_what_to_do(gale_plan):
    """Protects the alarm: one an entry, before it or at its start, with words of its own."""
    for event in entries(gale_plan):
        (alarm,) = [part for part in event.subcomponents if part.name == "VALARM"]
        assert alarm["action"] == "DISPLAY"
        assert alarm["trigger"].dt <= timedelta()
        assert str(alarm["description"])
    sessions = entries(gale_plan)[:2]
    assert all("psi front" in str(e.subcomponents[0]["description"]) for e in sessions)
    assert all(e.subcomponents[0]["trigger"].dt == -timedelta(minutes=60) for e in sessions)


def test_a_chance_says_what_it_is_the_chance_of(gale_plan):
    """Protects from a canopy or a tow whose risk is called the chance of being right."""
    said = [(str(e["summary"]), str(e["description"])) for e in entries(gale_plan)]
    canopy = next(words for summary, words in said if "canopy" in summary)
    assert re.search(r"^Needed: [<>]?\d+ %\.$", canopy, re.MULTILINE)
    tires = [words for summary, words in said if summary.startswith("Practice: ")]
    assert any(re.search(r"^Right: [<>]?\d+ %\.$", words, re.MULTILINE) for words in tires)
    assert not any("this is right" in words for _, words in said)


def test_the_file_keeps_to_the_rfc(gale_plan):
    """Protects import anywhere: lines, lengths and required properties as RFC 5545 has them."""
    written = plan_calendar(gale_plan, units=US)
    lines = written.split(b"\r\n")
    assert lines[-1] == b""
    assert not any(b"\n" in line or b"\r" in line for line in lines)  # 3.1: CRLF ends a line
    assert max(map(len, lines)) <= 75  # 3.1: at most 75 octets
    calendar = icalendar.Calendar.from_ical(written)
    assert calendar["version"] == "2.0"  # 3.6: required, as is PRODID
    assert calendar["prodid"]
    for event in calendar.events:
        # 3.6.1: UID and DTSTAMP are required, and DTSTART where there is no METHOD.
        assert {"UID", "DTSTAMP", "DTSTART"} <= set(event)
        assert event["sequence"] < 2**31  # 3.3.8
        raw = event.to_ical()
        assert re.search(rb"\r\nDTSTART:\d{8}T\d{6}Z\r\n", raw)  # 3.3.5, form 2: UTC
        assert event.end >= event.start


def test_a_later_export_updates_the_same_entries(gale_plan):
    """Protects the second import: the same UIDs, a higher SEQUENCE, a later DTSTAMP."""
    later = look(20, gale=True)
    first, second = by_uid(entries(gale_plan)), by_uid(entries(later))
    assert set(second) <= set(first)
    # The canopy's deadline, 07:00, is still ahead at 06:20.
    assert set(second) == set(first)
    for uid, event in second.items():
        assert event["sequence"] > first[uid]["sequence"]
        assert event["dtstamp"].dt > first[uid]["dtstamp"].dt


def test_the_same_look_gives_the_same_bytes(gale_plan):
    """Protects replays: no clock and no chance in the file."""
    again = plan(gather=gathered(**GALE))
    assert plan_calendar(gale_plan, units=US) == plan_calendar(again, units=US)


def moved(**changes):
    """The event with its race changed."""
    practice, race = EVENT.sessions
    return EVENT.model_copy(update={"sessions": (practice, race.model_copy(update=changes))})


def test_a_session_that_is_moved_keeps_its_entry(gale_plan):
    """Protects from two races in the calendar when the schedule slips by half an hour."""
    slipped = moved(start=datetime(2027, 6, 12, 15, 30).time())  # noqa: DTZ001
    made = make_plan(slipped, garage(), venue(), gathered(**GALE), as_of=AS_OF)
    first, second = by_uid(entries(gale_plan)), by_uid(entries(made))
    assert set(first) == set(second)
    (race,) = [uid for uid, event in first.items() if event.start.hour == 20]
    assert second[race].start - first[race].start == timedelta(minutes=30)


def test_two_events_and_two_venues_share_no_entry(calm_plan):
    """Protects one event's entries from another's with the same sessions."""
    other = replace(calm_plan, event_name="Autumn Double")
    elsewhere = replace(calm_plan, venue=venue(name="Alder Flat"))
    uids = [set(by_uid(entries(each))) for each in (calm_plan, other, elsewhere)]
    assert len(set.union(*uids)) == sum(map(len, uids))


def test_what_no_longer_holds_is_cancelled(gale_plan):
    """Protects from an alarm that still takes the canopy down when the gale has gone."""
    earlier = plan_calendar(gale_plan, units=US)
    calm = look(20)
    updated = by_uid(entries(calm, earlier=earlier))
    before = by_uid(read(earlier))
    gone = [event for event in updated.values() if event["status"] == "CANCELLED"]
    assert {str(event["uid"]) for event in gone} == set(before) - set(by_uid(entries(calm)))
    assert any("canopy" in str(event["summary"]) for event in gone)
    for event in gone:
        assert str(event["summary"]).startswith(GONE)
        old = before[str(event["uid"])]
        assert event.start == old.start
        assert event["sequence"] > old["sequence"]
        assert event.subcomponents == []


def test_a_cancelled_entry_stays_cancelled_until_its_time(gale_plan):
    """Protects the third import: neither forgotten before its hour nor carried on after it."""
    written = plan_calendar(gale_plan, units=US)
    for minutes in (10, 20):
        calm = look(minutes)
        written = plan_calendar(calm, units=US, earlier=written)
    told = [str(event["summary"]) for event in read(written)]
    assert sum(text.startswith(GONE) for text in told) >= 2
    assert not any(text.startswith(GONE * 2) for text in told)
    # By noon the canopy's hour and that of the first session's tires are over.
    told = [str(event["summary"]) for event in entries(look(360), earlier=written)]
    assert not any("canopy" in text or "Practice" in text for text in told if GONE in text)


def test_an_entry_that_comes_back_is_no_longer_cancelled(gale_plan):
    """Protects the gale that returns: its deadline rings again."""
    calm = plan_calendar(look(10), units=US, earlier=plan_calendar(gale_plan, units=US))
    back = look(20, gale=True)
    assert {str(event["status"]) for event in entries(back, earlier=calm)} == {"CONFIRMED"}


def test_another_events_file_is_not_cancelled(gale_plan):
    """Protects one event's alarms from an export of another into the same file."""
    earlier = plan_calendar(gale_plan, units=US)
    other = replace(look(), event_name="Autumn Double")
    assert {str(event["status"]) for event in entries(other, earlier=earlier)} == {"CONFIRMED"}


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"my notes\n",
        b"\xff\xfe\x00",
        b"BEGIN:VEVENT\r\nUID:1\r\nEND:VEVENT\r\n",
        b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//y//EN\r\nEND:VCALENDAR\r\n",
        b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nEND:VCALENDAR\r\n" * 2,
    ],
)
def test_a_file_that_is_not_ours_is_refused(calm_plan, content):
    """Protects a file of somebody else's from being written over."""
    with pytest.raises(CalendarFileError):
        plan_calendar(calm_plan, units=US, earlier=content)


def test_entries_added_by_hand_do_not_stop_the_update(gale_plan):
    """Protects the update from an all-day entry, or one without a start, that somebody added."""
    own = b"BEGIN:VEVENT\r\nUID:x\r\nDTSTART;VALUE=DATE:20270613\r\nEND:VEVENT\r\n"
    bare = b"BEGIN:VEVENT\r\nSUMMARY:y\r\nEND:VEVENT\r\n"
    written = plan_calendar(gale_plan, units=US)
    end = b"END:VCALENDAR\r\n"
    changed = written.replace(end, own + bare + end)
    assert entries(look(), earlier=changed) == entries(look(), earlier=written)


@pytest.mark.parametrize(
    "text",
    [
        "<b>Summer</b> [bold]Double[/] & {braces} %s",
        "\"quoted\", 'single'; back\\slash, semi;colon: 100 %",
        "first line\nBEGIN:VEVENT\nUID:1\nEND:VEVENT",
        "🏁 Été ☔ 👩‍🔧 汽车",
        "ab" * 5_000,
    ],
)
def test_any_name_comes_back_as_it_was_written(calm_plan, text):
    """Protects names with markup, quotes, line breaks, emoji and 10,000 characters."""
    named = replace(calm_plan, event_name=text, venue=venue().model_copy(update={"name": text}))
    written = plan_calendar(named, units=US)
    assert max(map(len, written.split(b"\r\n"))) <= 75
    calendar = icalendar.Calendar.from_ical(written)
    # The library reads this property back as it stands in the file: RFC 5545, 3.3.11.
    name = re.sub(r"\\(.)", lambda found: "\n" if found[1] == "n" else found[1], calendar["name"])
    assert name == f"{text} at {text}"
    assert len(calendar.events) == 3
    for event in calendar.events:
        assert str(event["location"]) == text
        assert f"\n{text}, as of Sat 2027-06-12 06:00" in str(event["description"])


@settings(max_examples=40, deadline=None)
@given(text=st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=120))
def test_no_text_breaks_the_file(text):
    """Protects against injection: whatever a name holds, the entries and their number stay."""
    named = replace(look(), event_name=text)
    written = plan_calendar(named, units=US)
    events = read(written)
    assert len(events) == 3
    # RFC 5545, 3.3.11: no control character but the tab, beside the ends of lines.
    assert not re.search(rb"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", written)


def test_words_are_in_the_readers_units(gale_plan):
    """Protects the numbers in the words; moments do not depend on units."""
    us, metric = (read(plan_calendar(gale_plan, units=units)) for units in (US, METRIC))
    assert [e.start for e in us] == [e.start for e in metric]
    assert any("psi" in str(e["description"]) for e in us)
    assert not any("psi" in str(e["description"]) for e in metric)
    assert any("kPa" in str(e["description"]) for e in metric)


def test_other_years_set_no_deadline():
    """Protects from an alarm on tires that no forecast asked for."""
    wet = climatology(rain_mm=3.0)
    made = plan(gather=gathered(basis="climatology", sky=wet))
    told = entries(made)
    assert [str(event["summary"]) for event in told[:2]] == ["Practice", "Race"]
    assert not any("tires" in str(event["summary"]) for event in told)
    assert all("No forecast reaches" in str(event["description"]) for event in told[:2])


def test_unknown_weather_is_said_to_be_unknown():
    """Protects the worst mistake: no rain data, and still no dry tires in the calendar."""
    told = entries(plan(gather=gathered(ends_after_h=-48.0)))
    sessions = [event for event in told if "Rain " in str(event["description"])]
    assert len(sessions) == 2
    for event in sessions:
        assert "Rain unknown" in str(event["description"])
        assert "dry tires" not in str(event["summary"])


def test_polar_day_has_no_sunset(calm_plan):
    """Protects venues where the sun does not set in June."""
    north = venue(latitude=69.5, longitude=19.0, timezone="Europe/Oslo")
    made = make_plan(EVENT, garage(), north, gathered(), as_of=AS_OF)
    assert not any("Sunset" in str(event["summary"]) for event in entries(made))


def test_load_up_and_a_windy_drive_are_in_the_calendar():
    """Protects the evening before: loading, and a drive that the wind forbids."""
    event = EVENT.model_copy(
        update={
            "load_up": datetime(2027, 6, 11, 18, 0),  # noqa: DTZ001
            "departure": datetime(2027, 6, 11, 20, 0),  # noqa: DTZ001
        }
    )
    friday = AS_OF - timedelta(days=1)
    calm, windy = (
        {e.end: str(e["summary"]) for e in entries(make_plan(*what, gather, as_of=friday))}
        for what in [(event, garage(), venue())]
        for gather in (gathered(), gathered(**GALE))
    )
    load_up, departure = (datetime(2027, 6, 11 + n, 23 - 22 * n, tzinfo=UTC) for n in (0, 1))
    assert calm[load_up].startswith("Load ")
    assert departure not in calm
    assert windy[departure].startswith("Too much wind for the Fri 20:00 drive")


def test_an_alarm_keeps_a_freezing_night():
    """Protects the engine: what to do about ice rings at its time, and no mild night does."""
    cold = plan(gather=gathered(air_temp_c=-6.0, dew_point_c=-8.0))
    nights = [night for day in cold.days for night in day.frost]
    due = [night.decision.by for night in nights if night.decision.urgency != "nothing"]
    ends = [e.end for e in entries(cold) if " ice " in f" {e['summary']} "]
    assert due
    assert ends == due
    assert not [e for e in entries(look()) if "ice" in str(e["summary"]).split()]
