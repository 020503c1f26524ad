"""Three looks at one invented weekend, replayed from recorded replies through the live code."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from importlib.resources import as_file, files
from importlib.resources.abc import Traversable
from pathlib import Path

from rich.console import Console
from rich.rule import Rule

from trackday.advice.light import advise_light
from trackday.morning import make_morning
from trackday.plan import Plan, make_plan
from trackday.report.text_changes import print_changes
from trackday.report.text_light import print_light
from trackday.report.text_morning import print_morning
from trackday.report.text_plan import print_plan
from trackday.settings import load_settings
from trackday.weather.gather import gather
from trackday.weather.http import open_session
from trackday.weather.replay import ReplayAdapter
from trackday.weekend.reading import Weekend, load_weekend

EVENT = "2027-05-15-spring-double.toml"


@dataclass(frozen=True)
class Look:
    """A moment at which the weekend is planned, and the replies that were recorded for it."""

    replies: str
    recorded_at: datetime
    as_of: datetime


WEEK_BEFORE = Look(
    "week-before",
    recorded_at=datetime(2027, 5, 11, 0, 20, tzinfo=UTC),
    as_of=datetime(2027, 5, 11, 0, 30, tzinfo=UTC),
)
SATURDAY = Look(
    "saturday",
    recorded_at=datetime(2027, 5, 15, 11, 0, tzinfo=UTC),
    as_of=datetime(2027, 5, 15, 11, 10, tzinfo=UTC),
)


def show_demo(console: Console, units: str) -> None:
    """Print the week before, the changeable morning, and the evening's light."""
    with scenario() as folder:
        event_file = folder / "events" / EVENT
        weekend = load_weekend(event_file)
        monday = plan_look(weekend, WEEK_BEFORE)
        saturday = plan_look(weekend, SATURDAY)
    console.print(
        "An invented weekend: the venue, the car and the weather are made up.\n", style="italic"
    )
    _rule(console, "The week before: trackday plan")
    print_plan(console, monday, units)
    _rule(console, "Saturday morning: trackday morning")
    print_morning(console, make_morning(saturday), units)
    print_changes(console, monday, saturday, units)
    _rule(console, "The evening: trackday light")
    days = advise_light(weekend.sessions, venue=weekend.venue, work=weekend.garage.work)
    print_light(console, days, weekend, units)


def plan_look(weekend: Weekend, look: Look) -> Plan:
    """Plan the weekend as it looked at one moment."""
    session = open_session(None, offline=False)
    adapter = ReplayAdapter(replies_folder() / look.replies, recorded_at=look.recorded_at)
    session.mount("https://", adapter)
    # Only Open-Meteo's replies are recorded; the other services would be asked over the network.
    ask = partial(gather, session=session, settings=load_settings({}, None), only_open_meteo=True)
    return make_plan(weekend.event, weekend.garage, weekend.venue, ask, as_of=look.as_of)


@contextmanager
def scenario() -> Iterator[Path]:
    """The demo's garage, venue and event as files."""
    with as_file(files("trackday.demo") / "scenario") as folder:
        yield folder


def replies_folder() -> Traversable:
    """The recorded replies: inside the package once installed, in cache/ in a checkout."""
    packed = files("trackday") / "replies"
    return packed if packed.is_dir() else Path(__file__).resolve().parents[2] / "cache"


def _rule(console: Console, title: str) -> None:
    console.print()
    console.print(Rule(title, characters="=", align="left"))
    console.print()
