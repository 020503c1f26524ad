"""Fuzz the reader of MET Norway's forecast, in the area of its own models and elsewhere."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from harness import any_reply, demand_plain, fuzz
from standin_met_norway import HOURLY, forecast

from trackday.weather.failures import SourceError
from trackday.weather.met_norway import parse_forecast

NOW = datetime(2027, 6, 12, 12, 0, tzinfo=UTC)


def few_steps(*, at_home: bool) -> dict[str, Any]:
    """A good reply of two hourly steps and two six-hourly ones."""
    data = forecast(NOW, at_home=at_home)
    steps = data["properties"]["timeseries"]
    data["properties"]["timeseries"] = [*steps[:2], *steps[HOURLY : HOURLY + 2]]
    return data


def read(data: Any) -> None:
    """Read a reply; SourceError is what the reader may raise, with one printable line."""
    try:
        parsed = parse_forecast(data, elevation_m=300.0, as_of=NOW)
    except SourceError as error:
        demand_plain(error.reason)
        return
    for note in parsed.notes:
        demand_plain(note)
    assert len(parsed.weather.times) <= timedelta(days=31) / timedelta(hours=1) + 2


if __name__ == "__main__":
    fuzz(
        {
            "at home": (any_reply(few_steps(at_home=True)), read),
            "elsewhere": (any_reply(few_steps(at_home=False)), read),
        }
    )
