"""One session of a plan as plain data."""

from __future__ import annotations

from trackday.advice.pressure import AxlePressure, PressureAdvice
from trackday.advice.tires import TireAdvice
from trackday.outlook.air import AirOutlook
from trackday.outlook.drying import DryingOutlook
from trackday.outlook.rain import RainOutlook
from trackday.outlook.spread import Spread
from trackday.outlook.track import TrackOutlook
from trackday.plan_session import SessionPlan
from trackday.report.data_words import Data, all_words, decision_data, local, record, spread_data
from trackday.weekend.venue import Venue


def session_data(planned: SessionPlan, venue: Venue) -> Data:
    """What is expected of one session, and every decision about it."""
    session, outlook = planned.session, planned.outlook
    return {
        "name": session.name,
        "kind": session.kind,
        "start": local(session.start, venue),
        "end": local(session.end, venue),
        "rain": _rain(outlook.rain),
        "track": _track(outlook.track)
        | {
            "dry_by": _drying(outlook.drying, venue),
            "dry_by_in_shade": _drying(outlook.drying_in_shade, venue),
        },
        "air": _air(outlook.air),
        "tire": _tire(planned.tire, venue),
        "pressure": _pressure(planned.pressure, venue),
        "fog": {
            "chance": planned.fog.chance,
            "on_track": planned.fog.track_chance,
            "on": planned.fog.glass,
            "prepare": planned.fog.prepare,
            "reasons": all_words(planned.fog.reasons, venue),
            "decision": decision_data(planned.fog.decision, venue),
        },
        "thunder": record(planned.thunder, venue),
        "engine": record(planned.engine, venue),
        "glare": [record(glare, venue) for glare in planned.glare],
    }


def _rain(rain: RainOutlook) -> Data:
    return {
        "chance": rain.chance,
        "low": rain.low,
        "high": rain.high,
        "amount_mm": spread_data(rain.amount_mm),
        "basis": rain.basis,
        "made_of": list(rain.made_of),
        "raw": rain.raw,
        "by_center": rain.by_center,
        "usual": rain.usual,
        "before": rain.before,
        "after": rain.after,
        "heavy": rain.heavy,
        "wets_track": rain.wets_track,
    }


def _track(track: TrackOutlook) -> Data:
    return {
        "temp_c": spread_data(track.temp_c),
        "state_chance": dict(track.state_chance),
        "start_chance": dict(track.start_chance),
        "end_chance": dict(track.end_chance),
    }


def _drying(drying: DryingOutlook | None, venue: Venue) -> Data | None:
    if drying is None:
        return None
    times = {name: local(getattr(drying, name), venue) for name in ("p10", "p50", "p90")}
    return times | {"chance": drying.chance}


def _air(air: AirOutlook) -> Data:
    names = ("temp_c", "dew_point_c", "wind_ms", "gust_ms", "density_altitude_m")
    spreads: dict[str, Spread] = {name: getattr(air, name) for name in names}
    return {name: value.p50 for name, value in spreads.items()} | {
        "spread": {name: spread_data(value) for name, value in spreads.items()}
    }


def _tire(tire: TireAdvice, venue: Venue) -> Data:
    return {
        "choice": tire.choice,
        "runner_up": tire.runner_up,
        "chances": tire.chances,
        "expected_cost_percent": tire.costs,
        "vetoed": list(tire.vetoed),
        "reasons": all_words(tire.reasons, venue),
        "flip": record(tire.flip, venue),
        "change": record(tire.change, venue),
        "decide_by": local(tire.decide_by, venue),
        "start_grooving_by": local(tire.start_grooving_by, venue),
        "decision": decision_data(tire.decision, venue),
    }


def _pressure(pressure: PressureAdvice, venue: Venue) -> Data:
    reasons = all_words(pressure.reasons, venue)
    return {
        "front": _axle(pressure.front, reasons),
        "rear": _axle(pressure.rear, reasons),
        "sunny_side_kpa": pressure.sunny_side_kpa,
        "recheck": [local(when, venue) for when in pressure.recheck],
        "decision": decision_data(pressure.decision, venue),
    }


def _axle(axle: AxlePressure, reasons: list[str]) -> Data:
    return {
        "cold_kpa": axle.cold_kpa,
        "offset_kpa": axle.offset_kpa,
        "low": axle.low_kpa,
        "high": axle.high_kpa,
        "at_gauge_kpa": axle.at_gauge_kpa,
        "at_grid_kpa": axle.at_grid_kpa,
        "target_hot_kpa": axle.target_hot_kpa,
        "reasons": reasons,
    }
