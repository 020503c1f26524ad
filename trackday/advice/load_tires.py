"""Which tire sets are worth their slots: the subset of least expected regret over the weekend.

Regret is what the best tire among the sets carried costs more than the best among all owned, in
the weather that each member brings, as if the right tire were known at each session. So carrying
one more set never adds regret.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import combinations

import numpy as np

from trackday.advice.assumptions import UNDECIDED_UNKNOWN_SHARE
from trackday.advice.assumptions_load import MOST_SETS, TIRES_ON_THE_CAR
from trackday.advice.tire_costs import TIRES, Tire, share_costs
from trackday.advice.tire_sets import serves_as
from trackday.outlook.track import STATES
from trackday.weather.series import Array
from trackday.weekend.garage import CostTable, TireSet

Sets = tuple[TireSet, ...]

_CONDITIONS = ("new", "scrubbed", "used", "worn")
"""The better first: among equal sets this one goes along."""

_SAME = 1e-9
"""Costs that differ by less than this share of the dearest are equal: rounding."""


@dataclass(frozen=True)
class LoadSession:
    """What the load needs to know of one session.

    `state_share` (M, 5) and `weights` (M,) are those of its outlook. Sessions of one `sky` have the
    same members; different skies (a forecast, other years) are taken as independent. Where it is
    `too_early` to tell wet from dry, the track counts as unknown.
    """

    label: str
    start: datetime
    state_share: Array
    weights: Array
    sky: str = ""
    too_early: bool = False


@dataclass(frozen=True)
class SetChoice:
    """One owned set: whether the weather asks for it, and the chance of being sorry without it.

    `fits` is whether a slot is left for one that the weather does not ask for. `best_for` is the
    session that it is likeliest to be the right tire for, with that chance, NaN where no session's
    track is known.
    """

    tires: TireSet
    carried: bool
    fits: bool
    sorry: float
    best_for: str
    best_chance: float


@dataclass(frozen=True)
class TireLoad:
    """The sets to carry; `regret` is in percent of lap time, added up over the sessions.

    `sorry` is the chance that the sets left at home would have made the weekend cheaper, `cutting`
    the chance that cutting one of those carried does. `used` and `capacity` count tires, those on
    the car included; `capacity` is None without a trailer. `unknown` is the share of the most
    unknown session whose track is not known; it is counted as wet. With `too_early` it is so far
    ahead of a session that chances for it are none.
    """

    sets: tuple[SetChoice, ...]
    regret: float
    sorry: float
    cutting: float
    unknown: float
    used: int
    capacity: int | None
    too_early: bool = False

    @property
    def carried(self) -> Sets:
        """The sets that the weather asks for."""
        return tuple(choice.tires for choice in self.sets if choice.carried)


def choose_sets(
    owned: Sets, sessions: Sequence[LoadSession], *, table: CostTable, tire_slots: int | None
) -> TireLoad:
    """Weigh every subset of the sets that fits `tire_slots` beside the four tires on the car.

    Of subsets with the same regret the one with the fewest sets is taken, of those the one in the
    best condition. Without any four tires of a kind that fit, nothing is carried and `regret` is
    infinite.
    """
    capacity = None if tire_slots is None else tire_slots + TIRES_ON_THE_CAR
    too_early = any(session.too_early for session in sessions)
    sessions = [_not_known(each) if each.too_early else each for each in sessions]
    weekend = _Weekend(owned, sessions, table)
    carried = min(
        _subsets(_candidates(owned), capacity),
        key=lambda sets: (weekend.rounded_regret(sets), len(sets), _wear(sets)),
    )
    if not np.isfinite(weekend.regret(carried)):
        carried = ()
    extra = _spares(owned, carried, capacity)
    return TireLoad(
        sets=tuple(weekend.choice(tires, carried, fits=tires in extra) for tires in owned),
        regret=weekend.regret(carried),
        sorry=weekend.sorry(carried),
        cutting=weekend.cutting_pays(carried),
        unknown=max(_unknown_share(session) for session in sessions),
        used=_count(carried),
        capacity=capacity,
        too_early=too_early,
    )


@dataclass(frozen=True)
class Kit:
    """What some sets can do together; four tires make a kind.

    `dry_after_cutting`: a dry set is left once the groovable one is cut. `cut`: a set is cut
    already.
    """

    dry: bool
    dry_after_cutting: bool
    cut: bool
    can_cut: bool
    wet: bool


def kit_of(sets: Sequence[TireSet]) -> Kit:
    """What these sets can do; tires of one kind count together, as fronts and rears do."""
    uncut = [tires for tires in sets if serves_as(tires) == "dry"]
    return Kit(
        dry=_count(uncut) >= TIRES_ON_THE_CAR,
        dry_after_cutting=_count(uncut) >= 2 * TIRES_ON_THE_CAR,
        cut=_count(s for s in sets if s.grooved) >= TIRES_ON_THE_CAR,
        can_cut=_count(s for s in uncut if s.may_be_grooved) >= TIRES_ON_THE_CAR,
        wet=_count(s for s in sets if s.kind == "wet") >= TIRES_ON_THE_CAR,
    )


def kit_costs(kit: Kit, costs: Array, *, cutting: float) -> Array:
    """Least cost per member (M,) over sessions in their order, from costs (S, M, 3) in `TIRES`.

    Cutting costs `cutting` once; from then on the only dry set is no dry set any more. Infinite
    where the kit has no tire.
    """
    dry, grooved, wet = (costs[:, :, TIRES.index(tire)] for tire in TIRES)
    never = np.full_like(dry, np.inf)
    smooth = np.minimum(dry if kit.dry else never, wet if kit.wet else never)
    if kit.cut:
        return np.asarray(np.minimum(smooth, grooved).sum(axis=0))
    uncut: Array = smooth.sum(axis=0)
    if not kit.can_cut:
        return uncut
    if kit.dry_after_cutting:
        cut: Array = np.minimum(smooth, grooved).sum(axis=0)
        return np.asarray(np.minimum(uncut, cutting + cut))
    # Cut for session k: dry or wet before it, cut or wet from it on.
    after = np.minimum(grooved, wet if kit.wet else never)
    before_k = np.vstack([np.zeros_like(smooth[:1]), np.cumsum(smooth, axis=0)[:-1]])
    from_k = np.cumsum(after[::-1], axis=0)[::-1]
    return np.asarray(np.minimum(uncut, cutting + (before_k + from_k).min(axis=0)))


class _Weekend:
    """Costs of the weekend's sessions in every member's weather, and what kits make of them."""

    def __init__(self, owned: Sets, sessions: Sequence[LoadSession], table: CostTable) -> None:
        self.owned = owned
        self.sessions = sessions
        self.table = table
        skies: dict[tuple[str, int], list[LoadSession]] = {}
        for session in sessions:
            skies.setdefault((session.sky, len(session.weights)), []).append(session)
        self.skies = [_sky(group, table) for group in skies.values()]
        self.known: dict[Kit, list[Array]] = {}

    def costs(self, sets: Sequence[TireSet]) -> list[Array]:
        """Cost per member, for each sky."""
        return self.costs_of(kit_of(sets))

    def costs_of(self, kit: Kit) -> list[Array]:
        """Cost per member, for each sky, with what a kit can do."""
        if kit not in self.known:
            cutting = self.table.cutting
            self.known[kit] = [kit_costs(kit, costs, cutting=cutting) for costs, _ in self.skies]
        return self.known[kit]

    def regret(self, sets: Sequence[TireSet]) -> float:
        """Expected regret of these sets against all that are owned, infinite where none will do."""
        if not all(np.isfinite(costs).all() for costs in self.costs(sets)):
            return float("inf")
        return sum(
            float(np.average(mine - best, weights=weights))
            for mine, best, (_, weights) in zip(
                self.costs(sets), self.costs(self.owned), self.skies, strict=True
            )
        )

    def rounded_regret(self, sets: Sequence[TireSet]) -> float:
        """Regret in steps of what rounding makes of equal costs."""
        regret = self.regret(sets)
        return round(regret / self._step) * self._step if np.isfinite(regret) else regret

    @property
    def _step(self) -> float:
        rows = (self.table.dry, self.table.grooved, self.table.wet)
        dearest: float = max(value for row in rows for value in row.model_dump().values())
        return _SAME * max(dearest, _SAME)

    def sorry(self, sets: Sequence[TireSet]) -> float:
        """Chance that any owned set left behind would have made the weekend cheaper."""
        return self._chance_of_less(self.costs(self.owned), self.costs(sets))

    def sorry_without(self, tires: TireSet, carried: Sets) -> float:
        """Chance that the weekend costs more without this set than with it."""
        others = tuple(s for s in carried if s != tires)
        return self._chance_of_less(self.costs((*others, tires)), self.costs(others))

    def cutting_pays(self, sets: Sets) -> float:
        """Chance that the weekend costs less when a set is cut than when none is."""
        kit = kit_of(sets)
        uncut = replace(kit, can_cut=False)
        return self._chance_of_less(self.costs_of(kit), self.costs_of(uncut))

    def _chance_of_less(self, first: list[Array], second: list[Array]) -> float:
        """Chance that `first` costs less than `second` in any sky."""
        none = 1.0
        for one, other, (_, weights) in zip(first, second, self.skies, strict=True):
            less = one < other - self._step
            none *= 1.0 - float(weights[less].sum() / weights.sum())
        return 1.0 - none

    def choice(self, tires: TireSet, carried: Sets, *, fits: bool) -> SetChoice:
        """Say of one set what the weekend's weather makes of it."""
        chance, label = self._best_session(tires)
        sorry = self.sorry_without(tires, carried)
        return SetChoice(tires, tires in carried, fits, sorry, label, chance)

    def _best_session(self, tires: TireSet) -> tuple[float, str]:
        """The session for which a set's kind is likeliest the cheapest of those owned."""
        kinds = _kinds(self.owned)
        chances = [
            (_kind_chance(session, serves_as(tires), kinds, self.table), session.label)
            for session in self.sessions
        ]
        known = [pair for pair in chances if np.isfinite(pair[0])]
        return max(known, key=lambda pair: pair[0]) if known else chances[0]


def _sky(sessions: Sequence[LoadSession], table: CostTable) -> tuple[Array, Array]:
    """Costs (S, M, 3) of one sky's sessions, without cutting, and the members' weights."""
    ordered = sorted(sessions, key=lambda session: session.start)
    costs = [share_costs(s.state_share, table, TIRES, cutting=0.0) for s in ordered]
    return np.stack(costs), ordered[0].weights


def _not_known(session: LoadSession) -> LoadSession:
    """The same session with a track that no member knows."""
    shares = np.zeros_like(session.state_share)
    shares[:, STATES.index("unknown")] = 1.0
    return replace(session, state_share=shares)


def _unknown_share(session: LoadSession) -> float:
    return float(np.average(session.state_share[:, -1], weights=session.weights))


def _kinds(owned: Sets) -> tuple[Tire, ...]:
    """Kinds that the owned sets are as they stand."""
    have = {serves_as(tires) for tires in owned}
    return tuple(tire for tire in TIRES if tire in have)


def _kind_chance(
    session: LoadSession, tire: Tire, kinds: tuple[Tire, ...], table: CostTable
) -> float:
    """Weighted share of the members in which a kind is the cheapest (the first one on a tie).

    NaN where too much of the session's track is unknown.
    """
    if _unknown_share(session) > UNDECIDED_UNKNOWN_SHARE:
        return float("nan")
    costs = share_costs(session.state_share, table, kinds, cutting=0.0)
    best = np.argmin(costs, axis=1) == kinds.index(tire)
    return float(session.weights[best].sum() / session.weights.sum())


def _candidates(owned: Sets) -> Sets:
    """The sets that are weighed: with more than `MOST_SETS`, the best of each kind in turn."""
    if len(owned) <= MOST_SETS:
        return owned
    rank: dict[tuple[Tire, bool], int] = {}
    placed: list[tuple[int, int]] = []
    for place, tires in sorted(enumerate(owned), key=lambda pair: _better_first(pair[1])):
        kind = (serves_as(tires), tires.may_be_grooved)
        rank[kind] = rank.get(kind, 0) + 1
        placed.append((rank[kind], place))
    kept = {place for _, place in sorted(placed)[:MOST_SETS]}
    return tuple(tires for place, tires in enumerate(owned) if place in kept)


def _subsets(sets: Sets, capacity: int | None) -> Iterator[Sets]:
    """Every subset that fits, the empty one included."""
    for size in range(len(sets) + 1):
        for chosen in combinations(sets, size):
            if capacity is None or _count(chosen) <= capacity:
                yield chosen


def _spares(owned: Sets, carried: Sets, capacity: int | None) -> Sets:
    """Sets that fit beside those carried: rain tires first, then those in the best condition."""
    room = None if capacity is None else capacity - _count(carried)
    extra: list[TireSet] = []
    rest = sorted((t for t in owned if t not in carried), key=lambda t: (t.kind, _wear((t,))))
    for tires in sorted(rest, key=lambda t: t.kind != "wet"):
        if room is None or tires.count <= room:
            extra.append(tires)
            room = None if room is None else room - tires.count
    return tuple(extra)


def _better_first(tires: TireSet) -> tuple[bool, int]:
    return tires.count < TIRES_ON_THE_CAR, _CONDITIONS.index(tires.condition)


def _wear(sets: Sequence[TireSet]) -> int:
    return sum(_CONDITIONS.index(tires.condition) for tires in sets)


def _count(sets: Sequence[TireSet] | Iterator[TireSet]) -> int:
    return sum(tires.count for tires in sets)
