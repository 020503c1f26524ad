"""The skies of the demo's twelve written weekends: readable tables, all invented.

Hours count from the local midnight of the event's day, so those before it are negative.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

Curve = float | tuple[tuple[float, float], ...]
"""One value for all hours, or (hour, value) pairs with straight lines between."""


@dataclass(frozen=True)
class Spell:
    """Rain from one hour to another, and how sure the services are of it.

    `chance` is the share of members that have it, `shift_h` the standard deviation of its time over
    members, `rate_mm` its rate in mm an hour and `patchy` how much that differs between hours and
    members (0 is steady).
    """

    start: float
    end: float
    rate_mm: float
    chance: float = 1.0
    shift_h: float = 0.0
    patchy: float = 0.0


@dataclass(frozen=True)
class Sky:
    """One weekend's weather, in the provider's units (°C, fraction of cloud, m/s, J/kg).

    Temperature swings by `swing_c` about `temp_c` with its highest at 15:00. `without` names
    variables that the reply leaves empty; `ensembles` is False where those services fail.
    """

    seed: int
    temp_c: Curve
    swing_c: Curve
    dew_c: Curve
    cloud: Curve
    wind_ms: Curve
    gust_ms: Curve
    cape_jkg: Curve = 0.0
    spells: tuple[Spell, ...] = ()
    without: tuple[str, ...] = ()
    ensembles: bool = True


FAIR = Sky(
    seed=1,
    temp_c=17.0,
    swing_c=6.0,
    dew_c=8.0,
    cloud=0.15,
    wind_ms=((0.0, 1.5), (8.0, 2.0), (14.0, 3.0), (20.0, 2.0)),
    gust_ms=((0.0, 3.0), (8.0, 3.5), (14.0, 5.5), (20.0, 3.5)),
)

SKIES: dict[str, Sky] = {
    "steady-rain": Sky(
        seed=101,
        temp_c=9.0,
        swing_c=1.2,
        dew_c=8.2,
        cloud=((-60.0, 0.6), (-40.0, 1.0), (30.0, 1.0)),
        wind_ms=3.0,
        gust_ms=6.0,
        spells=(Spell(-40.0, 30.0, 2.0, patchy=0.35),),
    ),
    "shower-at-noon": Sky(
        seed=102,
        temp_c=19.5,
        swing_c=6.0,
        dew_c=13.0,
        cloud=((0.0, 0.2), (9.5, 0.3), (11.5, 0.9), (13.0, 0.8), (14.0, 0.2), (20.0, 0.2)),
        wind_ms=((8.0, 2.5), (12.0, 4.0), (16.0, 3.5), (22.0, 2.0)),
        gust_ms=((8.0, 4.0), (12.0, 6.8), (16.0, 6.0), (22.0, 4.0)),
        cape_jkg=((6.0, 0.0), (12.0, 20.0), (16.0, 10.0), (20.0, 0.0)),
        spells=(Spell(11.6, 12.6, 2.5, chance=0.72, shift_h=0.4, patchy=0.5),),
    ),
    "drying-track": Sky(
        seed=103,
        temp_c=13.0,
        swing_c=4.5,
        dew_c=((0.0, 9.0), (6.0, 8.5), (10.0, 6.0), (20.0, 5.0)),
        cloud=((-6.0, 1.0), (7.5, 0.95), (9.5, 0.35), (20.0, 0.2)),
        wind_ms=((0.0, 2.0), (8.0, 2.5), (12.0, 4.0), (20.0, 2.5)),
        gust_ms=((0.0, 4.5), (8.0, 5.0), (12.0, 7.5), (20.0, 5.0)),
        spells=(Spell(-5.0, 7.7, 1.8, shift_h=0.25, patchy=0.4),),
    ),
    "fog-at-dawn": replace(
        FAIR,
        seed=104,
        temp_c=((-60.0, 14.0), (0.0, 13.0), (6.0, 10.5), (9.0, 11.0), (12.0, 14.0), (24.0, 14.0)),
        swing_c=5.0,
        dew_c=((-60.0, 9.5), (-4.0, 10.5), (3.0, 12.0), (9.0, 11.5), (14.0, 9.5), (24.0, 9.0)),
        cloud=((-4.0, 0.1), (2.0, 0.9), (9.0, 1.0), (10.5, 0.2), (20.0, 0.1)),
        wind_ms=((-8.0, 1.0), (8.0, 0.7), (12.0, 2.5), (18.0, 2.0), (22.0, 1.0)),
        gust_ms=((-8.0, 2.0), (8.0, 1.5), (12.0, 4.5), (18.0, 4.0), (22.0, 2.0)),
    ),
    "desert-heat": replace(
        FAIR,
        seed=105,
        temp_c=36.5,
        swing_c=7.5,
        dew_c=9.0,
        cloud=0.03,
        wind_ms=((6.0, 1.5), (15.0, 3.5), (22.0, 2.0)),
        gust_ms=((6.0, 3.0), (15.0, 7.0), (22.0, 4.0)),
        cape_jkg=0.0,
    ),
    "gale": replace(
        FAIR,
        seed=106,
        temp_c=14.0,
        swing_c=5.0,
        dew_c=2.0,
        cloud=0.4,
        wind_ms=((0.0, 2.5), (9.0, 3.0), (11.0, 8.0), (13.5, 13.5), (18.0, 13.0), (24.0, 7.0)),
        gust_ms=((0.0, 4.5), (9.0, 5.5), (11.0, 14.0), (13.5, 23.0), (18.0, 22.0), (24.0, 12.0)),
    ),
    "thunder-afternoon": Sky(
        seed=107,
        temp_c=25.0,
        swing_c=6.0,
        dew_c=20.5,
        cloud=((0.0, 0.1), (11.0, 0.2), (14.5, 0.7), (18.0, 0.9), (22.0, 0.5)),
        wind_ms=((6.0, 2.5), (12.0, 4.0), (15.0, 7.0), (18.0, 6.0), (22.0, 3.0)),
        gust_ms=((6.0, 4.5), (12.0, 7.0), (14.0, 10.0), (15.5, 20.0), (18.0, 18.0), (22.0, 7.0)),
        cape_jkg=((6.0, 400.0), (12.0, 2200.0), (16.0, 3000.0), (20.0, 1500.0), (24.0, 400.0)),
        spells=(Spell(15.3, 17.5, 7.0, chance=0.7, shift_h=0.5, patchy=0.7),),
    ),
    "frost": replace(
        FAIR,
        seed=108,
        temp_c=2.0,
        swing_c=5.5,
        dew_c=-4.5,
        cloud=0.05,
        wind_ms=((0.0, 0.8), (8.0, 1.2), (14.0, 2.5), (20.0, 1.2)),
        gust_ms=((0.0, 1.6), (8.0, 2.4), (14.0, 4.5), (20.0, 2.5)),
    ),
    "high-elevation": replace(
        FAIR,
        seed=109,
        temp_c=14.5,
        swing_c=7.5,
        dew_c=1.0,
        cloud=((8.0, 0.05), (14.0, 0.3), (20.0, 0.2)),
        cape_jkg=((9.0, 0.0), (14.0, 60.0), (20.0, 0.0)),
    ),
    "half-known": Sky(
        seed=110,
        temp_c=13.0,
        swing_c=3.5,
        dew_c=9.5,
        cloud=0.8,
        wind_ms=5.0,
        gust_ms=9.0,
        spells=(Spell(13.0, 17.0, 0.8, chance=0.5, shift_h=1.5, patchy=0.5),),
        without=("dew_point_2m", "relative_humidity_2m", "cloud_cover", "wind_gusts_10m", "cape"),
        ensembles=False,
    ),
    "everything-unknown": replace(
        FAIR,
        seed=111,
        without=(
            "temperature_2m",
            "dew_point_2m",
            "relative_humidity_2m",
            "precipitation",
            "precipitation_probability",
            "cloud_cover",
            "wind_speed_10m",
            "wind_gusts_10m",
            "shortwave_radiation",
            "cape",
        ),
        ensembles=False,
    ),
    "perfect-day": replace(FAIR, seed=112, temp_c=18.5, swing_c=4.5, dew_c=9.5),
}
