"""The written weekends: what the sky does, and what an experienced crew would say to it."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import as_file, files
from pathlib import Path
from typing import Annotated

from pydantic import AwareDatetime, Field, model_validator

from trackday.demo.replaying import replay_gather
from trackday.errors import TrackdayError
from trackday.plan import Gather, Plan, make_plan
from trackday.weekend.fields import FileModel, Text
from trackday.weekend.reading import Weekend, load_weekend, read_toml

REPLIES = "weekends"
"""Folder of the recorded replies, with one folder a weekend."""


class CrewLine(FileModel):
    """What an experienced crew would decide about one thing, and why."""

    topic: Text
    do: Text
    why: Text


class Story(FileModel):
    """One written weekend, from its story.toml.

    `as_of` is the moment at which it is looked at, `recorded_at` the one at which the services were
    asked (both aware). `sky` tells in a few lines what the weather does; `crew` has one line a
    topic.
    """

    name: Text
    title: Text
    as_of: AwareDatetime
    recorded_at: AwareDatetime
    sky: Annotated[tuple[Text, ...], Field(min_length=1)]
    crew: Annotated[tuple[CrewLine, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _one_line_a_topic(self) -> Story:
        """Refuse a crew that says two things about one topic."""
        topics = [line.topic for line in self.crew]
        if len(set(topics)) < len(topics):
            raise ValueError("crew: a topic has two lines; make them one")
        return self


def demo_weekends() -> tuple[Story, ...]:
    """Read every written weekend, in the order of the season."""
    with weekends_folder() as folder:
        found = [_read_story(path) for path in folder.glob("*/story.toml")]
    return tuple(sorted(found, key=lambda story: story.as_of))


def find_story(name: str) -> Story:
    """Find a weekend by its name; case, spaces and hyphens do not matter.

    Raises TrackdayError that names the nearest ones, or all, for a name that there is not.
    """
    stories = {story.name: story for story in demo_weekends()}
    wanted = "-".join(name.casefold().replace("_", " ").replace("-", " ").split())
    if wanted in stories:
        return stories[wanted]
    near = difflib.get_close_matches(wanted, stories, n=3) or list(stories)
    raise TrackdayError(
        f"demo: there is no weekend {name!r}; write one of {', '.join(near)}, "
        "or see them all with `trackday demo --list`"
    )


def story_weekend(story: Story) -> Weekend:
    """Read a story's event, venue and garage."""
    with weekends_folder() as folder:
        return load_weekend(folder / story.name / "event.toml")


def story_gather(story: Story) -> Gather:
    """Bind the live code to the replies of a story."""
    return replay_gather(f"{REPLIES}/{story.name}", recorded_at=story.recorded_at)


def plan_story(story: Story, *, with_courses: bool = False) -> Plan:
    """Plan a story's weekend by the live code, as of the story's moment."""
    weekend = story_weekend(story)
    return make_plan(
        weekend.event,
        weekend.garage,
        weekend.venue,
        story_gather(story),
        as_of=story.as_of,
        with_courses=with_courses,
    )


@contextmanager
def weekends_folder() -> Iterator[Path]:
    """The weekends' files: one folder each, and the garage that most of them share."""
    with as_file(files("trackday.demo") / "weekends") as folder:
        yield folder


def _read_story(path: Path) -> Story:
    return Story.model_validate({"name": path.parent.name, **read_toml(path)})
