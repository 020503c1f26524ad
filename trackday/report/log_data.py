"""`trackday log` as JSON: a venue's page, the stock, and what was learned; SI throughout."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

from trackday.log_page import Setting, VenuePage
from trackday.logbook.columns import moment_text
from trackday.logbook.rows import to_row
from trackday.logbook.stock import StockSet
from trackday.logbook.store import Stored, Todo

if TYPE_CHECKING:
    from trackday.log_fit import LogFit

PAGE_SCHEMA = "trackday.log/1"
SETS_SCHEMA = "trackday.log-sets/1"
FIT_SCHEMA = "trackday.log-fit/1"
"""Names of the forms; a change that breaks a reader gets another number."""


def page_json(page: VenuePage) -> str:
    """Write a venue's page with every weekend of it."""
    return _text(
        {
            "schema": PAGE_SCHEMA,
            "as_of": moment_text(page.as_of),
            "venue": page.venue,
            "settings": [_setting(each) for each in page.settings],
            "alignment": None if page.alignment is None else _entry(page.alignment),
            "weekends": [
                {
                    "event": visit.event,
                    "first_day": visit.first_day,
                    "last_day": visit.last_day,
                    "entries": [_entry(line) for line in visit.entries],
                }
                for visit in page.visits
            ],
            "todos": [_todo(todo) for todo in page.todos],
            "sets": _sets(page.sets, page.as_of.astimezone(page.zone).date()),
            "elsewhere": list(page.elsewhere),
        }
    )


def sets_json(sets: Sequence[StockSet], *, today: date) -> str:
    """Write the stock of tires."""
    return _text({"schema": SETS_SCHEMA, "sets": _sets(sets, today)})


def fit_json(fit: LogFit) -> str:
    """Write every fit in its own form, and what became of the readings beside the model."""
    calibration = fit.calibration
    return _text(
        {
            "schema": FIT_SCHEMA,
            "as_of": moment_text(fit.as_of),
            "venue": fit.venue.name,
            "rise": fit.rise.to_data(),
            "bias": fit.bias.to_data(),
            "wet_line": fit.wet_line.to_data(),
            "tire_calls": fit.calls.to_data(),
            "rain_calibration": None
            if calibration is None
            else asdict(calibration) | {"gain": calibration.gain},
            "compared": dict(sorted(fit.compared.items())),
        }
    )


def _setting(setting: Setting) -> dict[str, Any]:
    return {
        "ran_on": setting.ran_on,
        "cold": _entry(setting.cold),
        "hot": None if setting.hot is None else _entry(setting.hot),
    }


def _entry(line: Stored) -> dict[str, Any]:
    moments = ("written_at", "edited_at", "todo_done_at")
    return {
        "id": line.id,
        "uid": line.uid,
        **to_row(line.entry),
        "raining": line.entry.raining,
        **{name: getattr(line, name) for name in moments},
    }


def _todo(todo: Todo) -> dict[str, Any]:
    return asdict(todo)


def _sets(sets: Iterable[StockSet], today: date) -> list[dict[str, Any]]:
    return [asdict(each) | {"age_days": each.age_days(today)} for each in sets]


def _plain(value: object) -> str:
    """Write moments in UTC and dates as ISO text."""
    if isinstance(value, datetime):
        return moment_text(value.astimezone(UTC))
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"{value!r} has no form in JSON")


def _text(data: dict[str, Any]) -> str:
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False, default=_plain)
