"""Ask for a venue's weather once for all its events, and wait for free calls where none is left."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from trackday.errors import NoWeatherError
from trackday.plan import Gather, weather_window
from trackday.weather.open_meteo import FORECAST_HORIZON_DAYS
from trackday.weather.series import Weather
from trackday.weather.sources import FORECAST_ROLE, ODDS_ROLE, Gathered
from trackday.weekend.reading import Weekend
from trackday.weekend.venue import Venue

Days = tuple[date, date]
"""The first and the last of some UTC dates."""

MINUTE_SPENT = "gives away each minute"
"""How a source that was not asked says that the calls of this minute are used up
(`weather/limits.py`); more come within the minute, while an hour's or a day's are not worth a
wait."""

PAUSE_S = 15.0
PAUSES = 5
"""How long to wait for free calls, s, and how often in a row for one venue: longer than the minute
that they are counted over (assumption: what is not there then, another run takes away)."""


def horizon(as_of: datetime) -> date:
    """The last UTC date that the forecast reaches."""
    return as_of.astimezone(UTC).date() + timedelta(days=FORECAST_HORIZON_DAYS)


def by_venue(weekends: Iterable[Weekend]) -> Iterator[tuple[Venue, list[Weekend]]]:
    """Give each venue with its events; the venue whose event comes first in the list, first."""
    found: dict[Venue, list[Weekend]] = {}
    for weekend in weekends:
        found.setdefault(weekend.venue, []).append(weekend)
    yield from found.items()


class VenueGather:
    """Asks for one venue's weather once for all its events, and gives each event its own days.

    The days end with the forecast's reach: what lies beyond would set other years going, which are
    no forecast. `offline` tells that `gather` has saved replies alone, which may be those of one
    event's days.
    """

    def __init__(
        self, gather: Gather, weekends: Iterable[Weekend], *, as_of: datetime, offline: bool
    ) -> None:
        """Take the events (at least one), all at the venue."""
        windows = [weather_window(weekend.sessions) for weekend in weekends]
        last = min(max(last for _, last in windows), horizon(as_of))
        self._days: Days = (min(first for first, _ in windows), last)
        self._gather = gather
        self._offline = offline
        self._given: Gathered | NoWeatherError | None = None

    def __call__(
        self, venue: Venue, *, first_day: date, last_day: date, as_of: datetime
    ) -> Gathered:
        """Cut the venue's weather to these days; raises NoWeatherError where there is none."""
        own = (first_day, last_day)
        if self._given is None:
            self._given = self._ask(venue, self._days, as_of)
        given = self._given
        if self._offline and own != self._days and _lacking(given):
            given = min((given, self._ask(venue, own, as_of)), key=_lacking)
        if isinstance(given, NoWeatherError):
            raise given
        return _cut(given, own)

    def _ask(self, venue: Venue, days: Days, as_of: datetime) -> Gathered | NoWeatherError:
        try:
            return self._gather(venue, first_day=days[0], last_day=days[1], as_of=as_of)
        except NoWeatherError as error:
            return error


def _lacking(given: Gathered | NoWeatherError) -> float:
    """How many forecasts failed; what does not go by the days, such as the office's, may be there.

    Infinite where there is no weather.
    """
    if isinstance(given, NoWeatherError):
        return float("inf")
    roles = (FORECAST_ROLE, ODDS_ROLE)
    return sum(s.status == "failed" and s.role in roles for s in given.sources)


@dataclass
class PatientGather:
    """A gather that waits and asks again where this machine has used up the calls of the minute.

    What has come by then is saved and not asked for again. `pause` gets seconds and lets them pass;
    `tell` is called once, before the first pause.
    """

    gather: Gather
    pause: Callable[[float], None]
    tell: Callable[[], None]
    _told: bool = False

    def __call__(
        self, venue: Venue, *, first_day: date, last_day: date, as_of: datetime
    ) -> Gathered:
        """Gather; raises NoWeatherError where there is no weather, also after the last pause."""
        for _ in range(PAUSES):
            try:
                given = self.gather(venue, first_day=first_day, last_day=last_day, as_of=as_of)
            except NoWeatherError as error:
                if MINUTE_SPENT not in str(error):
                    raise
            else:
                if not any(MINUTE_SPENT in source.detail for source in given.sources):
                    return given
            self._wait()
        return self.gather(venue, first_day=first_day, last_day=last_day, as_of=as_of)

    def _wait(self) -> None:
        if not self._told:
            self._told = True
            self.tell()
        self.pause(PAUSE_S)


def _cut(gathered: Gathered, days: Days) -> Gathered:
    """Keep the hours of some UTC dates; raises NoWeatherError where there is none of them."""
    start = datetime.combine(days[0], time(), UTC)
    end = datetime.combine(days[1] + timedelta(days=1), time(), UTC)

    def cut(weather: Weather) -> Weather:
        return weather.between(start, end)

    weather = cut(gathered.weather)
    if not len(weather.times):
        raise NoWeatherError("no weather could be had: no source has an hour of these days")
    usual = None if gathered.usual is None else cut(gathered.usual)
    return replace(gathered, weather=weather, usual=usual)
