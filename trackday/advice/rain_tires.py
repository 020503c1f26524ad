"""The morning's question: rain tires, yes or no, and until when can one wait."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from trackday.advice.assumptions import SURE_CHANCE, WATCH_CHANCE
from trackday.advice.tires import TireAdvice
from trackday.outlook.session import SessionOutlook
from trackday.weekend.sessions import Session
from trackday.wording import Quantity, Say, Value

Answer = Literal["yes", "no", "wait", "unknown", "done"]
SessionCall = tuple[SessionOutlook, TireAdvice]


@dataclass(frozen=True)
class RainTireCall:
    """Yes: wet (or cut) tires for `session`, started by `by`. Wait: look again before `by`.

    No: nothing today asks for them. Unknown: no weather to decide on. Done: no session is left.
    """

    answer: Answer
    session: Session | None
    by: datetime | None
    headline: Say
    reasons: tuple[Say, ...]


def call_rain_tires(calls: Sequence[SessionCall], *, as_of: datetime) -> RainTireCall:
    """Decide for the sessions of one day that have not started yet."""
    ahead = [call for call in calls if call[0].session.start > as_of]
    if not ahead:
        return RainTireCall("done", None, None, Say("No session is left today."), ())
    call = next((call for call in ahead if _needs_a_look(call)), None)
    if call is None:
        return _stay_dry(ahead)
    outlook, tire = call
    if tire.choice == "undecided":
        return _unknown(outlook, tire)
    if tire.choice != "dry" and (call is ahead[0] or tire.chances[tire.choice] >= SURE_CHANCE):
        return _mount(outlook, tire, as_of)
    return _wait(outlook, tire, as_of)


def refuse_rain_tires(
    calls: Sequence[SessionCall], reason: Say, *, as_of: datetime
) -> RainTireCall:
    """Decline to decide for the sessions of one day, whatever their outlooks say, for a reason."""
    ahead = [call for call in calls if call[0].session.start > as_of]
    if not ahead:
        return call_rain_tires(calls, as_of=as_of)
    return replace(_unknown(*ahead[0]), reasons=(reason,))


def wet_chance(outlook: SessionOutlook) -> float:
    """Chance that the track is wet (or unknown) at a moment of the session."""
    state = outlook.track.state_chance
    return state["wet"] + state["standing"] + state["unknown"]


def _needs_a_look(call: SessionCall) -> bool:
    outlook, tire = call
    return tire.choice != "dry" or not wet_chance(outlook) < WATCH_CHANCE


def _mount(outlook: SessionOutlook, tire: TireAdvice, as_of: datetime) -> RainTireCall:
    """Other than dry tires for this session; a session before it still runs on dry ones."""
    cutting = tire.choice == "grooved" and tire.start_grooving_by is not None
    by = tire.start_grooving_by if cutting else tire.decide_by
    what = "cut the dry set for {session}" if cutting else "wets on for {session}"
    when = "start by {by}" if by is not None and by > as_of else "start now, it is late"
    headline = Say(f"Rain tires: YES, {what}: {when}.", _values(outlook, by))
    return RainTireCall("yes", outlook.session, by, headline, tire.reasons)


def _wait(outlook: SessionOutlook, tire: TireAdvice, as_of: datetime) -> RainTireCall:
    """The session may still go either way, and there is time to see which."""
    by = tire.decide_by
    template = (
        "Rain tires: WAIT until {by}, then look again for {session}."
        if by > as_of
        else "Rain tires: DECIDE NOW for {session}, the time to change has come."
    )
    reasons = (
        Say(
            "wet track {chance}; {choice} tires as it looks now",
            {"chance": Quantity(wet_chance(outlook), "share"), "choice": tire.choice},
        ),
        Say(
            "watch the sky upwind and the radar: rain on the track before {start} means wets",
            {"start": outlook.session.start},
        ),
    )
    return RainTireCall("wait", outlook.session, by, Say(template, _values(outlook, by)), reasons)


def _stay_dry(ahead: Sequence[SessionCall]) -> RainTireCall:
    wettest = max((outlook for outlook, _ in ahead), key=wet_chance)
    reason = Say(
        "likeliest wet track {chance} ({session})",
        {"chance": Quantity(wet_chance(wettest), "share"), "session": wettest.session.label},
    )
    headline = Say("Rain tires: NO, dry tires for every session left today.")
    return RainTireCall("no", None, None, headline, (reason,))


def _unknown(outlook: SessionOutlook, tire: TireAdvice) -> RainTireCall:
    headline = Say(
        "Rain tires: UNKNOWN for {session}. Look at the track and the sky by {by}.",
        _values(outlook, tire.decide_by),
    )
    return RainTireCall("unknown", outlook.session, tire.decide_by, headline, tire.reasons)


def _values(outlook: SessionOutlook, by: datetime | None) -> dict[str, Value]:
    values: dict[str, Value] = {"session": outlook.session.label}
    if by is not None:
        values["by"] = by
    return values
