"""Chance of thunder in each session and each day, and what a crew does about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np

from trackday.advice.assumptions_paddock import (
    THUNDER_ACT_CHANCE,
    THUNDER_RADIUS_M,
    THUNDER_WATCH_CHANCE,
)
from trackday.advice.decision import Decision, Urgency
from trackday.advice.paddock_day import interval_start, paddock_days, touched
from trackday.outlook.rain_probability import probability_window_chance
from trackday.outlook.rain_window import covered_intervals
from trackday.outlook.spread import weighted_mean
from trackday.physics.lightning import chance_of_any, expected_flashes
from trackday.weather.nws_grid import CENTER as OFFICE_CENTER
from trackday.weather.series import Array, Weather
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Venue
from trackday.wording import Quantity, Say

CAUTION = Say(
    "Thunder heard: into a car or building at once. A canopy or awning is no shelter. Out again "
    "30 minutes after the last thunder. Officials decide."
)


@dataclass(frozen=True)
class ThunderAdvice:
    """Thunder in one session (`about` its label) or one day of paddock work (`about` "").

    `chance` is that of a flash within `THUNDER_RADIUS_M`, NaN where unknown; `from_members` and
    `from_office` what it is made of. `likely_from` and `likely_to` (UTC) hold the hours at least
    half as likely as the likeliest, None where there is no thunder to speak of.
    """

    day: date
    about: str
    chance: float
    from_members: float
    from_office: float
    likely_from: datetime | None
    likely_to: datetime | None
    decision: Decision


def advise_thunder(
    sessions: Sequence[Session], *, weather: Weather, venue: Venue
) -> tuple[ThunderAdvice, ...]:
    """One advice a day that has sessions, for all the hours that the crew is there."""
    return tuple(
        _advice(day.day, day.start, day.end, "", weather)
        for day in paddock_days(sessions, venue.zone)
    )


def session_thunder(session: Session, *, weather: Weather, venue: Venue) -> ThunderAdvice:
    """The advice for one session; the standing caution is said once, with the day."""
    day = session.start.astimezone(venue.zone).date()
    return _advice(day, session.start, session.end, session.label, weather)


def thunder_chance(weather: Weather, *, start: datetime, end: datetime) -> float:
    """Chance of a flash within `THUNDER_RADIUS_M` in a window, 0…1, NaN where nothing is known."""
    return _joined(weather, start, end)[0]


def _joined(weather: Weather, start: datetime, end: datetime) -> tuple[float, float, float]:
    """Chance of all centers alike, of the members, and of the local office; NaN where unknown."""
    office = probability_window_chance(
        weather.thunder_probability, weather.times, start=start, end=end
    )
    each = _member_chances(weather, start, end)
    centers = np.asarray(weather.centers)
    if np.isfinite(office):
        # The office's own chance of thunder is its say, not the rows made from its rain.
        each = np.where(centers == OFFICE_CENTER, np.nan, each)
    members = weighted_mean(each, weather.weights) if _speak(each, weather) else float("nan")
    if not np.isfinite(office):
        return members, members, office
    if not np.isfinite(members):
        return office, members, office
    count = len(np.unique(centers[np.isfinite(each) & (weather.weights > 0.0)]))
    return (count * members + office) / (count + 1), members, office


def _speak(each: Array, weather: Weather) -> bool:
    return bool((np.isfinite(each) & (weather.weights > 0.0)).any())


def _member_chances(weather: Weather, start: datetime, end: datetime) -> Array:
    """Chance of a flash in the window for each member (M,), NaN where its CAPE or rain is unknown.

    The higher CAPE of an interval's two ends counts, since the rain uses it up.
    """
    found = covered_intervals(weather.times, start=start, end=end, step_hours=weather.step_hours)
    if found is None:
        return np.full(len(weather.members), np.nan)
    places, share = found
    step = timedelta(hours=weather.step_hours)
    begins = weather.at("cape_jkg", [moment - step for moment in weather.times[places]])
    flashes = expected_flashes(
        np.maximum(begins, weather.cape_jkg[:, places]),
        weather.rain_mm[:, places] / weather.step_hours,
        hours=share * weather.step_hours,
        radius_m=THUNDER_RADIUS_M,
    )
    return chance_of_any(flashes.sum(axis=1))


def _advice(
    day: date, start: datetime, end: datetime, about: str, weather: Weather
) -> ThunderAdvice:
    chance, members, office = _joined(weather, start, end)
    likely = _likely_hours(weather, start, end) if chance >= THUNDER_WATCH_CHANCE else None
    begins, ends = likely or (None, None)
    return ThunderAdvice(
        day=day,
        about=about,
        chance=chance,
        from_members=members,
        from_office=office,
        likely_from=begins,
        likely_to=ends,
        decision=replace(
            _decision(chance, begins, ends, office),
            about=about or f"{day:%a}",
            caution=None if about else CAUTION,
        ),
    )


def _likely_hours(
    weather: Weather, start: datetime, end: datetime
) -> tuple[datetime, datetime] | None:
    """First and last moment of the hours at least half as likely as the likeliest."""
    places = touched(weather, start=start, end=end)
    if places is None:
        return None
    hours = [
        (
            max(start, interval_start(weather, place)),
            min(end, weather.times[place].to_pydatetime()),
        )
        for place in places.tolist()
    ]
    chances = np.array([thunder_chance(weather, start=a, end=b) for a, b in hours])
    if not np.nansum(chances) > 0.0:
        return None
    likely = np.flatnonzero(chances >= np.nanmax(chances) / 2.0)
    return hours[likely[0]][0], hours[likely[-1]][1]


def _urgency(chance: float) -> Urgency:
    if not np.isfinite(chance):
        return "unknown"
    if chance >= THUNDER_ACT_CHANCE:
        return "act"
    return "watch" if chance >= THUNDER_WATCH_CHANCE else "nothing"


def _decision(
    chance: float, begins: datetime | None, ends: datetime | None, office: float
) -> Decision:
    urgency = _urgency(chance)
    return Decision(
        topic="lightning",
        urgency=urgency,
        do=_do(urgency, begins),
        why=_why(chance, begins, ends, office),
        chance=1.0 - chance if urgency == "nothing" else chance,
        by=begins,
        until=ends,
    )


def _do(urgency: Urgency, begins: datetime | None) -> Say:
    if urgency == "unknown":
        return Say("Thunder not known: look, listen, and know which car or building to run to.")
    if urgency == "nothing":
        return Say("Thunder unlikely.")
    when, values = (" today", {}) if begins is None else (" from {from} on", {"from": begins})
    if urgency == "act":
        return Say(f"Expect thunder{when}: pick your shelter now, car keys on you.", values)
    return Say(f"Watch the sky{when}: thunder may come.", values)


def _why(
    chance: float, begins: datetime | None, ends: datetime | None, office: float
) -> tuple[Say, ...]:
    if not np.isfinite(chance):
        return (Say("no source gives a chance of thunder, or storm energy with rain"),)
    values = {
        "chance": Quantity(chance, "share"),
        "radius": Quantity(THUNDER_RADIUS_M, "distance"),
    }
    reasons = [Say("lightning within {radius}: {chance}", values)]
    if begins is not None and ends is not None:
        reasons.append(Say("most likely {from} to {to}", {"from": begins, "to": ends}))
    if np.isfinite(office):
        reasons.append(Say("the local office says {chance}", {"chance": Quantity(office, "share")}))
    return tuple(reasons)
