"""How much of Open-Meteo's free allowance this machine has used, kept beside the saved replies."""

from __future__ import annotations

import logging
import sqlite3
from contextlib import closing, suppress
from datetime import date
from pathlib import Path
from typing import NamedTuple
from urllib.parse import parse_qs, urlsplit

from trackday.damage import legible_damage
from trackday.weather.failures import SourceError
from trackday.weather.open_meteo import ENSEMBLES, call_weight
from trackday.weather.private import make_private_file

FREE_HOSTS = ".open-meteo.com"
PAID_HOSTS = "customer-"
"""End of the names of the provider's hosts, and start of those that a key opens and that have
limits of their own. Nobody else's host counts."""

WARN_SHARE = 0.8
"""Share of the day's limit from which the reader is told (assumption)."""


class _Limit(NamedTuple):
    span: str
    since: str
    calls: float


_LIMITS = (
    _Limit("minute", "strftime('%s', 'now') - 60", 600.0),
    _Limit("hour", "strftime('%s', 'now') - 3600", 5000.0),
    _Limit("day", "strftime('%s', 'now', 'start of day')", 10_000.0),
)
"""The provider's limits for free use (its terms); its day is taken to be UTC's (assumption)."""

_DEFAULT_DAYS = 7.0
"""Days that a reply covers when the request names none (provider's documentation)."""

_TABLE = "CREATE TABLE IF NOT EXISTS calls (at INTEGER NOT NULL, weight REAL NOT NULL)"

_logger = logging.getLogger(__name__)


class CallLedger:
    """Counts what this machine asks of the free service; one small SQLite file for all its runs.

    Time comes from SQLite's own clock, since the provider's limits run on real time whatever moment
    is planned for. Where the file cannot be used nothing is counted: the provider counts too, and
    says so with status 429.
    """

    def __init__(self, cache_dir: Path, *, hosts: str = FREE_HOSTS) -> None:
        """Take the folder; `hosts` is the end of the host names that count."""
        self._path = cache_dir / "calls.sqlite"
        self._hosts = hosts

    def take(self, url: str) -> None:
        """Count a request; raises SourceError, without counting, where it passes a limit."""
        host = urlsplit(url).hostname or ""
        if not host.endswith(self._hosts) or host.startswith(PAID_HOSTS):
            return
        passed = self._take(call_weight_of(url))
        if passed is not None:
            raise SourceError(
                f"not asked: this machine has used up the {passed.calls:,.0f} calls that {host} "
                f"gives away each {passed.span}; wait, or set open_meteo_key in the settings"
            )

    def day_share(self) -> float:
        """Share of the day's limit that is used up; 0 where that cannot be read."""
        day = _LIMITS[-1]
        try:
            with legible_damage(), closing(self._connect()) as connection:
                return _used(connection, day) / day.calls
        except (OSError, sqlite3.Error) as error:
            _logger.debug("%s: %s", self._path, error)
            return 0.0

    def _take(self, weight: float) -> _Limit | None:
        """Count `weight` in one transaction, or return the limit that forbids it."""
        try:
            with legible_damage(), closing(self._connect()) as connection:
                connection.execute("BEGIN IMMEDIATE")
                for limit in _LIMITS:
                    if _used(connection, limit) + weight > limit.calls:
                        return limit
                connection.execute("DELETE FROM calls WHERE at < strftime('%s', 'now') - 172800")
                connection.execute("INSERT INTO calls VALUES (strftime('%s', 'now'), ?)", (weight,))
                connection.execute("COMMIT")
        except sqlite3.OperationalError as error:
            _logger.debug("%s: %s", self._path, error)
        except (OSError, sqlite3.DatabaseError) as error:
            _logger.debug("%s: damaged, starting anew: %s", self._path, error)
            # Where it cannot be removed either, the provider's own count has to do.
            with suppress(OSError):
                self._path.unlink(missing_ok=True)
        return None

    def _connect(self) -> sqlite3.Connection:
        make_private_file(self._path)
        connection = sqlite3.connect(self._path, timeout=1.0, isolation_level=None)
        try:
            connection.execute(_TABLE)
        except BaseException:
            connection.close()
            raise
        return connection


def call_weight_of(url: str) -> float:
    """How many calls the provider counts a request as, from its address."""
    query = parse_qs(urlsplit(url).query)
    columns = sum(
        len(text.split(","))
        for name in ("hourly", "minutely_15", "daily", "current")
        for text in query.get(name, [])
    )
    sizes = {model.key: model.members for model in ENSEMBLES}
    models = [key for text in query.get("models", ["one"]) for key in text.split(",")]
    members = sum(sizes.get(key, 1) for key in models)
    return call_weight(columns, members=members, days=_days(query))


def _days(query: dict[str, list[str]]) -> float:
    try:
        first, last = (date.fromisoformat(query[name][0]) for name in ("start_date", "end_date"))
    except (KeyError, ValueError):
        return _DEFAULT_DAYS
    return (last - first).days + 1.0


def _used(connection: sqlite3.Connection, limit: _Limit) -> float:
    query = f"SELECT COALESCE(SUM(weight), 0) FROM calls WHERE at >= CAST({limit.since} AS INTEGER)"  # noqa: S608
    (used,) = connection.execute(query).fetchone()
    return float(used)
