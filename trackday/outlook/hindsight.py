"""What the surface model makes of moments that are over, to be set beside what was seen there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from trackday.outlook.spread import weighted_mean
from trackday.outlook.surface import Interval, run_surface, venue_site
from trackday.weather.series import Array, Weather, at_times
from trackday.weekend.venue import Venue


@dataclass(frozen=True)
class Moment:
    """The bare model's surface, the air and the film at one moment; NaN where unknown."""

    at: datetime
    surface_c: float
    air_c: float
    film_mm: float


def hindsight(
    weather: Weather,
    venue: Venue,
    when: Sequence[datetime],
    *,
    traffic: Sequence[Interval] = (),
) -> tuple[Moment, ...]:
    """Run the model over the weather that came and read it at moments (UTC), in their order.

    `weather` is observed (or a day's last forecast: its members' mean counts) and should begin
    three days before the first moment. No correction and no reading is in the result.
    """
    run = run_surface(weather, venue, venue_site(venue), traffic)

    def mean(rows: Array) -> list[float]:
        return [weighted_mean(column, weather.weights) for column in rows.T]

    return tuple(
        Moment(at, surface_c, air_c, film_mm)
        for at, surface_c, air_c, film_mm in zip(
            when,
            mean(at_times(run.surface_temp_c, run.times, when)),
            mean(weather.at("air_temp_c", when)),
            mean(at_times(run.film_mm, run.times, when)),
            strict=True,
        )
    )
