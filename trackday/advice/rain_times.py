"""A day's rain in two short sentences: when it falls, and where a session fits."""

from __future__ import annotations

import math
from datetime import timedelta

from trackday.outlook.rain_day import DayRain
from trackday.outlook.rain_timing import SCAN_MINUTES, DryWindow, Moment
from trackday.wording import Quantity, Say, Value, listed

NO_RAIN_CHANCE = 0.05
"""Chance of rain in a whole day under which no hours are named. Assumption: no forecast of a day's
rain is surer of its hours than of itself."""

MOST_HOURS = 6.0
"""Hours between the early and the late tenth of the moments that members name, from which no hour
is called likeliest. Assumption: a range of half a day helps nobody to plan."""

HALF = 0.5
"""Part of the rainy members that must have rain at an end of the day for "before" or "past".
Assumption: half of them."""

MOST_WINDOWS = 3
"""Dry stretches that are named, the longest ones: more are not remembered. Assumption."""


def say_day_rain(day: DayRain) -> tuple[Say, ...]:
    """Word a day's rain in at most two sentences."""
    if day.basis is None or not math.isfinite(day.chance):
        return (_unknown(day), *_dry_stretches(day))
    if day.basis == "climatology":
        template = (
            "No forecast reaches this day. In other years it rained on {chance} of such days."
        )
        return (Say(template, {"chance": Quantity(day.chance, "share")}),)
    source = ", by one forecast only" if day.basis == "single forecast" else ""
    if day.chance < NO_RAIN_CHANCE:
        return (Say(f"No rain in sight{source} (<5 %)."),)
    return (_hours(day, source), *_dry_stretches(day))


def _unknown(day: DayRain) -> Say:
    return Say(
        "Rain unknown: amounts are missing between {start} and {end}. Plan for rain.",
        {"start": day.start, "end": day.end},
    )


def _hours(day: DayRain, source: str) -> Say:
    """Say from when to when rain is likeliest, with the range of each moment."""
    values: dict[str, Value] = {"chance": Quantity(day.chance, "share")}
    rain = f"Rain {{chance}}{source}"
    timing = day.timing
    if not timing.chance > 0.0:  # showers too small for any step of a member, or other years' rain
        return Say(f"{rain}, at no likely hour.", values)
    falling = timing.starts is None or timing.wet_at_start >= HALF * timing.chance
    going_on = timing.stops is None or timing.wet_at_end >= HALF * timing.chance
    starts = None if falling else timing.starts
    stops = None if going_on else timing.stops
    if _any_time(starts, stops):
        first = day.start if timing.starts is None or timing.wet_at_start else timing.starts.p10
        last = day.end if timing.stops is None or timing.wet_at_end else timing.stops.p90
        values |= {"first": max(first, day.start), "last": min(last, day.end)}
        return Say(f"{rain}: any time from {{first}} to {{last}}.", values)
    if starts is None and stops is None:
        return Say(f"{rain}: all day.", values)
    begin = _moment("start", starts, values) if starts else "before {day_start}"
    end = _moment("stop", stops, values) if stops else "past {day_end}"
    values |= {"day_start": day.start, "day_end": day.end}
    return Say(f"{rain}: likeliest from {begin} to {end}.", values)


def _any_time(starts: Moment | None, stops: Moment | None) -> bool:
    """Whether the members agree too little on the hours, or name an end before the start."""
    wide = timedelta(hours=MOST_HOURS)
    named = [moment for moment in (starts, stops) if moment is not None]
    if any(moment.p90 - moment.p10 > wide for moment in named):
        return True
    return starts is not None and stops is not None and stops.likeliest <= starts.likeliest


def _moment(name: str, moment: Moment, values: dict[str, Value]) -> str:
    """Put one moment's times into `values`, and return the gaps for them: its range if it has."""
    values[name] = moment.likeliest
    if moment.p10 == moment.p90:
        return f"{{{name}}}"
    values |= {f"{name}_early": moment.p10, f"{name}_late": moment.p90}
    return f"{{{name}}} ({{{name}_early}}–{{{name}_late}})"


def _dry_stretches(day: DayRain) -> tuple[Say, ...]:
    """Say where the longest session left would stay likely dry; nothing where nothing is known."""
    windows = day.timing.dry_windows
    values: dict[str, Value] = {
        "minutes": round(day.session_minutes),
        "limit": Quantity(day.dry_chance, "share"),
    }
    if not windows:
        if day.basis is None or day.timing.unknown > 0.0:
            return ()
        return (Say("No dry {minutes} minutes: {limit} rain or more in every slot.", values),)
    longest = sorted(windows, key=lambda window: window.start - window.end)[:MOST_WINDOWS]
    named = sorted(longest, key=lambda window: window.start)
    where = [_stretch(number, window, day, values) for number, window in enumerate(named)]
    return (Say(f"Dry enough for {{minutes}} minutes: {listed(where)}.", values),)


def _stretch(number: int, window: DryWindow, day: DayRain, values: dict[str, Value]) -> str:
    """Put one stretch's ends into `values`, and return its words with the gaps for them."""
    from_start = window.start <= day.start
    to_end = day.end - window.end < timedelta(minutes=SCAN_MINUTES)
    if from_start and to_end:
        return "all day"
    begin, end = f"from_{number}", f"to_{number}"
    if not from_start:
        values[begin] = window.start
    if not to_end:
        values[end] = window.end
    if from_start:
        return f"until {{{end}}}"
    return f"from {{{begin}}}" if to_end else f"{{{begin}}}–{{{end}}}"
