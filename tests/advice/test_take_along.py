"""The kinds of tire that a weekend asks for, in one sentence."""

from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, garage, outlook, session, venue

from trackday.advice.take_along import take_along
from trackday.advice.tires import advise_tire
from trackday.units import US

CUT = [
    {"name": "Dry A", "kind": "dry"},
    {"name": "Cut", "kind": "dry", "grooved": True},
    {"name": "Wets", "kind": "wet"},
]


def sentence(*films, rig=None, ahead=timedelta(days=5)):
    calls = []
    for number, film in enumerate(films):
        here = outlook(film_mm=film, when=session(name=f"S{number}"))
        tire = advise_tire(
            here,
            weights=np.full(4, 0.25),
            garage=rig or garage(),
            as_of=NOON - ahead,
        )
        calls.append((here.session.label, tire))
    return take_along(calls).render(US, venue().zone)


@pytest.mark.parametrize(
    ("films", "words"),
    [
        ([0.0], "Take dry tires; nothing asks for wet ones."),
        ([0.0, 0.5], "Take dry tires and wet tires: chance that S1 needs"),
        ([0.0, 0.08], "Take dry tires and the groover with a set to cut: chance that S1"),
        ([np.nan], "Take dry tires and wet tires: the weather is not known"),
    ],
)
def test_each_kind_is_named_when_a_session_asks_for_it(films, words):
    """Protects the week before: what any session may need goes along, unknown asks for all."""
    assert sentence(*films).startswith(words)


def test_far_ahead_every_kind_goes_along():
    """Protects the month before: too early to tell is not called missing weather."""
    got = sentence(0.0, 0.5, ahead=timedelta(days=20))
    assert got == "Take dry tires and wet tires: it is too early to tell wet from dry."


def test_a_set_that_is_cut_needs_no_groover():
    """Protects the stock: a set cut in May is taken as it is."""
    got = sentence(0.0, 0.08, rig=garage(tires=CUT))
    assert "the cut set" in got
    assert "groover" not in got
