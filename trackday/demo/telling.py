"""Written weekends as text: what the sky does, the morning's call, and what the crew says."""

from __future__ import annotations

from rich.console import Console
from rich.rule import Rule

from trackday.demo.replaying import INVENTED
from trackday.demo.stories import CrewLine, Story, plan_story
from trackday.morning import make_morning
from trackday.report.layout import bullet, heading, indented, line, table, title
from trackday.report.text_morning import print_morning


def show_story(console: Console, story: Story, units: str) -> None:
    """Print one weekend: its sky, the morning as `trackday morning` prints it, and the crew."""
    title(console, story.title)
    line(console, INVENTED, indent=0)
    heading(console, "What the sky does")
    for text in story.sky:
        bullet(console, text)
    console.print()
    console.print(Rule("trackday morning", characters="=", align="left"))
    console.print()
    print_morning(console, make_morning(plan_story(story)), units)
    heading(console, "What an experienced crew would say")
    for said in story.crew:
        bullet(console, _spoken(said))


def show_list(console: Console, stories: tuple[Story, ...]) -> None:
    """Print the names that `trackday demo NAME` takes."""
    title(console, "Invented weekends: trackday demo NAME")
    rows = [(story.name, f"{story.as_of:%b}", story.sky[0]) for story in stories]
    indented(console, table((("Name", 18), ("Month", 5), ("Sky", 30)), rows))


def _spoken(said: CrewLine) -> str:
    return f"{said.topic.capitalize()}: {said.do} Why: {said.why}"
