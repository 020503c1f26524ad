"""What the crews say of glass, light and glare, of first laps, and of their sources."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta

import numpy as np
from astral import Observer, sun
from crew_seen import Seen, holds, state

from trackday.advice.cautions import COLD_TRACK, WET_TIRES
from trackday.weather.series import Array, Weather


@holds("fog", "steady-rain")
def screen_fogs_all_day(seen: Seen) -> None:
    """Prepared for each session, in a car without a demister and air near saturation."""
    assert not seen.weekend.garage.car.demister
    for planned in seen.plan.sessions:
        assert planned.fog.glass == "screen"
        assert planned.fog.prepare
        assert planned.fog.chance > 0.5
        assert planned.outlook.air.temp_c.p50 - planned.outlook.air.dew_point_c.p50 < 3.0


@holds("cautions", "steady-rain")
def brake_early(seen: Seen) -> None:
    """The caution of wet tires is shown, and the track is at least wet in every session."""
    assert WET_TIRES in seen.plan.cautions
    assert all(
        state(planned)["dry"] + state(planned)["damp"] < 0.1 for planned in seen.plan.sessions
    )


@holds("fog", "perfect-day", "desert-heat", "high-elevation")
def screen_stays_clear(seen: Seen) -> None:
    """No session asks for anti-fog."""
    for planned in seen.plan.sessions:
        assert not planned.fog.prepare
        assert planned.fog.chance < 0.05


@holds("sources", "perfect-day")
def all_sources_agree(seen: Seen) -> None:
    """Every source is fresh, both centers speak, and none of them gives rain a chance."""
    assert [source.status for source in seen.plan.sources] == ["fresh"] * 3
    for planned in seen.plan.sessions:
        centers = planned.outlook.rain.by_center
        assert len(centers) >= 2
        assert max(centers.values()) < 0.05


@holds("fog", "half-known", "everything-unknown")
def unknown_is_not_clear(seen: Seen) -> None:
    """Prepared for each session though no chance can be given."""
    for planned in seen.plan.sessions:
        assert planned.fog.prepare
        assert math.isnan(planned.fog.chance)


@holds("sources", "half-known")
def old_and_failed(seen: Seen) -> None:
    """The one forecast is from yesterday, both ensembles failed."""
    forecast, *ensembles = seen.plan.sources
    assert forecast.status == "stale"
    assert [source.status for source in ensembles] == ["failed"] * 2
    made = seen.story.recorded_at.astimezone(seen.plan.venue.zone).date()
    assert made < seen.morning.day


@holds("light", "everything-unknown")
def the_sun_is_known(seen: Seen) -> None:
    """Sunset and dusk within two minutes of another library's (astral), with no weather at all."""
    light, venue = seen.plan.light[0], seen.plan.venue
    place = Observer(venue.latitude, venue.longitude)
    two_minutes = timedelta(minutes=2)
    assert light.sun.sunset is not None
    assert light.sun.civil_dusk is not None
    assert abs(light.sun.sunset - _astral(sun.sunset, place, seen)) < two_minutes
    assert abs(light.sun.civil_dusk - _astral(sun.dusk, place, seen)) < two_minutes
    assert bool(np.isnan(seen.weather.ghi_wm2).all())


@holds("sources", "everything-unknown")
def nothing_in_any_source(seen: Seen) -> None:
    """Two failed; of the third every field but the pressure is missing."""
    assert [source.status for source in seen.plan.sources][1:] == ["failed"] * 2
    assert bool(np.isnan(_all_fields(seen.weather)).all())
    assert bool(np.isfinite(seen.weather.pressure_pa).all())


@holds("cautions", "everything-unknown")
def as_if_wet_and_cold(seen: Seen) -> None:
    """Both cautions are shown, that of a wet track and that of a cold one."""
    assert WET_TIRES in seen.plan.cautions
    assert COLD_TRACK in seen.plan.cautions


@holds("fog", "fog-at-dawn")
def visor_fogs_at_dawn(seen: Seen) -> None:
    """An open car's visor in saturated air before practice, and clear for the race."""
    practice, race = seen.session("Practice"), seen.session("Race")
    assert practice.fog.glass == "visor"
    assert practice.fog.prepare
    assert practice.fog.chance > 0.5
    assert practice.outlook.air.temp_c.p50 - practice.outlook.air.dew_point_c.p50 < 1.0
    assert not race.fog.prepare


@holds("light", "fog-at-dawn", "frost")
def lamp_in_the_morning(seen: Seen) -> None:
    """At six neither sunrise nor civil dawn has come; the lamp is asked for, and loaded."""
    light = seen.morning.light
    assert light.decision.urgency == "act"
    assert light.decision.until == light.sun.civil_dawn
    assert "Work lamps" in [item.name for item in seen.plan.load.items]
    day = light.sun
    assert day.civil_dawn is not None
    assert day.sunrise is not None
    assert seen.plan.as_of < day.civil_dawn
    assert seen.plan.as_of + timedelta(hours=1) < day.sunrise


@holds("cautions", "frost")
def gentle_first_laps(seen: Seen) -> None:
    """The caution of a cold track, and a track within 5 °C of freezing in practice."""
    assert COLD_TRACK in seen.plan.cautions
    assert WET_TIRES not in seen.plan.cautions
    assert abs(seen.session("Practice").outlook.track.temp_c.p50) < 5.0


@holds("fog", "frost")
def visor_fogs_in_the_cold(seen: Seen) -> None:
    """Prepared for every session, all but sure in practice and qualifying, on a visor."""
    for planned in seen.plan.sessions:
        assert planned.fog.glass == "visor"
        assert planned.fog.prepare
    assert seen.session("Practice").fog.chance > 0.8
    assert seen.session("Qualifying").fog.chance > 0.8
    assert seen.session("Practice").outlook.air.temp_c.p50 < 5.0


@holds("glare", "frost")
def low_sun_ahead(seen: Seen) -> None:
    """The sun is ahead on a straight in practice and in no later session."""
    practice, *later = seen.plan.sessions
    assert practice.glare
    assert not any(planned.glare for planned in later)
    assert practice.glare[0].heading_deg in seen.plan.venue.straight_headings_deg


def _astral(event: Callable[..., datetime], place: Observer, seen: Seen) -> datetime:
    when = event(place, date=seen.morning.day, tzinfo=seen.plan.venue.zone)
    assert when.tzinfo is not None
    return when


def _all_fields(weather: Weather) -> Array:
    """Every field that the story says is missing."""
    return np.stack(
        [
            getattr(weather, name)
            for name in (
                "air_temp_c", "dew_point_c", "wind_ms", "gust_ms", "rain_mm", "cloud_fraction",
                "ghi_wm2", "cape_jkg",
            )
        ]
    )  # fmt: skip
