"""What this project assumes about people, ground, towing and engines, with units and sources."""

from __future__ import annotations

from typing import NamedTuple

from trackday.physics.constants import ZERO_CELSIUS_K

_MPH_MS = 0.44704
_QUART_L = 0.946353


def _fahrenheit_c(temp_f: float) -> float:
    """Bring a published limit in °F to °C."""
    return (temp_f + 459.67) / 1.8 - ZERO_CELSIUS_K


PADDOCK_HOURS_BEFORE = 2.0
PADDOCK_HOURS_AFTER = 2.0
"""A crew is in the paddock this long before the first and after the last session of a day.
Assumption."""


class WorkRest(NamedTuple):
    """From which WBGT, °F, how many minutes of an hour to work, and what to drink, qt/h each."""

    from_f: float
    work_minutes: int
    water_quarts: float

    @property
    def from_c(self) -> float:
        """The same limit in °C."""
        return _fahrenheit_c(self.from_f)

    @property
    def water_lph(self) -> float:
        """The same water in L/h."""
        return self.water_quarts * _QUART_L


WORK_REST = (
    WorkRest(78.0, 60, 0.75),
    WorkRest(82.0, 50, 0.75),
    WorkRest(85.0, 40, 0.75),
    WorkRest(88.0, 30, 0.75),
    WorkRest(90.0, 20, 1.0),
)
"""Moderate work by people used to heat, for at least four hours (US Army, TB MED 507, as printed on
its public work, rest and water cards)."""

MOST_WATER_LPD = 12.0 * _QUART_L
"""Most to drink in a day, L each (the same cards)."""

COOL_WATER_LPH = 0.25
"""What to have along for an hour below the table, L each. Assumption."""

PADDOCK_WORK_W = 300.0
"""Heat of a person who changes wheels and walks about: moderate work, W (ACGIH screening table,
value from memory)."""

SUIT_WBGT_C = 3.0
"""What a multi-layer fire suit adds to the WBGT, °C: double-layer woven clothing (ACGIH clothing
adjustment, value from memory)."""

CLOSED_COCKPIT_WBGT_C = 2.0
"""What a closed cockpit standing on the grid adds to it, °C. Assumption."""

DRIVER_LIMITS_C = (27.9, 30.1, 32.3)
"""WBGT from which people who are used to heat exert themselves with discretion, only for a limited
time, and not at all, °C (ACSM position stand 2007)."""

HEAT_INDEX_CLASSES = (
    (_fahrenheit_c(80.0), "caution"),
    (_fahrenheit_c(90.0), "extreme caution"),
    (_fahrenheit_c(103.0), "danger"),
    (_fahrenheit_c(125.0), "extreme danger"),
)
"""Lowest heat index of each class, °C (NWS heat index chart)."""

GLOVES_CHILL_C = 4.0
WARM_UP_CHILL_C = -10.0
"""Felt temperature at which bare hands fumble, and at which a break indoors each hour is due, °C.
Common practice, no source."""

FROSTBITE_CHILL_C = -28.0
"""Felt temperature at which bare skin freezes within half an hour, °C (−18 °F in the NWS wind
chill chart, value from memory)."""

THUNDER_RADIUS_M = 10_000.0
"""Distance within which a flash stops work outdoors, m: 30 s from flash to bang (NWS)."""

THUNDER_ACT_CHANCE = 0.30
THUNDER_WATCH_CHANCE = 0.10
"""Chance of thunder from which a crew prepares for it, and from which it keeps an eye on the sky.
Assumptions."""

SOFT_API_MM = {"grass": 10.0, "gravel": 25.0}
MUD_API_MM = {"grass": 25.0, "gravel": 60.0}
"""Antecedent precipitation index from which a paddock gives way under a jack, and from which a
loaded trailer bogs down, mm. Assumptions: there is no published limit."""

NO_RAIN_MM = 0.5
"""Index under which there is no rain in the ground to speak of, mm. Assumption."""

LEAST_PAST_HOURS = 48.0
"""Hours of known rain before a morning without which nothing is said about the ground. Assumption:
what is older counts little for its top."""

SOFT_ASPHALT_AIR_C = 30.0
SOFT_ASPHALT_SUN_WM2 = 600.0
"""Air and sun, °C and W/m², above both of which stands dent asphalt. Common practice, no source for
the figures."""

SOFT_ASPHALT_CHANCE = 0.2
"""Chance of such an hour from which plates for the stands are worth their weight. Assumption."""

DRIVE_HOURS = 3.0
"""How long the rig is taken to drive, hours. Assumption."""

SETTLE_HOURS = 1.0
"""How long before the first session the rig has to be in the paddock, hours. Assumption."""

SHIFT_HOURS = 12
"""How far from the planned hour a calmer one is looked for, hours. Assumption."""

ADVISORY_WIND_MS = 31.0 * _MPH_MS
ADVISORY_GUST_MS = 46.0 * _MPH_MS
WARNING_WIND_MS = 40.0 * _MPH_MS
WARNING_GUST_MS = 58.0 * _MPH_MS
"""Wind and gust from which the US weather service issues an advisory and a warning, m/s (NWS;
offices vary)."""

TOW_CAREFUL_GUST_MS = 30.0 * _MPH_MS
"""Gust from which a closed trailer wanders, m/s. Common practice, no source."""

ICE_AIR_C = 1.0
"""Air temperature under which a wet road may be ice, °C: bridges are colder than the air.
Assumption."""

FROST_DEPRESSION_C = 1.0
"""Air this near to its dew point, °C, lays frost or freezing fog on a road. Assumption."""

WET_ROAD_HOURS = 6.0
"""How long a road stays wet after rain in the cold, hours. Assumption."""

TOW_ACT_CHANCE = 0.30
TOW_WATCH_CHANCE = 0.10
"""Chance of too much wind, or of ice, from which a drive is moved, and from which it is watched.
Assumptions."""

POWER_WATCH_SHARE = 0.03
"""Change of power that is worth a look at the mixture and the gearing, –. Assumption."""
