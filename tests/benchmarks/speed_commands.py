"""How long the commands take beside processes that only import libraries, and what memory.

    python tests/benchmarks/speed_commands.py [repeats]

Ratios of processor time (user and system) within one run, the processes taking turns; everything
that is asked for is saved, and every command runs with --offline. Needs a system with `os.wait4`.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from speed_warm import Run, Warm, interleaved, warm

REPEATS = 9

BARE = """
import typer

app = typer.Typer()


@app.command()
def one(number: int = 1) -> None:
    "Do one thing."


@app.command()
def other(number: int = 1) -> None:
    "Do another thing."


app()
"""
"""A program of two commands that does nothing."""

SMALLEST = {
    "typer": ["-c", BARE, "--help"],
    "pvlib": ["-c", "import pvlib"],
    "libraries": ["-c", "import pandas, pvlib, requests_cache"],
}
"""Processes that do no more than they must."""

LIMITS = {
    "--help": ("typer", 1.5),
    "light": ("pvlib", 1.25),
    "plan": ("libraries", 1.6),
}
"""What each command is measured by, and the ratio that it is meant to keep."""

PAST_LIMIT_S, MEMORY_LIMIT_MB = 3.0, 350.0


def commands(made: Warm) -> dict[str, list[str]]:
    """Give the command lines to measure."""
    return {
        **{name: [sys.executable, *rest] for name, rest in SMALLEST.items()},
        "--help": made.command("--help"),
        "light": made.command("light", made.event),
        "plan": made.command("plan", made.event, "--offline"),
        "plan --json": made.command("plan", made.event, "--offline", "--json"),
        "morning": made.command("morning", made.event, "--day", made.event.name[:10], "--offline"),
    }


def show(name: str, run: Run, beside: Run | None = None, limit: float | None = None) -> None:
    """Print a row of the table."""
    ratio = "" if beside is None else f"{run.busy_s / beside.busy_s:.2f}"
    at_most = "" if limit is None else f"{limit:.2f}"
    times = f"{run.wall_s:.2f} | {run.busy_s:.2f}"
    print(f"| {name} | {times} | {ratio} | {at_most} | {run.peak_mb:.0f} |")


def main() -> None:
    """Save a weekend, run the commands, print the table."""
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else REPEATS
    print("| process | s | s of the processor | ratio | at most | peak, MB |")
    print("|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as name, warm(Path(name)) as made:
        runs = interleaved(commands(made), made.environ, repeats=repeats)
    for name in SMALLEST:
        show(name, runs[name])
    for name in ("--help", "light", "plan", "plan --json", "morning"):
        beside, limit = LIMITS.get(name, ("libraries", None))
        show(name, runs[name], runs[beside], limit)
    with tempfile.TemporaryDirectory() as name, warm(Path(name), years=20) as made:
        looks = {
            "libraries": [sys.executable, *SMALLEST["libraries"]],
            "plan, 20 years saved": made.command("plan", made.event, "--offline"),
            "past --years 20": made.command("past", made.event, "--offline", "--years", "20"),
        }
        runs = interleaved(looks, made.environ, repeats=repeats)
    for name in list(looks)[1:]:
        show(name, runs[name], runs["libraries"])
    print(f"\nat most {PAST_LIMIT_S:.0f} s for `past`, {MEMORY_LIMIT_MB:.0f} MB for each")


if __name__ == "__main__":
    main()
