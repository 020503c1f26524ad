"""The page itself: one HTML document, safe to open anywhere, with nothing to fetch."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from trackday.advice.decision import Decision
from trackday.morning import Morning
from trackday.plan import Plan
from trackday.report import text_parts
from trackday.report.charts.patterns import patterns
from trackday.report.charts.svg import plain
from trackday.report.page import same_words
from trackday.report.page.days import days
from trackday.report.page.decisions import (
    agenda,
    for_paper,
    next_decision,
    paper_candidates,
    show,
)
from trackday.report.page.loading import event_key, load_list
from trackday.report.page.paper import decisions_overleaf, plan_sheet
from trackday.report.page.sessions import at_gauge, cards, pressures
from trackday.units import UnitSystem

LONG_TEXT = 500
"""Characters from which a text of others is folded, so that it does not bury the rest
(assumption: some eight lines of a phone)."""


def render_page(
    plan: Plan,
    *,
    units: UnitSystem,
    morning: Morning | None = None,
    changes: Sequence[str] = (),
    opens_at: str = "",
) -> str:
    """Write a plan as one HTML document (UTF-8, less than 300 kB for a weekend).

    On top stands a `morning`'s call on rain tires while it asks for something, else the decision
    that is due next beside the pressures. `changes` are lines on what is different since the look
    before. The day's pictures need `plan.courses`; without them the page says that there are none.
    `opens_at` names the part that is shown when the page is opened, "load" or "" for its top.
    """
    zone = plan.venue.zone
    decision = _on_top(plan, morning)
    answer = show(decision, units=units, zone=zone, as_of=plan.as_of)
    labels = [p.session.label for p in plan.sessions if p.session.end > plan.as_of]
    everything = agenda(plan.decisions, units=units, zone=zone, labels=labels)
    top = _top(plan, units)
    candidates = paper_candidates(everything)
    flags = [*top["beyond"], *top["troubles"], *(lines[0][:LONG_TEXT] for lines in top["alerts"])]
    sheet = plan_sheet(
        answer=[answer.do, *answer.why, answer.caution, *changes],
        flags=[text for text in flags if len(text) <= LONG_TEXT],
        sessions=len(plan.sessions),
        decisions=[shown.do for shown in candidates],
        days=len(plan.courses),
    )
    load = load_list(plan.load, units=units, zone=zone)
    overleaf = decisions_overleaf(
        [shown.do for shown in candidates[sheet.decisions :]],
        head=[load.decision.do, *load.decision.why],
        rows=load.texts,
        groups=len(load.groups) + 1,
        density=load.density,
    )
    style, script = _packed("page.css"), _packed("page.js")
    return (
        _environment()
        .get_template("page.html.j2")
        .render(
            top,
            plan=plan,
            policy=content_policy(style=style, script=script),
            style=Markup(style),  # noqa: S704 (the package's own file)
            script=Markup(script),  # noqa: S704 (the package's own file)
            patterns=patterns(),
            changes=list(changes),
            opens_at=opens_at,
            too_early=any(planned.tire.too_early for planned in plan.sessions),
            answer=answer,
            sheet=sheet,
            agenda=for_paper(everything, sheet.decisions, overleaf),
            overleaf=overleaf,
            left_off=len(candidates) - sheet.decisions - overleaf,
            days=days(plan, units),
            take_along=plan.take_along.render(units, zone),
            cards=cards(plan, units),
            pressures=pressures(plan, units),
            pressure_unit=units.symbol("pressure"),
            at_gauge=at_gauge(plan),
            load=load,
            event_key=event_key(plan),
            cautions=[say.render(units, zone) for say in plan.cautions],
            sources=[(s.status, text_parts.source_line(s)) for s in plan.sources],
            learned=[say.render(units, zone) for say in plan.learned],
        )
    )


def _on_top(plan: Plan, morning: Morning | None) -> Decision:
    """Pick the answer for the next decision."""
    if morning is not None and morning.call.answer in ("yes", "wait", "unknown"):
        return morning.call.decision
    others = [d for d in plan.decisions if d.topic != "pressure"]
    following = next_decision(others, as_of=plan.as_of)
    if morning is not None and following.urgency != "act":
        return morning.call.decision
    return following


def _top(plan: Plan, units: UnitSystem) -> dict[str, Any]:
    """What stands above the answer: when this was planned, and what is wrong or official."""
    return {
        "when": f"{plan.as_of.astimezone(plan.venue.zone):%a %Y-%m-%d %H:%M}",
        "troubles": [
            text_parts.source_line(source)
            for source in plan.sources
            if source.status in ("stale", "failed")
        ],
        "beyond": same_words.beyond_forecast(plan, units),
        "alerts": same_words.alerts(plan),
        "seen": same_words.seen_now(plan, units),
    }


def content_policy(*, style: str, script: str) -> str:
    """Allow this style and this script and nothing else, from anywhere."""
    return (
        f"default-src 'none'; style-src '{_source_hash(style)}'; "
        f"script-src '{_source_hash(script)}'; img-src data:; base-uri 'none'; form-action 'none'"
    )


def _source_hash(text: str) -> str:
    """Hash of an inline element's text, as the policy names it (W3C CSP level 3, 2.3.1)."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


@cache
def _packed(name: str) -> str:
    """A file that is put into the page as it is."""
    return (files("trackday.report.page") / "templates" / name).read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("trackday.report.page", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_cleaned,
    )
    made.globals["LONG_TEXT"] = LONG_TEXT
    return made


def _cleaned(value: object) -> object:
    """Take out of every text what cannot be shown; markup of ours is left alone."""
    return plain(value) if isinstance(value, str) and not isinstance(value, Markup) else value
