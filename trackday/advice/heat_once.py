"""The heat of a sky, worked out once for all the days that it speaks for."""

from __future__ import annotations

from collections.abc import Callable

from trackday.advice.heat import hourly_wbgt_c
from trackday.weather.series import Array, Weather
from trackday.weekend.venue import Venue

_ACTING = ("air_temp_c", "dew_point_c", "wind_ms", "ghi_wm2", "cloud_fraction", "pressure_pa")
"""Fields of the weather that the WBGT is made of."""


def remembered_wbgt_c() -> Callable[[Weather, Venue], Array]:
    """Give an `hourly_wbgt_c` for one venue that works out each sky once.

    The skies of an event's days often differ in the weights of their members alone.
    """
    known: dict[tuple[int, ...], tuple[list[Array], Array]] = {}

    def wbgt_of(weather: Weather, venue: Venue) -> Array:
        fields = [getattr(weather, name) for name in _ACTING]
        key = tuple(map(id, fields))
        # Fields are kept with their result, so that no others can take their place in memory.
        if key not in known:
            known[key] = (fields, hourly_wbgt_c(weather, venue))
        return known[key][1]

    return wbgt_of
