"""What a day's light advice says: lamps, load-out after dark, the moon."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from trackday.advice.assumptions import USEFUL_MOON_SHARE
from trackday.physics.moon import MoonWatch
from trackday.physics.sun import SunDay
from trackday.wording import Say


@dataclass(frozen=True)
class LightFacts:
    """One day's moments, UTC: what the words are made of.

    `lamps_from` is when outside work needs lamps (None where it never does), `work_end` when the
    last work is done. `work_start` is when the first work begins, `dark_until` the end of the dark
    that it begins in, None where it is light by then.
    """

    sun: SunDay
    last_end: datetime
    finish: datetime
    lamps_from: datetime | None
    work_end: datetime
    load_out_end: datetime | None
    moon: MoonWatch | None
    work_start: datetime
    dark_until: datetime | None

    @property
    def needs_lamps(self) -> bool:
        """Whether there is work after dark."""
        return self.lamps_from is not None and self.lamps_from < self.work_end

    @property
    def packs_in_the_dark(self) -> bool:
        """Whether the load-out runs into the dark."""
        return (
            self.load_out_end is not None
            and self.lamps_from is not None
            and self.load_out_end > self.lamps_from
        )


def do(facts: LightFacts) -> Say:
    """What to do about the dark."""
    if facts.dark_until is not None and not facts.needs_lamps:
        return Say("Head lamp until {dawn}: work begins in the dark.", {"dawn": facts.dark_until})
    if facts.lamps_from is None or not facts.needs_lamps:
        return Say("No lamps needed: the work ends by daylight.")
    if facts.sun.always_down:
        return Say("Set lamps up for all outside work: there is no daylight.")
    if facts.lamps_from <= facts.last_end:
        return Say("Set the lamps up before the last session: it ends in the dark.")
    if facts.packs_in_the_dark:
        return Say(
            "Pack the small things and tie-downs by {dusk}; the load-out runs on after dark.",
            {"dusk": facts.lamps_from},
        )
    return Say(
        "Have lamps up by {dusk}: {length} of work after dark.",
        {"dusk": facts.lamps_from, "length": _length(facts.work_end - facts.lamps_from)},
    )


def lamps_by(facts: LightFacts) -> datetime | None:
    """When the lamps have to be ready: by dusk, even where the last session runs past it.

    Where the evening needs none, by the first work in the dark of the morning.
    """
    if facts.needs_lamps:
        return facts.sun.civil_dusk
    return None if facts.dark_until is None else facts.work_start


def holds_until(facts: LightFacts) -> datetime:
    """The end of the work that the advice is for."""
    if facts.dark_until is not None and not facts.needs_lamps:
        return facts.dark_until
    return facts.work_end


def reasons(facts: LightFacts) -> tuple[Say, ...]:
    """The dark, then the load-out in it, then the moon over it; the morning's dark if it is all."""
    said = [_dark(facts)]
    if facts.packs_in_the_dark and facts.load_out_end is not None:
        said.append(
            Say(
                "load-out until {end} is in the dark: head lamp on, tie-downs checked by hand",
                {"end": facts.load_out_end},
            )
        )
    if facts.moon is not None:
        said.append(_moon(facts.moon, facts))
    if facts.dark_until is not None:
        dark = Say(
            "dark from the first work at {start} to {dawn}",
            {"start": facts.work_start, "dawn": facts.dark_until},
        )
        said.insert(len(said) if facts.needs_lamps else 0, dark)
    return tuple(said)


def usable(minutes: float | None) -> tuple[Say, ...]:
    """How long there is light after the last session, if at all."""
    if minutes is None or minutes <= 0:
        return ()
    length = _length(timedelta(minutes=minutes))
    return (Say("{length} of usable light after the last session", {"length": length}),)


def _dark(facts: LightFacts) -> Say:
    sun = facts.sun
    if sun.always_up:
        return Say("the sun does not set: no lamps needed")
    if sun.civil_dusk is None:
        if sun.always_down:
            return Say("the sun does not rise: lamps for all outside work")
        return Say("twilight lasts all night: light enough for most outside work")
    if facts.last_end >= sun.civil_dusk:
        return Say("the last session ends in the dark: lamps from the start")
    if facts.finish > sun.civil_dusk:
        return Say(
            "work outside by daylight until {dusk}, lamps from then to {finish}",
            {"dusk": sun.civil_dusk, "finish": facts.finish},
        )
    return Say(
        "the day's work ends {finish}, before dark at {dusk}",
        {"finish": facts.finish, "dusk": sun.civil_dusk},
    )


def _moon(moon: MoonWatch, facts: LightFacts) -> Say:
    """Whether the moon helps; cloud is not looked at."""
    lit = 5 * round(20 * moon.lit_share)
    if not moon.up:
        return Say("no moon while you work")
    if moon.lit_share < USEFUL_MOON_SHARE:
        return Say("moon only {lit} % lit: no help", {"lit": lit})
    rises, sets = moon.up[0]
    if rises > (facts.lamps_from or rises):
        return Say("moon {lit} % lit, up from {rises}, cloud apart", {"lit": lit, "rises": rises})
    if sets < facts.work_end:
        return Say("moon {lit} % lit, up until {sets}, cloud apart", {"lit": lit, "sets": sets})
    return Say("moon {lit} % lit, up all the while, cloud apart", {"lit": lit})


def _length(length: timedelta) -> str:
    hours, minutes = divmod(round(length / timedelta(minutes=1)), 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"
