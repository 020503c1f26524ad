"""The live services behind the commands: settings, the cached session, and what asks through it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from typing import TYPE_CHECKING

from requests_cache import CachedSession

from trackday.settings import Settings, load_settings, settings_path
from trackday.weather.http import open_session
from trackday.weather.limits import CallLedger
from trackday.whereabouts import Finder

if TYPE_CHECKING:
    from trackday.plan import Gather

Warn = Callable[[str], None]


def live_gather(environ: Mapping[str, str], *, offline: bool, wait_s: float, warn: Warn) -> Gather:
    """Bind `gather` to the user's settings, cache and budget; `warn` gets lines about the cache."""
    from trackday.weather.gather import gather

    settings, session = live_session(environ, offline=offline, warn=warn)
    return partial(
        gather,
        session=session,
        settings=settings,
        offline=offline,
        seconds=wait_s,
        ledger=CallLedger(settings.cache_dir),
    )


def live_session(
    environ: Mapping[str, str], *, offline: bool, warn: Warn
) -> tuple[Settings, CachedSession]:
    """Read the user's settings and open the cached session that they ask for.

    Whatever it asks counts toward Open-Meteo's free allowance.
    """
    settings = load_settings(environ, settings_path(), warn=warn)
    ledger = CallLedger(settings.cache_dir)
    return settings, open_session(settings.cache_dir, offline=offline, warn=warn, allowance=ledger)


@contextmanager
def live_finder(environ: Mapping[str, str], *, offline: bool, warn: Warn) -> Iterator[Finder]:
    """Open the look-up of places for as long as it is needed."""
    settings, session = live_session(environ, offline=offline, warn=warn)
    with session:
        yield Finder(session, settings, offline)
