"""What a day's canopy advice says: what to do, why, and what to look out for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

import numpy as np

from trackday.advice.assumptions import LEAST_BALLAST_PER_LEG_KG, MOST_BALLAST_PER_LEG_KG
from trackday.advice.canopy_ballast import BallastNeed
from trackday.advice.decision import Urgency
from trackday.outlook.spread import Spread
from trackday.physics.canopy_stability import Failure
from trackday.weekend.garage import Canopy
from trackday.wording import Quantity, Say, Value

URGENCY: Mapping[str, Urgency] = MappingProxyType(
    {"stand": "nothing", "add ballast": "act", "take down": "act", "unknown": "unknown"}
)

_FIRST: Mapping[Failure, str] = MappingProxyType(
    {"lifting": "it lifts first", "sliding": "it slides first", "tipping": "it tips first"}
)


@dataclass(frozen=True)
class DayFacts:
    """The numbers of one day that the words are made of; gusts in m/s, chances 0…1."""

    canopy: Canopy
    gust_ms: Spread
    empty: BallastNeed
    blocked: BallastNeed
    holds_gust_ms: float
    limit_gust_ms: float
    walls_are_the_trouble: bool
    chance_past_limit: float
    chance_past_holding: float

    @property
    def need(self) -> BallastNeed:
        """What the canopy needs as the garage has it."""
        return self.blocked if self.canopy.blocked else self.empty

    @property
    def only_the_guideline_asks(self) -> bool:
        """Whether its ballast holds the gust, but is less than any canopy should have."""
        return self.gust_ms.p90 <= self.holds_gust_ms


def do(action: str, facts: DayFacts, *, by: datetime | None, start: datetime) -> Say:
    """What to do, by when; `start` is when the canopy would go up."""
    if action == "unknown":
        return Say("Ballast the canopy as for a windy day and stay by it: gusts are not known.")
    if action == "take down" and by is not None:
        if by <= start and not facts.walls_are_the_trouble:
            return Say("Keep the canopy down: it will not stand these gusts.")
        if facts.walls_are_the_trouble:
            return Say(
                "Take the side walls off and the car out by {by}, or the canopy down.", {"by": by}
            )
        return Say("Take the canopy down by {by}.", {"by": by})
    if action == "add ballast" and by is not None:
        needed: dict[str, Value] = {"needed": Quantity(facts.need.per_leg_kg, "mass"), "by": by}
        if facts.walls_are_the_trouble:
            return Say(
                "Take the side walls off and the car out by {by}, or hang {needed} on each leg.",
                needed,
            )
        return Say("Hang {needed} on each leg by {by}.", needed)
    return Say(
        "Leave the canopy up with {have} on each leg.",
        {"have": Quantity(facts.canopy.ballast_per_leg_kg, "mass")},
    )


def chance(action: str, facts: DayFacts) -> float | None:
    """Chance that acting, or leaving it as it is, turns out to have been right.

    None where no gust asks for more ballast but the guideline, which holds in any weather.
    """
    if action == "add ballast" and facts.only_the_guideline_asks:
        return None
    return {
        "take down": facts.chance_past_limit,
        "add ballast": facts.chance_past_holding,
        "stand": 1.0 - facts.chance_past_holding,
    }.get(action, float("nan"))


def reasons(action: str, facts: DayFacts) -> tuple[Say, ...]:
    """The gust, the maker's limit, then what ballast does."""
    if not np.isfinite(facts.gust_ms.p90):
        return (
            Say("no gust forecast: tie it down as for a windy day and watch the flags"),
            _makers_limit(facts.canopy),
        )
    if action == "take down":
        last = _past_any_ballast(facts)
    elif action == "add ballast" and facts.only_the_guideline_asks:
        last = _guideline(facts)
    else:
        last = _ballast(facts)
    return (_gust(action, facts), _makers_limit(facts.canopy), last)


def caution(action: str) -> Say | None:
    """What goes wrong when the advice is followed carelessly."""
    if action == "take down":
        return Say(
            "Lowering it is no substitute: it lifts all the same. Walls off first, fold it between "
            "gusts"
        )
    if action == "stand":
        return None
    return Say(
        "Straps to a trailer count only if it is loaded, chocked and coupled or on its legs; flag "
        "each strap and stake, or somebody trips"
    )


def _gust(action: str, facts: DayFacts) -> Say:
    gust = Quantity(facts.gust_ms.p50, "speed", high=facts.gust_ms.p90)
    if action == "unknown":
        return Say("most forecasts give no gust; the others say {gust}", {"gust": gust})
    if action != "take down":
        return Say("strongest gust {gust} while it stands", {"gust": gust})
    return Say(
        "strongest gust {gust}; {chance} that it passes {limit}",
        {
            "gust": gust,
            "chance": Quantity(facts.chance_past_limit, "share"),
            "limit": Quantity(facts.limit_gust_ms, "speed"),
        },
    )


def _makers_limit(canopy: Canopy) -> Say:
    if canopy.wind_limit_ms is None:
        return Say("no maker's wind limit in garage.toml: look it up and write it in")
    return Say("maker's limit {limit}", {"limit": Quantity(canopy.wind_limit_ms, "speed")})


def _guideline(facts: DayFacts) -> Say:
    return Say(
        "at least {least} a leg in any wind, as event guidelines ask; your {have} hold to {holds}",
        {
            "least": Quantity(LEAST_BALLAST_PER_LEG_KG, "mass"),
            "have": Quantity(facts.canopy.ballast_per_leg_kg, "mass"),
            "holds": Quantity(facts.holds_gust_ms, "speed"),
        },
    )


def _ballast(facts: DayFacts) -> Say:
    """Both needs, which way it fails first, and what the ballast there is holds."""
    have = facts.canopy.ballast_per_leg_kg
    values = {
        "empty": Quantity(facts.empty.per_leg_kg, "mass"),
        "blocked": Quantity(facts.blocked.per_leg_kg, "mass"),
        "have": Quantity(have, "mass"),
        "holds": Quantity(facts.holds_gust_ms, "speed"),
    }
    weight = "{empty} a leg with nothing under it, {blocked} with side walls or a car"
    return Say(
        f"that takes {weight} ({_FIRST[facts.need.governs]}); your {{have}} hold to {{holds}}",
        values,
    )


def _past_any_ballast(facts: DayFacts) -> Say:
    makers = facts.canopy.wind_limit_ms
    values = {
        "limit": Quantity(facts.limit_gust_ms, "speed"),
        "most": Quantity(max(MOST_BALLAST_PER_LEG_KG, facts.canopy.ballast_per_leg_kg), "mass"),
        "empty": Quantity(facts.empty.per_leg_kg, "mass"),
        "blocked": Quantity(facts.blocked.per_leg_kg, "mass"),
    }
    if makers is not None and facts.limit_gust_ms >= makers:
        return Say("past the maker's limit no ballast counts")
    return Say(
        "even {most} a leg hold only to {limit}; this takes {empty} empty, {blocked} with side "
        f"walls or a car ({_FIRST[facts.need.governs]})",
        values,
    )
