"""Which weather speaks for a session: the forecast as far as it reaches, then other years."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from trackday.outlook.surface import TrackRuns, run_track
from trackday.weather.reach import reaching
from trackday.weather.series import Weather
from trackday.weather.sources import Gathered, RainBasis
from trackday.weekend.readings import TrackReading
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Venue


@dataclass(frozen=True)
class Sky:
    """One weather, how its odds of rain were made, and the track under each of its members."""

    weather: Weather
    basis: RainBasis
    track: TrackRuns


@dataclass(frozen=True)
class Skies:
    """The forecast, and other years where the forecast leaves a session without rain."""

    forecast: Sky
    other_years: Sky | None

    def over(self, start: datetime, end: datetime) -> Sky:
        """Take the forecast if it knows the rain of the whole time, else other years if there are.

        Without either the forecast speaks, and says "unknown".
        """
        weather = reaching(self.forecast.weather, start=start, end=end)
        if weather is not None:
            return replace(self.forecast, weather=weather)
        return self.other_years or self.forecast


def make_skies(
    gathered: Gathered,
    venue: Venue,
    sessions: Sequence[Session],
    *,
    readings: Sequence[TrackReading] = (),
) -> Skies:
    """Run the track under the forecast, and under other years if a session needs them.

    Only the forecast's track follows `readings`: other years had other temperatures.
    """
    traffic = [(session.start, session.end) for session in sessions]

    def sky(weather: Weather, basis: RainBasis, followed: Sequence[TrackReading] = ()) -> Sky:
        return Sky(weather, basis, run_track(weather, venue, traffic=traffic, readings=followed))

    other_years = gathered.climatology
    is_needed = gathered.basis != "climatology" and any(
        reaching(gathered.weather, start=start, end=end) is None for start, end in traffic
    )
    return Skies(
        forecast=sky(gathered.weather, gathered.basis, readings),
        other_years=sky(other_years, "climatology") if is_needed and other_years else None,
    )
