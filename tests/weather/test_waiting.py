"""Bounded waits for calls that cannot be interrupted."""

import threading
import time

from trackday.weather.waiting import side_by_side


def test_a_call_that_hangs_is_left_behind():
    """Protects the paddock: one dead server must not hold up what the others said."""
    forever = threading.Event()
    start = time.monotonic()
    good, bad, stuck = side_by_side([lambda: 1, lambda: 1 // 0, forever.wait], seconds=0.3)
    took = time.monotonic() - start
    forever.set()
    assert (good.done, good.value, good.error) == (True, 1, None)
    assert bad.done
    assert isinstance(bad.error, ZeroDivisionError)
    assert not stuck.done
    assert 0.3 <= took < 2.0


def test_calls_run_at_the_same_time_and_keep_their_order():
    """Protects twenty yearly files from being fetched one after the other."""
    together = threading.Barrier(3, timeout=5.0)

    def call(number):
        together.wait()  # fails unless all three are under way
        return number

    outcomes = side_by_side([lambda n=n: call(n) for n in range(3)], seconds=5.0)
    assert [outcome.value for outcome in outcomes] == [0, 1, 2]


def test_a_late_answer_does_not_change_the_outcome():
    """Protects readers from a value that appears while they look."""
    release, over = threading.Event(), threading.Event()

    def late():
        release.wait(5.0)
        over.set()
        return 1

    (outcome,) = side_by_side([late], seconds=0.05)
    release.set()
    assert over.wait(5.0)
    time.sleep(0.05)
    assert not outcome.done
    assert outcome.value is None
