"""What a plan said, in short, and what has changed since the plans before it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trackday.morning import Morning
from trackday.plan import Plan

MOVED = 0.2
"""Change of a chance of rain that is worth telling though no decision flips (assumption)."""

MOST_SHOWN = 3
"""How many earlier looks a line names."""

Answer = Mapping[str, Any]
"""A plan in short, as `answer_of` writes it; JSON. An earlier one may name its `command` too."""


@dataclass(frozen=True)
class Then:
    """What an earlier look said of one session; `rain` is NaN where it was unknown."""

    when: datetime
    rain: float
    tire: str


@dataclass(frozen=True)
class SessionChange:
    """One session through the looks: `earlier` from the oldest to the newest, then now."""

    label: str
    start: datetime
    earlier: tuple[Then, ...]
    now: Then

    @property
    def flipped(self) -> bool:
        """Whether the tire is another than at the look before."""
        return self.earlier[-1].tire != self.now.tire

    @property
    def moved(self) -> bool:
        """Whether the chance of rain has moved by much, or become known or unknown."""
        before, now = self.earlier[-1].rain, self.now.rain
        if math.isnan(before) or math.isnan(now):
            return math.isnan(before) != math.isnan(now)
        return abs(now - before) >= MOVED


@dataclass(frozen=True)
class Flip:
    """A decision about a day that is another than at the look before: "canopy", "rain tires"."""

    about: str
    day: str
    then: str
    now: str


@dataclass(frozen=True)
class Changes:
    """What has changed since `since`, the moment of the look before; None without one.

    `command` is the one that looked then, as "load"; "" where that is not known.
    """

    since: datetime | None
    sessions: tuple[SessionChange, ...]
    flips: tuple[Flip, ...]
    command: str = ""

    @property
    def any_flip(self) -> bool:
        """Whether a decision is another than at the look before."""
        return bool(self.flips) or any(session.flipped for session in self.sessions)

    @property
    def worth_telling(self) -> bool:
        """Whether to wake somebody: a first look, a flip, or a chance that moved."""
        return self.since is None or self.any_flip or any(each.moved for each in self.sessions)


def answer_of(plan: Plan, morning: Morning | None = None) -> dict[str, Any]:
    """Put a plan in short: what it says of each session and day, as plain JSON in SI."""
    return {
        "as_of": plan.as_of.isoformat(),
        "basis": plan.basis,
        "sessions": [
            {
                "label": planned.session.label,
                "start": planned.session.start.isoformat(),
                "end": planned.session.end.isoformat(),
                "rain": _known(planned.outlook.rain.chance),
                "usual": _known(planned.outlook.rain.usual),
                "basis": planned.outlook.rain.basis,
                "wet_track": _known(
                    planned.outlook.track.state_chance["wet"]
                    + planned.outlook.track.state_chance["standing"]
                ),
                "tire": planned.tire.choice,
                "track_c": [
                    _known(getattr(planned.outlook.track.temp_c, level))
                    for level in ("p10", "p50", "p90")
                ],
            }
            for planned in plan.sessions
        ],
        "canopy": [{"day": day.day.isoformat(), "action": day.action} for day in plan.canopy or ()],
        "rain_tires": None
        if morning is None
        else {"day": morning.day.isoformat(), "answer": morning.call.answer},
    }


def changes_since(earlier: Sequence[Answer], now: Answer) -> Changes:
    """Compare an answer with earlier ones of the same event, newest first.

    Sessions are told apart by their label; one that is new has no history and is left out.
    """
    before = [answer for answer in earlier if _moment(answer["as_of"]) < _moment(now["as_of"])]
    if not before:
        return Changes(None, (), ())
    history = list(reversed(_one_a_day(before)[:MOST_SHOWN]))
    found = (_session_change(history, session, now) for session in now["sessions"])
    return Changes(
        since=_moment(before[0]["as_of"]),
        sessions=tuple(change for change in found if change is not None),
        flips=(*_canopy_flips(before[0], now), *_call_flips(before, now)),
        command=before[0].get("command", ""),
    )


def _one_a_day(answers: Sequence[Answer]) -> list[Answer]:
    """Keep the newest of each UTC day, and so always the newest of all."""
    return list({_moment(a["as_of"]).date(): a for a in reversed(answers)}.values())[::-1]


def _session_change(
    history: Sequence[Answer], session: Mapping[str, Any], now: Answer
) -> SessionChange | None:
    earlier = tuple(
        _then(answer, each)
        for answer in history
        for each in answer["sessions"]
        if each["label"] == session["label"]
    )
    if not earlier:
        return None
    return SessionChange(session["label"], _moment(session["start"]), earlier, _then(now, session))


def _then(answer: Answer, session: Mapping[str, Any]) -> Then:
    rain = session["rain"]
    return Then(_moment(answer["as_of"]), math.nan if rain is None else rain, session["tire"])


def _canopy_flips(before: Answer, now: Answer) -> list[Flip]:
    actions = {day["day"]: day["action"] for day in before["canopy"]}
    return [
        Flip("canopy", day["day"], actions[day["day"]], day["action"])
        for day in now["canopy"]
        if actions.get(day["day"], day["action"]) != day["action"]
    ]


def _call_flips(before: Sequence[Answer], now: Answer) -> list[Flip]:
    """Compare the call on rain tires with the last one that was made for the same day."""
    call = now["rain_tires"]
    if call is None:
        return []
    made = (a["rain_tires"] for a in before if a["rain_tires"] is not None)
    last = next((each for each in made if each["day"] == call["day"]), None)
    if last is None or last["answer"] == call["answer"]:
        return []
    return [Flip("rain tires", call["day"], last["answer"], call["answer"])]


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)
