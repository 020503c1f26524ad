"""What a station reported hour by hour in other years, year by year, kept for the paddock."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import Any, Final, NamedTuple

import pandas as pd

from trackday.settings import Settings
from trackday.weather.failures import SourceError, host_of
from trackday.weather.meteostat_library import (
    library_reason,
    open_library,
    overheard,
    require_host,
    stations_folder,
)
from trackday.weather.plain import plain_line
from trackday.weather.station_files import Saved, StationFiles
from trackday.weather.stations import Station
from trackday.weather.waiting import side_by_side

HOURLY_COLUMNS: Final = ("temp", "rhum", "prcp", "wspd", "wpgt", "pres", "cldc", "coco")
"""What is asked of the hourly files: °C, %, mm, km/h, km/h, hPa at sea level, oktas, code."""

NORMALS_COLUMNS: Final = ("tmin", "tmax", "prcp")
"""What is asked of the monthly files: °C, °C, mm in the month."""

NORMALS_YEARS: Final = (1991, 2020)
"""Reference period of the current climate normals (WMO-No. 1203, value from memory)."""

FETCH_SECONDS: Final = 20.0
"""Longest wait, s, for a few yearly files, each some 150 kB (assumption)."""

AT_ONCE: Final = 5
"""Yearly files that are asked for side by side (assumption: easy on a free service)."""

_OWNER: Final = "Meteostat"
"""Whom the library names first."""

THIS_YEAR_FRESH: Final = timedelta(hours=1)
LAST_YEAR_FRESH: Final = timedelta(days=1)
OLDER_FRESH: Final = timedelta(days=30)
"""How long a saved year is used without asking again: the running one grows, the one before is
still corrected, older ones hardly change (the last two are the library's own rule)."""


@dataclass(frozen=True, eq=False)
class Hours:
    """A station's hours as they were reported, and what stood in the way of the rest.

    `table` has a rising UTC index and the `HOURLY_COLUMNS`; it is empty where the station has
    nothing. `years` could be had, though there may be nothing in them. `fetched_at` (UTC) is when
    the oldest of them came; `stale` says that a year should have been asked again and could not.
    `problem` is why asking failed, None where it did not or nothing was asked.
    """

    table: pd.DataFrame
    years: tuple[int, ...]
    owners: tuple[str, ...]
    fetched_at: datetime
    stale: bool
    notes: tuple[str, ...]
    problem: str | None


class MonthlyMeans(NamedTuple):
    """Means of a month over `NORMALS_YEARS`, NaN where unknown: `NORMALS_COLUMNS` in order."""

    low_c: float
    high_c: float
    rain_mm: float


@dataclass(frozen=True)
class _Got:
    """Files by name, what to say about them, and why the rest could not be asked."""

    files: dict[str, Saved]
    notes: tuple[str, ...]
    stale: bool
    problem: str | None


@dataclass(frozen=True)
class _Part:
    """One file of a station: its name among the saved ones, how long it is good, how to ask."""

    name: str
    fresh: timedelta
    fetch: Callable[[], Saved]


def hourly_history(
    station: Station,
    years: Sequence[int],
    *,
    settings: Settings,
    as_of: datetime,
    offline: bool,
    seconds: float = FETCH_SECONDS,
) -> Hours:
    """Get what a station reported in some calendar years (UTC), without any model's fill.

    Years are asked one by one, `AT_ONCE` side by side, each round for `seconds` at most; saved ones
    stand in where that fails. "No data" is an empty table; SourceError means that nothing could be
    had at all: no network (told within `REACH_SECONDS`), or offline with nothing saved.
    """
    library = open_library()
    url = str(library.config.hourly_endpoint)
    parts = [
        _Part(str(year), _fresh(year, as_of), partial(_fetch_year, library, station, year, as_of))
        for year in years
    ]
    got = _get(
        station, parts, url, settings=settings, as_of=as_of, offline=offline, seconds=seconds
    )
    files = got.files.values()
    tables = [_utc(saved.table) for saved in files if len(saved.table)]
    empty = pd.DataFrame(columns=list(HOURLY_COLUMNS), index=pd.DatetimeIndex([], tz="UTC"))
    table = pd.concat(tables).sort_index() if tables else empty.astype("float64")
    return Hours(
        table=table[~table.index.duplicated(keep="last")],
        years=tuple(sorted(int(name) for name in got.files)),
        owners=tuple(dict.fromkeys(owner for saved in files for owner in saved.owners)),
        fetched_at=min(saved.saved_at for saved in files),
        stale=got.stale,
        notes=got.notes,
        problem=got.problem,
    )


def normals(
    station: Station, *, settings: Settings, as_of: datetime, offline: bool
) -> dict[int, MonthlyMeans]:
    """Get a station's means over `NORMALS_YEARS` by month, 1–12.

    Months with too few years are absent or NaN. Raises SourceError as `hourly_history`.
    """
    library = open_library()
    url = str(library.config.monthly_endpoint)
    name = "-".join(("normals", *map(str, NORMALS_YEARS)))
    part = _Part(name, OLDER_FRESH, partial(_fetch_normals, library, station, as_of))
    got = _get(
        station,
        [part],
        url,
        settings=settings,
        as_of=as_of,
        offline=offline,
        seconds=FETCH_SECONDS,
    )
    table = got.files[name].table
    return {
        int(month): MonthlyMeans(*row)
        for month, row in zip(table.index, table.to_numpy().tolist(), strict=True)
    }


def _get(
    station: Station,
    parts: Sequence[_Part],
    url: str,
    *,
    settings: Settings,
    as_of: datetime,
    offline: bool,
    seconds: float,
) -> _Got:
    """Get parts from the server or, where that fails or need not be, from what is saved."""
    files = StationFiles(stations_folder(settings))
    saved = {part.name: files.read(station.id, part.name) for part in parts}
    old = [part for part in parts if _is_old(saved[part.name], part, as_of)]
    fetched: dict[str, Saved] = {}
    problem: str | None = None
    if old and not offline:
        fetched, problem = _fetch(old, url, seconds=seconds)
    got = {
        part.name: found
        for part in parts
        if (found := fetched.get(part.name, saved[part.name])) is not None
    }
    reason = problem or "nothing saved for this station and these years"
    if not got:
        raise SourceError(reason)
    lacking = sorted(part.name for part in parts if part.name not in got)
    kept = [part.name for part in old if part.name in got and part.name not in fetched]
    notes = []
    if lacking:
        notes.append(f"{len(lacking)} years not had ({_span(lacking)}): {reason}")
    if kept and problem is not None:
        notes.append(f"saved earlier ({_span(sorted(kept))}): {problem}")
    return _Got(got, (*notes, *_keep(files, station, fetched)), bool(kept), problem)


def _fetch(
    parts: Sequence[_Part], url: str, *, seconds: float
) -> tuple[dict[str, Saved], str | None]:
    """Ask for parts, some at once, until one round has a failure; give the reason with the rest."""
    fetched: dict[str, Saved] = {}
    try:
        require_host(url)
    except SourceError as error:
        return fetched, error.reason
    for first in range(0, len(parts), AT_ONCE):
        batch = parts[first : first + AT_ONCE]
        outcomes = side_by_side([part.fetch for part in batch], seconds=seconds)
        problems = []
        for part, outcome in zip(batch, outcomes, strict=True):
            if outcome.value is not None:
                fetched[part.name] = outcome.value
            elif outcome.error is None:
                problems.append(f"{host_of(url) or url} did not answer in time")
            else:
                problems.append(library_reason(outcome.error, url))
        if problems:
            return fetched, problems[0]
    return fetched, None


def _fetch_year(library: Any, station: Station, year: int, as_of: datetime) -> Saved:
    """Ask the library for one calendar year; raises what it would rather log."""
    columns = [library.Parameter(name) for name in HOURLY_COLUMNS]
    with overheard() as errors:
        series = library.hourly(
            library.Station(id=station.id),
            datetime(year, 1, 1),  # noqa: DTZ001  # the library's times are UTC without saying so
            datetime(year, 12, 31, 23),  # noqa: DTZ001
            parameters=columns,
        )
    return _saved(series, errors, HOURLY_COLUMNS, as_of)


def _fetch_normals(library: Any, station: Station, as_of: datetime) -> Saved:
    """Ask the library for the monthly means of the reference period; raises as `_fetch_year`."""
    columns = [library.Parameter(name) for name in NORMALS_COLUMNS]
    first, last = NORMALS_YEARS
    with overheard() as errors:
        series = library.normals(library.Station(id=station.id), first, last, parameters=columns)
    return _saved(series, errors, NORMALS_COLUMNS, as_of)


def _saved(
    series: Any, errors: Sequence[BaseException], columns: Sequence[str], as_of: datetime
) -> Saved:
    """Take what the library gave, as plain numbers; an absent file is no data, not an error."""
    failures = [error for error in errors if not isinstance(error, FileNotFoundError)]
    if failures:
        raise failures[0]
    table = series.fetch()
    if table is None:
        table = pd.DataFrame(columns=list(columns))
    owners = tuple(
        sorted(plain_line(str(series.attribution)).split(", "), key=lambda it: (it != _OWNER, it))
    )
    return Saved(table.reindex(columns=list(columns)).astype("float64"), owners, as_of)


def _keep(files: StationFiles, station: Station, fetched: dict[str, Saved]) -> tuple[str, ...]:
    """Save what was fetched; say so where that fails, which costs the next run a fetch."""
    try:
        for name, part in fetched.items():
            files.write(station.id, name, part.table, part.owners)
    except OSError as error:
        return (f"{files.folder}: station history cannot be kept there ({error.strerror})",)
    return ()


def _is_old(saved: Saved | None, part: _Part, as_of: datetime) -> bool:
    return saved is None or saved.expired(as_of=as_of, after=part.fresh)


def _fresh(year: int, as_of: datetime) -> timedelta:
    """How long a saved year is good, as seen from `as_of`."""
    if year >= as_of.year:
        return THIS_YEAR_FRESH
    return LAST_YEAR_FRESH if year == as_of.year - 1 else OLDER_FRESH


def _utc(table: pd.DataFrame) -> pd.DataFrame:
    return table.set_axis(pd.to_datetime(table.index, utc=True).as_unit("s"))


def _span(names: Sequence[str]) -> str:
    """Name the first and last of sorted names: "2004–2011"."""
    return names[0] if len(names) == 1 else f"{names[0]}–{names[-1]}"
