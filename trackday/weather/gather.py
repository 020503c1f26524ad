"""Ask every source for the weather of a weekend, and combine what they give."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from functools import partial

from requests_cache import CachedSession

from trackday.errors import NoWeatherError
from trackday.settings import Settings
from trackday.weather.asking import Answer, Window, skipped
from trackday.weather.blend import Forecasts, blend
from trackday.weather.lanes import Job, run_lanes
from trackday.weather.limits import WARN_SHARE, CallLedger
from trackday.weather.observed import CLOCKS, MAX_AGE, Difference, correct
from trackday.weather.open_meteo import ENSEMBLES, FORECAST_HORIZON_DAYS
from trackday.weather.questions import ALERT_DAYS, OFFICE, Asker, Venue
from trackday.weather.sources import ALERT_ROLE, SEEN_ROLE, Gathered

TIME_LIMIT_S = 20.0
"""How long all asking may take (assumption: who stands in a paddock waits no longer)."""

NOT_ASKED = skipped("", "", "")
"""Stands in for the answer to a question that was not put."""

_HOST = re.compile(r"\b[\w-]+(?:\.[\w-]+)+\b")

_WITHOUT = "`trackday light` and `trackday log` need no weather"

Questions = dict[str, Job[Answer]]


def gather(
    venue: Venue,
    *,
    first_day: date,
    last_day: date,
    as_of: datetime,
    session: CachedSession,
    settings: Settings,
    offline: bool = False,
    seconds: float = TIME_LIMIT_S,
    ledger: CallLedger | None = None,
    only_open_meteo: bool = False,
) -> Gathered:
    """Get the weather of a venue for two UTC dates and all days between, as of a moment.

    The dates should include the days before the event that the pavement needs to spin up, and a day
    after it for time zones. Providers are asked side by side, each one thing after the other, for
    `seconds` at most; what has not answered by then is taken from the saved replies or reported as
    failed. `ledger` knows how much of Open-Meteo's allowance is used up; `only_open_meteo` leaves
    the other providers out. Raises NoWeatherError if none has anything.
    """
    if as_of.tzinfo is None:
        raise ValueError("as_of needs a time zone")
    window = Window(first_day, last_day, as_of)
    asker = Asker(venue, window, session, settings, offline)
    lanes = [_open_meteo(asker)]
    if not only_open_meteo:
        # Last in Open-Meteo's own lane, since its reanalysis may stand in for a station.
        lanes = [lanes[0] | _other_years(asker), _office(asker), _airfield(asker)]
    results = run_lanes([list(lane.values()) for lane in lanes], seconds=seconds)
    answers = {
        name: answer
        for lane, given in zip(lanes, results, strict=True)
        for name, answer in zip(lane, given, strict=True)
    }
    if ledger is not None:
        answers |= _with_allowance({name: answers[name] for name in _open_meteo(asker)}, ledger)
    return _gathered(answers, window=window, offline=offline)


def _open_meteo(asker: Asker) -> Questions:
    return {"forecast": asker.forecast} | {
        model.key: partial(asker.ensemble, model) for model in ENSEMBLES
    }


def _office(asker: Asker) -> Questions:
    """Ask the local office, warnings first; what it sees now only where that is near in time.

    Clearly outside the United States the office is not asked, and the lane is MET Norway's alone.
    """
    questions: Questions = {}
    if asker.window.is_near(days_before=ALERT_DAYS):
        questions["alerts"] = asker.alerts
    questions["office"] = asker.local_forecast
    if asker.venue.metar is None and asker.window.is_near(days_before=0):
        questions["observation"] = asker.office_observation
    return questions


def _airfield(asker: Asker) -> Questions:
    if asker.venue.metar is None or not asker.window.is_near(days_before=0):
        return {}
    return {"observation": partial(asker.airfield, asker.venue.metar)}


def _other_years(asker: Asker) -> Questions:
    """Ask for other years where the weekend lies past the forecast's horizon.

    Before that they are but the base rate of rain, for which what `trackday past` saved serves.
    """
    window = asker.window
    if window.reach(FORECAST_HORIZON_DAYS) >= window.last_day:
        return {"usual": asker.usual}
    return {"climatology": asker.other_years}


def _with_allowance(answers: Mapping[str, Answer], ledger: CallLedger) -> dict[str, Answer]:
    """Tell in the first source that was asked that the day's allowance runs out."""
    share = ledger.day_share()
    asked = [name for name, answer in answers.items() if answer.report.status != "skipped"]
    if share < WARN_SHARE or not asked:
        return {}
    note = f"{share:.0%} of today's free calls are used up on this machine"
    return {asked[0]: answers[asked[0]].noting(note)}


def _gathered(answers: Mapping[str, Answer], *, window: Window, offline: bool) -> Gathered:
    """Combine the answers; raises NoWeatherError where none has any weather."""
    ensembles = tuple(answers[model.key] for model in ENSEMBLES)
    given = Forecasts(answers["forecast"], ensembles, answers.get("office"))
    blended = blend(given, window=window)
    climatology = answers.get("climatology", NOT_ASKED).weather
    weather, basis = blended.weather, blended.basis
    seen = answers.get("observation", NOT_ASKED)
    difference = None
    if weather is None:
        weather, basis = climatology, "climatology"
    elif seen.observation is not None:
        weather, difference = correct(weather, seen.observation, as_of=window.as_of)
        seen = _followed(seen, difference, as_of=window.as_of)
    others = {"observation": seen} if "observation" in answers else {}
    usual = answers.get("usual", NOT_ASKED)
    if usual.weather is not None:
        others = {"usual": usual} | others
    others = {name: answers[name] for name in ("alerts", "climatology") if name in answers} | others
    told = _without_repeats([*blended.answers.all(), *others.values()])
    if weather is None:
        raise _no_weather(told, offline=offline)
    return Gathered(
        weather,
        tuple(answer.report for answer in told),
        basis,
        alerts=answers.get("alerts", NOT_ASKED).alerts,
        observation=seen.observation,
        difference=None if seen.observation is None else difference,
        climatology=climatology,
        usual=climatology if usual.weather is None else usual.weather,
    )


def _followed(answer: Answer, difference: Difference, *, as_of: datetime) -> Answer:
    """Add to the report what was not followed; a report of another time is none of now."""
    if answer.observation is None or not difference.note:
        return answer
    age = as_of - answer.observation.time
    kept = answer.observation if -CLOCKS <= age <= MAX_AGE else None
    return replace(answer.noting(difference.note), observation=kept)


def _without_repeats(answers: Iterable[Answer]) -> list[Answer]:
    """Tell once why a provider was not asked, however many questions it was spared."""
    told: dict[tuple[str, str] | int, Answer] = {}
    for number, answer in enumerate(answers):
        report = answer.report
        is_spared = report.status == "skipped" and report.name.startswith(OFFICE)
        told.setdefault((OFFICE, report.detail) if is_spared else number, answer)
    return list(told.values())


def _no_weather(answers: Sequence[Answer], *, offline: bool) -> NoWeatherError:
    """Say in one line why each source gave nothing, each reason once, and what can be done."""
    silent = [
        answer.report
        for answer in answers
        if answer.report.role not in (ALERT_ROLE, SEEN_ROLE) and answer.weather is None
    ]
    names: dict[str, list[str]] = {}
    details: dict[str, str] = {}
    for report in silent:
        # Hosts of one provider fail alike.
        reason = _HOST.sub("", report.detail)
        names.setdefault(reason, []).append(report.name)
        details.setdefault(reason, report.detail)
    reasons = "; ".join(f"{', '.join(named)}: {details[key]}" for key, named in names.items())
    if all(report.status == "skipped" for report in silent):
        mend = "plan again nearer to the event"
    elif offline:
        mend = f"run the same command once without --offline where there is a signal; {_WITHOUT}"
    else:
        mend = f"try again where there is a signal; {_WITHOUT}"
    return NoWeatherError(f"no weather could be had: {reasons}; {mend}")
