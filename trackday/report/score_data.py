"""`trackday score` as JSON, always in SI; docs/verification.md describes the fields."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from trackday.report.data_words import dump
from trackday.score import Score
from trackday.scoring.fitting import Fit
from trackday.scoring.rain_score import RainScore
from trackday.scoring.track_score import TrackScore
from trackday.scoring.wets_value import WetsValue

SCHEMA = "trackday.score/1"

Data = dict[str, Any]


def score_json(score: Score) -> str:
    """One JSON document; unknown numbers are null."""
    return dump(score_data(score))


def score_data(score: Score) -> Data:
    """The scores as plain dictionaries and lists."""
    return {
        "schema": SCHEMA,
        "as_of": score.as_of,
        "event": score.event,
        "venue": None if score.venue is None else score.venue.name,
        "looks": score.looks,
        "sessions": score.sessions,
        "days": score.days,
        "first_day": score.first_day,
        "last_day": score.last_day,
        "says": score.how_much or None,
        "judged_by": {
            "log": score.by_log,
            "station": score.by_station,
            "station_name": score.station,
            "station_distance_km": score.station_km,
        },
        "not_judged": asdict(score.not_judged),
        "rain": None if score.rain is None else _rain(score.rain),
        "wets": None if score.wets is None else _wets(score.wets),
        "track": None if score.track is None else _track(score.track),
        "calibration": None if score.fit is None else _fit(score.fit),
        "notes": score.notes,
        "attribution": score.attribution,
    }


def _rain(rain: RainScore) -> Data:
    parts = rain.parts
    return {
        "looks": rain.looks,
        "sessions": rain.sessions,
        "days": rain.days,
        "came": rain.came,
        "by_odds": rain.by_odds,
        "brier": {"value": rain.brier, "low": rain.brier_low, "high": rain.brier_high},
        "skill": rain.skill,
        "reference_by_other_years": rain.by_other_years,
        "parts": {
            "reliability": parts.reliability,
            "resolution": parts.resolution,
            "uncertainty": parts.uncertainty,
            "within": parts.within,
        },
        "reliability": [asdict(tenth) for tenth in rain.tenths],
        "by_lead": [
            {
                "lead": each.lead.name,
                "from_hours": each.lead.from_h,
                "to_hours": each.lead.to_h,
                "looks": each.looks,
                "sessions": each.sessions,
                "came": each.came,
                "brier": each.brier,
                "skill": each.skill,
            }
            for each in rain.by_lead
        ],
    }


def _wets(wets: WetsValue) -> Data:
    return {
        "event": wets.event,
        "looks": wets.looks,
        "wets_on_dry_percent": wets.costs.wets_on_dry,
        "dries_on_wet_percent": wets.costs.dries_on_wet,
        "own_costs": wets.costs.own,
        "cost_loss": wets.costs.cost_loss,
        "hits": wets.hits,
        "false_alarms": wets.false_alarms,
        "misses": wets.misses,
        "quiet": wets.quiet,
        "value": wets.value,
    }


def _track(track: TrackScore) -> Data:
    return {
        "looks": track.looks,
        "sessions": track.sessions,
        "bias_k": track.bias_k,
        "mae_k": track.mae_k,
        "inside_p10_p90": {
            "count": track.inside,
            "share": track.inside_share,
            "low": track.share_low,
            "high": track.share_high,
        },
        "by_lead": [
            {
                "lead": each.lead.name,
                "looks": each.looks,
                "bias_k": each.bias_k,
                "mae_k": each.mae_k,
            }
            for each in track.by_lead
        ],
    }


def _fit(fit: Fit) -> Data:
    found = fit.calibration
    return {
        "used": found is not None,
        "why_not": fit.why or None,
        "basis": fit.basis,
        "lead_days": fit.lead_days,
        "pairs": fit.pairs,
        "events": fit.events,
        "drawn": fit.drawn,
        "first_day": fit.first_day,
        "last_day": fit.last_day,
        "raw_brier": None if found is None else found.raw_brier,
        "brier": None if found is None else found.brier,
        "gain": None if found is None else found.gain,
        "gain_error": None if found is None else found.gain_error,
        "threshold_mm": None if found is None else found.threshold_mm,
        "station": fit.station,
        "station_distance_km": fit.station_km,
        "made_at": fit.made_at,
        "notes": fit.notes,
    }
