"""How a good reply of each format looks once something in it has gone wrong."""

from __future__ import annotations

import copy
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

from standin_nws import collection

AS_OF = datetime(2024, 6, 15, 11, 0, tzinfo=UTC)
"""A Saturday morning that is over, so that no clock makes the table depend on its day."""

HOLE = (datetime(2024, 6, 16, 0, 0, tzinfo=UTC), datetime(2024, 6, 17, 0, 0, tzinfo=UTC))
"""The day after, for faults that leave a hole."""

FUTURE = timedelta(days=40)
OLD = timedelta(hours=25)


class Form:
    """Changes to a reply of one format."""

    @staticmethod
    def old(data: Any) -> Any:
        """Leave the contents: a copy from somewhere on the way is as old as its Date says."""
        return data


class Hourly(Form):
    """Open-Meteo's columns by the hour."""

    @staticmethod
    def all_null(data: Any) -> Any:
        return _columns(data, lambda values, _: [None] * len(values))

    @staticmethod
    def some_null(data: Any) -> Any:
        return _columns(
            data,
            lambda values, times: [
                None if _in_hole(time) else value for value, time in zip(values, times, strict=True)
            ],
        )

    @staticmethod
    def nan_text(data: Any) -> Any:
        return _columns(data, lambda values, _: ["NaN"] * len(values))

    @staticmethod
    def wrong_unit(data: Any) -> Any:
        data["hourly_units"] = {
            key: "fathom" if key.startswith("precipitation") else unit
            for key, unit in data["hourly_units"].items()
        }
        return data

    @staticmethod
    def unordered(data: Any) -> Any:
        data["hourly"] = {key: values[::-1] for key, values in data["hourly"].items()}
        return data

    @staticmethod
    def twice(data: Any) -> Any:
        data["hourly"] = {key: values + values[-30:] for key, values in data["hourly"].items()}
        return data

    @staticmethod
    def day_missing(data: Any) -> Any:
        kept = [n for n, time in enumerate(data["hourly"]["time"]) if not _in_hole(time)]
        data["hourly"] = {key: [values[n] for n in kept] for key, values in data["hourly"].items()}
        return data

    @staticmethod
    def future(data: Any) -> Any:
        late = int(FUTURE.total_seconds())
        data["hourly"]["time"] = [time + late for time in data["hourly"]["time"]]
        return data


class Points(Form):
    """Which grid cell a place lies in."""

    @staticmethod
    def all_null(data: Any) -> Any:
        data["properties"] = dict.fromkeys(data["properties"])
        return data

    @staticmethod
    def nan_text(data: Any) -> Any:
        data["properties"] |= {"gridX": "NaN", "gridY": "NaN"}
        return data


class Grid(Form):
    """Layers of intervals."""

    @staticmethod
    def all_null(data: Any) -> Any:
        return _layers(data, lambda entries: [{**entry, "value": None} for entry in entries])

    @staticmethod
    def some_null(data: Any) -> Any:
        def emptied(entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
            parts = [part for entry in entries for part in _parts(entry)]
            return [{**part, "value": None} if _in_hole_at(part) else part for part in parts]

        return _layers(data, emptied)

    @staticmethod
    def nan_text(data: Any) -> Any:
        return _layers(data, lambda entries: [{**entry, "value": "NaN"} for entry in entries])

    @staticmethod
    def wrong_unit(data: Any) -> Any:
        data["properties"]["quantitativePrecipitation"]["uom"] = "wmoUnit:fathom"
        return data

    @staticmethod
    def unordered(data: Any) -> Any:
        return _layers(data, lambda entries: entries[::-1])

    @staticmethod
    def twice(data: Any) -> Any:
        return _layers(data, lambda entries: entries + entries[-3:])

    @staticmethod
    def day_missing(data: Any) -> Any:
        def without(entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
            parts = [part for entry in entries for part in _parts(entry)]
            return [part for part in parts if not _in_hole_at(part)]

        return _layers(data, without)

    @staticmethod
    def old(data: Any) -> Any:
        data["properties"]["updateTime"] = (AS_OF - OLD).isoformat()
        return data

    @staticmethod
    def future(data: Any) -> Any:
        def later(entry: dict[str, Any]) -> dict[str, Any]:
            start, _, length = entry["validTime"].partition("/")
            moved = datetime.fromisoformat(start) + FUTURE
            return {**entry, "validTime": f"{moved.isoformat()}/{length}"}

        return _layers(data, lambda entries: [later(entry) for entry in entries])


class Words(Form):
    """The office's forecast by the hour, in words."""

    @staticmethod
    def all_null(data: Any) -> Any:
        return _periods(data, lambda each: [dict.fromkeys(p) | _times(p) for p in each])

    @staticmethod
    def some_null(data: Any) -> Any:
        return _periods(
            data,
            lambda each: [dict.fromkeys(p) | _times(p) if _starts_in_hole(p) else p for p in each],
        )

    @staticmethod
    def nan_text(data: Any) -> Any:
        return _periods(data, lambda each: [dict.fromkeys(p, "NaN") | _times(p) for p in each])

    @staticmethod
    def wrong_unit(data: Any) -> Any:
        fathoms = {"unitCode": "wmoUnit:fathom", "value": 1}
        return _periods(
            data, lambda each: [{**p, "probabilityOfPrecipitation": fathoms} for p in each]
        )

    @staticmethod
    def unordered(data: Any) -> Any:
        return _periods(data, lambda each: each[::-1])

    @staticmethod
    def twice(data: Any) -> Any:
        return _periods(data, lambda each: each + each[-3:])

    @staticmethod
    def day_missing(data: Any) -> Any:
        return _periods(data, lambda each: [p for p in each if not _starts_in_hole(p)])

    @staticmethod
    def old(data: Any) -> Any:
        data["properties"]["updateTime"] = (AS_OF - OLD).isoformat()
        return data

    @staticmethod
    def future(data: Any) -> Any:
        return _periods(
            data, lambda each: [_moved(p, ("startTime", "endTime"), FUTURE) for p in each]
        )


class Features(Form):
    """A list of alerts, stations or reports."""

    TIMES = ("sent", "effective", "onset", "ends", "expires", "timestamp")

    @staticmethod
    def all_null(data: Any) -> Any:
        return _features(data, lambda each: [dict.fromkeys(properties) for properties in each])

    @staticmethod
    def twice(data: Any) -> Any:
        return _features(data, lambda each: each + each)

    @staticmethod
    def unordered(data: Any) -> Any:
        return _features(data, lambda each: each[::-1])

    @staticmethod
    def future(data: Any) -> Any:
        return _features(data, lambda each: [_moved(p, Features.TIMES, FUTURE) for p in each])


class Reports(Features):
    """A station's reports."""

    @staticmethod
    def some_null(data: Any) -> Any:
        return _features(data, lambda each: [{**p, "temperature": None} for p in each])

    @staticmethod
    def nan_text(data: Any) -> Any:
        return _features(
            data,
            lambda each: [{**p, "temperature": {**p["temperature"], "value": "NaN"}} for p in each],
        )

    @staticmethod
    def wrong_unit(data: Any) -> Any:
        return _features(
            data,
            lambda each: [
                {**p, "temperature": {**p["temperature"], "unitCode": "wmoUnit:fathom"}}
                for p in each
            ],
        )

    @staticmethod
    def old(data: Any) -> Any:
        return _features(data, lambda each: [_moved(p, Features.TIMES, -OLD) for p in each])


class Metar(Form):
    """An airfield's reports."""

    @staticmethod
    def all_null(data: Any) -> Any:
        return [dict.fromkeys(report) for report in data]

    @staticmethod
    def some_null(data: Any) -> Any:
        return [{**report, "temp": None} for report in data]

    @staticmethod
    def nan_text(data: Any) -> Any:
        return [{**report, "temp": "NaN"} for report in data]

    @staticmethod
    def unordered(data: Any) -> Any:
        return data[::-1]

    @staticmethod
    def twice(data: Any) -> Any:
        return data + data

    @staticmethod
    def old(data: Any) -> Any:
        return [{**r, "obsTime": r["obsTime"] - OLD.total_seconds()} for r in data]

    @staticmethod
    def future(data: Any) -> Any:
        return [{**r, "obsTime": r["obsTime"] + FUTURE.total_seconds()} for r in data]


class Steps(Form):
    """Steps with an instant and periods."""

    @staticmethod
    def all_null(data: Any) -> Any:
        return _steps(data, lambda each: [_with_details(step, lambda _: None) for step in each])

    @staticmethod
    def some_null(data: Any) -> Any:
        return _steps(
            data,
            lambda each: [
                _with_details(step, lambda _: None) if _time_in_hole(step) else step
                for step in each
            ],
        )

    @staticmethod
    def nan_text(data: Any) -> Any:
        return _steps(data, lambda each: [_with_details(step, lambda _: "NaN") for step in each])

    @staticmethod
    def wrong_unit(data: Any) -> Any:
        data["properties"]["meta"]["units"]["precipitation_amount"] = "fathom"
        return data

    @staticmethod
    def unordered(data: Any) -> Any:
        return _steps(data, lambda each: each[::-1])

    @staticmethod
    def twice(data: Any) -> Any:
        return _steps(data, lambda each: each + each[-3:])

    @staticmethod
    def day_missing(data: Any) -> Any:
        return _steps(data, lambda each: [step for step in each if not _time_in_hole(step)])

    @staticmethod
    def old(data: Any) -> Any:
        data["properties"]["meta"]["updated_at"] = (AS_OF - OLD).isoformat()
        return data

    @staticmethod
    def future(data: Any) -> Any:
        return _steps(data, lambda each: [_moved(step, ("time",), FUTURE) for step in each])


def _columns(data: Any, change: Callable[[list[Any], list[int]], list[Any]]) -> Any:
    hourly = data["hourly"]
    data["hourly"] = {
        key: values if key == "time" else change(values, hourly["time"])
        for key, values in hourly.items()
    }
    return data


def _layers(data: Any, change: Callable[[list[dict[str, Any]]], list[dict[str, Any]]]) -> Any:
    data = copy.deepcopy(data)
    for layer in data["properties"].values():
        if isinstance(layer, dict) and layer.get("values"):
            layer["values"] = change(layer["values"])
    return data


def _features(data: Any, change: Callable[[list[dict[str, Any]]], list[dict[str, Any]]]) -> Any:
    changed = change([feature["properties"] for feature in data["features"]])
    return collection(*changed)


def _periods(data: Any, change: Callable[[list[dict[str, Any]]], list[dict[str, Any]]]) -> Any:
    data["properties"]["periods"] = change(data["properties"]["periods"])
    return data


def _steps(data: Any, change: Callable[[list[dict[str, Any]]], list[dict[str, Any]]]) -> Any:
    data["properties"]["timeseries"] = change(data["properties"]["timeseries"])
    return data


def _with_details(step: dict[str, Any], change: Callable[[Any], Any]) -> dict[str, Any]:
    """Change every value of a step."""
    parts = {
        name: part | {"details": {key: change(value) for key, value in part["details"].items()}}
        for name, part in step["data"].items()
    }
    return step | {"data": parts}


def _time_in_hole(step: dict[str, Any]) -> bool:
    return HOLE[0] <= datetime.fromisoformat(step["time"]) < HOLE[1]


def _times(period: dict[str, Any]) -> dict[str, Any]:
    return {name: period[name] for name in ("startTime", "endTime")}


def _starts_in_hole(period: dict[str, Any]) -> bool:
    return HOLE[0] <= datetime.fromisoformat(period["startTime"]) < HOLE[1]


def _moved(properties: dict[str, Any], names: tuple[str, ...], by: timedelta) -> dict[str, Any]:
    moved = {
        name: (datetime.fromisoformat(properties[name]) + by).isoformat()
        for name in names
        if properties.get(name)
    }
    return properties | moved


def _in_hole(time: int) -> bool:
    return HOLE[0].timestamp() < time <= HOLE[1].timestamp()


def _in_hole_at(entry: dict[str, Any]) -> bool:
    return HOLE[0] <= datetime.fromisoformat(entry["validTime"].partition("/")[0]) < HOLE[1]


def _parts(entry: dict[str, Any]) -> list[dict[str, Any]]:
    """Cut an interval of the grid at the edges of the hole; merged ones may be days long."""
    start, _, length = entry["validTime"].partition("/")
    days, _, hours = length.removeprefix("P").partition("T")
    begins = datetime.fromisoformat(start)
    ends = begins + timedelta(days=int(days.rstrip("D") or 0), hours=int(hours.rstrip("H") or 0))
    edges = [begins, *(edge for edge in HOLE if begins < edge < ends), ends]
    return [
        {**entry, "validTime": f"{one.isoformat()}/PT{(other - one) // timedelta(hours=1)}H"}
        for one, other in pairwise(edges)
    ]
