"""Which kinds of tire the racer's sets make, and how long each takes to be on the car."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime, timedelta

from trackday.advice.tire_costs import Tire
from trackday.weekend.garage import Garage, TireSet
from trackday.weekend.sessions import Session
from trackday.wording import Say


def with_grooved(garage: Garage, names: Collection[str]) -> Garage:
    """Give the garage with the dry sets of these names marked as cut (by the logbook's stock)."""
    cut = {name.casefold() for name in names}
    sets = tuple(
        tires.model_copy(update={"grooved": True})
        if tires.kind == "dry" and tires.name.casefold() in cut
        else tires
        for tires in garage.tires
    )
    return garage.model_copy(update={"tires": sets})


def serves_as(tires: TireSet) -> Tire:
    """Kind of tire that a set is as it stands."""
    return "grooved" if tires.grooved else tires.kind


def sets_of(garage: Garage, tire: Tire) -> tuple[TireSet, ...]:
    """The sets that are this kind of tire without any cutting."""
    return tuple(tires for tires in garage.tires if serves_as(tires) == tire)


def groovable_set(garage: Garage) -> TireSet | None:
    """The first dry set that the racer is willing to cut and has not cut yet."""
    return next((s for s in garage.tires if s.may_be_grooved and not s.grooved), None)


def owned_tires(garage: Garage, *, can_groove: bool) -> tuple[Tire, ...]:
    """Kinds of tire that the rig can put on the car, in the order of `TIRES`."""
    owned: list[Tire] = []
    if sets_of(garage, "dry"):
        owned.append("dry")
    if sets_of(garage, "grooved") or (can_groove and groovable_set(garage) is not None):
        owned.append("grooved")
    if sets_of(garage, "wet"):
        owned.append("wet")
    return tuple(owned)


def fitting_minutes(sets: Sequence[TireSet], garage: Garage) -> float:
    """Time to put one of these sets on the car, min: quick as soon as one is on its own rims."""
    on_rims = any(tires.on_rims for tires in sets)
    return garage.work.swap_minutes if on_rims else garage.work.mount_minutes


def change_start(session: Session, garage: Garage, *, tire: Tire = "wet") -> datetime:
    """Last moment to start putting a tire on: the change itself, then the way to the grid."""
    minutes = fitting_minutes(sets_of(garage, tire), garage) + garage.work.grid_minutes
    return session.start - timedelta(minutes=minutes)


def grooving_start(session: Session, garage: Garage) -> datetime | None:
    """Last moment to start cutting a dry set, None when no set may be cut."""
    tires = groovable_set(garage)
    if tires is None:
        return None
    cutting = tires.count * garage.work.groove_minutes_per_tire
    minutes = cutting + fitting_minutes([tires], garage) + garage.work.grid_minutes
    return session.start - timedelta(minutes=minutes)


def change_words(garage: Garage, *, tire: Tire = "wet") -> Say:
    """Say how long the change takes and what makes it so long."""
    sets = sets_of(garage, tire)
    minutes = round(fitting_minutes(sets, garage))
    if any(tires.on_rims for tires in sets):
        return Say("{minutes} min to swap wheels ({set})", _named(sets, minutes))
    if not sets:
        return Say("no such set is written in garage.toml")
    return Say("{minutes} min to mount tires, no spare rims ({set})", _named(sets, minutes))


def _named(sets: Sequence[TireSet], minutes: int) -> dict[str, str | int]:
    """Name the set that goes on: the first that is on rims, or else the first."""
    ready = next((tires for tires in sets if tires.on_rims), sets[0])
    return {"set": ready.name, "minutes": minutes}
