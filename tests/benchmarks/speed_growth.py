"""How the cost of a plan grows with members, days and sessions, and that of `past` with years.

    python tests/benchmarks/speed_growth.py [repeats]

Processor seconds of whole processes, everything saved; each table ends with the straight line
through it and the largest distance of a point from it.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from speed_warm import Warm, interleaved, line_through, warm

REPEATS = 5

GROWTH = {
    "members": (10, 40, 82, 160),
    "days": (1, 2, 3, 5),
    "sessions": (1, 3, 6, 9),
}
"""What grows, from a weekend of three days with three sessions each under 82 members; sessions are
those of a day."""

YEARS = (5, 10, 20, 40)


def cost_s(made: Warm, command: Sequence[str], repeats: int) -> float:
    """Give the processor seconds of one command."""
    return interleaved({"it": command}, made.environ, repeats=repeats)["it"].busy_s


def table(name: str, amounts: Sequence[int], cost: Callable[[int], float]) -> None:
    """Print what each amount costs, and the line through them."""
    costs = []
    print(f"| {name} | s of the processor |\n|---|---|")
    for amount in amounts:
        costs.append(cost(amount))
        print(f"| {amount} | {costs[-1]:.2f} |", flush=True)
    start, slope, off = line_through(amounts, costs)
    print(f"\n{start:.2f} s + {1000.0 * slope:.1f} ms each; within {100.0 * off:.0f} % of it\n")


def plan_cost(repeats: int, **weekend: int) -> float:
    """Give the cost of a plan of one weekend."""
    with tempfile.TemporaryDirectory() as name, warm(Path(name), **weekend) as made:
        return cost_s(made, made.command("plan", made.event, "--offline"), repeats)


def main() -> None:
    """Print every table."""
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else REPEATS
    for name, amounts in GROWTH.items():
        table(name, amounts, lambda amount, name=name: plan_cost(repeats, **{name: amount}))
    with tempfile.TemporaryDirectory() as name, warm(Path(name), years=max(YEARS)) as made:
        table(
            "years of `past`",
            YEARS,
            lambda years: cost_s(
                made,
                made.command("past", made.event, "--offline", "--years", str(years)),
                repeats,
            ),
        )


if __name__ == "__main__":
    main()
