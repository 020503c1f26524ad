"""Fuzz the readers of places and heights, and of what a person types for a place."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from harness import any_reply, demand_plain, fuzz

from trackday.weather.failures import SourceError
from trackday.weather.places import clear_best, parse_elevation, parse_places

SEARCH = {
    "results": [
        {
            "id": 1, "name": name, "latitude": 43.6, "longitude": -91.0, "elevation": 300.0,
            "country_code": "US", "country": "United States", "admin1": "Wisconsin",
            "admin2": "A County", "timezone": "America/Chicago", "population": 500,
        }
        for name in ("Tamarack", "Tamarack Mills")
    ],
    "generationtime_ms": 0.5,
}  # fmt: skip
HEIGHT = {"elevation": [300.0]}


def refused_or(read: Callable[[Any], Any]) -> Callable[[Any], None]:
    def do(data: Any) -> None:
        if not isinstance(data, dict):
            return  # the fetch hands on objects alone
        try:
            read(data)
        except SourceError as error:
            demand_plain(error.reason)

    return do


def search(data: Any) -> None:
    places = parse_places(data)
    clear_best(places, "Tamarack, WI")
    for place in places:
        demand_plain(place.label)
        demand_plain(place.timezone)
        assert place.coordinates


def height(data: Any) -> None:
    assert -430.0 <= parse_elevation(data) <= 5000.0


if __name__ == "__main__":
    fuzz(
        {
            "search": (any_reply(SEARCH), refused_or(search)),
            "height": (any_reply(HEIGHT), refused_or(height)),
        }
    )
