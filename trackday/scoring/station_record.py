"""A station's hours on real dates, to judge by: what fell where, and who measured it."""

from __future__ import annotations

from datetime import date, datetime

from trackday.settings import Settings
from trackday.weather.history_source import History, get_history
from trackday.weekend.venue import Venue


def station_record(
    venue: Venue,
    *,
    first_day: date,
    last_day: date,
    settings: Settings,
    as_of: datetime,
    offline: bool,
) -> History:
    """Get what the venue's station reported from one UTC date to another, both included.

    No model and no reanalysis fills its gaps: a forecast is not judged by a forecast. The hour that
    the venue's clock shows twice in autumn is known once only. Raises SourceError where no station
    has enough hours.
    """
    if (first_day.month, first_day.day) == (2, 29):
        first_day = first_day.replace(day=28)  # which other years stand on, and so this one
    return get_history(
        venue,
        first_day=first_day,
        last_day=last_day,
        years=(first_day.year,),
        window_days=0,
        settings=settings,
        session=None,
        as_of=as_of,
        offline=offline,
    )
