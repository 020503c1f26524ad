"""How the lines of the written weekends' crews are checked against plan and weather.

`crew_tires`, `crew_paddock` and `crew_sight` hold one check a weekend and topic. A check asks for
the decision and for the facts that the crew gives as its reason; it never compares words. The
crews' judgment is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from trackday.advice.cold import ColdAdvice
from trackday.advice.engine import EngineAdvice
from trackday.advice.ground import GroundAdvice
from trackday.advice.heat import HeatAdvice
from trackday.advice.lightning import ThunderAdvice
from trackday.advice.tow import TowAdvice
from trackday.demo.stories import Story
from trackday.morning import Morning
from trackday.plan import DayPlan, Plan, SessionPlan
from trackday.weather.series import Weather, epoch_seconds
from trackday.weekend.reading import Weekend


@dataclass(frozen=True)
class Seen:
    """One weekend, its weather, the plan that the code makes of it, and the morning's call."""

    story: Story
    weekend: Weekend
    weather: Weather
    plan: Plan
    morning: Morning

    def session(self, name: str) -> SessionPlan:
        """The session of a name."""
        return next(p for p in self.plan.sessions if p.session.name == name)

    @property
    def day(self) -> DayPlan:
        """The event's one day."""
        (day,) = self.plan.days
        return day

    @property
    def heat(self) -> HeatAdvice:
        """The heat of the event's one day."""
        return self.day.heat

    @property
    def thunder(self) -> ThunderAdvice:
        """The storms of the event's one day."""
        return self.day.thunder

    @property
    def cold(self) -> ColdAdvice:
        """The cold of the event's one day."""
        return self.day.cold

    @property
    def ground(self) -> GroundAdvice:
        """The ground on the event's one day."""
        return self.day.ground

    @property
    def engines(self) -> tuple[EngineAdvice, ...]:
        """The engine's air in each session."""
        return tuple(planned.engine for planned in self.plan.sessions)

    @property
    def tow_home(self) -> TowAdvice:
        """The drive home."""
        return next(leg for leg in self.plan.tow if leg.leg == "home")

    def middle(self, field: str, when: datetime) -> float:
        """Weighted median of the members at a moment (equal weights within a center suffice)."""
        return float(np.median(getattr(self.weather, field)[:, self._stamp(when)]))

    def high(self, field: str, when: datetime) -> float:
        """Nine of ten members stay below it."""
        return float(np.quantile(getattr(self.weather, field)[:, self._stamp(when)], 0.9))

    def local(self, hour: int) -> datetime:
        """A full hour of the event's first day at the venue, as UTC."""
        day = self.plan.sessions[0].session.start.astimezone(self.plan.venue.zone).date()
        return datetime(day.year, day.month, day.day, hour, tzinfo=self.plan.venue.zone).astimezone(
            UTC
        )

    def _stamp(self, when: datetime) -> int:
        """Index of the hour whose stamp is the first at or after a moment."""
        return int(np.searchsorted(epoch_seconds(self.weather.times), when.timestamp()))


Check = Callable[[Seen], None]
CHECKS: dict[tuple[str, str], Check] = {}


def holds(topic: str, *stories: str) -> Callable[[Check], Check]:
    """Enter a check for the crew's line on a topic in some of the weekends."""

    def enter(check: Check) -> Check:
        for story in stories:
            assert (story, topic) not in CHECKS, f"{story} has two checks of {topic}"
            CHECKS[story, topic] = check
        return check

    return enter


def state(planned: SessionPlan) -> dict[str, float]:
    return planned.outlook.track.state_chance
