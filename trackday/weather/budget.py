"""How much time is left for asking: a limit that a block of code, and its threads, must keep."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

from trackday.weather.failures import SourceError


@dataclass(frozen=True)
class TimeLimit:
    """A span of `seconds` that is over at `ends` on the monotonic clock."""

    seconds: float
    ends: float

    def left_s(self) -> float:
        """Seconds until it is over, never below zero."""
        return max(0.0, self.ends - time.monotonic())


_NO_LIMIT = TimeLimit(float("inf"), float("inf"))
_limit: ContextVar[TimeLimit] = ContextVar("limit", default=_NO_LIMIT)


@contextmanager
def time_limit(seconds: float) -> Iterator[None]:
    """Set the limit for what is asked inside; a limit inside another never outlasts it.

    A thread keeps the limit of the context that it is run in (`contextvars.copy_context().run`).
    """
    outer = _limit.get()
    ends = time.monotonic() + seconds
    with _limited(TimeLimit(seconds, ends) if ends < outer.ends else outer):
        yield


@contextmanager
def no_time_left() -> Iterator[None]:
    """Let the present limit be over for what is asked inside: only what is at hand is given."""
    with _limited(TimeLimit(_limit.get().seconds, time.monotonic())):
        yield


@contextmanager
def _limited(limit: TimeLimit) -> Iterator[None]:
    token = _limit.set(limit)
    try:
        yield
    finally:
        _limit.reset(token)


def seconds_left() -> float:
    """Seconds that are left under the present limit; infinite where none is set."""
    return _limit.get().left_s()


def check_time() -> None:
    """Raise SourceError once the present limit is over."""
    if not seconds_left():
        raise SourceError(f"no answer within {_limit.get().seconds:.0f} s")
