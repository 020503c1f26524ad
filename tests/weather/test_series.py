"""Which steps of a weather a time touches, and whether they cover it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, weather

from trackday.weather.series import MEMBER_FIELDS, PROBABILITY_FIELDS

HOUR = timedelta(hours=1)
SKY = weather(members=1)
"""Stamps from six hours before noon (place 0) to five after it (place 11)."""


def without(place: int):
    """The same weather with one step left out."""
    kept = np.arange(len(SKY.times)) != place
    cut = {name: getattr(SKY, name)[..., kept] for name in (*MEMBER_FIELDS, *PROBABILITY_FIELDS)}
    return replace(SKY, times=SKY.times[kept], **cut)


@pytest.mark.parametrize(
    ("start", "end", "places"),
    [
        (timedelta(), HOUR, [7]),  # the hour that ends at one, and neither neighbor
        (timedelta(minutes=59), timedelta(minutes=61), [7, 8]),
        (timedelta(minutes=10), timedelta(minutes=20), [7]),
        (-7 * HOUR, -6 * HOUR, [0]),  # the first stamp's hour lies before it
    ],
)
def test_steps_are_the_intervals_before_their_stamps(start, end, places):
    """Protects the stamp's meaning: what begins at a stamp is not in the step that ends there."""
    assert SKY.touching(NOON + start, NOON + end).tolist() == places
    assert SKY.covering(NOON + start, NOON + end).tolist() == places


@pytest.mark.parametrize(
    ("start", "end"),
    [(-8 * HOUR, -6 * HOUR), (4 * HOUR, 6 * HOUR), (50 * HOUR, 51 * HOUR)],
)
def test_a_time_past_either_end_is_not_covered(start, end):
    """Protects windows that a forecast does not reach from being read off its last hours."""
    assert SKY.covering(NOON + start, NOON + end) is None


def test_a_hole_between_is_not_covered():
    """Protects from a maximum or a sum over hours of which one is missing."""
    start, end = NOON - HOUR, NOON + 2 * HOUR
    assert without(7).touching(start, end).tolist() == [6, 7]
    assert without(7).covering(start, end) is None
    assert without(1).covering(start, end) is not None
