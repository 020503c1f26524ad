"""`trackday score` as text: what was said, what came, and how little a few weekends tell."""

from __future__ import annotations

import math
from datetime import date

from rich.console import Console

from trackday.report.layout import bullet, heading, indented, line, table, title
from trackday.score import Score
from trackday.scoring.fitting import Fit
from trackday.scoring.rain_score import RainScore, Tenth
from trackday.scoring.track_score import TrackScore
from trackday.scoring.wets_value import WetsValue
from trackday.units import UnitSystem, units_named

NOTHING_SAID = "nothing said yet of a session that is over: plan a weekend, then score it"


def print_score(console: Console, score: Score, unit_system: str) -> None:
    """Print the scores, and first of all how much they can tell."""
    units = units_named(unit_system)
    if score.looks == 0:
        line(console, NOTHING_SAID, indent=0)
    else:
        _head(console, score)
        _rain(console, score, units)
        _wets(console, score.wets)
        _track(console, score.track, units)
    if score.fit is not None:
        _calibration(console, score.fit, units)
    _sources(console, score)


def _head(console: Console, score: Score) -> None:
    where = "every venue" if score.venue is None else score.venue.name
    title(console, f"{where if score.event is None else score.event}: said against came")
    line(
        console,
        f"{_count(score.looks, 'look')} at {_count(score.sessions, 'session')} on "
        f"{_count(score.days, 'day')}{_span(score.first_day, score.last_day)}",
        indent=0,
    )
    if score.how_much:
        few = f"{_count(score.sessions, 'session')} on {_count(score.days, 'day')}"
        line(console, f"{few}: this says {score.how_much}.", indent=0)


def _rain(console: Console, score: Score, units: UnitSystem) -> None:
    heading(console, "Rain")
    rain = score.rain
    if rain is None:
        bullet(console, "not judged: nobody tells whether it rained in a session")
    else:
        bullet(console, f"it rained in {_sum(rain.came)} of {_count(rain.looks, 'look')}")
        bullet(console, f"Brier score {_score(rain.brier)}{_range(rain)}: 0 is perfect")
        bullet(console, _skill_line(rain))
        _lead_table(console, rain)
        _tenth_table(console, rain)
    for text in _judges(score, units):
        bullet(console, text)


def _range(rain: RainScore) -> str:
    if math.isnan(rain.brier_low):
        return ""
    return f" ({_score(rain.brier_low)}–{_score(rain.brier_high)})"


def _skill_line(rain: RainScore) -> str:
    """Say how the chances did against somebody without a forecast."""
    others = "other years' odds"
    if rain.by_other_years == 0:
        others = "how often it rained in these sessions, which nobody knew before"
    elif rain.by_other_years < rain.looks:
        others += f" (known for {rain.by_other_years}, else how often it rained here)"
    if math.isnan(rain.skill):
        return f"no skill to tell against {others}: it always or never rained"
    side = "better" if rain.skill >= 0.0 else "WORSE"
    return f"{100 * abs(rain.skill):.0f} % {side} than {others}"


def _lead_table(console: Console, rain: RainScore) -> None:
    rows = [
        (
            each.lead.name,
            str(each.sessions),
            str(each.looks),
            _sum(each.came),
            _score(each.brier),
            "–" if math.isnan(each.skill) else _percent(each.skill),
        )
        for each in rain.by_lead
        if each.looks
    ]
    columns = (
        ("Ahead", 10),
        ("Sessions", 8),
        ("Looks", 6),
        ("Rained", 7),
        ("Brier", 6),
        ("Skill", 6),
    )
    console.print()
    indented(console, table(columns, rows))


def _tenth_table(console: Console, rain: RainScore) -> None:
    rows = [
        (
            f"{100 * each.low:.0f}–{100 * each.high:.0f} %",
            str(each.looks),
            _percent(each.mean_chance),
            _came_cell(each),
        )
        for each in rain.tenths
    ]
    columns = (("Said", 10), ("Looks", 6), ("On average", 11), ("It rained in", 20))
    console.print()
    indented(console, table(columns, rows))
    console.print()


def _came_cell(each: Tenth) -> str:
    low, high = 100 * each.share_low, 100 * each.share_high
    return f"{_sum(each.came)} of {each.looks}: {_percent(each.share)} ({low:.0f}–{high:.0f})"


def _judges(score: Score, units: UnitSystem) -> list[str]:
    """Say who told what came, and what was left out."""
    said = []
    if score.by_log:
        said.append(f"{_count(score.by_log, 'look')} judged by your log")
    if score.by_station and score.station is not None:
        away = units.distance(1000.0 * score.station_km)
        said.append(
            f"{_count(score.by_station, 'look')} judged by station {score.station}, {away} away: a "
            "shower may hit one place and miss the other"
        )
    if score.rain is not None and score.rain.by_odds:
        said.append(
            f"{_count(score.rain.by_odds, 'look')} judged by odds: the station's hour was wet, the "
            "session perhaps not. Write down rain in your log to settle it"
        )
    out = score.not_judged
    if out.unknown:
        said.append(f"{_count(out.unknown, 'look')} left out: nobody tells whether it rained")
    if out.said_nothing:
        said.append(f"{_count(out.said_nothing, 'look')} left out: no chance was known then")
    return said


def _wets(console: Console, wets: WetsValue | None) -> None:
    if wets is None:
        return
    heading(console, "Wet tires")
    costs, whose = wets.costs, "your" if wets.costs.own else "assumed"
    bullet(
        console,
        f"at {whose} costs (wets in the dry {costs.wets_on_dry:g} % of a lap time, dries in the "
        f"wet {costs.dries_on_wet:g} %) wets pay above a chance of {_percent(costs.cost_loss)}",
    )
    proxy = "" if wets.event == "wet track" else "; rain stands in for a wet track"
    bullet(
        console,
        f"mounted so: right in {_sum(wets.hits + wets.quiet)} of {_count(wets.looks, 'look')}, "
        f"wets in the dry {_sum(wets.false_alarms)}, dries in the wet {_sum(wets.misses)}{proxy}",
    )
    bullet(console, _value_words(wets.value))


def _value_words(value: float) -> str:
    if math.isnan(value):
        return "value unknown: it was always wet or never, so nothing could be gained"
    if value < 0.0:
        return f"value {_percent(value)}: always mounting the same would have cost less"
    return f"value {_percent(value)} of perfect foresight; 0 % is always mounting the same"


def _track(console: Console, track: TrackScore | None, units: UnitSystem) -> None:
    if track is None:
        return
    heading(console, "Track temperature")
    size = units.temperature_difference(abs(track.bias_k))
    side = "too warm" if track.bias_k >= 0.0 else "too cold"
    bullet(
        console,
        f"said {size} {side} on average, off by {units.temperature_difference(track.mae_k)}: "
        f"{_count(track.looks, 'look')} at {_count(track.sessions, 'session')} with readings",
    )
    low, high = 100 * track.share_low, 100 * track.share_high
    bullet(
        console,
        f"{track.inside} of {track.looks} readings lay in the range that was said: "
        f"{_percent(track.inside_share)} ({low:.0f}–{high:.0f}), 80 % would be right",
    )
    leads = [
        f"{each.lead.name} {units.temperature_difference(each.mae_k)} ({each.looks})"
        for each in track.by_lead
        if each.looks
    ]
    if len(leads) > 1:
        bullet(console, f"off by, with looks: {', '.join(leads)}")


def _calibration(console: Console, fit: Fit, units: UnitSystem) -> None:
    heading(console, "Calibration")
    ahead = _count(fit.lead_days, "day")
    away = "" if fit.station_km is None else f", {units.distance(1000.0 * fit.station_km)} away"
    bullet(
        console,
        f"{_count(fit.pairs, 'half hour')}{_span(fit.first_day, fit.last_day)}, {fit.events} with "
        f"rain: forecasts {ahead} ahead against station {fit.station}{away}",
    )
    found = fit.calibration
    if found is None:
        bullet(console, f"none used: {fit.why}")
    else:
        bullet(
            console,
            f"used for a single forecast: Brier score {_score(found.raw_brier)} → "
            f"{_score(found.brier)} on days that it has not seen, gain "
            f"{found.gain:.3f} ± {found.gain_error:.3f}",
        )
        bullet(console, "not used for ensembles, nor for heavier rain than it has learned")
    if fit.drawn:
        bullet(
            console,
            f"in {fit.drawn} of them the station's hour was wet: whether the half hour was is "
            "drawn by the odds of docs/rain.md",
        )
    for note in fit.notes:
        bullet(console, note)


def _sources(console: Console, score: Score) -> None:
    if not (score.notes or score.attribution):
        return
    heading(console, "Source")
    for text in (*score.notes, *score.attribution):
        bullet(console, text)


def _count(number: int, thing: str) -> str:
    return f"{number:,} {thing}" + ("" if number == 1 else "s")


def _sum(number: float) -> str:
    """A number of looks, in tenths where some count in part."""
    return f"{number:.0f}" if number == round(number) else f"{number:.1f}"


def _span(first: date | None, last: date | None) -> str:
    if first is None or last is None:
        return ""
    return f", {first}" if first == last else f", {first} to {last}"


def _score(value: float) -> str:
    """A Brier score to three decimals: "0.123"; a dash where there is none."""
    return "–" if math.isnan(value) else f"{value:.3f}"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %".replace("-", "−")
