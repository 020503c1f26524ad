"""The one form in which every decision is said: what to do, how sure, why, until when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from trackday.wording import Say

Topic = Literal[
    "tires",
    "pressure",
    "canopy",
    "lightning",
    "heat",
    "cold",
    "frost",
    "fog",
    "light",
    "glare",
    "ground",
    "tow",
    "engine",
    "load",
]
Urgency = Literal["act", "watch", "nothing", "unknown"]
"""Do something; look again by a time; nothing to do; nothing is known, so be careful."""

MOST_REASONS = 3


@dataclass(frozen=True)
class Decision:
    """One decision in words.

    `do` is an imperative that stands alone ("Take the canopy down by 13:00."); `chance` is that of
    the danger or need it answers, or for a choice (tires, pressures, the load) that it turns out
    right; None where none applies (the sun's clock) and NaN where unknown;
    `why` holds at most `MOST_REASONS` short reasons with their numbers. `by` is the moment by which
    to act, `until` the moment to which the decision holds (both UTC, None where there is none).
    `about` names the session or day it is for, "" for the whole event; `chance_of` what the chance
    is of, "" where the topic says it.
    """

    topic: Topic
    urgency: Urgency
    do: Say
    why: tuple[Say, ...]
    chance: float | None = None
    by: datetime | None = None
    until: datetime | None = None
    caution: Say | None = None
    about: str = ""
    chance_of: str = ""

    def __post_init__(self) -> None:
        """Refuse more reasons than anybody reads."""
        if len(self.why) > MOST_REASONS:
            raise ValueError(f"{self.topic}: {len(self.why)} reasons, more than {MOST_REASONS}")
