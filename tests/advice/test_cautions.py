"""The usual cautions, where they matter."""

import math

from trackday.advice.cautions import (
    CANOPY,
    COLD_TRACK,
    LIGHTNING,
    OFFICIALS,
    WET_TIRES,
    cautions,
)


def said(*choices, has_canopy=False, coldest=(20.0,)):
    return cautions(choices or ("dry",), has_canopy=has_canopy, coldest_track_c=coldest)


def test_officials_and_lightning_are_always_named():
    """Protects the two cautions that no weather makes needless."""
    assert said() == (OFFICIALS, LIGHTNING)


def test_each_danger_brings_its_own():
    """Protects the rest: canopy, anything but dry tires, a cold track."""
    assert CANOPY in said(has_canopy=True)
    assert WET_TIRES in said("dry", "wet")
    assert COLD_TRACK in said(coldest=(20.0, 5.0))


def test_unknown_counts_as_wet_and_cold():
    """Protects the careful side where nothing is known."""
    assert WET_TIRES in said("undecided")
    assert COLD_TRACK in said(coldest=(math.nan,))
