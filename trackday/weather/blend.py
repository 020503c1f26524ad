"""One weather out of every source's answer, each center with the same say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd

from trackday.weather.asking import Answer, Window
from trackday.weather.combine import (
    drop_rainless,
    fill_from_forecast,
    has_chances,
    hourly_axis,
    mean_chances,
    mean_member,
    members_from_probability,
    on_axis,
    stack,
    while_hourly,
    with_unknown_past,
)
from trackday.weather.series import Weather
from trackday.weather.sources import OLD_FORECAST, RainBasis

UNKNOWN_START = timedelta(days=1)
"""How late in the three days before an event its weather may begin: in the two that are left, any
wet start of the track is forgotten (assumption)."""

SPARE_ROLE = "in reserve"
"""What a local forecast without a say in the odds is there for; its age is not theirs."""


@dataclass(frozen=True)
class Forecasts:
    """The answers of all that look ahead: the global forecast, ensembles, the local office.

    `spare` is what a local forecast without a say knows.
    """

    forecast: Answer
    ensembles: tuple[Answer, ...]
    local: Answer | None
    spare: Weather | None = None

    def all(self) -> tuple[Answer, ...]:
        """Every answer, in the order in which a reader sees them."""
        return (self.forecast, *self.ensembles, *(() if self.local is None else (self.local,)))


@dataclass(frozen=True)
class Blend:
    """The combined weather, how its odds of rain were made, and the answers with notes on them.

    `weather` is None where no source had any that can be used.
    """

    weather: Weather | None
    basis: RainBasis
    answers: Forecasts


def blend(given: Forecasts, *, window: Window) -> Blend:
    """Combine the answers.

    Every center has the same say, however many rows it brings: an ensemble its members, the local
    office the rows made from its own hourly chances. The global forecast is a center of its own
    only where no ensemble came; else it completes what the others lack. A local forecast has a say
    beside others' odds by its own chances alone, and while its steps are hourly; without any it
    takes the place of a global forecast that failed. What is older than `OLD_FORECAST` has no say
    where a newer ensemble, or the office, reaches as far.
    """
    as_of = window.as_of
    given = _without_old(_with_local_say(given, as_of=as_of))
    parts = [answer.weather for answer in given.all() if answer.weather is not None]
    if not parts:
        return Blend(None, "single forecast", given)
    times = hourly_axis(parts)
    base, office = _placed(given.forecast, times), _placed(given.local, times)
    filling = base if base is not None else _spare(given, times)
    ensembles = tuple(
        _completed(answer, _placed(answer, times), filling, as_of=as_of)
        for answer in given.ensembles
    )
    members = [answer.weather for answer in ensembles if answer.weather is not None]
    spare = mean_member(stack(members)) if base is None and members else base
    local = given.local
    if local is not None:
        local = _completed(local, _rows(office, as_of), spare, as_of=as_of)
    centers = members + [a.weather for a in (local,) if a is not None and a.weather is not None]
    if members:
        basis: RainBasis = "ensemble"
    else:
        centers = _without_ensemble(centers, _rows(base, as_of), _rows(office, as_of), as_of=as_of)
        basis = "probability" if _chances(centers, as_of) else "single forecast"
    weather = None
    if centers:
        chances = mean_chances([part for part in (base, office) if part is not None] or centers)
        fields: dict[str, Any] = {**chances}
        weather = replace(stack(centers), **fields)
        weather = with_unknown_past(weather, start=window.start + UNKNOWN_START)
    return Blend(weather, basis, Forecasts(given.forecast, ensembles, local))


def _with_local_say(given: Forecasts, *, as_of: datetime) -> Forecasts:
    """Leave a local forecast the say that it can have beside the odds of others."""
    local = given.local
    if local is None or local.weather is None or not _others_have_odds(given, as_of):
        return given
    spoken = while_hourly(local.weather)
    if has_chances(spoken, as_of=as_of):
        if spoken is not local.weather:
            local = local.noting("beside others' odds it counts while its steps are hourly")
        return replace(given, local=replace(local, weather=spoken))
    report = local.noting("no hourly chances of rain: no say beside others' odds").report
    # Credit is due to those whose data are used: here, where no global forecast fills the gaps.
    credit = report.attribution if given.forecast.weather is None else None
    silent = Answer(replace(report, role=SPARE_ROLE, attribution=credit))
    return replace(given, local=silent, spare=local.weather)


def _others_have_odds(given: Forecasts, as_of: datetime) -> bool:
    ensembles = [answer.weather for answer in given.ensembles if answer.weather is not None]
    if any(drop_rainless(ensemble, as_of=as_of) is not None for ensemble in ensembles):
        return True
    forecast = given.forecast.weather
    return forecast is not None and has_chances(forecast, as_of=as_of)


def _without_old(given: Forecasts) -> Forecasts:
    """Take away the say of old ensembles and of an old local forecast.

    An old one that reaches farther than every newer one keeps it: its last days are better than
    none.
    """
    local = () if given.local is None else (given.local,)
    newer = [
        _reach(answer.weather)
        for answer in (*given.ensembles, *local)
        if answer.weather is not None and not _is_old(answer)
    ]

    def kept(answer: Answer) -> Answer:
        if answer.weather is None or not _is_old(answer):
            return answer
        if not newer or _reach(answer.weather) > max(newer):
            return answer
        return replace(answer.noting("left out, since newer forecasts came"), weather=None)

    return replace(
        given,
        ensembles=tuple(kept(answer) for answer in given.ensembles),
        local=None if given.local is None else kept(given.local),
    )


def _reach(weather: Weather) -> pd.Timestamp:
    """Day (UTC) to which a weather knows rain; its first where it knows none."""
    known = np.flatnonzero(np.isfinite(weather.rain_mm).any(axis=0))
    last: pd.Timestamp = weather.times[known[-1] if len(known) else 0]
    return last.floor("D")


def _is_old(answer: Answer) -> bool:
    age = answer.report.age_minutes
    return age is not None and timedelta(minutes=age) > OLD_FORECAST


def _without_ensemble(
    centers: Sequence[Weather], *others: Weather | None, as_of: datetime
) -> list[Weather]:
    """Add the global forecast (the first of `others`) to what the local office says.

    Where neither knows any rain, what they know of the air still serves.
    """
    forecast = others[0]
    known = None if forecast is None else drop_rainless(forecast, as_of=as_of)
    found = [*centers, *([] if known is None else [known])]
    return found or [other for other in others if other is not None][:1]


def _chances(centers: Sequence[Weather], as_of: datetime) -> bool:
    return any(has_chances(center, as_of=as_of) for center in centers)


def _placed(answer: Answer | None, times: pd.DatetimeIndex) -> Weather | None:
    """Bring an answer's weather onto the common times."""
    return None if answer is None or answer.weather is None else on_axis(answer.weather, times)


def _spare(given: Forecasts, times: pd.DatetimeIndex) -> Weather | None:
    """Bring what a silent local forecast knows onto the times of those that have a say."""
    if given.spare is None:
        return None
    return on_axis(given.spare.between(times[0], times[-1]), times)


def _rows(weather: Weather | None, as_of: datetime) -> Weather | None:
    """Turn a forecast with hourly chances into wet and dry rows; others stay as they are."""
    if weather is None or not has_chances(weather, as_of=as_of):
        return weather
    return members_from_probability(weather, as_of=as_of)


def _completed(
    answer: Answer, weather: Weather | None, spare: Weather | None, *, as_of: datetime
) -> Answer:
    """Drop useless members and fill gaps from `spare`, and say so in the answer."""
    if weather is None:
        return answer
    kept = drop_rainless(weather, as_of=as_of)
    if kept is None:
        return answer.failing("no member has a rain amount for the time to come")
    notes: list[str] = []
    dropped = len(weather.members) - len(kept.members)
    if dropped:
        notes.append(f"{dropped} members without rain amounts left out")
    if spare is not None:
        filled = fill_from_forecast(kept, spare, as_of=as_of)
        kept = filled.weather
        source = "the ensembles" if spare.centers == ("mean",) else "the forecast"
        if filled.lacking:
            notes.append(f"{', '.join(filled.lacking)} from {source}")
        if filled.past_hours:
            notes.append(f"{filled.past_hours} past hours completed from {source}")
    return replace(answer.noting(*notes), weather=kept)
