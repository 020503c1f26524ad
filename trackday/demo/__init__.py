"""Three looks at one invented weekend, replayed from recorded replies through the live code."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import as_file, files
from pathlib import Path

from rich.console import Console
from rich.rule import Rule

from trackday.advice.light import advise_light
from trackday.changes import answer_of, changes_since
from trackday.demo.replaying import INVENTED, replay_gather, replies_folder
from trackday.morning import make_morning
from trackday.plan import Plan, make_plan
from trackday.report.text_light import print_light
from trackday.report.text_load import print_load
from trackday.report.text_morning import print_morning
from trackday.weekend.reading import Weekend, load_weekend

__all__ = [
    "EVENT",
    "SATURDAY",
    "WEEK_BEFORE",
    "Look",
    "plan_look",
    "replies_folder",
    "scenario",
    "show_demo",
]

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
    console.print(f"{INVENTED}\n", style="italic")
    _rule(console, "The week before: trackday load")
    print_load(console, monday, monday.load, units)
    _rule(console, "Saturday morning: trackday morning")
    morning = make_morning(saturday)
    changes = changes_since([answer_of(monday)], answer_of(saturday, morning))
    print_morning(console, morning, units, changes=changes)
    _rule(console, "The evening: trackday light")
    days = advise_light(
        weekend.sessions, venue=weekend.venue, work=weekend.garage.work, travel=weekend.travel
    )
    print_light(console, days, weekend, units)


def plan_look(weekend: Weekend, look: Look) -> Plan:
    """Plan the weekend as it looked at one moment."""
    ask = replay_gather(look.replies, recorded_at=look.recorded_at)
    return make_plan(weekend.event, weekend.garage, weekend.venue, ask, as_of=look.as_of)


@contextmanager
def scenario() -> Iterator[Path]:
    """The demo's garage, venue and event as files."""
    with as_file(files("trackday.demo") / "scenario") as folder:
        yield folder


def _rule(console: Console, title: str) -> None:
    console.print()
    console.print(Rule(title, characters="=", align="left"))
    console.print()
