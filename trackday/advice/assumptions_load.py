"""What this project assumes about unsafe tires, changes of mind, and what goes on the trailer."""

from __future__ import annotations

UNSAFE_PENALTY_SHARE = 0.1
"""What time on a track that a tire is not safe on costs beside its laps, as a share of the dearest
entry of the cost table, so that it grows with the table. Assumption: 8 % of lap time by default,
which puts wet tires on from a chance of about 20 % on; the veto stands beside it."""

WATCH_HOURS = 3.0
"""How long before the change of tires rain tells which tires are right, hours. Assumption: what
fell earlier shows on the track by then."""

LEAST_FLIP_CHANCE = 0.05
"""A turn of the weather that is less likely than this is not named. Assumption."""

LEAST_CUT_CHANCE = 0.50
"""A dry set is cut only where cut tires are the right ones with at least this chance: a cut cannot
be undone, and a choice between dry and wet tires can wait. Assumption."""

STATE_CHANGE = 0.20
"""A chance of a dry track that moves by this much from start to end is worth a line. Assumption."""

TIRES_ON_THE_CAR = 4
"""Tires that ride on the car and need no slot."""

MOST_SETS = 12
"""Sets that are weighed against each other, all subsets of them; the best of each kind come first.
Assumption: nobody loads a privateer's trailer with more."""

RAIN_GEAR_CHANCE = 0.15
"""From this chance of rain in any session on, rain gear is worth its place. Assumption."""

SOFT_GROUND_CHANCE = 0.20
"""From this chance of soft ground on, boards are worth their place. Assumption."""

STRAPS_PER_LEG = 1
STAKES_PER_LEG = 1
"""Straps from each leg to its ballast, and stakes where the ground takes them. Common practice, no
source."""

CLOTHS = 2
"""Lint-free cloths: one to buff the film, one that stays dry. Common practice, no source."""

BOARDS = 5
"""Boards on soft ground: one under the jack, four under the stands. Common practice, no source."""

WORK_LAMPS = 2
"""Lamps for work after dark, one for each side of the car. Common practice, no source."""

WARM_UP_BELOW_C = 20.0
WARM_UP_MINUTES_PER_K = 0.5
"""In air colder than this an engine idles longer before a session, by so many minutes a kelvin.
Assumptions."""

UNKNOWN_WARM_UP_C = 0.0
"""Air temperature that fuel for warming up is counted for where none is known, °C. Assumption."""

IDLE_FUEL_LPH = 3.0
"""What a club car's engine burns at a fast idle, L/h. Assumption."""

LEAST_EXTRA_FUEL_L = 1.0
"""Less than this is in the tank anyhow, L. Assumption."""
