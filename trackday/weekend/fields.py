"""The kinds of value that the racer's files hold, and the rules they share.

Numbers, flags and names are taken as written: text is never read as a number, nor a number as
text. Quantities are text with a unit in the files ("30 psi") and SI floats in Python.
"""

from __future__ import annotations

import unicodedata
from pathlib import PurePosixPath, PureWindowsPath
from typing import Annotated, Final

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
)

from trackday.units import METRIC, US, Dimension, Quantity, parse_quantity

MAX_TEXT: Final = 200
"""Longest name or note, in characters (assumption: it has to fit on a line)."""

MAX_QUANTITY_TEXT: Final = 40
"""Longest text that is read as a number with a unit, in characters (assumption)."""

FROM_FILE: Final = {"from_file": True}
"""Validation context of values that come from a file, where a bare number is an error."""


class FileModel(BaseModel):
    """A table in one of the racer's files: frozen, and without unknown fields.

    File keys are the aliases. In Python the attribute names work as well, and quantities may be
    given as SI numbers: `Axles(front=207.0, rear=200.0)`.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


def _one_line(text: str) -> str:
    """Trim a name and refuse what cannot stand in one line of text."""
    trimmed = unicodedata.normalize("NFC", text).strip()
    if not trimmed:
        raise ValueError("is empty; write some text")
    if len(trimmed) > MAX_TEXT:
        raise ValueError(f"is longer than {MAX_TEXT} characters; shorten it")
    if not trimmed.isprintable():
        raise ValueError("holds a line break or a control character; write one plain line")
    return trimmed


def relative_path(name: str) -> str:
    """Refuse a path that means something only on one computer, or leads out of the file's folder.

    Files come from friends and clubs too: none may name what lies elsewhere. A link in the folder
    is the racer's own doing.
    """
    if PurePosixPath(name).is_absolute() or PureWindowsPath(name).drive:
        raise ValueError(f"{name!r} is not relative; write a path that starts at this file")
    # Both systems' separators: a file that is written on one is read on the other.
    if ".." in PureWindowsPath(name).parts:
        raise ValueError(f"{name!r} leads out of the folder; put the file beside this one")
    return name


Text = Annotated[str, AfterValidator(_one_line)]
Note = Annotated[str, AfterValidator(lambda text: _one_line(text) if text.strip() else "")]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Whole = Annotated[int, Field(strict=True)]
Flag = Annotated[bool, Field(strict=True)]
Latitude = Annotated[Number, Field(ge=-90.0, le=90.0)]
Longitude = Annotated[Number, Field(ge=-180.0, le=180.0)]
# From the shore of the Dead Sea to the highest roads that carry cars (rounded, assumption).
Elevation = Annotated[Number, Field(ge=-430.0, le=5000.0)]
Direction = Annotated[Number, Field(ge=0.0, le=360.0)]

_SHOWN_AS: Final[dict[Dimension, Quantity]] = {
    "pressure": "pressure",
    "temperature": "temperature",
    "speed": "speed",
    "length": "length",
    "mass": "mass",
    "depth": "rain",
}


def quantity(dimension: Dimension, *, low: float, high: float) -> BeforeValidator:
    """Make the validator of a quantity in SI that lies from `low` to `high`.

    Text is read with its unit. A bare number is SI when it comes from Python and an error when
    it comes from a file. The error's message names the limits in both unit systems.
    """
    shown_as = _SHOWN_AS[dimension]
    limits = " or ".join(system.range(shown_as, low, high) for system in (US, METRIC))

    def read(value: object, info: ValidationInfo) -> float:
        if isinstance(value, str):
            if len(value) > MAX_QUANTITY_TEXT:
                raise ValueError("is too long; write a number and its unit")
            si = parse_quantity(value, dimension)
        elif isinstance(value, bool) or not isinstance(value, int | float):
            raise ValueError(  # noqa: TRY004  # a fault in a file, which pydantic collects
                f"is not a quantity; write a number and its unit, {limits}"
            )
        elif info.context is not None:
            raise ValueError(f"has no unit; write it in quotes with its unit, {limits}")
        else:
            si = float(value)
        if not low <= si <= high:
            raise ValueError(f"{value!r} is out of range; write {limits}")
        return si

    return BeforeValidator(read)


# Ranges are wide (assumption): they catch a wrong unit or a slip of the pen, not a bad choice.
PressureKpa = Annotated[float, quantity("pressure", low=35.0, high=450.0)]
PressureStepKpa = Annotated[float, quantity("pressure", low=0.5, high=35.0)]
TrackTempC = Annotated[float, quantity("temperature", low=-40.0, high=90.0)]
AirTempC = Annotated[float, quantity("temperature", low=-50.0, high=60.0)]
WarmedTempC = Annotated[float, quantity("temperature", low=20.0, high=130.0)]
CanopySideM = Annotated[float, quantity("length", low=0.5, high=30.0)]
TrailerLengthM = Annotated[float, quantity("length", low=1.0, high=25.0)]
FrameMassKg = Annotated[float, quantity("mass", low=1.0, high=500.0)]
BallastKg = Annotated[float, quantity("mass", low=0.0, high=300.0)]
FilmMm = Annotated[float, quantity("depth", low=0.001, high=5.0)]
WindLimitMs = Annotated[float, quantity("speed", low=1.0, high=60.0)]
