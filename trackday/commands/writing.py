"""Files that commands write, whole or not at all: a page, a calendar, a picture."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from trackday.commands.shared import UnitChoice
from trackday.errors import TrackdayError

if TYPE_CHECKING:
    from trackday.changes import Changes
    from trackday.morning import Morning
    from trackday.plan import Plan

Page = Annotated[
    Path | None,
    typer.Option(
        "--page", metavar="FILE.html", help="Write a page for phone and printer.", dir_okay=False
    ),
]
CalendarFile = Annotated[
    Path | None,
    typer.Option(
        "--calendar",
        metavar="FILE.ics",
        help="Write sessions and times to decide as a calendar.",
        dir_okay=False,
    ),
]


@dataclass(frozen=True)
class _Ours:
    """How a file that an option wrote begins, what its beginning holds, and a name for another."""

    begins: bytes
    holds: bytes
    kind: str
    example: str


_OURS: Final = {
    "--page": _Ours(
        b"<!doctype html>", b'http-equiv="Content-Security-Policy"', "page", "weekend.html"
    ),
    "--svg": _Ours(b"<svg ", b'aria-labelledby="title desc"', "picture", "rain.svg"),
}
"""What may be written over, by option; a calendar is read whole by the calendar's own rules."""

_BEGINNING_BYTES: Final = 1000
"""How much of a file is looked at to tell whose it is; both signs stand in the first 200 bytes."""


def write_page(
    path: Path,
    plan: Plan,
    units: UnitChoice,
    *,
    morning: Morning | None = None,
    changes: Changes | None = None,
    opens_at: str = "",
) -> None:
    """Write a plan as a page; on a day of the event its call on rain tires stands on top.

    `opens_at` names the part that is shown when it is opened.
    """
    from trackday.morning import make_morning
    from trackday.report.page.page import render_page
    from trackday.report.text_changes import change_lines
    from trackday.units import units_named

    zone = plan.venue.zone
    today = plan.as_of.astimezone(zone).date()
    if morning is None and any(day.day == today for day in plan.days):
        morning = make_morning(plan, day=today)
    text = render_page(
        plan,
        units=units_named(units.value),
        morning=morning,
        changes=tuple(change_lines(changes, zone)),
        opens_at=opens_at,
    )
    write_whole(path, "--page", text.encode())


def write_calendar(path: Path, plan: Plan, units: UnitChoice) -> None:
    """Write a plan's times as a calendar; one that is there already is brought up to date."""
    from trackday.report.calendar import CalendarFileError, plan_calendar
    from trackday.units import units_named

    try:
        earlier = path.read_bytes() if path.exists() else None
        content = plan_calendar(plan, units=units_named(units.value), earlier=earlier)
    except CalendarFileError as error:
        raise TrackdayError(f"--calendar: {path}: {error}; choose another name") from error
    except OSError as error:
        raise TrackdayError(
            f"--calendar: {path} cannot be read ({error.strerror}); choose another name"
        ) from error
    write_whole(path, "--calendar", content)


def write_whole(path: Path, option: str, content: bytes) -> None:
    """Write a file whole or not at all.

    TrackdayError where it cannot be written, and where a file of somebody else stands there.
    """
    part = path.with_name(f".{path.name}.part")
    try:
        _refuse_foreign(path, option)
        part.write_bytes(content)
        part.replace(path)
    except OSError as error:
        with suppress(OSError):  # where nothing can be written, nothing can be removed either
            part.unlink(missing_ok=True)
        reason = error.strerror or "unknown reason"
        raise TrackdayError(
            f"{option}: {path} cannot be written ({reason}); name a file in a folder of yours"
        ) from error


def _refuse_foreign(path: Path, option: str) -> None:
    """Raise TrackdayError where a file is there that this option did not write; empty is nobody's.

    OSError where it cannot be read.
    """
    ours = _OURS.get(option)
    if ours is None or not path.exists():
        return
    if path.is_file():
        with path.open("rb") as file:
            head = file.read(_BEGINNING_BYTES)
        if not head or (head.startswith(ours.begins) and ours.holds in head):
            return
    raise TrackdayError(
        f"{option}: {path} is there already and is no {ours.kind} of trackday; "
        f"choose another name, for example {ours.example}"
    )
