"""Sentences with numbers in them."""

import math
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.units import METRIC, US
from trackday.wording import Quantity, Say, percent

ZONE = ZoneInfo("America/Chicago")


def test_one_sentence_in_both_units_and_venue_time():
    """Protects the single place where words get their numbers."""
    say = Say(
        "{track} track at {when}",
        {
            "track": Quantity(40.0, "temperature"),
            "when": datetime(2027, 6, 12, 17, 30, tzinfo=UTC),
        },
    )
    assert say.render(US, ZONE) == "104 °F track at 12:30"
    assert say.render(METRIC, ZONE) == "40 °C track at 12:30"


def test_braces_in_a_users_words_are_just_text():
    """Protects names such as "Heat {1}" from being read as gaps."""
    assert Say("{name} is wet", {"name": "Heat {1}"}).render(US, ZONE) == "Heat {1} is wet"


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "<5 %"), (0.049, "<5 %"), (0.05, "5 %"), (0.42, "40 %"), (0.951, ">95 %"),
     (1.0, ">95 %"), (math.nan, "unknown")],
)  # fmt: skip
def test_chances_are_shown_as_known(share, text):
    """Protects against false precision, and against "0 %" and "100 %"."""
    assert percent(share) == text


@given(st.floats(0, 1), st.floats(0, 1))
def test_a_higher_chance_never_reads_lower(one, other):
    """Protects the order of shown chances."""

    def rank(share):
        text = percent(share)
        ends = {"<5 %": 0, ">95 %": 100}
        return ends[text] if text in ends else int(text.split()[0])

    low, high = sorted((one, other))
    assert rank(low) <= rank(high)
