"""The written weekends' plans, each made once a run."""

from __future__ import annotations

from functools import cache

from crew_seen import Seen

from trackday.demo.stories import demo_weekends, story_gather, story_weekend
from trackday.morning import make_morning
from trackday.plan import make_plan, weather_window

STORIES = {story.name: story for story in demo_weekends()}


@cache
def seen(name: str) -> Seen:
    """A weekend's plan by the live code, and the weather that it is made from."""
    story = STORIES[name]
    weekend, ask = story_weekend(story), story_gather(story)
    first_day, last_day = weather_window(weekend.sessions)
    got = ask(weekend.venue, first_day=first_day, last_day=last_day, as_of=story.as_of)
    # The plan is made of the same weather: asking once keeps the suite fast.
    plan = make_plan(
        weekend.event, weekend.garage, weekend.venue, lambda *_, **__: got, as_of=story.as_of
    )
    return Seen(story, weekend, got.weather, plan, make_morning(plan))
