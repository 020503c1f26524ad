"""What all fuzzers share: junk made of good input, and rounds of it until the time is over.

A fuzzer is a script: `python tests/fuzz/NAME.py --minutes 10`. It feeds a reader with junk;
anything but the reader's own error ends it with the input that did it and status 1. Rounds start
from their number as seed, so that `--first-round` gives the same ones again.
"""

from __future__ import annotations

import argparse
import io
import sys
import time
import traceback
import warnings
from collections.abc import Callable, Mapping, Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from junk_json import ANY_JSON, spoilt

ROUND = 500
"""Examples a round: between two looks at the clock."""

PIECES = (
    "", " ", "\n", "\r", "\t", "\0", "\x1b[31m", "\x9b", "\u202e", "\ufeff", "\ud800", "🏁", "é",
    '"', "'", '"""', "\\", "#", ",", ";", ":", "=", "[", "]", "[[", "]]", "{", "}", "(", ")",
    "-", "+", "−", "/", "..", "../", "~", "%", "°F", "psi", "NaN", "nan", "inf", "-inf", "null",
    "true", "0", "-0", "1e999", "1e-999", "9" * 30, "9" * 5000, "0x1F", "1_000", "01", "1,5",
    "0001-01-01", "9999-12-31", "2027-02-30", "2027-03-14 02:30", "2027-11-07 01:30", "24:00",
    "00:00", "23:59:60", "T", "Z", "+99:00", "-23:59", "a" * 300,
)  # fmt: skip
"""What breaks readers: signs with a meaning, numbers and times at the edge, odd characters."""

Target = tuple[st.SearchStrategy[Any], Callable[[Any], None]]


def any_reply(good: Any) -> st.SearchStrategy[Any]:
    """Any JSON, or a good reply with one or several places spoilt."""
    twice = spoilt(good).flatmap(lambda data: spoilt(data) if data else st.just(data))
    return st.one_of(spoilt(good), twice, ANY_JSON)


@st.composite
def broken_text(draw: st.DrawFn, good: str, pieces: Sequence[str] = PIECES) -> str:
    """A good text with some places cut out, doubled, swapped, or replaced by junk."""
    text = good
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 12)))
        junk = draw(
            st.one_of(
                st.sampled_from(pieces),
                st.text(max_size=6),
                st.just(text[start:end] * 2),
                st.just(text[end : end + 20]),
            )
        )
        text = text[:start] + junk + text[end:]
    return text


@st.composite
def broken_bytes(draw: st.DrawFn, good: bytes) -> bytes:
    """Good bytes with some places overwritten, cut out or doubled."""
    data = bytearray(good)
    for _ in range(draw(st.integers(1, 6))):
        start = draw(st.integers(0, len(data)))
        end = min(len(data), start + draw(st.integers(0, 40)))
        data[start:end] = draw(
            st.one_of(
                st.binary(max_size=8),
                st.just(bytes(end - start)),
                st.just(bytes(data[start:end] * 2)),
                st.just(b"\xff" * (end - start)),
            )
        )
    return bytes(data)


def as_file(text: str) -> bytes:
    """Bytes of a text, whatever it holds: halves of characters become no UTF-8."""
    return text.encode("utf-8", "surrogatepass")


def demand_plain(text: str) -> None:
    """Demand that a text is one printable line, and not too long to be read."""
    assert text.isprintable(), repr(text)
    assert len(text) < 2000, len(text)


def demand_lines(error: Exception) -> None:
    """Demand of a user's error that each of its lines is one printable line."""
    for line in error.lines:  # type: ignore[attr-defined]
        demand_plain(line)


def fuzz(targets: Mapping[str, Target]) -> None:
    """Run the command line of a fuzzer: every target has the same share of the time."""
    options = _options(targets)
    chosen = options.only or list(targets)
    seconds = options.minutes * 60.0 / len(chosen)
    failed = False
    for name in chosen:
        failed |= not _fuzz(name, *targets[name], seconds=seconds, first=options.first_round)
    sys.exit(1 if failed else 0)


def _options(targets: Mapping[str, Target]) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    parser.add_argument("--minutes", type=float, default=10.0, help="for all targets together")
    parser.add_argument("--only", nargs="+", choices=list(targets), help="these targets alone")
    parser.add_argument("--first-round", type=int, default=0)
    return parser.parse_args()


def _fuzz(
    name: str,
    strategy: st.SearchStrategy[Any],
    read: Callable[[Any], None],
    *,
    seconds: float,
    first: int,
) -> bool:
    """Feed one reader for some seconds, and tell how many examples it took; False if it broke."""
    start, examples, number = time.monotonic(), 0, first

    def take(data: Any) -> None:
        nonlocal examples
        examples += 1
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            read(data)

    while time.monotonic() - start < seconds:
        attempt = seed(number)(_round(strategy, take))
        said = io.StringIO()
        try:
            with redirect_stdout(said), redirect_stderr(said):
                attempt()
        except BaseException as error:
            if isinstance(error, KeyboardInterrupt):
                raise
            print(f"{name}: BROKEN in round {number}, after {examples} examples", flush=True)
            print("".join(_told(error)), said.getvalue(), flush=True)
            return False
        number += 1
    minutes = (time.monotonic() - start) / 60.0
    print(f"{name}: {examples} examples in {minutes:.1f} min, none broke it", flush=True)
    return True


def _round(strategy: st.SearchStrategy[Any], take: Callable[[Any], None]) -> Callable[[], None]:
    """One round of examples: broken ones are made small, nothing is remembered on the disk."""
    return settings(
        max_examples=ROUND,
        deadline=None,
        database=None,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=list(HealthCheck),
    )(given(strategy)(take))


def _told(error: BaseException) -> list[str]:
    return traceback.format_exception(error)[-30:]
