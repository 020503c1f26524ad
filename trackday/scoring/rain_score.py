"""How good the chances of rain were: Brier score, skill, reliability, by lead; how sure it is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from trackday.outlook.spread import RANGE_LEVEL, share_range
from trackday.scoring.said import LEAD_CLASSES, LeadClass, SaidPair
from trackday.verification.brier import Decomposition, decompose_table
from trackday.verification.reliability import TENTHS, ReliabilityTable
from trackday.weather.series import Array

DRAWS: Final = 2000
"""Bootstrap samples (common practice: a thousand or more for the ends of a range)."""

FEWEST_DAYS: Final = 5
"""Days below which no range is given: so few cannot tell how days differ (assumption)."""

_SEED: Final = 20270515
"""Start of the random draws, fixed so that the same logbook always gives the same range."""


@dataclass(frozen=True)
class Tenth:
    """What came when the chance lay in one tenth, from `low` on and below `high`.

    `mean_chance` and `share` are over `looks`; `came` of them had rain. `share_low` and
    `share_high` are Wilson's range for the number of `sessions`, since looks at one session share
    what came.
    """

    low: float
    high: float
    looks: int
    sessions: int
    came: float
    mean_chance: float
    share: float
    share_low: float
    share_high: float


@dataclass(frozen=True)
class LeadScore:
    """The score of the looks of one lead class; NaN without any."""

    lead: LeadClass
    looks: int
    sessions: int
    came: float
    brier: float
    skill: float


@dataclass(frozen=True)
class RainScore:
    """The chances of rain of `looks` at `sessions` on `days` days, against what came.

    `came` is in how many looks it rained; the `by_odds` of them that only a station's wet hour
    tells of count in part, and their squares are the expected ones.

    `brier` runs from 0, perfect, to 1; `brier_low` and `brier_high` hold in 80 % of cases, NaN
    with too few days. `skill` is the share of the reference's score that is saved, NaN where the
    reference was perfect. The reference is the chance by other years in `by_other_years` looks, and
    how often it rained in these very sessions in the rest, which flatters the reference.
    """

    looks: int
    sessions: int
    days: int
    came: float
    by_odds: int
    brier: float
    brier_low: float
    brier_high: float
    skill: float
    by_other_years: int
    parts: Decomposition
    tenths: tuple[Tenth, ...]
    by_lead: tuple[LeadScore, ...]


def rain_score(pairs: Sequence[SaidPair]) -> RainScore | None:
    """Score the pairs whose chance and outcome are both known; None without any."""
    known = judged(pairs)
    if not known:
        return None
    chance, came = _columns(known)
    reference = reference_chances(known)
    tenths = _tenths(known)
    low, high = _brier_range(known, squares(chance, came))
    return RainScore(
        looks=len(known),
        sessions=_sessions(known),
        days=len({pair.day_key for pair in known}),
        came=float(came.sum()),
        by_odds=int(((came > 0.0) & (came < 1.0)).sum()),
        brier=float(squares(chance, came).mean()),
        brier_low=low,
        brier_high=high,
        skill=_skill(chance, came, reference),
        by_other_years=sum(math.isfinite(pair.usual) for pair in known),
        parts=_parts(chance, came, tenths),
        tenths=tenths,
        by_lead=tuple(_lead_score(lead, known, reference) for lead in LEAD_CLASSES),
    )


def judged(pairs: Sequence[SaidPair]) -> tuple[SaidPair, ...]:
    """The pairs whose chance of rain and outcome are both known."""
    return tuple(p for p in pairs if math.isfinite(p.chance) and math.isfinite(p.came.rain))


def reference_chances(known: Sequence[SaidPair]) -> Array:
    """What somebody without a forecast would have said (N,): other years, else the base rate."""
    base = float(np.mean([pair.came.rain for pair in known]))
    return np.array([pair.usual if math.isfinite(pair.usual) else base for pair in known])


def squares(chance: Array, came: Array) -> Array:
    """Expected squared differences (N,) of chances and events that came by some odds (N,)."""
    expected: Array = came * np.square(1.0 - chance) + (1.0 - came) * np.square(chance)
    return expected


def _skill(chance: Array, came: Array, reference: Array) -> float:
    """Share of the reference's score that is saved; NaN where the reference was perfect."""
    base = float(squares(reference, came).mean())
    return 1.0 - float(squares(chance, came).mean()) / base if base > 0.0 else math.nan


def _parts(chance: Array, came: Array, tenths: Sequence[Tenth]) -> Decomposition:
    """Murphy's terms over the tenths, and what grouping leaves over."""
    table = ReliabilityTable(
        count=np.array([float(each.looks) for each in tenths]),
        mean_chance=np.array([each.mean_chance for each in tenths]),
        observed_share=np.array([each.share for each in tenths]),
    )
    terms = decompose_table(table)
    score = float(squares(chance, came).mean())
    return replace(terms, score=score, within=score - terms.score)


def _lead_score(lead: LeadClass, known: Sequence[SaidPair], reference: Array) -> LeadScore:
    places = [place for place, pair in enumerate(known) if pair.lead_class == lead]
    if not places:
        return LeadScore(lead, 0, 0, 0, math.nan, math.nan)
    here = [known[place] for place in places]
    chance, came = _columns(here)
    return LeadScore(
        lead=lead,
        looks=len(here),
        sessions=_sessions(here),
        came=float(came.sum()),
        brier=float(squares(chance, came).mean()),
        skill=_skill(chance, came, reference[places]),
    )


def _tenths(known: Sequence[SaidPair]) -> tuple[Tenth, ...]:
    """The reliability table by tenths, without the empty ones."""
    places = np.searchsorted(TENTHS, [pair.chance for pair in known], side="right") - 1
    places = np.minimum(places, len(TENTHS) - 2)
    return tuple(
        _tenth(int(place), [pair for pair, at in zip(known, places, strict=True) if at == place])
        for place in np.unique(places)
    )


def _tenth(place: int, here: Sequence[SaidPair]) -> Tenth:
    chance, came = _columns(here)
    share, sessions = float(came.mean()), _sessions(here)
    low, high = share_range(share, sessions)
    return Tenth(
        low=float(TENTHS[place]),
        high=float(TENTHS[place + 1]),
        looks=len(here),
        sessions=sessions,
        came=float(came.sum()),
        mean_chance=float(chance.mean()),
        share=share,
        share_low=low,
        share_high=high,
    )


def _brier_range(known: Sequence[SaidPair], each: Array) -> tuple[float, float]:
    """Range of the mean square that other days like these would give, by drawing days anew.

    Whole days are drawn, since the sessions and looks of one day share their weather (a block
    bootstrap; Wilks, Statistical Methods in the Atmospheric Sciences, ch. 5, from memory).
    """
    keys = sorted({pair.day_key for pair in known})
    if len(keys) < FEWEST_DAYS:
        return math.nan, math.nan
    day = np.array([keys.index(pair.day_key) for pair in known])
    total = np.bincount(day, weights=each)
    count = np.bincount(day).astype(float)
    even = np.full(len(keys), 1.0 / len(keys))
    times = np.random.default_rng(_SEED).multinomial(len(keys), even, size=DRAWS)
    means = (times @ total) / (times @ count)
    tail = (1.0 - RANGE_LEVEL) / 2.0
    low, high = np.quantile(means, (tail, 1.0 - tail))
    return float(low), float(high)


def _columns(pairs: Sequence[SaidPair]) -> tuple[Array, Array]:
    return np.array([p.chance for p in pairs]), np.array([p.came.rain for p in pairs])


def _sessions(pairs: Sequence[SaidPair]) -> int:
    return len({pair.session_key for pair in pairs})
