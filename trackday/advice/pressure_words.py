"""What a session's pressure advice says: what to set, why, and when to look again."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from trackday.weekend.garage import LastGood, PressureSettings
from trackday.wording import Quantity, Say, Value

if TYPE_CHECKING:
    from trackday.advice.pressure import Axles

_SAME_C = 0.5
"""Temperatures that differ by less are called the same, K: nobody's notes are finer. Assumption."""


def what_to_set(axles: Axles, *, when: datetime, settings: PressureSettings) -> Say:
    """Both axles with their ranges, how warm the tires are then, and when."""
    front, rear = axles
    if not np.isfinite(front.cold_kpa):
        return Say("Set the pressures by your own notes: track temperature not known.")
    values: dict[str, Value] = {
        "front": Quantity(front.to_set_kpa, "pressure"),
        "rear": Quantity(rear.to_set_kpa, "pressure"),
        "when": when,
    }
    where = "" if front.at_gauge_kpa is None else " as your gauge shows where you set them"
    if settings.warmed_to_c is None:
        return Say(f"Set {{front}} front, {{rear}} rear{where}, tires cold, at {{when}}.", values)
    values["warm"] = Quantity(settings.warmed_to_c, "temperature")
    return Say(
        f"Set {{front}} front, {{rear}} rear{where}, tires warmed to {{warm}}, at {{when}}.", values
    )


def look_again(when: datetime, *, settings: PressureSettings) -> Say:
    """When to check: before the grid and straight after the session."""
    if settings.warmed_to_c is not None:
        return Say("Check at {when} and straight after the session", {"when": when})
    return Say(
        "Cold means not driven for an hour and in the shade; check at {when} and straight after "
        "the session",
        {"when": when},
    )


def compared(
    axles: Axles, last: LastGood | None, *, track_c: float, air_c: float, step_kpa: float
) -> Say:
    """The change from the last good setting and what is different about the weather."""
    if last is None:
        return Say("no last good setting in garage.toml: these are first guesses")
    setting = 'your setting "{note}"' if last.note else "your last good setting"
    warmed = axles[0].at_grid_kpa is None
    weather = weather_than(last, track_c=track_c, air_c=None if warmed else air_c)
    values: dict[str, Value] = {"note": last.note, **weather.values}
    offsets = [axle.offset_kpa or 0.0 for axle in axles]
    if max(abs(offset) for offset in offsets) < step_kpa / 2:
        return Say(f"as {setting}: {weather.template}", values)
    values["front"], values["rear"] = (Quantity(kpa, "pressure_difference") for kpa in offsets)
    return Say(f"front {{front}}, rear {{rear}} from {setting}: {weather.template}", values)


def weather_than(last: LastGood, *, track_c: float, air_c: float | None) -> Say:
    """How the weather differs from that of the last good setting; no air for warmed tires."""
    values: dict[str, Value] = {
        "track": Quantity(abs(track_c - last.track_temp_c), "temperature_difference")
    }
    words = _than("track", track_c - last.track_temp_c)
    if air_c is not None:
        values["air"] = Quantity(abs(air_c - last.air_temp_c), "temperature_difference")
        words += f", {_than('air', air_c - last.air_temp_c, when=' when set')}"
    return Say(words, values)


def drifts(axles: Axles, *, step_kpa: float) -> tuple[Say, ...]:
    """Say so where a tire that waits for its session reads another step of the gauge."""
    moved = [axle.at_grid_kpa - axle.cold_kpa for axle in axles if axle.at_grid_kpa is not None]
    if not moved or not max(abs(kpa) for kpa in moved) >= step_kpa:
        return ()
    return (
        Say(
            "the air changes until the session: by then they read {front} and {rear} cold; leave "
            "them",
            {
                name: Quantity(axle.at_grid_kpa or np.nan, "pressure")
                for name, axle in zip(("front", "rear"), axles, strict=True)
            },
        ),
    )


def _than(name: str, change_c: float, *, when: str = "") -> str:
    if abs(change_c) < _SAME_C:
        return f"{name} the same"
    return f"{name} {{{name}}} {'hotter' if change_c > 0 else 'cooler'}{when}"
