"""What the crews say of tires, of the time to change them, and of their pressures."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from crew_seen import Seen, holds, state

from trackday.advice.tires import grooving_start
from trackday.plan import SessionPlan

HALF_PSI_KPA = 3.447
"""A usual gauge's step: 0.5 lbf/in² (NIST SP 811: 6.894757 kPa a psi)."""
STANDARD_KPA = {300: 97.773, 2400: 75.626}
"""US Standard Atmosphere 1976, table I: pressure at 300 m and at 2400 m."""


def choices(seen: Seen) -> list[str]:
    return [planned.tire.choice for planned in seen.plan.sessions]


def half_hour_before(planned: SessionPlan) -> datetime:
    return planned.session.start - timedelta(minutes=30)


def offsets_kpa(planned: SessionPlan) -> tuple[float, float]:
    front, rear = planned.pressure.front.offset_kpa, planned.pressure.rear.offset_kpa
    assert front is not None
    assert rear is not None
    return front, rear


@holds("tires", "gale", "desert-heat", "high-elevation", "perfect-day", "frost", "fog-at-dawn")
def dry_all_day(seen: Seen) -> None:
    """Dry tires in every session, on a track that is dry for all but the odd member."""
    assert choices(seen) == ["dry"] * len(seen.plan.sessions)
    for planned in seen.plan.sessions:
        assert state(planned)["dry"] > 0.9
        assert planned.outlook.rain.chance < 0.05
        assert planned.tire.chances["dry"] > 0.9


@holds("rain tires", "gale", "desert-heat", "high-elevation", "perfect-day", "fog-at-dawn")
def no_rain_tires(seen: Seen) -> None:
    """Rain tires: no, and nothing to look again for."""
    assert seen.morning.call.answer == "no"
    assert seen.morning.call.by is None


@holds("tires", "steady-rain")
def wet_all_day(seen: Seen) -> None:
    """Wets throughout, dry tires refused as unsafe, on a track that is surely wet."""
    assert choices(seen) == ["wet"] * 3
    for planned in seen.plan.sessions:
        assert state(planned)["wet"] + state(planned)["standing"] > 0.9
        assert "dry" in planned.tire.vetoed


@holds("rain tires", "steady-rain", "drying-track")
def wets_on_for_practice(seen: Seen) -> None:
    """Yes, for the first session, to be started half an hour before it (20 min and the grid)."""
    practice = seen.session("Practice")
    assert seen.morning.call.answer == "yes"
    assert seen.morning.call.session == practice.session
    assert seen.morning.call.by == half_hour_before(practice)


@holds("pressure", "steady-rain")
def wets_higher(seen: Seen) -> None:
    """Each session at least a step above the last good setting, though the wet target is lower."""
    settings = seen.weekend.garage.pressure
    assert settings.wet_target_hot_kpa is not None
    assert settings.wet_target_hot_kpa.front < settings.target_hot_kpa.front
    for planned in seen.plan.sessions:
        assert min(offsets_kpa(planned)) >= HALF_PSI_KPA - 0.01
        assert planned.outlook.track.temp_c.p90 < 25.0


@holds("tires", "drying-track")
def wet_then_dry(seen: Seen) -> None:
    """Wets on a damp or wet track, dry tires from the second session on."""
    assert choices(seen) == ["wet", "dry", "dry"]
    assert "dry" in seen.session("Practice").tire.vetoed
    assert state(seen.session("Practice"))["dry"] < 0.1
    assert state(seen.session("Qualifying"))["dry"] > 0.9


@holds("drying", "drying-track")
def dry_before_qualifying(seen: Seen) -> None:
    """The track dries after practice began and, nine times in ten, an hour before qualifying."""
    practice = seen.session("Practice")
    drying = practice.outlook.drying
    assert drying is not None
    assert drying.p50 is not None
    assert drying.p90 is not None
    assert practice.session.start < drying.p50
    assert drying.p90 < seen.session("Qualifying").session.start - timedelta(hours=1)


@holds("grooving", "drying-track", "shower-at-noon")
def nothing_is_cut(seen: Seen) -> None:
    """There is a set to cut and time to cut it, and yet no session is run on it."""
    assert "grooved" not in choices(seen)
    asked = next(planned for planned in seen.plan.sessions if planned.tire.choice != "dry")
    assert asked.tire.choice == "wet"
    may_start_until = grooving_start(asked.session, seen.weekend.garage)
    assert may_start_until is not None
    assert may_start_until > seen.plan.as_of
    assert asked.tire.chances.get("grooved", 0.0) < 0.25


@holds("pressure", "drying-track")
def high_then_low(seen: Seen) -> None:
    """Above the last good setting on wets, below it on dry tires, on a track that warms."""
    wet, *dry = seen.plan.sessions
    assert min(offsets_kpa(wet)) > 0
    assert all(max(offsets_kpa(planned)) < 0 for planned in dry)
    assert dry[-1].outlook.track.temp_c.p50 > wet.outlook.track.temp_c.p50 + 10.0


@holds("pressure", "perfect-day")
def last_good_setting(seen: Seen) -> None:
    """Within one step of the gauge of the last good setting, air within 6 °C of that day's."""
    last = seen.weekend.garage.pressure.last_good
    assert last is not None
    for planned in seen.plan.sessions:
        assert max(map(abs, offsets_kpa(planned))) <= HALF_PSI_KPA + 0.01
        assert abs(planned.outlook.air.temp_c.p50 - last.air_temp_c) < 6.0


@holds("rain tires", "half-known")
def yesterday_decides_nothing(seen: Seen) -> None:
    """Unknown, to be settled half an hour before practice, since the forecast is past 12 h old."""
    assert seen.morning.call.answer == "unknown"
    assert seen.morning.call.by == half_hour_before(seen.session("Practice"))
    age_minutes = seen.plan.forecast_age_minutes
    assert age_minutes is not None
    assert age_minutes > 12 * 60


@holds("tires", "half-known")
def both_sets_ready(seen: Seen) -> None:
    """Undecided on a track that nobody knows, with a chance of rain that is known and not small."""
    assert choices(seen) == ["undecided"] * 3
    for planned in seen.plan.sessions:
        assert state(planned)["unknown"] > 0.9
        assert math.isnan(planned.outlook.air.dew_point_c.p50)
        assert planned.tire.costs["wet"] < planned.tire.costs["dry"]
    assert 0.1 < seen.session("Race").outlook.rain.chance < 0.6


@holds("pressure", "half-known", "everything-unknown")
def no_number_is_guessed(seen: Seen) -> None:
    """No cold pressure where the track's temperature is unknown."""
    for planned in seen.plan.sessions:
        assert math.isnan(planned.outlook.track.temp_c.p50)
        assert math.isnan(planned.pressure.front.cold_kpa)
        assert math.isnan(planned.pressure.rear.cold_kpa)


@holds("rain tires", "shower-at-noon")
def wait_for_the_shower(seen: Seen) -> None:
    """Wait until half an hour before qualifying, for a shower that neither is sure nor unlikely."""
    qualifying = seen.session("Qualifying")
    assert seen.morning.call.answer == "wait"
    assert seen.morning.call.session == qualifying.session
    assert seen.morning.call.by == half_hour_before(qualifying)
    assert 0.2 < state(qualifying)["wet"] + state(qualifying)["standing"] < 0.8


@holds("tires", "shower-at-noon")
def only_noon_is_at_stake(seen: Seen) -> None:
    """Dry before and after; at noon wets as it looks now, dry right at least one time in five."""
    assert choices(seen) == ["dry", "wet", "dry"]
    assert seen.session("Practice").tire.chances["dry"] > 0.9
    assert seen.session("Race").tire.chances["dry"] > 0.9
    assert 0.2 < seen.session("Qualifying").tire.chances["dry"] < 0.5


@holds("drying", "shower-at-noon")
def dry_for_the_race(seen: Seen) -> None:
    """Nine times in ten the track is dry two hours before the race."""
    drying = seen.session("Qualifying").outlook.drying
    assert drying is not None
    assert drying.p90 is not None
    assert drying.p90 < seen.session("Race").session.start - timedelta(hours=2)


@holds("rain tires", "thunder-afternoon")
def wait_for_the_storm(seen: Seen) -> None:
    """Wait until half an hour before the race."""
    race = seen.session("Race")
    assert seen.morning.call.answer == "wait"
    assert seen.morning.call.session == race.session
    assert seen.morning.call.by == half_hour_before(race)


@holds("tires", "thunder-afternoon")
def dry_morning_wet_race(seen: Seen) -> None:
    """Dry in the morning; in the race wets are likelier right, and dry tires are refused."""
    assert choices(seen) == ["dry", "dry", "wet"]
    race = seen.session("Race")
    assert race.tire.chances["wet"] > race.tire.chances["dry"] > 0.1
    assert "dry" in race.tire.vetoed
    assert race.outlook.rain.chance > 0.4


@holds("pressure", "desert-heat", "fog-at-dawn")
def set_afresh(seen: Seen) -> None:
    """Tires set for practice read two steps too high when the race's are due (Gay-Lussac's law)."""
    practice, race = seen.session("Practice"), seen.session("Race")
    an_hour = timedelta(hours=1)
    then_k, now_k = (
        273.15 + seen.middle("air_temp_c", planned.session.start - an_hour)
        for planned in (practice, race)
    )
    ambient_kpa = practice.outlook.air.pressure_pa / 1000.0
    set_kpa = practice.pressure.front.cold_kpa
    reads_kpa = (set_kpa + ambient_kpa) * now_k / then_k - ambient_kpa
    assert reads_kpa - race.pressure.front.cold_kpa >= 2 * HALF_PSI_KPA - HALF_PSI_KPA / 2
    assert race.tire.choice == "dry"


@holds("pressure", "high-elevation")
def gauge_at_home_reads_less(seen: Seen) -> None:
    """A gauge at 300 m has to show less by the standard atmosphere's difference to 2400 m."""
    lighter_kpa = STANDARD_KPA[300] - STANDARD_KPA[2400]
    for planned in seen.plan.sessions:
        for axle in (planned.pressure.front, planned.pressure.rear):
            assert axle.at_gauge_kpa is not None
            difference = axle.cold_kpa - axle.at_gauge_kpa
            assert abs(difference - lighter_kpa) <= 0.75 * HALF_PSI_KPA


@holds("rain tires", "everything-unknown")
def look_at_the_track(seen: Seen) -> None:
    """Unknown, to be settled by looking half an hour before practice: no rain from any source."""
    assert seen.morning.call.answer == "unknown"
    assert seen.morning.call.by == half_hour_before(seen.session("Practice"))
    assert all(math.isnan(planned.outlook.rain.chance) for planned in seen.plan.sessions)


@holds("tires", "everything-unknown")
def unknown_is_not_dry(seen: Seen) -> None:
    """Undecided, the whole of the track's state unknown, and no chance of rain to lean on."""
    assert choices(seen) == ["undecided"] * 2
    for planned in seen.plan.sessions:
        assert state(planned)["unknown"] == 1.0
        assert math.isnan(planned.outlook.rain.chance)


@holds("pressure", "frost")
def a_little_lower(seen: Seen) -> None:
    """At the last good setting or up to 1.5 psi below it, set in air at least 15 °C colder."""
    last = seen.weekend.garage.pressure.last_good
    assert last is not None
    for planned in seen.plan.sessions:
        for offset in offsets_kpa(planned):
            assert -3 * HALF_PSI_KPA - 0.01 <= offset <= 0.0
    practice = seen.session("Practice").session
    set_in = seen.middle("air_temp_c", practice.start - timedelta(hours=1))
    assert set_in < last.air_temp_c - 15.0
