"""Ask several providers side by side, each with its own requests one after the other."""

from __future__ import annotations

import contextvars
import queue
import threading
from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeVar

from trackday.weather.budget import no_time_left, seconds_left, time_limit

T = TypeVar("T")
Job = Callable[[], T]


class _Result(NamedTuple):
    """What a job gave, or the exception that it raised, by its place."""

    lane: int
    number: int
    value: object
    error: BaseException | None


def run_lanes(lanes: Sequence[Sequence[Job[T]]], *, seconds: float) -> list[list[T]]:
    """Run every lane's jobs in order, the lanes at the same time, and return after `seconds`.

    Each job gets an equal part of the time that its lane has left, so that one that hangs does not
    starve those behind it. A job that is not done when time is up is run once more, here, under a
    limit that is over: it must then make do with what it has at hand and come back at once. An
    exception that a job raises is raised here.

    Lanes are daemon threads: one that hangs, even in a look-up of a name, which nothing can break
    off, holds up neither the return nor the end of the process.
    """
    with time_limit(seconds):
        done = _collect(lanes)
        with no_time_left():
            return [
                [
                    done[number, place] if (number, place) in done else job()
                    for place, job in enumerate(lane)
                ]
                for number, lane in enumerate(lanes)
            ]


def _collect(lanes: Sequence[Sequence[Job[T]]]) -> dict[tuple[int, int], T]:
    """Start the lanes and take their results until all have come or time is up."""
    results: queue.SimpleQueue[_Result] = queue.SimpleQueue()
    for number, lane in enumerate(lanes):
        context = contextvars.copy_context()
        threading.Thread(
            target=context.run, args=(_run_lane, number, lane, results), daemon=True
        ).start()
    done: dict[tuple[int, int], T] = {}
    expected = sum(len(lane) for lane in lanes)
    while len(done) < expected:
        try:
            result = results.get(timeout=seconds_left())
        except queue.Empty:
            break
        if result.error is not None:
            raise result.error
        done[result.lane, result.number] = result.value  # type: ignore[assignment]
    return done


def _run_lane(number: int, jobs: Sequence[Job[T]], results: queue.SimpleQueue[_Result]) -> None:
    for place, job in enumerate(jobs):
        share = seconds_left() / (len(jobs) - place)
        try:
            with time_limit(share):
                value = job()
        except BaseException as error:  # raised again where the result is waited for
            results.put(_Result(number, place, None, error))
            return
        results.put(_Result(number, place, value, None))
