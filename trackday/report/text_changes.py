"""What changed since the looks before, as text."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, tzinfo

from rich.console import Console

from trackday.changes import Changes, SessionChange
from trackday.report.layout import bullet, heading, line
from trackday.report.text_parts import TIRE_WORDS
from trackday.wording import day_clock, percent


def print_changes(console: Console, changes: Changes | None, zone: tzinfo) -> None:
    """Print what flipped and which chances moved; nothing without an earlier look."""
    if changes is None or changes.since is None:
        return
    lines = list(change_lines(changes, zone))
    when = day_clock(changes.since, zone)
    if not lines:
        since = f"`{changes.command}`, {when}" if changes.command else when
        line(console, f"Nothing has changed since {since}.", indent=0)
        return
    heading(console, f"Changed since {when}")
    for text in lines:
        bullet(console, text)


def change_lines(changes: Changes | None, zone: tzinfo) -> Iterator[str]:
    """One line a change, what flipped first; none without an earlier look."""
    if changes is None or changes.since is None:
        return
    for flip in changes.flips:
        yield f"{flip.about} {_day(flip.day)}: {flip.then} before, {flip.now} NOW"
    for session in changes.sessions:
        if session.flipped or session.moved:
            yield _session_line(session, zone)


def _session_line(session: SessionChange, zone: tzinfo) -> str:
    """Say one session's chances look by look: "rain 20 % Mon, 45 % Wed, 60 % now; WET, was dry"."""
    told = [f"{percent(then.rain)} {day_clock(then.when, zone)}" for then in session.earlier]
    text = f"{session.label}: rain {', '.join(told)}, {percent(session.now.rain)} now"
    if session.flipped:
        now, before = (TIRE_WORDS[t.tire] for t in (session.now, session.earlier[-1]))
        text += f"; {now} tires, were {before}"
    return text


def _day(text: str) -> str:
    return f"{datetime.fromisoformat(text):%a}"
