"""The morning's question: rain tires, yes or no, and until when can one wait."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from trackday.advice.assumptions import SURE_CHANCE, WATCH_CHANCE
from trackday.advice.decision import MOST_REASONS, Decision
from trackday.advice.tire_words import TOO_EARLY, tires_right
from trackday.advice.tires import TireAdvice, wet_chance
from trackday.outlook.session import SessionOutlook
from trackday.weekend.sessions import Session
from trackday.wording import Quantity, Say, Value

Answer = Literal["yes", "no", "wait", "unknown", "done"]
SessionCall = tuple[SessionOutlook, TireAdvice]


@dataclass(frozen=True)
class RainTireCall:
    """Yes: wet (or cut) tires for `session`, started by `by`. Wait: look again before `by`.

    No: nothing today asks for them. Unknown: no weather to decide on. Done: no session is left.
    `decision` says the same as a decision of its own; its chance for "no" is that of the session
    in which dry tires are the least sure, so that the day's is that at the most.
    """

    answer: Answer
    session: Session | None
    by: datetime | None
    headline: Say
    reasons: tuple[Say, ...]
    decision: Decision


def call_rain_tires(calls: Sequence[SessionCall], *, as_of: datetime) -> RainTireCall:
    """Decide for the sessions of one day that have not started yet."""
    ahead = [call for call in calls if call[0].session.start > as_of]
    if not ahead:
        return _done()
    call = next((call for call in ahead if _needs_a_look(call)), None)
    if call is None:
        return _stay_dry(ahead)
    outlook, tire = call
    if tire.choice == "undecided":
        # Undecided and still something to do: what there is, is not safe.
        return _unknown(outlook, tire, as_of, none_safe=tire.decision.urgency == "act")
    caution = _both(_no_change_between(calls, call, as_of=as_of), tire.decision.caution)
    if _is_settled(tire, first=call is ahead[0]):
        return _mount(outlook, tire, as_of, caution)
    return _wait(outlook, tire, as_of, caution)


def refuse_rain_tires(
    calls: Sequence[SessionCall], reason: Say, *, as_of: datetime
) -> RainTireCall:
    """Decline to decide for the sessions of one day, whatever their outlooks say, for a reason."""
    ahead = [call for call in calls if call[0].session.start > as_of]
    if not ahead:
        return _done()
    call = _unknown(*ahead[0], as_of)
    return replace(call, reasons=(reason,), decision=replace(call.decision, why=(reason,)))


def _wet(outlook: SessionOutlook) -> float:
    return wet_chance(outlook.track.state_chance)


def _is_settled(tire: TireAdvice, *, first: bool) -> bool:
    """Whether rain tires go on now: they are all but sure, or the next session brooks no delay.

    The next session waits too where a dry spell before its own deadline would flip the choice. What
    has to be cut is settled, since cutting starts long before that deadline.
    """
    if tire.choice == "dry":
        return False
    if _right_chance(tire) >= SURE_CHANCE:
        return True
    to_cut = tire.choice == "grooved" and tire.start_grooving_by is not None
    return first and (tire.flip is None or to_cut)


def _right_chance(tire: TireAdvice) -> float:
    """Chance that the chosen tire turns out right, NaN where none was chosen."""
    return math.nan if tire.choice == "undecided" else tire.chances[tire.choice]


def _both(first: Say | None, second: Say | None) -> Say | None:
    if first is None or second is None:
        return first or second
    return Say(f"{first.template} {second.template}", {**first.values, **second.values})


def _needs_a_look(call: SessionCall) -> bool:
    outlook, tire = call
    return tire.choice != "dry" or not _wet(outlook) < WATCH_CHANCE


def _no_change_between(
    calls: Sequence[SessionCall], call: SessionCall, *, as_of: datetime
) -> Say | None:
    """Warn where a session before this one ends after the change would have to start."""
    start, by = call[0].session.start, call[1].decide_by
    between = [s.session for s, _ in calls if by < s.session.end and s.session.start < start]
    if not between or by <= as_of:
        return None
    return Say(
        "No time to change after {before}: what is on the car at {by} stays on for both.",
        {"before": between[-1].label, "by": by},
    )


def _mount(
    outlook: SessionOutlook, tire: TireAdvice, as_of: datetime, caution: Say | None
) -> RainTireCall:
    """Other than dry tires for this session; a session before it still runs on dry ones."""
    cutting = tire.choice == "grooved" and tire.start_grooving_by is not None
    by = tire.start_grooving_by if cutting and tire.start_grooving_by else tire.decide_by
    what = "wets on for {session}"
    if tire.choice == "grooved":
        what = "cut the dry set for {session}" if cutting else "the cut set on for {session}"
    when = "start by {by}" if by > as_of else "start now, it is late"
    headline = Say(f"Rain tires: YES, {what}: {when}.", _values(outlook, by))
    reasons = tire.reasons if cutting else (tire.reasons[0], tire.change, *tire.reasons[1:])
    return RainTireCall(
        "yes",
        outlook.session,
        by,
        headline,
        reasons,
        Decision(
            "tires",
            "act",
            headline,
            reasons[:MOST_REASONS],
            chance=_right_chance(tire),
            by=by,
            until=outlook.session.end,
            caution=caution,
            about=outlook.session.label,
        ),
    )


def _wait(
    outlook: SessionOutlook, tire: TireAdvice, as_of: datetime, caution: Say | None
) -> RainTireCall:
    """The session may still go either way, and there is time to see which."""
    by = tire.decide_by
    template = (
        "Rain tires: WAIT until {by}, then look again for {session}."
        if by > as_of
        else "Rain tires: DECIDE NOW for {session}, the time to change has come."
    )
    headline = Say(template, _values(outlook, by))
    reasons = (
        Say(
            "wet track {chance}; {choice} tires as it looks now",
            {"chance": Quantity(_wet(outlook), "share"), "choice": tire.choice},
        ),
        tire.change,
        _watch(outlook, tire),
    )
    decision = Decision(
        "tires",
        "watch",
        headline,
        reasons,
        chance=_right_chance(tire),
        by=by,
        until=max(by, as_of),
        caution=caution,
        about=outlook.session.label,
        chance_of=tires_right(tire.choice),
    )
    return RainTireCall("wait", outlook.session, by, headline, reasons, decision)


def _watch(outlook: SessionOutlook, tire: TireAdvice) -> Say:
    """What to look at while waiting, and what it would mean."""
    if tire.flip is not None:
        return Say(f"watch the radar and the sky upwind: {tire.flip.template}", tire.flip.values)
    return Say(
        "watch the radar and the sky upwind: rain on the track before {start} means wets",
        {"start": outlook.session.start},
    )


def _stay_dry(ahead: Sequence[SessionCall]) -> RainTireCall:
    wettest = max((outlook for outlook, _ in ahead), key=_wet)
    reason = Say(
        "wet track {chance} in {session}, the wettest",
        {"chance": Quantity(_wet(wettest), "share"), "session": wettest.session.label},
    )
    headline = Say("Rain tires: NO, dry tires for every session left today.")
    decision = Decision(
        "tires",
        "nothing",
        headline,
        (reason,),
        chance=min(tire.chances["dry"] for _, tire in ahead),
        until=max(outlook.session.end for outlook, _ in ahead),
        caution=next((t.decision.caution for _, t in ahead if t.decision.caution), None),
    )
    return RainTireCall("no", None, None, headline, (reason,), decision)


def _unknown(
    outlook: SessionOutlook, tire: TireAdvice, as_of: datetime, *, none_safe: bool = False
) -> RainTireCall:
    """No weather to decide on, or no tire that is safe in the weather there is."""
    when = "by {by}" if tire.decide_by > as_of else "now"
    template = f"Rain tires: UNKNOWN for {{session}}. Look at the track and the sky {when}."
    if tire.too_early:
        template = "Rain tires: TOO EARLY for {session}. Look again {days} days before."
    if none_safe:
        template = "Rain tires: NONE THAT IS SAFE for {session}. Stay in unless the track dries."
    headline = Say(template, {**_values(outlook, tire.decide_by), **TOO_EARLY.values})
    decision = Decision(
        "tires",
        "act" if none_safe else "unknown",
        headline,
        tire.reasons[:MOST_REASONS],
        chance=float("nan"),
        by=tire.decide_by,
        until=tire.decide_by,
        caution=tire.decision.caution,
        about=outlook.session.label,
    )
    return RainTireCall(
        "unknown", outlook.session, tire.decide_by, headline, tire.reasons, decision
    )


def _done() -> RainTireCall:
    headline = Say("No session is left today.")
    decision = Decision("tires", "nothing", headline, ())
    return RainTireCall("done", None, None, headline, (), decision)


def _values(outlook: SessionOutlook, by: datetime | None) -> dict[str, Value]:
    values: dict[str, Value] = {"session": outlook.session.label}
    if by is not None:
        values["by"] = by
    return values
