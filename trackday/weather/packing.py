"""What was gathered as bytes and back, exactly, so that an old look can be planned again.

The bytes are a numpy archive of plain arrays (nothing in it can run) and one JSON text for all that
is not an array.
"""

from __future__ import annotations

import io
import json
import zlib
from collections.abc import Mapping
from dataclasses import fields
from datetime import datetime
from tokenize import TokenError
from typing import Any, TypeVar
from zipfile import BadZipFile, ZipFile

import numpy as np
import pandas as pd

from trackday.weather.observed import Difference
from trackday.weather.plain import plain_line
from trackday.weather.series import MEMBER_FIELDS, Weather, epoch_seconds
from trackday.weather.sources import Alert, Gathered, Observation, SourceReport

FORMAT = 1
"""Number of this form; it changes when a field is dropped or changes its meaning."""

MAX_UNPACKED_BYTES = 100_000_000
"""Unpacked size above which nothing is read (assumption: ten times what a plan with
other years holds)."""

_WEATHERS = ("weather", "climatology", "usual")
_REASON_LENGTH = 120
"""Characters of a library's explanation that are passed on (assumption)."""

_TYPES: Mapping[str, tuple[type, ...]] = {
    "str": (str,), "float": (int, float), "bool": (bool,), "datetime": (datetime,),
    "None": (type(None),),
}  # fmt: skip
"""What may stand in a field of a flat record, by the names in its annotation; others are words."""

_UNREADABLE = (
    # Of the archive and of the arrays in it, whose heads are read as Python's own literals.
    BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError, MemoryError,
    SyntaxError, TokenError,
    # Of the text: a value that is absent or of another type.
    AttributeError, LookupError, TypeError, ValueError, OverflowError,
)  # fmt: skip
"""What reading foreign or damaged bytes raises; found by fuzzing, RecursionError among them."""

RecordT = TypeVar("RecordT", Alert, Observation, SourceReport, Difference)


class PackingError(ValueError):
    """The bytes are not, or no longer, what this version packs."""


def pack(gathered: Gathered) -> bytes:
    """Write a gathered weather, its reports, alerts and observation as compressed bytes."""
    arrays: dict[str, Any] = {}
    text: dict[str, Any] = {"format": FORMAT, "basis": gathered.basis, "weathers": {}}
    for name in _WEATHERS:
        weather: Weather | None = getattr(gathered, name)
        if weather is not None:
            text["weathers"][name] = _names(weather)
            arrays |= {f"{name}.{key}": value for key, value in _arrays(weather).items()}
    text |= {
        "sources": [_record(source) for source in gathered.sources],
        "alerts": [_record(alert) for alert in gathered.alerts],
        "observation": gathered.observation and _record(gathered.observation),
        "difference": gathered.difference and _record(gathered.difference),
    }
    arrays["text"] = np.frombuffer(json.dumps(text).encode(), dtype=np.uint8)
    buffer = io.BytesIO()
    np.savez_compressed(buffer, **arrays)
    return buffer.getvalue()


def unpack(packed: bytes) -> Gathered:
    """Read what `pack` wrote; raises PackingError for anything else."""
    try:
        with np.load(io.BytesIO(packed), allow_pickle=False) as archive:
            _refuse_huge(archive.zip)
            arrays = {name: archive[name] for name in archive.files}
        text = json.loads(arrays["text"].tobytes())
        if text["format"] != FORMAT:
            raise PackingError(f"the form is {text['format']}, not {FORMAT}")
        weathers = {name: _weather(named, arrays, name) for name, named in text["weathers"].items()}
        return Gathered(
            weather=weathers["weather"],
            climatology=weathers.get("climatology"),
            usual=weathers.get("usual"),
            basis=text["basis"],
            sources=tuple(_restored(SourceReport, each) for each in text["sources"]),
            alerts=tuple(_restored(Alert, each) for each in text["alerts"]),
            observation=_maybe(Observation, text["observation"]),
            difference=_maybe(Difference, text["difference"]),
        )
    except _UNREADABLE as error:
        # The libraries repeat whole pieces of what they cannot read.
        reason = plain_line(str(error))[:_REASON_LENGTH]
        raise PackingError(f"the stored weather cannot be read: {reason}") from error


def _refuse_huge(archive: ZipFile) -> None:
    """Raise PackingError where few bytes say that they unpack to very many."""
    size = sum(part.file_size for part in archive.infolist())
    if size > MAX_UNPACKED_BYTES:
        raise PackingError(f"the stored weather is larger than {MAX_UNPACKED_BYTES // 10**6} MB")


def _names(weather: Weather) -> dict[str, list[str]]:
    return {"members": list(weather.members), "centers": list(weather.centers)}


def _arrays(weather: Weather) -> dict[str, Any]:
    """Take every array of a weather, its times as whole seconds."""
    found = {
        field.name: getattr(weather, field.name)
        for field in fields(weather)
        if isinstance(getattr(weather, field.name), np.ndarray)
    }
    return found | {"times": epoch_seconds(weather.times).astype(np.int64)}


def _weather(named: Mapping[str, list[str]], arrays: Mapping[str, Any], name: str) -> Weather:
    """Put one weather together; a field that an older version did not know is unknown."""
    times = pd.to_datetime(arrays[f"{name}.times"], unit="s", utc=True).as_unit("s")
    shape = (len(named["members"]), len(times))
    rest = {
        field.name: arrays.get(
            f"{name}.{field.name}",
            np.full(shape if field.name in MEMBER_FIELDS else shape[1:], np.nan),
        )
        for field in fields(Weather)
        if field.name not in ("times", "members", "centers")
    }
    return Weather(
        times=times,
        members=tuple(named["members"]),
        centers=tuple(named["centers"]),
        **rest,
    )


def _record(record: Alert | Observation | SourceReport | Difference) -> dict[str, Any]:
    """Write a flat record; moments as text with their offset, NaN as JSON's usual NaN."""
    return {
        field.name: value.isoformat() if isinstance(value, datetime) else value
        for field in fields(record)
        for value in [getattr(record, field.name)]
    }


def _maybe(kind: type[RecordT], data: Mapping[str, Any] | None) -> RecordT | None:
    return None if data is None else _restored(kind, data)


def _restored(kind: type[RecordT], data: Mapping[str, Any]) -> RecordT:
    """Read a flat record back; fields whose type says so are moments again."""
    moments = {field.name for field in fields(kind) if "datetime" in str(field.type)}
    values: dict[str, Any] = {
        name: datetime.fromisoformat(value) if name in moments and value is not None else value
        for name, value in data.items()
    }
    record = kind(**values)
    for field in fields(kind):
        _check_type(getattr(record, field.name), str(field.type), field.name)
    return record


def _check_type(value: object, annotation: str, name: str) -> None:
    """Raise ValueError for a value of another type than its field says."""
    names = (part.strip() for part in annotation.split("|"))
    allowed = tuple(each for part in names for each in _TYPES.get(part, (str,)))
    if not isinstance(value, allowed):
        raise ValueError(f"{name} is of another type")  # noqa: TRY004 -- as all that is unreadable
