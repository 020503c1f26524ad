"""`trackday past` as text: how often it rained, how warm track and air were, and the light."""

from __future__ import annotations

import math
from datetime import datetime, tzinfo

from rich.console import Console

from trackday.outlook.rain import WET_MM
from trackday.outlook.spread import RANGE_LEVEL, Spread
from trackday.past import Past, PastRain, PastSession
from trackday.report.layout import bullet, heading, indented, line, table, title
from trackday.units import UNKNOWN, UnitSystem, units_named
from trackday.weather.history_source import History
from trackday.weather.station_hours import NORMALS_YEARS
from trackday.wording import day_clock

MOSTLY_KNOWN = 0.9
"""Share of known days under which a reader is told of it (assumption)."""


def print_past(console: Console, past: Past, unit_system: str) -> None:
    """Print what other years brought, and from how much that is known."""
    units, zone = units_named(unit_system), past.venue.zone
    _head(console, past, units)
    _rain(console, past, units, zone)
    _air(console, past, units, zone)
    _light(console, past, zone)
    _source(console, past, units)


def _head(console: Console, past: Past, units: UnitSystem) -> None:
    place = past.venue.name if past.name is None else f"{past.name} at {past.venue.name}"
    title(console, f"{place} in other years")
    first, last = past.days[0].day, past.days[-1].day
    dates = f"{first:%b} {first.day}" + ("" if first == last else f"–{last:%b} {last.day}")
    line(
        console,
        f"{dates}, {past.window_days} days either way, {past.years[0]}–{past.years[-1]}; "
        f"all times {past.venue.timezone}",
        indent=0,
    )
    line(console, f"from {_where(past.history, units)}", indent=0)


def _where(history: History, units: UnitSystem) -> str:
    """Name the station with its distance and height, or the reanalysis."""
    station = history.station
    if station is None:
        return "reanalysis (a model's memory of the past, not a gauge)"
    away = units.distance(station.distance_km * 1000.0)
    if math.isnan(station.above_m):
        height = "elevation unknown"
    else:
        side = "higher" if station.above_m >= 0.0 else "lower"
        height = f"{units.elevation(abs(station.above_m))} {side}"
    return f"station {station.name} ({station.id}), {away} away, {height}"


def _rain(console: Console, past: Past, units: UnitSystem, zone: tzinfo) -> None:
    heading(console, "Rain")
    rows = [
        (
            each.session.name,
            day_clock(each.session.start, zone),
            _share_cell(each.rain),
            f"{each.rain.wet} of {each.rain.known}",
            str(each.rain.asked - each.rain.known),
            _amount_cell(each.rain, units),
        )
        for each in past.sessions
    ]
    columns = (
        ("Session", 12),
        ("Start", 9),
        ("Rained", 12),
        ("Days", 10),
        ("Unknown", 7),
        ("When wet", 12),
    )
    indented(console, table(columns, rows))
    bullet(
        console,
        f"a day counts as wet from {WET_MM:g} mm in the hours that the session touches, the least "
        f"that a gauge shows; ranges hold in {_percent(RANGE_LEVEL)} of cases",
    )
    fewest = min(each.rain.effective for each in past.sessions)
    if fewest > 0.0:
        bullet(
            console,
            "days that follow each other are alike: for the ranges, these count as "
            f"{fewest:.0f} independent days",
        )


def _share_cell(rain: PastRain) -> str:
    """Share of wet days with its range: "12 % (9–15)"."""
    if rain.known == 0:
        return UNKNOWN
    return f"{100 * rain.share:.0f} % ({100 * rain.low:.0f}–{100 * rain.high:.0f})"


def _amount_cell(rain: PastRain, units: UnitSystem) -> str:
    """Rain of wet days, from their 10th to their 90th percentile; nothing where none was wet."""
    if rain.known and not rain.wet:
        return "–"
    return _range(rain.amount_when_wet_mm, "rain", units)


def _air(console: Console, past: Past, units: UnitSystem, zone: tzinfo) -> None:
    heading(console, "Track and air")
    rows = [_air_row(each, units, zone) for each in past.sessions]
    columns = (("Session", 12), ("Start", 9), ("Track", 9), ("Air", 9), ("Wind", 9), ("Gust", 9))
    indented(console, table(columns, rows))
    bullet(console, "ranges leave out the lowest and the highest tenth of the days")
    gaps = _gaps(past)
    if gaps:
        bullet(console, f"known on part of the days only, the rest is unknown: {gaps}")
    normal = _normal_line(past, units)
    if normal is not None:
        bullet(console, normal)


def _gaps(past: Past) -> str:
    """Name what is unknown on many days: "gust 62 %"; empty where there is nothing to name."""
    told = []
    for name, values in (
        ("track", [each.track_temp_c for each in past.sessions]),
        ("air", [each.air.temp_c for each in past.sessions]),
        ("wind", [each.air.wind_ms for each in past.sessions]),
        ("gust", [each.air.gust_ms for each in past.sessions]),
    ):
        known = 1.0 - max(spread.unknown_share for spread in values)
        if known < MOSTLY_KNOWN:
            told.append(f"{name} {_percent(known)}")
    return ", ".join(told)


def _air_row(each: PastSession, units: UnitSystem, zone: tzinfo) -> tuple[str, ...]:
    return (
        each.session.name,
        day_clock(each.session.start, zone),
        _range(each.track_temp_c, "temperature", units),
        _range(each.air.temp_c, "temperature", units),
        _range(each.air.wind_ms, "speed", units),
        _range(each.air.gust_ms, "speed", units),
    )


def _range(values: Spread, quantity: str, units: UnitSystem) -> str:
    return units.range(quantity, values.p10, values.p90)


def _normal_line(past: Past, units: UnitSystem) -> str | None:
    """The long-term means of the first day's month, where the station has them."""
    day = past.days[0].day
    means = past.history.normals.get(day.month)
    if means is None:
        return None
    parts = []
    if math.isfinite(means.low_c) and math.isfinite(means.high_c):
        low, high = units.temperature(means.low_c), units.temperature(means.high_c)
        parts.append(f"mean low {low}, mean high {high}")
    if math.isfinite(means.rain_mm):
        parts.append(f"{units.rain(means.rain_mm)} of rain in the month")
    first, last = NORMALS_YEARS
    return f"{day:%B}, {first}–{last}: {', '.join(parts)}" if parts else None


def _light(console: Console, past: Past, zone: tzinfo) -> None:
    heading(console, "Light")
    for each in past.days:
        sun = each.sun
        rise, fall = _clock(sun.sunrise, zone), _clock(sun.sunset, zone)
        bullet(console, f"{each.day:%a}: sunrise {rise}, sunset {fall}")


def _clock(when: datetime | None, zone: tzinfo) -> str:
    return "none" if when is None else when.astimezone(zone).strftime("%H:%M")


def _source(console: Console, past: Past, units: UnitSystem) -> None:
    heading(console, "Source")
    history = past.history
    years = history.years
    span = f", {years[0]}–{years[-1]}" if years else ""
    missing = 1.0 - history.rain_hours / max(1, history.hours_asked)
    no_air = 1.0 - history.air_hours / max(1, history.hours_asked)
    bullet(
        console,
        f"{_where(history, units)}: {len(years)} years with rain{span}; "
        f"{history.rain_hours} of {history.hours_asked} hours with rain known",
    )
    bullet(
        console,
        f"missing hours: rain {_percent(missing)}, air {_percent(no_air)}; none of them counts as "
        "dry",
    )
    for note in history.notes:
        bullet(console, note)
    bullet(console, history.attribution)


def _percent(share: float) -> str:
    """Show a small share so that some is never none."""
    return "<1 %" if 0.0 < share < 0.005 else f"{100 * share:.0f} %"
