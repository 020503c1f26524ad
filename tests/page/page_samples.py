"""Plans for the page's tests: the demo's, one about which little is known, one full of markup."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import plans
from builders import garage, venue

from trackday.demo import EVENT, SATURDAY, replay_gather, scenario
from trackday.plan import Plan, make_plan
from trackday.weather.sources import Alert, SourceReport
from trackday.weekend.event import Event
from trackday.weekend.own_list import OwnItem
from trackday.weekend.reading import load_weekend

RIGHT_TO_LEFT_MARK, OVERRIDE = "\u200f", "\u202e"
MARKUP = (
    "</title></style></script><script>document.title='owned'</script>"
    "<img src=x onerror=\"document.title='owned'\">'\"&amp;{{ 7*7 }}"
)
HOSTILE = f"{MARKUP} {RIGHT_TO_LEFT_MARK}שלום{OVERRIDE} 🏁👩‍🔧 "
LONG = HOSTILE + "tarmac" * 1700
"""More than 10,000 characters, most of them without a place to break."""


@cache
def demo_plan() -> Plan:
    """Saturday morning of the demo's weekend, with its days hour by hour."""
    with scenario() as folder:
        weekend = load_weekend(folder / "events" / EVENT)
    ask = replay_gather(SATURDAY.replies, recorded_at=SATURDAY.recorded_at)
    return make_plan(
        weekend.event,
        weekend.garage,
        weekend.venue,
        ask,
        as_of=SATURDAY.as_of,
        with_courses=True,
    )


def made_plan(event: Event = plans.EVENT, own_list=(), **how) -> Plan:
    """A plan under a made-up sky; `how` goes to `plans.gathered`."""
    return make_plan(
        event,
        garage(),
        venue(),
        plans.gathered(**how),
        as_of=plans.AS_OF,
        own_list=own_list,
        with_courses=True,
    )


def own_list(count: int) -> tuple[OwnItem, ...]:
    """A racer's own list of things, in groups of twelve."""
    return tuple(
        OwnItem(item=f"Thing number {n}", quantity="2", group=f"box {n // 12}")
        for n in range(count)
    )


@cache
def blind_plan() -> Plan:
    """A day of which no source tells the rain and the wind, and whose sources are in trouble."""
    made = made_plan(rain_mm=np.nan, gust_ms=np.nan, wind_ms=np.nan)
    troubles = (
        SourceReport("Old", "rain odds", "stale", "an old reply", plans.AS_OF, 900.0),
        SourceReport("Gone", "hourly forecast", "failed", "no answer in 20 s"),
    )
    return replace(made, sources=(*made.sources, *troubles))


@cache
def hostile_plan() -> Plan:
    """A plan in which every text that comes from somebody else tries to break the page."""
    made = made_plan()
    alert = Alert(
        kind="wind",
        event=HOSTILE,
        headline=LONG,
        severity="Severe",
        certainty=HOSTILE,
        onset=plans.AS_OF,
        ends=plans.AS_OF + timedelta(hours=9),
        instruction=LONG,
    )
    sessions = []
    for planned in made.sessions:
        named = replace(planned.session, name=LONG, label=LONG)
        decision = replace(planned.tire.decision, about=LONG)
        sessions.append(
            replace(
                planned,
                outlook=replace(planned.outlook, session=named),
                tire=replace(planned.tire, decision=decision),
            )
        )
    source = SourceReport(HOSTILE, "rain odds", "failed", LONG, None, None, HOSTILE)
    return replace(
        made,
        event_name=LONG,
        venue=made.venue.model_copy(update={"name": LONG}),
        sessions=tuple(sessions),
        alerts=(alert,),
        sources=(*made.sources, source),
    )


@cache
def far_plan() -> Plan:
    """A plan three weeks before the event, which one forecast reaches all the same."""
    return make_plan(
        plans.EVENT,
        garage(),
        venue(),
        plans.gathered(rain_mm=0.6),
        as_of=plans.AS_OF - timedelta(days=21),
        with_courses=True,
    )


@cache
def long_plan() -> Plan:
    """Four days of five sessions, the last two of which no forecast reaches."""
    return made_plan(long_event(4, 5))


@cache
def rough_plan() -> Plan:
    """Two damp, cold, windy days of five sessions: more to do than a sheet beside its pictures."""
    return made_plan(long_event(2, 5), gust_ms=12.0, air_temp_c=4.0, dew_point_c=3.5)


def long_event(days: int, sessions: int) -> Event:
    """An event of several days with several sessions each."""
    first = plans.EVENT.sessions[0].date
    return Event.model_validate(
        {
            "name": "Long Meeting",
            "venue": "x",
            "sessions": [
                {
                    "name": f"Group {number + 1} practice",
                    "date": str(first + timedelta(days=day)),
                    "start": f"{8 + 2 * number:02d}:00",
                    "minutes": 20,
                    "kind": "practice",
                }
                for day in range(days)
                for number in range(sessions)
            ],
        }
    )
