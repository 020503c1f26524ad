"""What the crews say of canopy, ground, tow, storms, heat, cold and frost, and engine air."""

from __future__ import annotations

import math
from datetime import timedelta

import numpy as np
from crew_seen import Seen, holds


@holds("ground", "steady-rain")
def soft_grass(seen: Seen) -> None:
    """Boards, since grass has had more than 25 mm in the day before practice: about an inch."""
    ground = seen.ground
    assert ground.ground in ("soft", "mud")
    assert ground.decision.urgency == "act"
    assert ground.paddock == "grass"
    start = seen.session("Practice").session.start
    day = seen.weather.between(start - timedelta(hours=24), start)
    assert float(np.median(day.rain_mm.sum(axis=1))) > 25.0


@holds("ground", "desert-heat")
def asphalt_dents(seen: Seen) -> None:
    """Plates on pavement that no rain has softened, over air past 40 °C."""
    ground = seen.ground
    assert ground.paddock == "paved"
    assert ground.ground == "warm asphalt"
    assert ground.decision.urgency == "act"
    assert seen.session("Race").outlook.air.temp_c.p50 > 40.0


@holds("ground", "everything-unknown")
def unknown_is_not_firm(seen: Seen) -> None:
    """Unknown, with no chance given."""
    ground = seen.ground
    assert ground.ground == "unknown"
    assert ground.decision.urgency == "unknown"


@holds("canopy", "gale")
def down_before_the_gale(seen: Seen) -> None:
    """Down between practice and qualifying, in calm; after that no ballast and no maker's limit."""
    canopy = seen.morning.canopy
    owned = seen.weekend.garage.canopy
    assert canopy is not None
    assert owned is not None
    assert owned.wind_limit_ms is not None
    assert canopy.action == "take down"
    assert canopy.down_by is not None
    assert seen.session("Practice").session.end <= canopy.down_by
    assert canopy.down_by < seen.session("Qualifying").session.start
    assert seen.high("gust_ms", canopy.down_by - timedelta(hours=1)) < canopy.holds_gust_ms
    assert seen.middle("gust_ms", seen.local(13)) > max(canopy.limit_gust_ms, owned.wind_limit_ms)
    assert canopy.needed_per_leg_kg > 2 * canopy.have_per_leg_kg


@holds("tow", "gale")
def wait_with_the_tow(seen: Seen) -> None:
    """Past the racer's own limit at the hour of return and at dusk, below it later."""
    home = seen.tow_home
    dusk = seen.plan.light[0].sun.civil_dusk
    assert dusk is not None
    assert home.decision.urgency == "act"
    assert home.is_own_limit
    assert home.over_chance > 0.9
    assert home.start == seen.weekend.travel.return_home
    assert seen.middle("gust_ms", dusk) > home.limit_ms
    assert home.better_start is not None
    assert home.better_start > dusk
    assert seen.middle("gust_ms", home.better_start) < home.limit_ms


@holds("tow", "perfect-day")
def tow_as_planned(seen: Seen) -> None:
    """Nothing to do: hardly a chance of a gust past the limit, of rain or of ice."""
    home = seen.tow_home
    assert home.decision.urgency == "nothing"
    assert max(home.over_chance, home.rain_chance, home.ice_chance) < 0.05
    assert home.gust_ms.p90 < 8.0


@holds("tow", "half-known")
def gusts_unknown_rain_known(seen: Seen) -> None:
    """Unknown for the gusts, while the chance of rain on the road is known."""
    home = seen.tow_home
    assert home.decision.urgency == "unknown"
    assert math.isnan(home.over_chance)
    assert 0.05 < home.rain_chance < 0.6


@holds("tow", "everything-unknown")
def road_unknown(seen: Seen) -> None:
    """Unknown for the gusts and the rain."""
    home = seen.tow_home
    assert home.decision.urgency == "unknown"
    assert math.isnan(home.over_chance)
    assert math.isnan(home.rain_chance)


@holds("canopy", "perfect-day", "shower-at-noon", "frost")
def canopy_stands(seen: Seen) -> None:
    """It may stand: nine times in ten the strongest gust is below what it holds."""
    canopy = seen.morning.canopy
    assert canopy is not None
    assert canopy.action == "stand"
    assert canopy.down_by is None
    assert canopy.gust_ms.p90 < 0.9 * canopy.holds_gust_ms


@holds("canopy", "half-known", "everything-unknown")
def unknown_is_not_calm(seen: Seen) -> None:
    """No gust, no "may stand", though the maker's limit is known."""
    canopy = seen.morning.canopy
    assert canopy is not None
    assert canopy.action == "unknown"
    assert math.isnan(canopy.gust_ms.p90)
    assert math.isnan(canopy.needed_per_leg_kg)


@holds("canopy", "thunder-afternoon")
def down_before_the_outflow(seen: Seen) -> None:
    """Down after qualifying and by two, an hour or more before the likely start of the rain."""
    canopy = seen.morning.canopy
    assert canopy is not None
    assert canopy.action == "take down"
    assert canopy.down_by is not None
    assert seen.session("Qualifying").session.end < canopy.down_by <= seen.local(14)
    falling = seen.weather.between(canopy.down_by, canopy.down_by + timedelta(hours=1))
    assert float((falling.rain_mm > 0.1).any(axis=1).mean()) < 0.3


@holds("lightning", "thunder-afternoon")
def storms_are_likely(seen: Seen) -> None:
    """Act: likelier than not in the afternoon, next to none in the morning; CAPE past 2500 J/kg.

    Source: Storm Prediction Center calls 2500 J/kg strong instability; value from memory.
    """
    day = seen.thunder
    assert day.decision.urgency == "act"
    assert day.chance > 0.5
    assert day.likely_from is not None
    assert seen.local(14) <= day.likely_from <= seen.session("Race").session.start
    assert thunder_in(seen, "Practice") < 0.05
    assert thunder_in(seen, "Race") > 0.5
    assert seen.middle("cape_jkg", seen.session("Race").session.start) > 2500.0


@holds("lightning", "perfect-day")
def no_storm(seen: Seen) -> None:
    """Known, and next to none."""
    day = seen.thunder
    assert day.decision.urgency == "nothing"
    assert day.chance < 0.05
    assert all(planned.outlook.rain.chance < 0.05 for planned in seen.plan.sessions)


@holds("lightning", "half-known", "everything-unknown")
def unknown_is_not_stormless(seen: Seen) -> None:
    """Unknown, with no chance given."""
    day = seen.thunder
    assert day.decision.urgency == "unknown"
    assert math.isnan(day.chance)


@holds("heat", "thunder-afternoon")
def sultry(seen: Seen) -> None:
    """Act for crew and driver; dew point past 20 °C (common practice: past 68 °F is oppressive)."""
    heat = seen.heat
    assert heat.decision.urgency == "act"
    assert heat.driver.urgency == "act"
    assert heat.rest_minutes is not None
    assert heat.rest_minutes > 0
    air = seen.session("Race").outlook.air
    assert air.dew_point_c.p50 > 20.0
    assert air.temp_c.p50 > 29.0


@holds("heat", "desert-heat")
def past_every_limit(seen: Seen) -> None:
    """Past the limit for steady work, with rests and most of a liter an hour, by the race."""
    heat = seen.heat
    assert heat.decision.urgency == "act"
    assert heat.driver.urgency == "act"
    assert heat.wbgt_c.p50 > heat.limit_c
    assert heat.rest_minutes is not None
    assert heat.rest_minutes >= 20
    assert heat.water_lph >= 0.7
    assert heat.worst_from is not None
    assert heat.worst_from < seen.session("Race").session.start
    for name in ("Qualifying", "Race"):
        assert seen.session(name).outlook.air.temp_c.p50 > 40.0
        assert seen.session(name).outlook.track.temp_c.p50 > 55.0


@holds("heat", "perfect-day")
def no_heat(seen: Seen) -> None:
    """Nothing to do, for crew or driver."""
    heat = seen.heat
    assert heat.decision.urgency == "nothing"
    assert heat.driver.urgency == "nothing"
    assert heat.wbgt_c.p90 < heat.limit_unused_c


@holds("heat", "everything-unknown")
def unknown_is_not_cool(seen: Seen) -> None:
    """Unknown for crew and driver."""
    heat = seen.heat
    assert heat.decision.urgency == "unknown"
    assert heat.driver.urgency == "unknown"
    assert math.isnan(heat.water_l)


@holds("engine", "desert-heat")
def thin_hot_air(seen: Seen) -> None:
    """A low venue with the air of 1000 m higher; less power in the race than in practice."""
    practice, race = seen.engines[0], seen.engines[-1]
    assert seen.plan.venue.elevation_m < 300.0
    assert race.density_altitude_m.p50 > seen.plan.venue.elevation_m + 1000.0
    assert practice.power_share is not None
    assert race.power_share is not None
    assert race.power_share.p50 < practice.power_share.p50 < 0.99


@holds("engine", "everything-unknown")
def air_unknown(seen: Seen) -> None:
    """Unknown in each session."""
    assert [engine.decision.urgency for engine in seen.engines] == ["unknown"] * 2
    assert all(math.isnan(engine.density_altitude_m.p50) for engine in seen.engines)


@holds("engine", "high-elevation")
def a_quarter_is_missing(seen: Seen) -> None:
    """Past 2800 m and the venue's own height; power short by about what the air is, 20 to 32 %.

    Standard atmosphere's density by height: 1.225 · (1 − 2.25577e-5 · h)^4.2559 kg/m³ (ICAO).
    """
    assert seen.weekend.garage.car.naturally_aspirated
    for engine in seen.engines:
        altitude_m = engine.density_altitude_m.p50
        assert altitude_m > max(2800.0, seen.plan.venue.elevation_m)
        assert 0.20 < 1.0 - (1.0 - 2.25577e-5 * altitude_m) ** 4.2559 < 0.32
        assert engine.power_share is not None
        assert 0.20 < 1.0 - engine.power_share.p50 < 0.32


@holds("cold", "frost")
def cold_hands(seen: Seen) -> None:
    """Something to do against the cold: at or below freezing at seven, no session in 10 °C."""
    cold = seen.cold
    assert cold.decision.urgency in ("watch", "act")
    assert cold.felt_c.p50 <= 0.0
    assert seen.middle("air_temp_c", seen.local(7)) <= 0.0
    assert all(planned.outlook.air.temp_c.p50 < 10.0 for planned in seen.plan.sessions)


@holds("frost", "frost")
def white_and_frozen(seen: Seen) -> None:
    """Act on ice that is likely there: frozen for hours, the roof 3 °C and more below the air."""
    (night,) = seen.day.frost
    assert night.decision.urgency == "act"
    assert night.freeze.chance > 0.5
    assert night.frost.chance > 0.9
    assert night.freeze.is_there(seen.plan.as_of)
    assert all(seen.middle("air_temp_c", seen.local(hour)) < -1.0 for hour in (2, 3, 4))
    assert night.sheet_c.p50 < night.air_c.p50 - 3.0


def thunder_in(seen: Seen, name: str) -> float:
    return seen.session(name).thunder.chance
