"""The written weekends' reports: they fit, they repeat nothing, and text and JSON agree."""

from __future__ import annotations

import json
import re
from functools import cache
from io import StringIO
from itertools import pairwise

import pytest
from crew_plans import STORIES, seen
from rich.console import Console

from trackday.advice.assumptions import SURE_CHANCE
from trackday.changes import answer_of, changes_since
from trackday.demo import EVENT, SATURDAY, WEEK_BEFORE, plan_look, scenario
from trackday.morning import make_morning
from trackday.report.console import open_console
from trackday.report.data import plan_json
from trackday.report.text_load import print_load
from trackday.report.text_morning import print_morning
from trackday.report.text_plan import print_plan
from trackday.weekend.reading import load_weekend

UNITS = ["us", "metric"]
SCREEN = (80, 23)
"""Columns, and lines that leave the prompt its own, of the smallest usual terminal: 80 × 24."""

PSI_KPA = 6.894757
"""NIST SP 811, table of factors: kPa a psi."""

LEAST_WORDS = 5
"""Shorter parts ("wet track 60 %") may come again in a table's foot or beside another session."""

WEIGHED = r"(?:%|°[FC]|psi|kPa|mph|km/h|ft|lb|kg|mm|km|mi|h|min|L)"


def printed(show, *args, width=80):
    """What a report prints; wide, every sentence stands in one line."""
    out = StringIO()
    console = (
        open_console(out)
        if width == SCREEN[0]
        else Console(file=out, width=width, markup=False, emoji=False, highlight=False)
    )
    show(console, *args)
    return out.getvalue()


@cache
def reports(name, units, *, width=80):
    """Each report of a weekend by its name."""
    got = seen(name)
    return {
        "morning": printed(print_morning, got.morning, units, width=width),
        "plan": printed(print_plan, got.plan, units, width=width),
        "load": printed(print_load, got.plan, got.plan.load, units, width=width),
    }


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("name", STORIES)
def test_a_morning_fits_on_one_screen(name, units):
    """Protects the phone-sized question from scrolling: 80 columns, 24 lines with the prompt."""
    rows = reports(name, units)["morning"].splitlines()
    assert len(rows) <= SCREEN[1], len(rows)
    assert max(map(len, rows)) <= SCREEN[0]


@pytest.fixture(scope="module")
def double():
    """The two-day weekend's Saturday morning, and what has changed since Monday."""
    with scenario() as folder:
        weekend = load_weekend(folder / "events" / EVENT)
        monday, saturday = (plan_look(weekend, look) for look in (WEEK_BEFORE, SATURDAY))
    morning = make_morning(saturday)
    return morning, changes_since([answer_of(monday)], answer_of(saturday, morning))


@pytest.mark.parametrize("units", UNITS)
def test_the_double_weekends_morning_fits_with_its_changes(double, units):
    """Protects the fullest morning: two days, what has changed since Monday, four things to do."""
    morning, changes = double
    out = StringIO()
    print_morning(open_console(out), morning, units, changes=changes)
    rows = out.getvalue().splitlines()
    assert len(rows) <= SCREEN[1], len(rows)
    assert max(map(len, rows)) <= SCREEN[0]


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("name", STORIES)
def test_no_line_ends_between_a_number_and_its_unit(name, units):
    """Protects the reading: "95" at the end of one line and "%" on the next is no number."""
    for report, text in reports(name, units).items():
        rows = [row.strip() for row in text.splitlines()]
        for row, following in pairwise(rows):
            torn = re.search(r"\d$", row) and re.match(WEIGHED + r"(?!\w)", following)
            assert not torn, (report, row, following)


@pytest.mark.parametrize("name", STORIES)
def test_a_time_in_front_is_not_said_again(name):
    """Protects the short line: "10:00  Take the canopy down", not "by 10:00" once more."""
    rows = [row for text in reports(name, "us", width=2000).values() for row in text.splitlines()]
    timed = [found for row in rows if (found := re.match(r"  (?:\w{3} )?(\d\d:\d\d)  (.*)", row))]
    assert not [found[0] for found in timed if f"by {found[1]}" in found[2]]


@pytest.mark.parametrize("name", STORIES)
def test_nothing_is_said_twice_in_one_report(name):
    """Protects the reader's time: no sentence or reason stands twice in a report.

    Printed wide, each paragraph is one line; tables (cells two spaces apart) are left out. Reasons
    begin with a small letter or a number, and are set apart by semicolons.
    """
    for report, text in reports(name, "us", width=2000).items():
        parts = [
            part.strip(" .-")
            for row in text.splitlines()
            if len(re.split(r"\s{2,}", row.strip())) < 4
            for sentence in re.split(r"\. |\s{2,}", row.strip())
            for part in (re.split("; ", sentence) if sentence[:1].islower() else [sentence])
        ]
        long = [part for part in parts if len(part.split()) >= LEAST_WORDS]
        twice = {part for part in long if long.count(part) > 1}
        assert not twice, report


def shown_share(text):
    """Least and most that a shown chance may stand for; steps of 5 % with "<5" and ">95"."""
    if text == "unknown":
        return None
    number = int(re.fullmatch(r"[<>]?(\d+) %", text)[1]) / 100
    if text.startswith("<"):
        return 0.0, 0.05
    if text.startswith(">"):
        return 0.95, 1.0
    return number - 0.0251, number + 0.0251


def holds(shown, value):
    span = shown_share(shown)
    return value is None if span is None else value is not None and span[0] <= value <= span[1]


def table_rows(text, heading):
    """Cells of the table under a heading, by the columns of its head."""
    rows = text[text.index(heading) :].splitlines()
    head = next(number for number, row in enumerate(rows) if row.startswith("  Session"))
    starts = [found.start() for found in re.finditer(r"\S+(?: \S+)*", rows[head])]
    ends = [*starts[1:], None]
    for row in rows[head + 1 :]:
        cells = [row[a:b].strip() for a, b in zip(starts, ends, strict=True)]
        if not re.match(r"[A-Z][a-z]{2} \d\d:\d\d", cells[1]):
            return
        yield cells


def number(text):
    return float(text.replace("−", "-"))


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("name", STORIES)
def test_the_sessions_table_says_what_the_json_says(name, units):
    """Protects against two answers: chances, times and temperatures of every session, converted."""
    data = json.loads(plan_json(seen(name).plan))["sessions"]
    rows = list(table_rows(reports(name, units)["plan"], "SESSIONS"))
    assert len(rows) == len(data)
    for (label, start, tire, wet, rain, thunder, track), each in zip(rows, data, strict=True):
        assert label == each["name"]
        assert start.endswith(each["start"][11:16])
        choice = tire.rstrip("?").lower()
        assert {"unknown": "undecided"}.get(choice, choice) == each["tire"]["choice"]
        right = each["tire"]["chances"].get(each["tire"]["choice"])
        assert tire.endswith("?") == (right is not None and right < SURE_CHANCE)
        state = each["track"]["state_chance"]
        is_known = state["unknown"] <= 0.5
        assert holds(wet, state["wet"] + state["standing"] if is_known else None)
        chance, *span = re.split(r" \(|\)", rain)
        assert holds(chance, each["rain"]["chance"])
        if span:
            for text, value in zip(span[0].split("–"), ("low", "high"), strict=True):
                assert abs(int(text) / 100 - each["rain"][value]) <= 0.0251
        assert holds(thunder, each["thunder"]["chance"])
        temps = each["track"]["temp_c"]
        if track == "unknown":
            assert temps is None or temps["p50"] is None
            continue
        span_c, unit = track.rsplit(" ", 1)
        for text, value in zip(re.split(r"–| to ", span_c), ("p10", "p90"), strict=True):
            shown_c = number(text) if unit == "°C" else (number(text) - 32.0) / 1.8
            assert shown_c == pytest.approx(temps[value], abs=0.51)


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("name", STORIES)
def test_the_pressures_table_says_what_the_json_says(name, units):
    """Protects the gauge: what to set there, changes and ranges of both axles, converted.

    A last digit of 0.1 psi, or 1 kPa, is what the table rounds to.
    """
    data = json.loads(plan_json(seen(name).plan))["sessions"]
    rows = list(table_rows(reports(name, units)["plan"], "COLD PRESSURES"))
    assert len(rows) == len(data)
    factor, step = (PSI_KPA, 0.1) if units == "us" else (1.0, 1.0)
    for (label, when, *cells), each in zip(rows, data, strict=True):
        assert label == each["name"]
        assert when.endswith(each["pressure"]["decision"]["by"][11:16])
        for (cold, change, span), axle in (
            (cells[:3], each["pressure"]["front"]),
            (cells[3:], each["pressure"]["rear"]),
        ):
            if cold == "unknown":
                assert axle["cold_kpa"] is None
                assert change == span == ""
                continue
            keys = ["cold_kpa", "offset_kpa", "low", "high"]
            if axle["at_gauge_kpa"] is not None:  # set elsewhere: no range, which is the venue's
                assert span == ""
                keys = ["at_gauge_kpa", "offset_kpa"]
            shown = [number(text) for text in (cold, change, *filter(None, span.split("–")))]
            for text, key in zip(shown, keys, strict=True):
                assert text * factor == pytest.approx(axle[key], abs=(step / 2 + 1e-6) * factor)


def test_the_tables_are_not_empty():
    """Protects the comparisons above from comparing nothing: 35 rows, some known, some not."""
    rows = [
        row for name in STORIES for row in table_rows(reports(name, "us")["plan"], "COLD PRESSURES")
    ]
    assert len(rows) == sum(len(seen(name).plan.sessions) for name in STORIES) >= 30
    assert 0 < sum(row[2] == "unknown" for row in rows) < len(rows) / 2
