"""Decisions as the page shows them: which is next, and the order of the others."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from itertools import groupby

from markupsafe import Markup

from trackday.advice.decision import Decision
from trackday.report.charts.urgency_mark import urgency_mark
from trackday.report.text_decisions import NAMES, chance_of, merged, when_text
from trackday.units import UnitSystem
from trackday.wording import clock, percent

URGENCY_WORDS = {
    "act": "Do it",
    "watch": "Look again",
    "unknown": "Not known",
    "nothing": "Nothing to do",
}


@dataclass(frozen=True)
class Shown:
    """One decision in words; `chance` (of `chance_of`) and times are "" where there are none.

    `topic` is its key, `name` the word for it that the text reports use too.
    """

    mark: Markup
    word: str
    topic: str
    name: str
    about: str
    do: str
    chance: str
    chance_of: str
    by: str
    clock: str
    why: tuple[str, ...]
    caution: str
    sheet: int = 0
    """Which printed sheet has it, 0 for none."""


@dataclass(frozen=True)
class Agenda:
    """The decisions but those with nothing to do, by day, then those without a time, the rest."""

    days: tuple[tuple[str, tuple[Shown, ...]], ...]
    timeless: tuple[Shown, ...]
    nothing: tuple[Shown, ...]

    @property
    def groups(self) -> tuple[tuple[str, tuple[Shown, ...]], ...]:
        """What asks for something, under each day's name and "At any time"."""
        return (*self.days, *((("At any time", self.timeless),) if self.timeless else ()))

    @property
    def quiet(self) -> tuple[str, ...]:
        """Names of the topics that ask for nothing on any day."""
        asking = {shown.topic for _, some in self.groups for shown in some}
        return tuple(dict.fromkeys(s.name for s in self.nothing if s.topic not in asking))


def show(
    decision: Decision, *, units: UnitSystem, zone: tzinfo, as_of: datetime | None = None
) -> Shown:
    """Word one decision in the reader's units and the venue's time; `as_of` dates what is far."""
    by = decision.by
    return Shown(
        mark=urgency_mark(decision.urgency),
        word=URGENCY_WORDS[decision.urgency],
        topic=decision.topic,
        name=NAMES[decision.topic],
        about=decision.about,
        do=decision.do.render(units, zone),
        chance="" if decision.chance is None else percent(decision.chance),
        chance_of=chance_of(decision),
        by=when_text(by, zone, as_of=as_of),
        clock="" if by is None else clock(by, zone),
        why=tuple(why.render(units, zone) for why in decision.why),
        caution="" if decision.caution is None else decision.caution.render(units, zone),
    )


def next_decision(decisions: Sequence[Decision], *, as_of: datetime) -> Decision:
    """Pick what is due next: the earliest time to come, else what is to do at any time.

    `decisions` are in the order of need. Raises ValueError without any.
    """
    if not decisions:
        raise ValueError("a plan has decisions")
    open_ones = [decision for decision in decisions if decision.urgency != "nothing"]
    to_come = [d for d in open_ones if d.by is not None and d.by >= as_of]
    timeless = [d for d in open_ones if d.by is None]
    return next(iter([*to_come, *timeless, *open_ones, *decisions]))


def agenda(
    decisions: Iterable[Decision], *, units: UnitSystem, zone: tzinfo, labels: Sequence[str] = ()
) -> Agenda:
    """Sort the decisions for reading: by day and time, then those without a time.

    Of these, what says the same of several sessions or days is one; `labels` are the sessions left.
    """
    kept = list(decisions)
    timed = [d for d in kept if d.urgency != "nothing" and d.by is not None]
    timed.sort(key=_when)

    def shown(some: Iterable[Decision]) -> tuple[Shown, ...]:
        return tuple(show(decision, units=units, zone=zone) for decision in some)

    def day(decision: Decision) -> str:
        local = _when(decision).astimezone(zone)
        return f"{local:%A} {local.day} {local:%B}"

    return Agenda(
        days=tuple((name, shown(some)) for name, some in groupby(timed, key=day)),
        timeless=shown(
            merged((d for d in kept if d.urgency != "nothing" and d.by is None), labels=labels)
        ),
        nothing=shown(d for d in kept if d.urgency == "nothing"),
    )


def for_paper(agenda: Agenda, first: int, second: int) -> Agenda:
    """Mark the first decisions of an agenda as those of the first sheet, the next as the second's.

    What the paper has no room for is on neither.
    """
    candidates = paper_candidates(agenda)
    sheets = dict.fromkeys(map(id, candidates[:first]), 1)
    sheets |= dict.fromkeys(map(id, candidates[first : first + second]), 2)

    def marked(some: tuple[Shown, ...]) -> tuple[Shown, ...]:
        return tuple(replace(shown, sheet=sheets.get(id(shown), 0)) for shown in some)

    days = tuple((name, marked(some)) for name, some in agenda.days)
    return replace(agenda, days=days, timeless=marked(agenda.timeless))


def paper_candidates(agenda: Agenda) -> list[Shown]:
    """Give what the sheet may list: pressures have a table of their own there."""
    return [s for _, some in agenda.groups for s in some if s.topic != "pressure"]


def _when(decision: Decision) -> datetime:
    if decision.by is None:
        raise ValueError("a decision without a time has no place among those with one")
    return decision.by
