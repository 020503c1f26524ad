"""Wait for calls that cannot be interrupted, but never longer than was meant."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

ResultT = TypeVar("ResultT")


@dataclass
class Outcome(Generic[ResultT]):
    """What came of one call: a value, an error, or neither where it was not done in time."""

    value: ResultT | None = None
    error: Exception | None = None
    done: bool = False


def side_by_side(
    calls: Sequence[Callable[[], ResultT]], *, seconds: float
) -> list[Outcome[ResultT]]:
    """Run calls in threads of their own and give their outcomes, in order, after `seconds` at most.

    A call that is still running then is left behind: its thread does not keep the program from
    ending, and what it finds later is dropped.
    """
    running: list[Outcome[ResultT]] = [Outcome() for _ in calls]
    threads = [
        threading.Thread(target=_run, args=(call, outcome), daemon=True)
        for call, outcome in zip(calls, running, strict=True)
    ]
    deadline = time.monotonic() + seconds
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(max(0.0, deadline - time.monotonic()))
    # A copy of those that are done, since a late thread still writes into its own.
    return [
        Outcome(each.value, each.error, done=True) if each.done else Outcome() for each in running
    ]


def _run(call: Callable[[], ResultT], outcome: Outcome[ResultT]) -> None:
    try:
        outcome.value = call()
    except Exception as error:  # handed to the caller, who is in another thread
        outcome.error = error
    outcome.done = True
