"""Read the racer's own list of what to load, from a CSV or a TOML file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, ValidationError

from trackday.errors import TrackdayError
from trackday.weekend.faults import plain_lines
from trackday.weekend.fields import FROM_FILE, FileModel, Note, Text
from trackday.weekend.garage import Garage
from trackday.weekend.reading import Weekend, garage_path, read_toml
from trackday.weekend.showing import one_line, shown_path
from trackday.weekend.table import header_faults, read_rows

COLUMNS = ("item", "quantity", "group")

USUAL_FILES = ("load.csv", "load.toml")
"""Where the list lies beside a garage that names none; the first that is there is taken."""

_MISSING_MEND = "mend load_list in the garage file"


def _as_text(value: object) -> object:
    """Take a bare number for a quantity: `quantity = 4`."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return f"{value:g}"
    return value


class OwnItem(FileModel):
    """One thing of the racer's own list, in the racer's words."""

    item: Text = Field(examples=["Torque wrench"])
    quantity: Annotated[Note, BeforeValidator(_as_text)] = Field(default="", examples=["2"])
    group: Note = Field(default="", examples=["tools"])


class _OwnList(FileModel):
    """The file in its TOML form: `[[items]]` tables."""

    items: Annotated[tuple[OwnItem, ...], Field(min_length=1)] = Field(
        examples=[[{"item": "Torque wrench", "quantity": "1", "group": "tools"}]]
    )


def garage_list(garage: Garage, garage_file: Path) -> tuple[OwnItem, ...]:
    """Give the items of the list that a garage names, or else of one of `USUAL_FILES` beside it.

    None where there is no list; TrackdayError as in reading it.
    """
    folder = garage_file.parent
    if garage.load_list is not None:
        return read_own_list(folder / garage.load_list)
    usual = next((folder / name for name in USUAL_FILES if (folder / name).exists()), None)
    return () if usual is None else read_own_list(usual)


def own_list_of(weekend: Weekend) -> tuple[OwnItem, ...]:
    """Give the items of the list that goes with an event's garage, as `garage_list` does."""
    return garage_list(weekend.garage, garage_path(weekend.event_path))


def read_own_list(path: Path) -> tuple[OwnItem, ...]:
    """Give the items of a list in the order of the file.

    A file that ends in ".toml" holds `[[items]]` tables; any other is a table whose first line
    names columns of `COLUMNS` ("item" at least), separated by commas, semicolons or tabs. Raises
    TrackdayError with a line for each fault, also for an item that stands in the list twice.
    """
    placed = _read_toml(path) if path.suffix.casefold() == ".toml" else _read_csv(path)
    faults = [f"{shown_path(path)}: {fault}" for fault in _repeats(placed)]
    if faults:
        raise TrackdayError(*faults)
    return tuple(item for _, item in placed)


def item_key(name: str) -> str:
    """What two spellings of one thing have in common: small letters, every word in the singular.

    English plurals by their endings alone: "Ratchet Straps" and "ratchet strap" are one thing.
    """
    return " ".join(_singular(word) for word in name.casefold().replace("-", " ").split())


def _singular(word: str) -> str:
    if len(word) > 4 and word.endswith("ies"):
        return f"{word[:-3]}y"
    if len(word) > 4 and word.endswith(("ches", "shes", "sses", "xes")):
        return word[:-2]
    if len(word) > 2 and word.endswith("s") and not word.endswith(("ss", "us")):
        return word[:-1]
    return word


def _repeats(placed: Sequence[tuple[str, OwnItem]]) -> Iterator[str]:
    """Say which items stand in the list twice."""
    first: dict[str, str] = {}
    for place, item in placed:
        key = item_key(item.item)
        if key in first:
            yield one_line(
                f"{place}: item: {item.item!r} stands in {first[key]} already; "
                "keep one of them with the whole quantity"
            )
        first.setdefault(key, place)


def _read_toml(path: Path) -> list[tuple[str, OwnItem]]:
    """Read `[[items]]` tables, each with its place in messages."""
    data = read_toml(path)
    try:
        items = _OwnList.model_validate(data, by_alias=True, by_name=False, context=FROM_FILE).items
    except ValidationError as error:
        lines = plain_lines(error, data=data, model=_OwnList)
        raise TrackdayError(*(f"{shown_path(path)}: {line}" for line in lines)) from error
    return [(f"items[{number}]", item) for number, item in enumerate(items, start=1)]


def _read_csv(path: Path) -> list[tuple[str, OwnItem]]:
    """Read a table, each line with its place in messages."""
    (first_line, header), *rows = read_rows(path, missing_mend=_MISSING_MEND)
    columns = [cell.casefold() for cell in header]
    faults = [
        f"line {first_line}: {fault}"
        for fault in header_faults(columns, known=COLUMNS, needed=("item",))
    ]
    placed: list[tuple[str, OwnItem]] = []
    if not faults and not rows:
        faults = ["holds no items; write one line for each below the header"]
    for number, cells in () if faults else rows:
        try:
            placed.append((f"line {number}", _read_cells(cells, columns)))
        except TrackdayError as error:
            faults += [f"line {number}: {fault}" for fault in error.lines]
    if faults:
        raise TrackdayError(*(f"{shown_path(path)}: {fault}" for fault in faults))
    return placed


def _read_cells(cells: list[str], columns: list[str]) -> OwnItem:
    """Read one line, whose last cells may be left out; TrackdayError has a fault a line."""
    if len(cells) > len(columns):
        raise TrackdayError(
            f"has {len(cells)} columns where the header has {len(columns)}; "
            "put a text that holds a separator in quotes"
        )
    record: dict[str, Any] = dict(zip(columns, cells, strict=False))
    try:
        return OwnItem.model_validate(record, by_alias=True, by_name=False, context=FROM_FILE)
    except ValidationError as error:
        raise TrackdayError(*plain_lines(error, data=record, model=OwnItem)) from error
