"""The drive to the venue and home: wind on the trailer, ice and rain, by the hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Literal

import numpy as np

from trackday.advice.assumptions_paddock import (
    ADVISORY_GUST_MS,
    ADVISORY_WIND_MS,
    DRIVE_HOURS,
    FROST_DEPRESSION_C,
    ICE_AIR_C,
    SETTLE_HOURS,
    SHIFT_HOURS,
    TOW_ACT_CHANCE,
    TOW_CAREFUL_GUST_MS,
    TOW_WATCH_CHANCE,
    WARNING_GUST_MS,
    WARNING_WIND_MS,
    WET_ROAD_HOURS,
)
from trackday.advice.decision import Decision, Urgency
from trackday.advice.paddock_day import interval_start, touched
from trackday.outlook.air import strongest_gust
from trackday.outlook.rain_window import member_window_chances
from trackday.outlook.spread import Spread, spread, weighted_mean
from trackday.weather.series import Array, Weather
from trackday.weekend.garage import Trailer
from trackday.weekend.sessions import Session, Travel
from trackday.wording import Quantity, Say

Leg = Literal["out", "home"]
Criterion = Literal["none", "advisory", "warning", "unknown"]

NAMES: dict[Leg, str] = {"out": "tow out", "home": "tow home"}
CAUTION = Say(
    "Weather at the venue only: check the forecast along the road. The whole gust counts as "
    "crosswind: roads turn."
)
ALL_UNKNOWN = Spread(np.nan, np.nan, np.nan, 1.0)


@dataclass(frozen=True)
class TowHour:
    """One hour on the road: its start (UTC), its gust, and the chance of too much of it."""

    start: datetime
    gust_ms: Spread
    over_chance: float


@dataclass(frozen=True)
class TowAdvice:
    """One drive.

    `start` and `end` are UTC, None (and everything unknown) where the event has no time for it.
    `limit_ms` is the gust not to tow in, the racer's own (`is_own_limit`) or else that of the NWS
    advisory; `over_chance` the chance that the strongest gust reaches it. `criterion` is what NWS
    would issue for the 90th percentiles of wind and gust. `better_start` is the nearest whole-hour
    shift of the start with little such chance, None where there is none or none is needed.
    """

    leg: Leg
    start: datetime | None
    end: datetime | None
    gust_ms: Spread
    wind_ms: Spread
    limit_ms: float
    is_own_limit: bool
    over_chance: float
    criterion: Criterion
    ice_chance: float
    rain_chance: float
    better_start: datetime | None
    hours: tuple[TowHour, ...]
    decision: Decision


def advise_tow(
    travel: Travel,
    sessions: Sequence[Session],
    *,
    weather: Weather,
    trailer: Trailer | None,
    zone: tzinfo,
    as_of: datetime,
) -> tuple[TowAdvice, ...]:
    """Advise for the drive out and the drive home, each taken to last `DRIVE_HOURS`.

    The drive out ends with the first session at the latest. A drive that is over at `as_of` is left
    out, and so is one without a time in the event whose place in the weekend has passed. The
    weather is the venue's.
    """
    first = min((session.start for session in sessions), default=None)
    last = max((session.end for session in sessions), default=None)
    own = None if trailer is None else trailer.crosswind_limit_ms
    legs = (
        _one_leg("out", travel.departure, first, weather, own, zone, as_of),
        _one_leg("home", travel.return_home, last, weather, own, zone, as_of),
    )
    ends = (first if travel.departure is None else legs[0].end, legs[1].end)
    return tuple(leg for leg, end in zip(legs, ends, strict=True) if end is None or end > as_of)


def _one_leg(
    leg: Leg,
    start: datetime | None,
    bound: datetime | None,
    weather: Weather,
    own_ms: float | None,
    zone: tzinfo,
    as_of: datetime,
) -> TowAdvice:
    """`bound` is the first session's start on the way out, the last one's end on the way home."""
    limit = ADVISORY_GUST_MS if own_ms is None else own_ms
    if start is None:
        return _not_given(leg, limit, own_ms is not None)
    end = start + timedelta(hours=DRIVE_HOURS)
    if leg == "out" and bound is not None and start < bound:
        end = min(end, bound)
    gusts = strongest_gust(weather, start=start, end=end)
    winds = _highest(weather.wind_ms, weather, start, end)
    gust, wind = spread(gusts, weather.weights), spread(winds, weather.weights)
    over = _share_over(gusts, limit, weather.weights)
    criterion = _criterion(gust, wind)
    better = None
    if over >= TOW_ACT_CHANCE:
        better = _calmer_start(leg, start, bound, limit, weather, as_of)
    ice = _ice_chance(weather, start, end)
    rain = weighted_mean(
        member_window_chances(
            weather.rain_mm, weather.times, start=start, end=end, step_hours=weather.step_hours
        ),
        weather.weights,
    )
    return TowAdvice(
        leg=leg,
        start=start,
        end=end,
        gust_ms=gust,
        wind_ms=wind,
        limit_ms=limit,
        is_own_limit=own_ms is not None,
        over_chance=over,
        criterion=criterion,
        ice_chance=ice,
        rain_chance=rain,
        better_start=better,
        hours=_hours(weather, start, end, limit),
        decision=_decision(
            leg,
            start,
            end,
            wind=_wind_reason(gust, criterion, limit, is_own=own_ms is not None),
            odds=_Odds(over, _share_over(gusts, TOW_CAREFUL_GUST_MS, weather.weights), ice, rain),
            better=better,
            zone=zone,
        ),
    )


def _not_given(leg: Leg, limit: float, is_own: bool) -> TowAdvice:
    nan = float("nan")
    field = "departure" if leg == "out" else "return_home"
    return TowAdvice(
        leg=leg,
        start=None,
        end=None,
        gust_ms=ALL_UNKNOWN,
        wind_ms=ALL_UNKNOWN,
        limit_ms=limit,
        is_own_limit=is_own,
        over_chance=nan,
        criterion="unknown",
        ice_chance=nan,
        rain_chance=nan,
        better_start=None,
        hours=(),
        decision=Decision(
            topic="tow",
            urgency="unknown",
            do=Say(f"No {field} in the event file: the {NAMES[leg]} is not assessed."),
            why=(Say(f"write {field} into the event file"),),
            chance=float("nan"),
            about=NAMES[leg],
        ),
    )


def _share_over(gusts: Array, limit_ms: float, weights: Array) -> float:
    """Share of the members that know whose gust reaches the limit; NaN where none knows."""
    return weighted_mean(np.where(np.isfinite(gusts), gusts >= limit_ms, np.nan), weights)


def _highest(values: Array, weather: Weather, start: datetime, end: datetime) -> Array:
    """Highest of an instant (M,) over the stamps in and right around a window; NaN with a hole."""
    places = touched(weather, start=start, end=end)
    if places is None:
        return np.full(len(values), np.nan)
    before = places[0] - 1
    if before < 0:
        return np.full(len(values), np.nan)
    return np.asarray(values[:, before : places[-1] + 1].max(axis=1))


def _criterion(gust: Spread, wind: Spread) -> Criterion:
    """What NWS would issue for the 90th percentiles; one of the two alone can settle it upward."""
    if gust.p90 >= WARNING_GUST_MS or wind.p90 >= WARNING_WIND_MS:
        return "warning"
    if not (np.isfinite(gust.p90) and np.isfinite(wind.p90)):
        return "unknown"
    return "advisory" if gust.p90 >= ADVISORY_GUST_MS or wind.p90 >= ADVISORY_WIND_MS else "none"


def _calmer_start(
    leg: Leg,
    start: datetime,
    bound: datetime | None,
    limit_ms: float,
    weather: Weather,
    as_of: datetime,
) -> datetime | None:
    """Nearest start, by whole hours, whose drive has little chance of reaching the limit.

    Out, it has to arrive before the first session; home, it cannot leave before the last is over.
    """
    drive = timedelta(hours=DRIVE_HOURS)
    for shift in sorted(range(-SHIFT_HOURS, SHIFT_HOURS + 1), key=abs):
        other = start + timedelta(hours=shift)
        if other < as_of:
            continue
        if bound is not None:
            too_late = leg == "out" and other + drive > bound - timedelta(hours=SETTLE_HOURS)
            if too_late or (leg == "home" and other < bound):
                continue
        gusts = strongest_gust(weather, start=other, end=other + drive)
        if _share_over(gusts, limit_ms, weather.weights) < TOW_WATCH_CHANCE:
            return other
    return None


def _ice_chance(weather: Weather, start: datetime, end: datetime) -> float:
    """Chance of an hour with cold air on a road wet from rain or white with frost; NaN unknown."""
    places = touched(weather, start=start - timedelta(hours=WET_ROAD_HOURS), end=end)
    driving = touched(weather, start=start, end=end)
    if driving is None:
        return float("nan")
    air, dew = weather.air_temp_c[:, driving], weather.dew_point_c[:, driving]
    cold = air <= ICE_AIR_C
    frost = cold & (air - dew <= FROST_DEPRESSION_C)
    warm = (air > ICE_AIR_C).all(axis=1)
    if places is None:
        # Without the hours before, a cold road may or may not be wet.
        ice = np.asarray(frost.any(axis=1))
        known = np.zeros(len(air), dtype=np.bool_)
    else:
        rain = weather.rain_mm[:, places]
        wet = (rain > 0.0).any(axis=1)
        ice = np.asarray(frost.any(axis=1) | (cold.any(axis=1) & wet))
        known = np.asarray(
            np.isfinite(rain).all(axis=1) & (np.isfinite(air) & np.isfinite(dew)).all(axis=1)
        )
    share = np.where(ice | known | warm, ice.astype(np.float64), np.nan)
    return weighted_mean(share, weather.weights)


def _hours(
    weather: Weather, start: datetime, end: datetime, limit_ms: float
) -> tuple[TowHour, ...]:
    places = touched(weather, start=start, end=end)
    if places is None:
        return ()
    return tuple(
        TowHour(
            start=interval_start(weather, place),
            gust_ms=spread(weather.gust_ms[:, place], weather.weights),
            over_chance=_share_over(weather.gust_ms[:, place], limit_ms, weather.weights),
        )
        for place in places.tolist()
    )


@dataclass(frozen=True)
class _Odds:
    """Chances of a gust over the limit, of one to be careful in, of ice and rain; NaN unknown."""

    over: float
    careful: float
    ice: float
    rain: float

    @property
    def urgency(self) -> Urgency:
        """What is unknown is never a drive as planned."""
        if self.over >= TOW_ACT_CHANCE or self.ice >= TOW_ACT_CHANCE:
            return "act"
        if not (np.isfinite(self.over) and np.isfinite(self.ice)):
            return "unknown"
        worst = max(self.over, self.careful, self.ice)
        return "watch" if worst >= TOW_WATCH_CHANCE else "nothing"

    @property
    def chance(self) -> float:
        """Chance that the call turns out right."""
        urgency = self.urgency
        if urgency == "unknown":
            return float("nan")
        if urgency == "act":
            return max(chance for chance in (self.over, self.ice) if np.isfinite(chance))
        worst = max(self.over, self.careful, self.ice)
        return worst if urgency == "watch" else 1.0 - worst


def _decision(
    leg: Leg,
    start: datetime,
    end: datetime,
    *,
    wind: Say,
    odds: _Odds,
    better: datetime | None,
    zone: tzinfo,
) -> Decision:
    return Decision(
        topic="tow",
        urgency=odds.urgency,
        do=_do(start, odds, better, zone),
        why=(
            wind,
            Say(
                "ice {ice}, rain on the road {rain}",
                {"ice": Quantity(odds.ice, "share"), "rain": Quantity(odds.rain, "share")},
            ),
            Say(f"{DRIVE_HOURS:g} h on the road assumed"),
        ),
        chance=odds.chance,
        by=start if better is None else min(start, better),
        until=end,
        caution=CAUTION,
        about=NAMES[leg],
    )


def _do(start: datetime, odds: _Odds, better: datetime | None, zone: tzinfo) -> Say:
    """Wind first, since it upsets the rig; then ice; then what is not known."""
    planned = f"{start.astimezone(zone):%a %H:%M}"
    if odds.over >= TOW_ACT_CHANCE:
        if better is None:
            return Say(f"Too much wind for the {planned} drive and no calmer hour near: wait.")
        word = "later" if better > start else "earlier"
        return Say(
            f"Too much wind at {planned}: leave {word}, at {better.astimezone(zone):%a %H:%M}."
        )
    if odds.ice >= TOW_ACT_CHANCE:
        return Say(f"Ice likely on the {planned} drive: wait for warmer air, crawl over bridges.")
    if not np.isfinite(odds.over):
        return Say(f"Wind on the {planned} drive not known: look at the flags before you hitch up.")
    if not np.isfinite(odds.ice):
        return Say(f"Ice on the {planned} drive not known: look at the road first.")
    if odds.ice >= TOW_WATCH_CHANCE:
        return Say(f"Leave at {planned}, crawl over bridges: ice is possible.")
    if odds.urgency == "watch":
        return Say(f"Leave at {planned}, but slow down in the gusts and check tongue weight.")
    return Say(f"Tow at {planned} as planned.")


def _wind_reason(gust: Spread, criterion: Criterion, limit_ms: float, *, is_own: bool) -> Say:
    """Gusts against the limit, and what the weather service would call them."""
    values = {
        "gust": Quantity(gust.p50, "speed", high=gust.p90),
        "limit": Quantity(limit_ms, "speed"),
    }
    called = f" ({criterion} level)" if criterion in ("advisory", "warning") else ""
    if is_own:
        return Say(f"gusts {{gust}}{called}, your limit {{limit}}", values)
    return Say(
        f"gusts {{gust}}{called}; no crosswind_limit in garage.toml, so {{limit}} as for a wind "
        "advisory",
        values,
    )
