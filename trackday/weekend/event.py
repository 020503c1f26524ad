"""An event: which venue, which sessions, and when the rig is loaded and driven."""

from __future__ import annotations

from datetime import datetime
from pathlib import PurePosixPath, PureWindowsPath
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from trackday.weekend.fields import (
    FileModel,
    Latitude,
    Longitude,
    Text,
    Whole,
    relative_path,
)
from trackday.weekend.localtime import LocalDate, SettledMoment, SettledTime

SessionKind = Literal["practice", "qualifying", "race"]


def _name_in_folder(name: str) -> str:
    """Refuse a name that is not that of a file right in the venues folder."""
    parts = (PurePosixPath(name).parts, PureWindowsPath(name).parts)
    if any(len(each) != 1 for each in parts) or name.startswith(".") or ":" in name:
        raise ValueError(
            f"{name!r} is not a plain name; write the name of a file in venues/, without a folder"
        )
    if name.lower().endswith(".toml"):
        raise ValueError(f'{name!r} has an ending; write "{name[: -len(".toml")]}"')
    return name


class SessionEntry(FileModel):
    """A session as it was written: local date and time of the venue."""

    name: Text = Field(examples=["Practice"])
    date: LocalDate = Field(examples=["2027-06-12"])
    start: SettledTime = Field(examples=["09:30"])
    """Local time; aware only where an offset was written to settle which of two is meant."""
    minutes: Annotated[Whole, Field(ge=1, le=1440)] = Field(examples=[20])
    kind: SessionKind = Field(examples=["practice"])

    @property
    def local_start(self) -> datetime:
        """Start as a local date and time, with the offset where one was written."""
        return datetime.combine(self.date, self.start)


class Event(FileModel):
    """A weekend at one venue, from events/<date>-<name>.toml."""

    name: Text = Field(examples=["Summer double"])
    venue: Annotated[Text, AfterValidator(_name_in_folder)] = Field(examples=["willow-bend"])
    """Name of the venue's file in venues/, without its ending."""
    sessions: tuple[SessionEntry, ...] = Field(
        default=(),
        examples=[
            [
                {
                    "name": "Practice",
                    "date": "2027-06-12",
                    "start": "09:30",
                    "minutes": 20,
                    "kind": "practice",
                }
            ]
        ],
    )
    """The sessions; read from `sessions_csv` where that is given."""
    sessions_csv: Annotated[Text, AfterValidator(relative_path)] | None = Field(
        default=None, examples=["schedule.csv"]
    )
    """Path of a table of sessions, relative to the event file."""
    load_up: SettledMoment | None = Field(default=None, examples=["2027-06-11 18:00"])
    """When the trailer is loaded, in the venue's local time."""
    departure: SettledMoment | None = Field(default=None, examples=["2027-06-11 20:00"])
    """When the rig leaves for the venue, in the venue's local time."""
    return_home: SettledMoment | None = Field(default=None, examples=["2027-06-13 18:00"])
    """When the rig leaves the venue for home, in the venue's local time."""
    start_latitude: Latitude | None = Field(default=None, examples=[44.5])
    """Degrees north of the place the rig starts from."""
    start_longitude: Longitude | None = Field(default=None, examples=[-92.9])
    """Degrees east of the place the rig starts from."""

    @model_validator(mode="after")
    def _one_table_of_sessions(self) -> Self:
        """Refuse an event without sessions, and one with two tables of them."""
        if self.sessions and self.sessions_csv:
            raise ValueError("sessions_csv: stands beside sessions; remove one of them")
        if not self.sessions and not self.sessions_csv:
            raise ValueError("sessions: there are none; add [[sessions]] tables or sessions_csv")
        return self

    @model_validator(mode="after")
    def _whole_start_place(self) -> Self:
        """Refuse half a place."""
        if (self.start_latitude is None) != (self.start_longitude is None):
            raise ValueError("start_latitude: goes with start_longitude; write both or neither")
        return self
