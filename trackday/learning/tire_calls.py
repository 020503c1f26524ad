"""How often the tire that was run was the right one, as the racer judged afterwards: counts alone.

A handful of calls says little about who is right; under `LEAST_CALLS` no share is given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from trackday.learning.hot_reading import RanOn

LEAST_CALLS: Final = 10
"""Calls from which a share is worth saying. Assumption: under it the range of a share is wider
than half of all there is (Wilson's interval)."""

SCHEMA: Final = "trackday.tire-calls/1"


@dataclass(frozen=True)
class TireCall:
    """The tire that was run (`chosen`), and the one that would have been right."""

    chosen: RanOn
    right: RanOn
    day: date


@dataclass(frozen=True)
class TireCalls:
    """`right` of `n` calls were right, `first` to `last`; `wrong` counts (chosen, right) pairs."""

    n: int
    right: int
    first: date | None
    last: date | None
    wrong: tuple[tuple[RanOn, RanOn, int], ...]

    @property
    def share(self) -> float | None:
        """Share of right calls; None under `LEAST_CALLS`."""
        return self.right / self.n if self.n >= LEAST_CALLS else None

    def to_data(self) -> dict[str, Any]:
        """Give plain JSON data."""
        return {
            "schema": SCHEMA,
            "n": self.n,
            "right": self.right,
            "first": None if self.first is None else self.first.isoformat(),
            "last": None if self.last is None else self.last.isoformat(),
            "wrong": [list(row) for row in self.wrong],
        }

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> TireCalls:
        """Read what `to_data` gave; ValueError for data of another form."""
        if data.get("schema") != SCHEMA:
            raise ValueError(f"not data of the form {SCHEMA}")
        return cls(
            n=data["n"],
            right=data["right"],
            first=None if data["first"] is None else date.fromisoformat(data["first"]),
            last=None if data["last"] is None else date.fromisoformat(data["last"]),
            wrong=tuple((chosen, right, count) for chosen, right, count in data["wrong"]),
        )


def count_calls(calls: Sequence[TireCall]) -> TireCalls:
    """Count right and wrong calls."""
    pairs: dict[tuple[RanOn, RanOn], int] = {}
    for call in calls:
        if call.chosen != call.right:
            pairs[call.chosen, call.right] = pairs.get((call.chosen, call.right), 0) + 1
    days = [call.day for call in calls]
    return TireCalls(
        n=len(calls),
        right=len(calls) - sum(pairs.values()),
        first=min(days, default=None),
        last=max(days, default=None),
        wrong=tuple((chosen, right, count) for (chosen, right), count in sorted(pairs.items())),
    )
