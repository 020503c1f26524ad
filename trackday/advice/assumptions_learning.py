"""What is assumed of a car before its logbook says otherwise, and how sure that is.

Means that other modules use already stand in `assumptions.py`. None of these numbers could be read
in a published source. The standard deviations hold the fit near its prior while readings are few;
their sizes were settled on seeds 1000 to 1099 of `tests/benchmarks/learning_rise.py`, which the
reported seeds do not touch.
"""

from __future__ import annotations

HOT_GAS_CAR_SD_C = 6.0
"""How far one car's gas is from the prior's base, standard deviation, °C. Assumption."""

HOT_GAS_AXLE_SD_C = 3.0
"""How far front and rear each are from their car, standard deviation, °C. Assumption."""

HOT_GAS_PER_TRACK_SD = 0.15
HOT_GAS_PER_AIR_SD = 0.15
"""How unsure the two slopes of the prior are, °C per °C. Assumption."""

HOT_GAS_VENUE_SD_C = 3.0
"""How far one circuit's corners and straights move the gas, standard deviation, °C. Assumption."""

HOT_READING_SD_C = 3.5
"""Scatter of the gas between sessions that look alike, half-psi gauge included, standard
deviation, °C. Assumption; the readings correct it."""

AXLES_SHARE = 0.5
"""Share of that scatter's variance which both axles of a session have in common, –: traffic, a
cautious driver, a wrong track temperature. Assumption."""

STOP_TERM_C, STOP_TERM_SD_C = -45.0, 20.0
STOP_FADE_MINUTES = 30.0
"""Gas cools toward the air after the stop: term·(1 − exp(−minutes/fade)), some 1.5 °C in the first
minute. Assumption."""

LATEST_READING_MINUTES = 45.0
"""A hot pressure read later after the stop says too little of the hot gas, minutes. Assumption."""

RUN_TERM_C, RUN_TERM_SD_C = -30.0, 15.0
RUN_FADE_MINUTES = 6.0
RUN_REFERENCE_MINUTES = 20.0
"""Gas is still warming in a short session: term·(exp(−minutes/fade) − exp(−reference/fade)), 5 °C
short after 10 minutes. Assumption."""

WET_GAS_DROP_SD_C = 8.0
"""How unsure `WET_GAS_DROP_C` is, standard deviation, °C. Assumption."""

GROOVED_GAS_SD_C = 8.0
"""How far the gas of a grooved tire on its damp track is from a dry one's, standard deviation, °C.
The prior's mean is no difference, as nothing better is known. Assumption."""

READING_HALF_LIFE_DAYS = 365.0
"""Age at which a reading has lost half its say, days: tires, springs and drivers change.
Assumption."""

HOTTEST_GAS_C = 150.0
"""No tire gas gets hotter than this, °C: such a reading is a slip of the pen. Assumption."""

FAR_OFF_SD = 3.2
"""A reading further off than so many standard deviations is flagged, –. Common practice."""
