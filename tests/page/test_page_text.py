"""The page as text: what is on it, that it says what the other reports say, that it is closed."""

import base64
import hashlib
import re
import time
from dataclasses import replace
from datetime import timedelta
from html.parser import HTMLParser

import pytest
from page.page_samples import (
    LONG,
    MARKUP,
    blind_plan,
    demo_plan,
    far_plan,
    hostile_plan,
    long_plan,
    made_plan,
)

from trackday.advice.decision import Decision
from trackday.morning import make_morning
from trackday.report import text_parts
from trackday.report.page.decisions import agenda, for_paper, next_decision, paper_candidates
from trackday.report.page.loading import event_key
from trackday.report.page.page import render_page
from trackday.report.page.paper import (
    MOST_DECISIONS,
    PAPER_MM,
    decisions_overleaf,
    plan_sheet,
)
from trackday.units import METRIC, US
from trackday.weather.sources import Observation
from trackday.wording import Say

LARGEST_BYTES = 300_000
SLOWEST_S = 0.25
VOID = {"meta", "link", "input", "br", "img", "hr"}


class Reader(HTMLParser):
    """Reads a page: its elements with attributes, its text, and whether every tag is closed."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.inside: dict[str, list[str]] = {}
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.inside.setdefault(self.open[-1] if self.open else "", []).append(data)
        if not {"style", "script"} & set(self.open):
            self.words.append(data)

    @property
    def text(self) -> str:
        """All words that a person reads, with single spaces."""
        return " ".join(" ".join(self.words).split())


def read(plan, units=US, **how) -> Reader:
    return Reader(render_page(plan, units=units, **how))


def test_the_answer_is_on_top_with_its_odds_and_reasons():
    """Protects the first thing that is read at six in the morning."""
    plan = demo_plan()
    morning = make_morning(plan)
    text = read(plan, morning=morning).text
    call = morning.call.decision
    do = call.do.render(US, plan.venue.zone)
    assert text.index(do) < text.index("To do, in order of time")
    for why in call.why:
        assert text.index(do) < text.index(why.render(US, plan.venue.zone))


@pytest.mark.parametrize("units", [US, METRIC], ids=lambda units: units.name)
def test_the_page_says_what_the_other_reports_say(units):
    """Protects from a second wording: decisions, cells, sources and cautions are the same texts."""
    plan = demo_plan()
    text, zone = read(plan, units).text, plan.venue.zone
    for decision in plan.decisions:
        assert decision.do.render(units, zone) in text
    for planned in plan.sessions:
        assert text_parts.rain_cell(planned.outlook.rain) in text
        assert text_parts.track_cell(planned.outlook.track, units) in text
        assert units.display("pressure").digits(planned.pressure.front.cold_kpa) in text
    for item in plan.load.items:
        assert item.name in text
    for source in plan.sources:
        assert text_parts.source_line(source) in text
    for said in (*plan.attribution, *(caution.render(units, zone) for caution in plan.cautions)):
        assert said in text


def test_a_box_to_tick_for_every_thing_to_load():
    """Protects the load list: each item once, with a key of its own that a new plan keeps."""
    plan = demo_plan()
    boxes = [a for tag, a in read(plan).elements if tag == "input"]
    assert len(boxes) == len(plan.load.items)
    assert len({box["data-key"] for box in boxes}) == len(boxes)
    later = replace(plan, as_of=plan.as_of + timedelta(hours=3))
    assert [a for tag, a in read(later).elements if tag == "input"] == boxes
    assert event_key(later) == event_key(plan)
    assert event_key(replace(plan, event_name="Other")) != event_key(plan)


def test_the_document_is_closed_and_ids_are_unique():
    """Protects every browser: each tag closed in order, each id once, each reference met."""
    for plan in (demo_plan(), blind_plan(), hostile_plan()):
        found = read(plan)
        assert found.open == []
        ids = [a["id"] for _, a in found.elements if "id" in a]
        assert len(set(ids)) == len(ids)
        wanted = {
            name
            for _, a in found.elements
            for key in ("aria-labelledby", "href")
            for name in (a.get(key) or "").replace("#", "").split()
            if a.get(key) != "data:,"
        }
        assert wanted <= set(ids)


def test_nothing_points_outside():
    """Protects the paddock without signal: no address but the empty icon and the page's parts."""
    found = read(demo_plan())
    for tag, attributes in found.elements:
        assert not {"src", "srcset", "style", "action"} & set(attributes), tag
        assert (attributes.get("href") or "#").startswith(("#", "data:,"))
        assert not [name for name in attributes if name.startswith("on")]
    style = "".join(found.inside["style"])
    assert "@import" not in style
    assert set(re.findall(r"url\((.)", style)) == {"#"}


def test_the_policy_names_the_style_and_the_script_by_their_hashes():
    """Protects the policy: SHA-256 of the exact text between the tags (W3C CSP level 3, 2.3.1)."""
    found = read(demo_plan())
    policy = next(
        a["content"]
        for tag, a in found.elements
        if a.get("http-equiv") == "Content-Security-Policy"
    )
    for tag in ("style", "script"):
        digest = hashlib.sha256("".join(found.inside[tag]).encode()).digest()
        assert f"{tag}-src 'sha256-{base64.b64encode(digest).decode()}'" in policy
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert "http" not in policy


def test_markup_stays_text():
    """Protects from injection: venue, sessions, alerts and sources add no element of their own."""
    page = render_page(hostile_plan(), units=US)
    found = Reader(page)
    assert "img" not in {tag for tag, _ in found.elements}
    assert len([tag for tag, _ in found.elements if tag == "script"]) == 1
    assert MARKUP in found.text
    assert LONG[-2000:] in found.text
    assert "\u202e" not in page
    assert "\u200f" in page
    page.encode("utf-8")


def test_what_is_unknown_is_said():
    """Protects from silence: unknown rain, wind and odds are named, troubles stand on top."""
    plan = blind_plan()
    found = read(plan)
    text = found.text
    for source in plan.sources[-2:]:
        assert text.index(text_parts.source_line(source)) < text.index("To do, in order of time")
    classes = [a.get("class") for tag, a in found.elements if tag == "rect"]
    assert "unknown" in classes
    assert "rain" not in classes
    assert text.count("unknown") > 20


def test_a_plan_without_pictures_says_so():
    """Protects a plan that was made without the days hour by hour."""
    assert "No pictures" in read(replace(demo_plan(), courses=())).text


def test_changes_and_other_years_are_told():
    """Protects the second look: what is different, and what no forecast reaches."""
    assert "Sat Race: dry to WET" in read(demo_plan(), changes=["Sat Race: dry to WET"]).text
    from plans import climatology

    beyond = made_plan(ends_after_h=1.0, climatology=climatology())
    text = read(beyond).text
    assert "Beyond the forecast" in text
    assert "by other years" in text


def test_a_weekend_is_small_and_quick():
    """Protects a phone: less than 300 kB, written in under 0.25 s on top of the plan."""
    plan = demo_plan()
    render_page(plan, units=US)
    started = time.perf_counter()
    page = render_page(plan, units=US)
    assert time.perf_counter() - started < SLOWEST_S
    assert len(page.encode()) < LARGEST_BYTES
    assert len(render_page(long_plan(), units=US).encode()) < LARGEST_BYTES


def decision(urgency, by_hours=None, topic="canopy"):
    by = None if by_hours is None else demo_plan().as_of + timedelta(hours=by_hours)
    return Decision(topic, urgency, Say("Do."), (), by=by)


def test_what_is_next():
    """Protects the top of the page: what is past or needs nothing never stands there first."""
    as_of = demo_plan().as_of
    past, soon, late = decision("act", -1.0), decision("watch", 1.0), decision("act", 2.0)
    anytime, nothing = decision("act"), decision("nothing", 0.5)
    assert next_decision([nothing, past, anytime, soon, late], as_of=as_of) is soon
    assert next_decision([nothing, past, anytime], as_of=as_of) is anytime
    assert next_decision([nothing, past], as_of=as_of) is past
    assert next_decision([nothing], as_of=as_of) is nothing
    with pytest.raises(ValueError, match="has decisions"):
        next_decision([], as_of=as_of)


def test_decisions_give_way_to_pictures_and_small_pictures_to_decisions():
    """Protects the printed sheet's budget: more sessions never make it hold more."""
    sheets = [
        plan_sheet(answer=["Wait."], flags=[], sessions=count, decisions=["Hang it."] * 20, days=2)
        for count in range(1, 60)
    ]
    heights = [sheet.figure_mm if sheet.figures else 0 for sheet in sheets]
    assert heights[0] > 0
    assert heights[-1] == 0
    assert all(sheet.decisions <= MOST_DECISIONS for sheet in sheets)
    assert PAPER_MM < 279.4 - 2 * 9.0  # Letter (ANSI A: 8.5 by 11 inches) without its margins


def test_the_page_doubts_a_tire_where_the_text_does():
    """Protects from a bold WET on the wall for what the text calls "WET?"."""
    plan = demo_plan()
    doubted = [p for p in plan.sessions if text_parts.tire_cell(p).endswith("?")]
    assert doubted
    assert read(plan).text.count("WET?") >= 2 * len(doubted)  # its card and its row on paper
    assert "WET as it looks now" in read(plan).text


def test_far_ahead_the_page_says_that_it_is_too_early():
    """Protects the month before: no tire, no states of the track, said once and on top."""
    found = read(far_plan())
    assert "Too early for tires: more than 9 days ahead" in found.text
    assert "Every session" in found.text
    assert "Track: " not in found.text
    assert not {"WET", "WET?", "UNKNOWN"} & set(found.text.split())


def test_what_asks_for_something_is_not_called_nothing_to_do():
    """Protects from "Nothing to do about: tires" under a row that says to look again at them."""
    act, quiet = decision("act", topic="tires"), decision("nothing", topic="tires")
    fog = decision("nothing", topic="fog")
    zone = demo_plan().venue.zone
    assert agenda([act, quiet, fog], units=US, zone=zone).quiet == ("fog",)
    assert agenda([quiet, fog], units=US, zone=zone).quiet == ("tires", "fog")
    assert agenda([act, quiet], units=US, zone=zone).quiet == ()


def test_what_is_seen_days_before_is_no_reason_to_load():
    """Protects the board: a station's wind now says nothing of a weekend three days off."""
    seen = Observation("KTMH", demo_plan().as_of, *[1.0] * 7, raining=False, text="KTMH")
    plan = replace(demo_plan(), observation=seen)
    assert "now (KTMH" in read(plan).text
    assert "now (KTMH" not in read(replace(plan, as_of=plan.as_of - timedelta(days=3))).text


def test_the_load_lists_page_opens_at_the_list():
    """Protects a packing evening from a scroll of ten screens."""
    plan = demo_plan()
    bodies = [dict(a) for tag, a in read(plan, opens_at="load").elements if tag == "body"]
    assert bodies == [{"data-opens-at": "load"}]
    assert [a for tag, a in read(plan).elements if tag == "body"] == [{}]


def test_every_decision_is_on_one_of_the_sheets():
    """Protects Sunday on the wall: what the first sheet has no room for stands under the list."""
    zone = demo_plan().venue.zone
    made = agenda([decision("act", hours) for hours in range(20)], units=US, zone=zone)
    shown = [s.sheet for s in paper_candidates(for_paper(made, 7, 13))]
    assert shown == [1] * 7 + [2] * 13
    shown = [s.sheet for s in paper_candidates(for_paper(made, 7, 2))]
    assert shown == [1] * 7 + [2] * 2 + [0] * 11


def test_a_longer_load_list_leaves_less_room_for_decisions():
    """Protects the second sheet: decisions never push the load list off it."""
    texts = ["Hang 63 lb on each leg by 06:30."] * 20
    counts = [
        decisions_overleaf(
            texts, head=["Load Dry A."], rows=["Rope 2"] * rows, groups=4, density="roomy"
        )
        for rows in range(1, 90)
    ]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] == len(texts)
    assert counts[-1] == 0
