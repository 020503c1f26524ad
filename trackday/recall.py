"""What a logbook knows that bears on one plan: read from the book, learned on the spot."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any, Final

from trackday.advice.hot_gas import learn_rise
from trackday.knowledge import Knowledge, LastVisit
from trackday.learning.from_entries import hot_readings
from trackday.learning.rise import RiseFit
from trackday.learning.venue_bias import TrackCheck, VenueBias, fit_venue_bias
from trackday.learning.wet_line import Limits, Sighting, WetLine, fit_wet_line
from trackday.log_expected import EXPECTED
from trackday.log_pairs import paired
from trackday.logbook.entry import Corners, Entry
from trackday.logbook.store import Book, Stored
from trackday.physics.moist_air import standard_pressure_pa
from trackday.scoring.fitting import Fit
from trackday.scoring.keeping import kept_fit
from trackday.weekend.garage import Axles, Garage, LastGood
from trackday.weekend.venue import Venue

NEWEST_LINES: Final = 100
"""Lines with pressures that are learned from, the newest (assumption: a few seasons)."""

VISIT_DAYS: Final = 4
"""Days before the newest entry that belong to the same visit (assumption: a long weekend)."""


@dataclass(frozen=True)
class BookKnowledge:
    """A logbook as a plan asks it; `elevations_m` tells how high other venues lie, by name.

    Today's track readings teach nothing yet unless `with_today`: a plan follows them as they are.
    """

    book: Book
    elevations_m: Mapping[str, float] = field(default_factory=dict)
    with_today: bool = False

    def knowledge(self, garage: Garage, venue: Venue, *, as_of: datetime) -> Knowledge:
        """Recall what was written before a moment (UTC)."""
        stored = paired([line for line in self.book.entries() if line.written_at <= as_of])
        today = as_of.astimezone(venue.zone).date()
        here = [line for line in stored if _same(line.entry.venue, venue.name)]
        fit = self._rain_fit(venue, as_of)
        rain = Knowledge(
            calibration=None if fit is None else fit.calibration,
            calibration_basis=None if fit is None else fit.basis,
        )
        if not stored:
            return rain
        return replace(
            rain,
            last_good=last_good(line.entry for line in here),
            rise=self._rise(stored, garage, venue, as_of),
            bias=self._bias(
                [line for line in here if self.with_today or line.entry.day < today], venue
            ),
            wet_line=self._wet_line(here, garage, venue),
            grooved={
                tires.name: tires.grooved_on
                for tires in self.book.sets()
                if tires.grooved_on is not None and tires.grooved_on <= today
            },
            last_visit=last_visit([line.entry for line in here], self._todos()),
        )

    def expected(self, line: Stored) -> Mapping[str, Any] | None:
        """Give what the model said at an entry's moment, None where that is not kept."""
        return self.book.kept(EXPECTED, line.uid)

    def _rise(
        self, stored: Sequence[Stored], garage: Garage, venue: Venue, as_of: datetime
    ) -> RiseFit | None:
        lines = [
            line.entry
            for line in stored
            if line.entry.hot_kpa is not None and line.entry.cold_kpa is not None
        ]
        if not lines:
            return None
        readings = hot_readings(
            lines[-NEWEST_LINES:],
            ambient_kpa=lambda name: self._ambient_kpa(name, venue),
            warmed_to_c=garage.pressure.warmed_to_c,
        )
        fit = learn_rise(
            readings,
            settings=garage.pressure,
            venue=venue,
            as_of=as_of.astimezone(venue.zone).date(),
        )
        return fit if fit.n else None

    def _ambient_kpa(self, name: str, venue: Venue) -> float:
        """Standard pressure at a venue by its name; NaN where its elevation is not known."""
        known = {key.casefold(): height for key, height in self.elevations_m.items()}
        known[venue.name.casefold()] = venue.elevation_m
        height = known.get(name.casefold())
        return float("nan") if height is None else float(standard_pressure_pa(height)) / 1000

    def _bias(self, here: Sequence[Stored], venue: Venue) -> VenueBias | None:
        checks = [
            TrackCheck(
                measured_c=line.entry.track_temp_c,
                modeled_c=said["surface_c"],
                air_c=said["air_c"],
                at=datetime.fromisoformat(said["at"]),
            )
            for line in here
            for said in [self.expected(line)]
            if said is not None and line.entry.track_temp_c is not None
        ]
        return fit_venue_bias(checks, venue=venue.name) if checks else None

    def _wet_line(self, here: Sequence[Stored], garage: Garage, venue: Venue) -> WetLine | None:
        sightings = [
            Sighting(film_mm=said["film_mm"], seen=line.entry.track_state, day=line.entry.day)
            for line in here
            for said in [self.expected(line)]
            if said is not None and line.entry.track_state is not None
        ]
        film = garage.film
        limits = Limits(film.damp_mm, film.wet_mm, film.standing_mm)
        return fit_wet_line(sightings, limits=limits, venue=venue.name) if sightings else None

    def _rain_fit(self, venue: Venue, as_of: datetime) -> Fit | None:
        fit = kept_fit(self.book, venue)
        return fit if fit is not None and fit.made_at <= as_of else None

    def _todos(self) -> tuple[str, ...]:
        return tuple(todo.text for todo in self.book.todos())


def last_good(entries: Iterable[Entry]) -> LastGood | None:
    """Give the newest dry setting that says which hot pressures it gave and on what track."""
    found = None
    for entry in entries:
        cold, hot = _axles(entry.cold_kpa), _axles(entry.hot_kpa)
        if cold is None or hot is None or entry.ran_on not in (None, "dry"):
            continue
        set_at = entry.air_temp_c if entry.cold_air_temp_c is None else entry.cold_air_temp_c
        if entry.track_temp_c is None or set_at is None:
            continue
        if cold.front < hot.front and cold.rear < hot.rear:
            found = LastGood.model_validate(
                {
                    "cold_kpa": cold,
                    "hot_kpa": hot,
                    "track_temp_c": entry.track_temp_c,
                    "air_temp_c": set_at,
                    "note": f"{entry.day:%B} {entry.session}".strip(),
                }
            )
    return found


def last_visit(entries: Sequence[Entry], todos: tuple[str, ...] = ()) -> LastVisit | None:
    """Sum up the newest visit: the last session with pressures, and every note."""
    if not entries:
        return None
    newest = max(entry.day for entry in entries)
    visit = [entry for entry in entries if newest - entry.day < timedelta(days=VISIT_DAYS)]
    pressed = [entry for entry in visit if entry.hot_kpa or entry.cold_kpa]
    shown = (pressed or visit)[-1]
    return LastVisit(
        day=shown.day,
        session=shown.session,
        cold_kpa=_pair(shown.cold_kpa),
        hot_kpa=_pair(shown.hot_kpa),
        track_temp_c=shown.track_temp_c,
        air_temp_c=shown.air_temp_c,
        tire_set=shown.tire_set,
        notes=tuple(
            text for entry in visit for text in (entry.changes, entry.decision, entry.note) if text
        ),
        todo=todos,
    )


def _axles(corners: Corners | None) -> Axles | None:
    pair = _pair(corners)
    return None if pair is None else Axles(front=pair[0], rear=pair[1])


def _pair(corners: Corners | None) -> tuple[float, float] | None:
    if corners is None:
        return None
    front, rear = corners.axle("front"), corners.axle("rear")
    return None if front is None or rear is None else (front, rear)


def _same(one: str, other: str) -> bool:
    return one.casefold() == other.casefold()
