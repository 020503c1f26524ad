"""A venue's calibration in the logbook: kept with what it was learned from, and read again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields
from datetime import date, datetime
from typing import Any, Final

from trackday.errors import TrackdayError
from trackday.logbook.store import Book
from trackday.scoring.fitting import Fit
from trackday.verification.calibration import Calibration
from trackday.weekend.showing import shown_path
from trackday.weekend.venue import Venue

KIND: Final = "rain calibration"
"""Kind of finding under which fits are kept, by the venue's name in small letters."""

MOVED_DEG: Final = 0.05
"""Degrees by which a venue may be moved before what was learned there is of another place: five
kilometers (assumption)."""

_DAYS: Final = ("first_day", "last_day")


def calibration_data(calibration: Calibration) -> dict[str, Any]:
    """A calibration as what JSON can hold; `calibration_from` reads it again."""
    return {
        name: value.isoformat() if isinstance(value, date) else value
        for name, value in asdict(calibration).items()
    }


def calibration_from(data: Mapping[str, Any]) -> Calibration:
    """Read what `calibration_data` wrote; ValueError for anything else."""
    names = {field.name for field in fields(Calibration)}
    if set(data) != names:
        raise ValueError(f"fields of a calibration differ: {sorted(names ^ set(data))}")
    if data["predictor"] not in ("logit", "root"):
        raise ValueError(f"predictor {data['predictor']!r} is not known")
    return Calibration(**{name: _value(name, data[name]) for name in names})


def keep_fit(book: Book, fit: Fit) -> None:
    """Keep a fit in place of the venue's earlier one, also one that found nothing to use."""
    body = {
        **{name: _plain(getattr(fit, name)) for name in _FIT_FIELDS},
        "calibration": None if fit.calibration is None else calibration_data(fit.calibration),
    }
    book.keep(KIND, fit.venue.casefold(), fit.made_at, body)


def kept_fit(book: Book, venue: Venue) -> Fit | None:
    """Give what was last learned at a venue, None where nothing was or the venue has moved.

    Raises TrackdayError where what is kept cannot be read.
    """
    body = book.kept(KIND, venue.name.casefold())
    if body is None:
        return None
    try:
        fit = _fit_from(body)
    except (KeyError, TypeError, ValueError) as error:
        raise TrackdayError(
            f"{shown_path(book.path)}: the calibration of {venue.name} cannot be read ({error}); "
            "make it anew with `trackday score VENUE --fit`"
        ) from error
    moved = max(abs(fit.latitude - venue.latitude), abs(fit.longitude - venue.longitude))
    return fit if moved <= MOVED_DEG else None


_FIT_FIELDS: Final = tuple(field.name for field in fields(Fit) if field.name != "calibration")


def _fit_from(body: Mapping[str, Any]) -> Fit:
    values = {name: body[name] for name in _FIT_FIELDS}
    kept = body["calibration"]
    return Fit(
        **values
        | {name: _day(values[name]) for name in _DAYS}
        | {
            "made_at": datetime.fromisoformat(values["made_at"]),
            "notes": tuple(values["notes"]),
            "attribution": tuple(values["attribution"]),
            "calibration": None if kept is None else calibration_from(kept),
        }
    )


def _plain(value: Any) -> Any:
    if isinstance(value, date):  # a datetime too
        return value.isoformat()
    return list(value) if isinstance(value, tuple) else value


def _day(value: str | None) -> date | None:
    return None if value is None else date.fromisoformat(value)


def _value(name: str, value: Any) -> Any:
    if name in _DAYS:
        return date.fromisoformat(value)
    if name == "predictor":
        return value
    return int(value) if name in ("count", "events") else float(value)
