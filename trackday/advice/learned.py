"""What the logbook taught, in sentences: on how many readings, from when, and how much better."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date

from trackday.advice.assumptions import (
    HOT_GAS_PER_TRACK,
    HOT_GAS_REFERENCE_AIR_C,
    HOT_GAS_REFERENCE_TRACK_C,
)
from trackday.learning.rise import FlaggedReading, RiseFit
from trackday.learning.tire_calls import TireCalls
from trackday.learning.venue_bias import FlaggedCheck, VenueBias
from trackday.learning.wet_line import FlaggedSighting, WetLine
from trackday.wording import Quantity, Say

MOST_FLAGGED = 3
"""Odd entries named one by one; of the rest the count is said. Assumption."""

_HEAT_SHOWN_C = 20.0
"""Surface above air for which a venue's correction is put in words, °C: a sunny noon (example)."""

_SAME_FACTOR = 0.05
"""Limits moved by a smaller share are called the same, –. Assumption."""


def rise_reason(rise: RiseFit | None) -> tuple[Say, ...]:
    """Say what a pressure rests on: "from your 11 hot readings since May"; empty without any."""
    if rise is None or rise.n == 0:
        return ()
    return (Say(f"from your {_count(rise.n, 'hot reading')}{_since(rise.first, rise.last)}"),)


def say_learned(
    rise: RiseFit | None, bias: VenueBias | None, line: WetLine | None
) -> tuple[Say, ...]:
    """Say in a sentence each what a plan takes from the logbook; empty where it takes nothing."""
    return (
        *(() if rise is None else explain_rise(rise)[:1]),
        *(() if bias is None else explain_bias(bias)[:1]),
        *(() if line is None else explain_wet_line(line)[:1]),
    )


def explain_rise(rise: RiseFit) -> tuple[Say, ...]:
    """Say how hot this car's tires get, how sure that is, and which entries look wrong."""
    if rise.n == 0:
        return (Say("No hot readings yet: pressures rest on first guesses. Write hot pressures."),)
    middle = (HOT_GAS_REFERENCE_TRACK_C, HOT_GAS_REFERENCE_AIR_C)
    front, rear = (rise.hot_gas_c(*middle, axle=axle) for axle in ("front", "rear"))
    here = f", {rise.n_here} of them here" if rise.venue else ""
    return (
        Say(
            f"Hot gas from {_count(rise.n, 'hot reading')}{_since(rise.first, rise.last)}{here}: "
            "front {front}, rear {rear} on a {track} track in {air} air, ± {error}.",
            {
                "front": Quantity(float(front[0]), "temperature"),
                "rear": Quantity(float(rear[0]), "temperature"),
                "error": Quantity(float(max(front[1], rear[1])), "temperature_difference"),
                "track": Quantity(middle[0], "temperature"),
                "air": Quantity(middle[1], "temperature"),
            },
        ),
        Say(
            f"Track 10 degrees hotter: gas {10.0 * rise.mean[2]:.1f} degrees hotter "
            f"(first guess {10.0 * HOT_GAS_PER_TRACK:.1f})."
        ),
        _gain(rise.gain, "session"),
        *_odd_readings(rise.flagged),
    )


def explain_bias(bias: VenueBias) -> tuple[Say, ...]:
    """Say what the readings do to this venue's track temperatures."""
    if bias.n == 0:
        return (Say("No track readings here yet: the track model is as it comes."),)
    from_where = f"{_count(bias.n, 'track reading')} on {_count(bias.days, 'day')}"
    since = _since(bias.first, bias.last)
    if not bias.used:
        return (
            Say(f"Track: {from_where}{since} do not make the model better, so it stays as it is."),
            *_odd_checks(bias.flagged),
        )
    change = bias.level_c + bias.per_heat * _HEAT_SHOWN_C
    return (
        Say(
            f"Sunny track, modeled {{heat}} above the air: {{change}} "
            f"{'hotter' if change > 0 else 'cooler'} than that, from {from_where}{since}.",
            {
                "change": Quantity(abs(change), "temperature_difference"),
                "heat": Quantity(_HEAT_SHOWN_C, "temperature_difference"),
            },
        ),
        _gain(bias.gain, "reading"),
        *_odd_checks(bias.flagged),
    )


def explain_wet_line(line: WetLine) -> tuple[Say, ...]:
    """Say with how much water this racer calls the track damp or wet."""
    if line.n == 0:
        return (Say("No track states written yet: damp and wet are as in garage.toml."),)
    seen = f"{_count(line.n, 'look')} at the track{_since(line.first, line.last)}"
    factor = math.exp(line.log_factor) if line.used else 1.0
    if abs(factor - 1.0) < _SAME_FACTOR:
        moved = "leave the limits as they are"
    else:
        moved = (
            f"move the limits to {100.0 * factor:.0f} % of those in garage.toml: "
            f"the track dries {'later' if factor < 1.0 else 'sooner'} than the model says"
        )
    hits = (
        Say("Too few to say how often that is right.")
        if line.hits_with is None or line.hits_without is None
        else Say(f"Called right: {line.hits_with} of {line.n}, {line.hits_without} without them.")
    )
    return (Say(f"Damp and wet: {seen} {moved}."), hits, *_odd_sightings(line.flagged))


def explain_calls(calls: TireCalls) -> tuple[Say, ...]:
    """Say how often the tire that was run was the right one."""
    if calls.n == 0:
        return (Say("No tire calls judged yet: write which tire would have been right."),)
    few = "" if calls.share is not None else ": too few to lean on"
    wrong = tuple(
        Say(f"{count} on {chosen} tires where {right} was right.")
        for chosen, right, count in calls.wrong
    )
    told = f"Right tire in {calls.right} of {calls.n} sessions{_since(calls.first, calls.last)}"
    return (Say(f"{told}{few}."), *wrong)


def _gain(gain: float | None, what: str) -> Say:
    if gain is None:
        return Say(f"Too few {what}s to say how much better that is.")
    each = f"with each {what} foretold from the others"
    if gain <= 0.0:
        return Say(f"No better than the first guess yet, {each}.")
    return Say(f"{round(100.0 * gain)} % less error than the first guess, {each}.")


def _odd_readings(flagged: Sequence[FlaggedReading]) -> tuple[Say, ...]:
    return _few(
        _odd(f"{_day(row.taken_at)}{row.axle} hot pressure", row.why, row.off_c) for row in flagged
    )


def _odd_checks(flagged: Sequence[FlaggedCheck]) -> tuple[Say, ...]:
    return _few(
        _odd(f"{_day(row.at.date())}track temperature", row.why, row.off_c) for row in flagged
    )


def _odd_sightings(flagged: Sequence[FlaggedSighting]) -> tuple[Say, ...]:
    return _few(
        Say(
            f'{_day(row.day)}"{row.seen}" with {{film}} of water by the model: {row.why}.',
            {"film": Quantity(row.film_mm, "rain")},
        )
        for row in flagged
    )


def _odd(what: str, why: str, off_c: float | None) -> Say:
    """Name an entry that was not used, or that counts for less because it lies far off."""
    if off_c is None:
        return Say(f"Not used: {what}: {why}.")
    return Say(
        f"Check {what}: {{off}} {'hotter' if off_c > 0 else 'cooler'} than your other readings "
        "say; it counts for less.",
        {"off": Quantity(abs(off_c), "temperature_difference")},
    )


def _few(says: Iterable[Say]) -> tuple[Say, ...]:
    """Keep the first few, and say how many more there are."""
    every = tuple(says)
    more = len(every) - MOST_FLAGGED
    if more <= 0:
        return every
    return (*every[:MOST_FLAGGED], Say(f"{more} more like these."))


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _since(first: date | None, last: date | None) -> str:
    """Say since when: " since May", with the year where the readings span more than one."""
    if first is None or last is None:
        return ""
    return f" since {first:%B}" if first.year == last.year else f" since {first:%B %Y}"


def _day(day: date | None) -> str:
    return "" if day is None else f"{day:%b} {day.day}, "
