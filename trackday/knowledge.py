"""What earlier visits taught, as a plan uses it, and how it is kept beside a look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any, Protocol

from trackday.advice.tire_sets import with_grooved
from trackday.learning.rise import RiseFit
from trackday.learning.venue_bias import VenueBias
from trackday.learning.wet_line import Limits, WetLine
from trackday.scoring.keeping import calibration_data, calibration_from
from trackday.verification.calibration import Calibration
from trackday.weather.sources import RainBasis
from trackday.weekend.garage import FilmLimits, Garage, LastGood
from trackday.weekend.venue import Venue


@dataclass(frozen=True)
class LastVisit:
    """What the logbook holds of the last time here; None and "" are what it does not hold.

    Pressures are gauge kPa, front and rear, of the last session with both; temperatures are its
    own. `notes` and `todo` are the racer's words.
    """

    day: date
    session: str
    cold_kpa: tuple[float, float] | None
    hot_kpa: tuple[float, float] | None
    track_temp_c: float | None
    air_temp_c: float | None
    tire_set: str
    notes: tuple[str, ...]
    todo: tuple[str, ...]


@dataclass(frozen=True)
class Knowledge:
    """What a logbook knows that bears on one plan; nothing of it is needed.

    `grooved` names the sets that were cut, with the day. `calibration` is that of the venue's
    chances of rain, learned from forecasts of `calibration_basis` and good for no others.
    """

    last_good: LastGood | None = None
    rise: RiseFit | None = None
    bias: VenueBias | None = None
    wet_line: WetLine | None = None
    calibration: Calibration | None = None
    calibration_basis: RainBasis | None = None
    grooved: Mapping[str, date] | None = None
    last_visit: LastVisit | None = None


class Logbook(Protocol):
    """What earlier visits left behind."""

    def knowledge(self, garage: Garage, venue: Venue, *, as_of: datetime) -> Knowledge:
        """Return what was written before a moment (UTC) and bears on a plan for this venue."""


NOTHING = Knowledge()


def taught(garage: Garage, known: Knowledge) -> Garage:
    """Give the garage as the logbook corrects it: last setting, cut sets, what counts as wet."""
    changes: dict[str, Any] = {}
    if known.last_good is not None:
        changes["pressure"] = garage.pressure.model_copy(update={"last_good": known.last_good})
    if known.wet_line is not None:
        was = garage.film
        moved = known.wet_line.limits(Limits(was.damp_mm, was.wet_mm, was.standing_mm))
        changes["film"] = FilmLimits(
            damp_mm=moved.damp_mm, wet_mm=moved.wet_mm, standing_mm=moved.standing_mm
        )
    return with_grooved(garage.model_copy(update=changes), frozenset(known.grooved or ()))


def knowledge_data(known: Knowledge) -> dict[str, Any]:
    """Write it as plain JSON data, in SI."""
    return {
        "last_good": None if known.last_good is None else known.last_good.model_dump(mode="json"),
        "rise": None if known.rise is None else known.rise.to_data(),
        "bias": None if known.bias is None else known.bias.to_data(),
        "wet_line": None if known.wet_line is None else known.wet_line.to_data(),
        "calibration": None if known.calibration is None else calibration_data(known.calibration),
        "calibration_basis": known.calibration_basis,
        "grooved": None
        if known.grooved is None
        else {name: day.isoformat() for name, day in known.grooved.items()},
        "last_visit": None
        if known.last_visit is None
        else asdict(known.last_visit) | {"day": known.last_visit.day.isoformat()},
    }


def knowledge_from(data: Mapping[str, Any]) -> Knowledge:
    """Read what `knowledge_data` wrote; KeyError, TypeError or ValueError for anything else."""

    def part(name: str, read: Any) -> Any:
        return None if data[name] is None else read(data[name])

    return Knowledge(
        last_good=part("last_good", LastGood.model_validate),
        rise=part("rise", RiseFit.from_data),
        bias=part("bias", VenueBias.from_data),
        wet_line=part("wet_line", WetLine.from_data),
        calibration=part("calibration", calibration_from),
        calibration_basis=data["calibration_basis"],
        grooved=part(
            "grooved", lambda cut: {name: date.fromisoformat(day) for name, day in cut.items()}
        ),
        last_visit=part("last_visit", _visit),
    )


def _visit(data: Mapping[str, Any]) -> LastVisit:
    pairs = {
        name: None if data[name] is None else tuple(data[name]) for name in ("cold_kpa", "hot_kpa")
    }
    words = {name: tuple(data[name]) for name in ("notes", "todo")}
    return LastVisit(**(dict(data) | pairs | words | {"day": date.fromisoformat(data["day"])}))
