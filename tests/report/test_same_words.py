"""One place for the words: page, terminal, JSON and calendar say the same."""

from __future__ import annotations

import html
import io
import json
import re

import pytest
from icalendar import Calendar

from trackday.advice.decision import Decision
from trackday.demo.stories import find_story, plan_story
from trackday.report.calendar import plan_calendar
from trackday.report.console import open_console
from trackday.report.data import plan_json
from trackday.report.page.page import render_page
from trackday.report.text_decisions import to_do
from trackday.report.text_plan import print_plan
from trackday.units import METRIC
from trackday.wording import clock


def squeezed(text: str) -> str:
    """One line of a text, without what says the time that stands in front of it in a terminal."""
    return re.sub(r"\s+", " ", re.sub(r"(,? start|,)? by \d\d:\d\d(?=[ .,;:])", "", text))


@pytest.fixture(scope="module", params=["thunder-afternoon", "gale", "everything-unknown"])
def plan(request):
    """A written weekend's plan, with its pictures."""
    return plan_story(find_story(request.param), with_courses=True)


@pytest.fixture(scope="module")
def decisions(plan) -> list[Decision]:
    """What asks for something and is worded once a decision."""
    return [d for d in to_do(plan.decisions, as_of=plan.as_of) if d.topic != "engine"]


def said(decision, plan):
    return decision.do.render(METRIC, plan.venue.zone)


def test_the_terminal_says_what_the_decisions_say(plan, decisions):
    """Protects the reader of the terminal from other words than the page's."""
    out = io.StringIO()
    print_plan(open_console(out), plan, "metric")
    shown = squeezed(out.getvalue())
    for decision in decisions:
        words = squeezed(said(decision, plan))
        assert words[1:] in shown, words


def test_the_page_says_what_the_decisions_say(plan, decisions):
    """Protects the reader of the page."""
    text = html.unescape(re.sub(r"<[^>]+>", " ", render_page(plan, units=METRIC)))
    shown = re.sub(r"\s+", " ", text)
    for decision in decisions:
        assert said(decision, plan) in shown


def test_the_json_says_what_the_decisions_say(plan):
    """Protects programs: every decision, in the same order, in the same words."""
    data = json.loads(plan_json(plan))
    assert [each["do"] for each in data["decisions"]] == [
        said(decision, plan) for decision in plan.decisions
    ]


def test_the_calendar_says_what_the_decisions_say(plan, decisions):
    """Protects alarms: a decision with a time is an entry that begins or ends then."""
    entries = Calendar.from_ical(plan_calendar(plan, units=METRIC)).walk("VEVENT")
    shown = {
        (clock(entry[end].dt, plan.venue.zone), squeezed(str(entry["SUMMARY"])))
        for entry in entries
        for end in ("DTSTART", "DTEND")
        if end in entry
    }
    for decision in decisions:
        if decision.by is not None and decision.by > plan.as_of and decision.topic == "canopy":
            when, words = clock(decision.by, plan.venue.zone), squeezed(said(decision, plan))
            found = [text for at, text in shown if at == when and words.rstrip(".") in text]
            assert found, (when, words, sorted(shown))
