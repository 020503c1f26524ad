"""What this project assumes about water that freezes and cars that whiten overnight."""

from __future__ import annotations

from trackday.physics.constants import ZERO_CELSIUS_K

FREEZE_AIR_C = (28.0 + 459.67) / 1.8 - ZERO_CELSIUS_K
FREEZE_HOURS = 3.0
"""Air at or below this, °C, for so many hours of a night, freezes plain water in pump, washer or
the thin passages of a block: 28 °F for "a few hours" is a hard freeze to the NWS (value from
memory). That water takes no longer is an assumption: a full block by itself holds out longer."""

FREEZE_ACT_CHANCE = 0.1
"""Chance of frozen water from which it is drained: a bucket against a block. Assumption."""

SETTLE_HOURS = 2.0
"""Hours that a sheet has to lie below the dew point to be wet or white. Assumption."""

WARMEST_FROST_AIR_C = 8.5
"""Air above which no sheet under the open sky whitens, °C, in any cloud, wind or moisture: what
`physics.night_surface` gives for a dead calm and no cloud, with little to spare (tests)."""

FROST_ACT_CHANCE = 0.3
"""Chance of frost on the car from which it is covered. Assumption."""

DEW_WATCH_CHANCE = 2.0 / 3.0
"""Chance of dew on the car from which it is told: only when likely, as dew costs but cloths
and minutes. Assumption."""

WIND_HEIGHT_M = 10.0
"""Height for which forecasts give the wind, m (WMO no. 8)."""
