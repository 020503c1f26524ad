"""What can go wrong with a weather service, and how each source's reply looks when it does."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from fault_forms import Form
from standin import Fault
from standin_nws import alert, collection

FIRST = (datetime(2024, 6, 15, 15, 0, tzinfo=UTC), datetime(2024, 6, 15, 15, 30, tzinfo=UTC))
SECOND = (datetime(2024, 6, 16, 18, 0, tzinfo=UTC), datetime(2024, 6, 16, 18, 30, tzinfo=UTC))
"""Two sessions: one in the hours that the observation still touches, one in the hole."""

ALERTS = collection(
    alert(
        "Wind Advisory",
        onset=datetime(2024, 6, 15, 17, 0, tzinfo=UTC),
        ends=datetime(2024, 6, 16, 3, 0, tzinfo=UTC),
    )
)
"""What the stand-in warns of while the table is made."""

HUGE = b'{"a":"' + b" " * 1_200_000 + b'"}'
"""Larger than the limit that is set while the table is made."""

Change = Callable[[Any], Any]


@dataclass(frozen=True)
class Kind:
    """One way to fail: on the way (`detour`), by the server, or in what the reply says.

    `change` names the function that spoils a good reply of a source's format; a source whose format
    has none of that name cannot fail so.
    """

    name: str
    detour: str = ""
    fault: Fault | None = None
    change: str = ""

    def suits(self, form: type[Form]) -> bool:
        """Whether a source of that format can fail so."""
        return not self.change or hasattr(form, self.change)


def _text(*, body: str | bytes, status: int = 200, **more: Any) -> Fault:
    return Fault(status=status, body=body, **more)


KINDS = (
    Kind("no network", detour="refused"),
    Kind("no name server", detour="name"),
    Kind("no secure connection", detour="tls"),
    Kind("no answer in time", detour="quick", fault=Fault(delay_s=0.2)),
    Kind("slow drip", fault=Fault(drip_s=0.02, change=lambda good: good)),
    Kind("connection closed", fault=Fault(drop=True)),
    Kind("400", fault=_text(status=400, body='{"error":true,"reason":"bad"}')),
    Kind("403 with a web page", fault=_text(status=403, body="<html>no entry</html>")),
    Kind("404", fault=_text(status=404, body="")),
    Kind("429", fault=_text(status=429, body='{"error":true,"reason":"too many"}')),
    Kind("500 once", fault=Fault(status=500, times=1)),
    Kind("500 always", fault=Fault(status=500)),
    Kind("503", fault=_text(status=503, body='{"title":"ForecastGridExpired"}')),
    Kind("JSON cut off", fault=Fault(change=lambda good: good[: len(good) // 2])),
    Kind("text after JSON", fault=Fault(change=lambda good: good + b" Unexpected error")),
    Kind("web page with 200", fault=_text(body="<!doctype html><p>Log in")),
    Kind("empty body", fault=_text(body="")),
    Kind(
        "wrong content type",
        fault=Fault(change=lambda good: good, headers={"Content-Type": "text/html"}),
    ),
    Kind("all null", change="all_null"),
    Kind("some null", change="some_null"),
    Kind("NaN as text", change="nan_text"),
    Kind("unknown unit", change="wrong_unit"),
    Kind("times out of order", change="unordered"),
    Kind("times twice", change="twice"),
    Kind("a day missing", change="day_missing"),
    Kind("25 hours old", detour="old", change="old"),
    Kind("of another month", change="future"),
    Kind("huge body", fault=_text(body=HUGE)),
    Kind("redirects in circles", fault=_text(status=302, body="")),
)


def fault_of(kind: Kind, form: type[Form]) -> Fault | None:
    """What the server must do; None if it need not do anything, or if the format cannot fail so."""
    if not kind.change:
        return kind.fault
    change: Change | None = getattr(form, kind.change, None)
    if change is None:
        return None

    def spoiled(good: bytes) -> bytes:
        return json.dumps(change(json.loads(good))).encode()

    return Fault(change=spoiled)
