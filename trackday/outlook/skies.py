"""Which weather speaks for a session: the forecast as far as it reaches, then other years."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import pandas as pd

from trackday.learning.venue_bias import VenueBias
from trackday.outlook.surface import TrackRuns, run_track
from trackday.weather.reach import reaching
from trackday.weather.series import Weather, at_times
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
        if self.forecast.basis == "climatology":
            return _known_stretches(self.forecast, start=start, end=end)
        weather = reaching(self.forecast.weather, start=start, end=end)
        if weather is not None:
            return replace(self.forecast, weather=weather)
        if self.other_years is None:
            return self.forecast
        return _known_stretches(self.other_years, start=start, end=end)


def make_skies(
    gathered: Gathered,
    venue: Venue,
    sessions: Sequence[Session],
    *,
    readings: Sequence[TrackReading] = (),
    bias: VenueBias | None = None,
) -> Skies:
    """Run the track under the forecast, and under other years if a session needs them.

    `bias`, what readings from before the event taught of this venue, corrects both. Only the
    forecast's track follows `readings`: other years had other temperatures.
    """
    traffic = [(session.start, session.end) for session in sessions]

    def sky(weather: Weather, basis: RainBasis, followed: Sequence[TrackReading] = ()) -> Sky:
        track = run_track(weather, venue, traffic=traffic, readings=followed, bias=bias)
        return Sky(weather, basis, track)

    other_years = gathered.climatology
    is_needed = gathered.basis != "climatology" and any(
        reaching(gathered.weather, start=start, end=end) is None for start, end in traffic
    )
    return Skies(
        forecast=sky(gathered.weather, gathered.basis, readings),
        other_years=sky(other_years, "climatology") if is_needed and other_years else None,
    )


def _known_stretches(sky: Sky, *, start: datetime, end: datetime) -> Sky:
    """Let only those stretches of other years speak whose track is known all the time.

    A hole in a station's record makes the sample smaller; it is no doubt about the weather to come.
    Where every stretch has one, all stay and the track is unknown.
    """
    minutes = pd.date_range(start, end, freq="5min")
    films = at_times(sky.track.open_air.film_mm, sky.track.open_air.times, minutes)
    known = np.isfinite(films).all(axis=1)
    if not known.any():
        return sky
    weights = known / known.sum()
    return replace(sky, weather=replace(sky.weather, weights=weights))
