"""One jotted line: what people write, what is read and what is asked."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from logbook.jot_cases import CLEAR, DOUBTFUL, SUNDAY, Case, context, session

from trackday.errors import TrackdayError
from trackday.logbook.entry import Corners, Entry
from trackday.logbook.jot import MOST_CHARACTERS, JotContext, read_jotting
from trackday.units import METRIC


def comparable(entry: Entry) -> dict[str, object]:
    """The fields that say something, with numbers that compare to a millionth."""
    found: dict[str, object] = {}
    for name, value in vars(entry).items():
        if isinstance(value, Corners):
            found[name] = [None if v is None else pytest.approx(v, rel=1e-6) for v in value]
        elif isinstance(value, float):
            found[name] = pytest.approx(value, abs=1e-6)
        elif value not in (None, ""):
            found[name] = value
    return found


def said(case: Case) -> Entry:
    return Entry(
        **{"day": SUNDAY, "venue": "Tamarack Hollow", "event": "Summer double"} | case.says
    )


@pytest.mark.parametrize("case", CLEAR, ids=lambda case: case.line)
def test_clear_line_is_read_without_a_question(case):
    """Protects the grammar: each line as written by hand gives this entry and nothing else."""
    jotted = read_jotting(case.line, context=context(units=case.units))
    assert jotted.questions == ()
    assert plain(jotted.entry) == comparable(said(case))


@pytest.mark.parametrize("case", DOUBTFUL, ids=lambda case: case.line)
def test_doubtful_line_is_asked_about_and_never_guessed(case):
    """Protects the book from misreadings: what is asked about is in the note and nowhere else."""
    jotted = read_jotting(case.line, context=context(units=case.units))
    assert len(jotted.questions) == len(case.asks)
    for asked, part in zip(jotted.questions, case.asks, strict=True):
        assert part in asked
    assert plain(jotted.entry) == comparable(said(case))


def plain(entry: Entry) -> dict[str, object]:
    """The fields that say something."""
    return {
        name: list(value) if isinstance(value, Corners) else value
        for name, value in vars(entry).items()
        if value not in (None, "")
    }


def test_table_holds_what_was_promised():
    """Protects the table itself: sixty lines or more, none twice."""
    lines = [(case.line, case.units.name) for case in (*CLEAR, *DOUBTFUL)]
    assert len(set(lines)) == len(lines) >= 60


DOC = Path(__file__).resolve().parents[2] / "docs" / "logbook-line.md"
EXAMPLES = [
    line
    for block in re.findall(r"```text\n(.*?)```", DOC.read_text(encoding="utf-8"), re.DOTALL)
    for line in block.splitlines()
]
ASKED = re.findall(
    r"^\| `([^`]+)`(?: \(US units\))? \|",
    DOC.read_text(encoding="utf-8").partition("## What is asked about")[2],
    re.MULTILINE,
)


@pytest.mark.parametrize("line", EXAMPLES)
def test_examples_of_the_manual_are_understood(line):
    """Protects the manual: what it shows is read without a question."""
    jotted = read_jotting(line, context=context())
    assert jotted.questions == ()
    assert len(jotted.understood) > 1


@pytest.mark.parametrize("line", ASKED)
def test_doubts_of_the_manual_are_asked_about(line):
    """Protects the manual: what it calls doubtful raises a question."""
    assert read_jotting(line, context=context()).questions


def test_manual_has_examples_of_both():
    """Protects the two tests above from a manual whose examples they no longer find."""
    assert len(EXAMPLES) >= 15
    assert len(ASKED) >= 10


def test_understood_says_units_and_wheels():
    """Protects the racer's check: the reply names units, wheels, the day and what was assumed."""
    jotted = read_jotting("Q1 hot 31.5 31.0 29.8 30.2 track 41C air 27", context=context())
    assert jotted.understood == (
        "day: Sat 2027-06-12 (the session's)",
        "session: Qualifying (Sat 11:30)",
        "hot: 31.5 31.0 29.8 30.2 psi (front left, front right, rear left, rear right)",
        "track: 41 °C",
        "air: 27 °C (in the unit of the line)",
    )


def test_session_still_to_come_is_asked_about():
    """Protects against the wrong session: nobody measured hot tires in one that has not begun."""
    morning = context(as_of=datetime(2027, 6, 13, 14, 0, tzinfo=UTC))
    jotted = read_jotting("Race 2 hot 31/30", context=morning)
    assert jotted.entry.session == ""
    assert "still to come" in jotted.questions[0]
    assert read_jotting("Race 2 cold 24/23", context=morning).questions == ()


@pytest.mark.parametrize(("clock", "hours"), [("01:30-05:00", 6.5), ("01:30-06:00", 7.5)])
def test_clock_that_shows_a_time_twice_asks_for_the_offset(clock, hours):
    """Protects the night in which clocks go back (America/Chicago, 7 November 2027, IANA)."""
    night = JotContext(
        as_of=datetime(2027, 11, 7, 20, 0, tzinfo=UTC), zone=ZoneInfo("America/Chicago")
    )
    assert "happens twice" in read_jotting("01:30 air 50", context=night).questions[0]
    at = read_jotting(f"{clock} air 50", context=night).entry.at
    assert at == datetime(2027, 11, 7, int(hours), 30, tzinfo=UTC)


def test_line_without_event_or_garage_takes_names_as_written():
    """Protects the first weekend, before any file is written."""
    alone = JotContext(as_of=datetime(2027, 6, 13, 22, 0, tzinfo=UTC), zone=UTC, units=METRIC)
    jotted = read_jotting("Q2 on wets, set: Old wets", context=alone)
    assert jotted.questions == ()
    assert jotted.entry == Entry(
        day=date(2027, 6, 13), session="Q2", ran_on="wet", tire_set="Old wets"
    )


def test_name_that_returns_on_both_days_is_told_apart_by_the_day():
    """Protects double weekends, where each day has its race."""
    races = (
        session("Race", "race", date(2027, 6, 12), 14, 0),
        session("Race", "race", SUNDAY, 14, 0),
    )
    double = context(sessions=races)
    assert "Sat 14:00" in read_jotting("race dry", context=double).questions[0]
    assert read_jotting("Sat race dry", context=double).entry.day == date(2027, 6, 12)


@pytest.mark.parametrize("line", ["", "  \n ", "...", "x" * (MOST_CHARACTERS + 1)])
def test_nothing_or_too_much_is_an_error_with_its_mend(line):
    """Protects the book from empty entries, and says in one line what to write."""
    with pytest.raises(TrackdayError, match=r"log add: .*write"):
        read_jotting(line, context=context())
