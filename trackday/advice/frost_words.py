"""What to do about a freezing night: before it, and once it has frozen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from trackday.advice.assumptions import UNKNOWN_MEMBERS_SHARE
from trackday.advice.assumptions_frost import (
    DEW_WATCH_CHANCE,
    FREEZE_ACT_CHANCE,
    FREEZE_AIR_C,
    FREEZE_HOURS,
    FROST_ACT_CHANCE,
)
from trackday.advice.decision import Decision, Urgency
from trackday.advice.frost_nights import Night
from trackday.outlook.spread import Spread
from trackday.wording import Quantity, Say, Value


@dataclass(frozen=True)
class Onset:
    """The chance that something comes in a night, NaN where unknown.

    `by` is the hour (UTC) by which half of the members that have it at all have it, None where none
    has. `unknown_share` is the weight of the members that do not know.
    """

    chance: float
    by: datetime | None
    unknown_share: float

    def is_there(self, as_of: datetime) -> bool:
        """Whether it has likely come by a moment."""
        return self.by is not None and self.by <= as_of


@dataclass(frozen=True)
class Risks:
    """What a night may bring: water that freezes, frost or dew on the car.

    `air_c` and `sheet_c` are the lowest temperatures of the air and of a roof under the open sky,
    `dew_point_c` the dew point at the night's end.
    """

    air_c: Spread
    sheet_c: Spread
    dew_point_c: Spread
    freeze: Onset
    frost: Onset
    dew: Onset

    @property
    def is_known(self) -> bool:
        """Whether enough members know of ice and frost to say that there is none."""
        unknown_share = max(self.freeze.unknown_share, self.frost.unknown_share)
        return unknown_share <= UNKNOWN_MEMBERS_SHARE


GLYCOL: Final = Say("Many rules forbid glycol in the water: check yours before you add any")
"""Common practice, no source."""

ROOF: Final = "roof under the open sky down to {sheet}, dew point {dew}"


def decide_frost(night: Night, risks: Risks, *, as_of: datetime) -> Decision:
    """Say the worst that is likely enough; what has likely come by `as_of` is mended."""
    if risks.freeze.chance >= FREEZE_ACT_CHANCE:
        return _ice(night, risks, as_of)
    if risks.frost.chance >= FROST_ACT_CHANCE:
        return _white(night, risks, as_of)
    if not risks.is_known:
        return _unknown(night, as_of)
    if risks.dew.chance >= DEW_WATCH_CHANCE and not risks.dew.is_there(as_of):
        return _wet(night, risks)
    quiet = 1.0 - max(risks.freeze.chance, risks.frost.chance)
    return _decision(night, "nothing", Say("No frost to plan for."), chance=quiet)


def _ice(night: Night, risks: Risks, as_of: datetime) -> Decision:
    is_late = risks.freeze.is_there(as_of)
    do = (
        "Look for ice in block, pump and washer before you start them: down to {low}."
        if is_late
        else "Drain plain water for the night or keep it warm: down to {low}, ice from {ice}."
    )
    values = _values(night, risks)
    frost = (Say(_also(risks, as_of), values),) if risks.frost.by is not None else ()
    return _decision(
        night,
        "act",
        Say(do, values),
        chance=risks.freeze.chance,
        why=(Say("air at or below {limit} for {hours} h", values), *frost),
        by=_due(night, risks.freeze, as_of),
        caution=None if is_late else GLYCOL,
    )


def _also(risks: Risks, as_of: datetime) -> str:
    if risks.frost.is_there(as_of):
        return "frost on the car since {frost}: scraper, dry cloths"
    return "frost on the car from {frost}: cover it; scraper and dry cloths for {back}"


def _white(night: Night, risks: Risks, as_of: datetime) -> Decision:
    do = (
        "Scrape screen and mirrors, wipe seat and canopy dry: frost since {frost}."
        if risks.frost.is_there(as_of)
        else "Cover the car for the night: frost from {frost}; scraper, dry cloths for {back}."
    )
    values = _values(night, risks)
    return _decision(
        night,
        "act",
        Say(do, values),
        chance=risks.frost.chance,
        why=(Say(ROOF, values),),
        by=_due(night, risks.frost, as_of),
    )


def _wet(night: Night, risks: Risks) -> Decision:
    """Dew harms nothing: it is told after all that has a time."""
    values = _values(night, risks)
    return _decision(
        night,
        "watch",
        Say("Cover the car on {evening} night: dew from {wet}; dry cloths for {back}.", values),
        chance=risks.dew.chance,
        why=(Say(ROOF, values),),
    )


def _unknown(night: Night, as_of: datetime) -> Decision:
    do = (
        "Frost not known: drain plain water and cover the car for the night."
        if as_of < night.start
        else "Frost not known: look for ice before you start engine, pump or washer."
    )
    return _decision(
        night,
        "unknown",
        Say(do),
        why=(Say("temperature, moisture, wind or cloud of the night is missing"),),
        by=night.leave if as_of < night.leave else None,
    )


def _values(night: Night, risks: Risks) -> dict[str, Value]:
    """What the sentences may say; what never comes is put at the night's end."""
    return {
        "evening": f"{night.evening:%a}",
        "hours": round(FREEZE_HOURS),
        "limit": Quantity(FREEZE_AIR_C, "temperature"),
        "low": Quantity(risks.air_c.p10, "temperature"),
        "sheet": Quantity(risks.sheet_c.p50, "temperature"),
        "dew": Quantity(risks.dew_point_c.p50, "temperature"),
        "ice": risks.freeze.by or night.end,
        "frost": risks.frost.by or night.end,
        "wet": risks.dew.by or night.end,
        "back": night.back,
    }


def _due(night: Night, onset: Onset, as_of: datetime) -> datetime | None:
    """Before the crew leaves; after that before it comes; at last when the crew is back."""
    moments = (night.leave, onset.by, night.back)
    return next((when for when in moments if when is not None and when > as_of), None)


def _decision(
    night: Night,
    urgency: Urgency,
    do: Say,
    *,
    chance: float = float("nan"),
    why: tuple[Say, ...] = (),
    by: datetime | None = None,
    caution: Say | None = None,
) -> Decision:
    return Decision(
        topic="frost",
        urgency=urgency,
        do=do,
        why=why,
        chance=chance,
        by=by,
        until=max(night.end, night.back),
        caution=caution,
        about=f"{night.evening:%a} night",
    )
