"""What this project assumes about cars and people, each with its unit and where it comes from.

Physics constants live in their physics modules; what the racer may change is in garage.toml.
None of these numbers could be read in a published source unless one is named.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from trackday.weekend.garage import CostRow, CostTable
from trackday.weekend.venue import Paddock

COST_TABLE = CostTable(
    dry=CostRow(dry=0.0, damp=6.0, wet=25.0, standing=80.0),
    grooved=CostRow(dry=2.0, damp=1.0, wet=8.0, standing=40.0),
    wet=CostRow(dry=8.0, damp=4.0, wet=0.0, standing=5.0),
)
"""Cost of each tire on each track, percent of lap time, spins and worn-out tires included.
Assumption, to be changed in garage.toml: dry rubber has no grip on a film, a wet tire overheats on
a dry track, a hand-grooved one lies between."""

DRY_VETO_WET_CHANCE = 0.30
"""Dry tires are refused when a wet track or standing water in the session is likelier than this.
Assumption: aquaplaning needs little water under a tire without grooves."""

GROOVED_VETO_STANDING_CHANCE = 0.30
"""Hand-grooved tires are refused when standing water is likelier than this. Assumption."""

UNDECIDED_UNKNOWN_SHARE = 0.10
"""With more than this share of the track's state unknown, no tire is recommended. Assumption."""

CARRY_CHANCE = 0.10
"""A tire that is right with at least this chance in any session is worth its place. Assumption."""

WATCH_CHANCE = 0.15
"""A later session that is wet with at least this chance is worth waiting for. Assumption."""

SURE_CHANCE = 0.80
"""A later session whose tire is right with at least this chance is settled without waiting.
Assumption."""

HOT_GAS_BASE_C = 67.0
HOT_GAS_PER_TRACK = 0.45
HOT_GAS_PER_AIR = 0.25
"""Prior for the gas in a dry tire straight after a session, °C:
base + per_track·(track − 35) + per_air·(air − 22). Assumption: no published sensitivity was found;
your own hot pressures correct the base."""

HOT_GAS_REFERENCE_TRACK_C = 35.0
HOT_GAS_REFERENCE_AIR_C = 22.0
"""Track and air at which that gas is the base, °C. Assumption: an ordinary dry session."""

WET_GAS_DROP_C = 25.0
"""How much cooler the gas of a wet tire on a wet track stays, °C. Assumption."""

HOT_GAS_ERROR_C = 5.0
"""Error of the prior's change with the weather, °C, one way, added to the members' range.
Assumption."""

SETTING_LEAD_MINUTES = 60
"""Cold pressures are set this long before the session, at that hour's air temperature.
Assumption."""

RECHECK_BEFORE_GRID_MINUTES = 15.0
"""Pressures are looked at again this long before the car has to stand ready, minutes. Common
practice, no source."""

SUNLIT_GAS_K_PER_WM2 = 0.006
"""How much warmer the gas is in the tires on the sunny side of a parked car, K per W/m² of sunshine
on level ground: 5 K in strong sun. Assumption."""

UNDRIED_AIR_LIQUID_SHARE = 0.25
"""Share of the fully wet case that undried compressor air may show. Assumption; the fully wet case
(liquid water inside) is physics."""

CANOPY_PITCH_DEG = 20.0
"""Roof pitch of a folding canopy, degrees. Common practice, no source."""

LEAST_BALLAST_PER_LEG_KG = 40 * 0.45359237
"""40 lb a leg, the least that a public event guideline asks (Summit County, Ohio)."""

MOST_BALLAST_PER_LEG_KG = 45.0
"""About 100 lb a leg: what one person moves and straps down. A gust that asks for more means that
the canopy comes down. Assumption."""

UNKNOWN_MEMBERS_SHARE = 0.5
"""With more than this share of the members without a gust, no canopy is called safe. Assumption."""

TABLE_GUSTS_MS = tuple(0.44704 * mph for mph in (15, 20, 25, 30, 35, 40))
"""Gusts of the ballast table, m/s: steps of 5 mph. Assumption."""

SCALE_STEP_KG = 0.5
"""Ballast that is short by less than this counts as enough: bags are not weighed finer.
Assumption."""

CANOPY_WATCH_HOURS_BEFORE = 2.0
CANOPY_WATCH_HOURS_AFTER = 2.0
"""The canopy is taken to stand this long before the first and after the last session of a day.
Assumption."""

FOOT_FRICTION: Mapping[Paddock, float] = MappingProxyType(
    {"grass": 0.35, "gravel": 0.45, "paved": 0.40}
)
"""Friction of a canopy's weighted feet on the ground, –, wet grass and wet paving included.
Assumption."""

ADVISED_BLOCKAGE = (0.0, 1.0)
"""Shares of the section under the roof that are closed: nothing under it, and side walls or a
vehicle under it up to the downwind eaves (the two cases of EN 1991-1-4 §7.3)."""

GRID_METABOLIC_W = 300.0
"""Heat of a driver strapped in and waiting on the grid, W. Assumption, between the 100 W of rest
and the 600 W of hard work in the IOM table of breath water."""

DAMP_SUIT_GPH = 40.0
"""Water that a rain-damp suit gives to the air inside, g/h. Assumption."""

CABIN_STILL_VENTILATION_M3H = 15.0
CABIN_DEMISTER_VENTILATION_M3H = 60.0
"""Outside air through a closed cockpit standing on the grid, without and with a demister, m³/h.
Assumptions."""

CABIN_WARMING_C = 4.0
"""How much warmer than outside a closed cockpit is on the grid without sun, °C. Assumption."""

HELMET_BREATH_SHARE = 0.20
"""Share of expired air in the air behind a closed visor of a standing car. Assumption."""

VISOR_THICKNESS_M = 0.003
SCREEN_THICKNESS_M = 0.004
"""Polycarbonate visor and club-car screen, m. Common practice, no source."""

GRID_WIND_SHARE = 0.5
"""Part of the 10 m wind that reaches a visor or screen standing on the grid. Assumption."""

MOVING_AIR_MS = 30.0
"""Air along a visor or screen at track speed, m/s. Assumption: an average of about 110 km/h."""

DRIVING_METABOLIC_W = 450.0
"""Heat of a driver at work, W. Assumption, between the 300 W of the grid and 600 W of hard work."""

MOVING_VENTILATION_M3H = 120.0
MOVING_DEMISTER_VENTILATION_M3H = 240.0
"""Outside air through a closed cockpit at track speed, without and with a demister, m³/h.
Assumptions: ducts and gaps work with the car's speed."""

MOVING_BREATH_SHARE = 0.05
"""Share of expired air in the air behind a visor at track speed. Assumption."""

FOG_PREPARE_CHANCE = 0.20
"""From this chance on, anti-fog preparation is worth its five minutes. Assumption."""

PACKING_MINUTES = 90.0
"""Time to strip the paddock and load the trailer alone after the last session, minutes.
Assumption."""

USEFUL_MOON_SHARE = 0.5
"""A moon lit less than this does not help anybody to pack. Assumption."""

GLARE_ANGLE_DEG = 25.0
"""Angle between the line of sight and the sun within which it blinds, degrees. Assumption."""

COLD_TRACK_C = 10.0
"""Track temperature under which the first laps get a caution, °C. Common practice, no source."""
