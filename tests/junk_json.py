"""Replies gone wrong for property tests: any JSON, and good replies with one place spoilt."""

from __future__ import annotations

import copy
from typing import Any

from hypothesis import strategies as st

SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=12),
    st.sampled_from(
        ["NaN", "1", "P1D", "PT0H", "P-1D", "P", "2027-06-12", "2027-06-12T05:00:00+00:00/PT1H",
         "9999-12-31T23:59:59+00:00/P9D", "0001-01-01T00:00:00+00:00/PT1H", "wmoUnit:degC", "mm",
         10**400, -(10**400), 1e308]
    ),
)  # fmt: skip

ANY_JSON = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)


@st.composite
def spoilt(draw: st.DrawFn, reply: Any) -> Any:
    """Take a good reply and put anything in one place of it, or leave that place out."""
    data = {"": copy.deepcopy(reply)}
    place: Any = data
    key: Any = ""
    while isinstance(place[key], dict | list) and place[key] and draw(st.integers(0, 5)):
        place = place[key]
        key = draw(st.sampled_from(sorted(place) if isinstance(place, dict) else range(len(place))))
    if isinstance(place, dict) and place is not data and draw(st.booleans()):
        del place[key]
    else:
        place[key] = draw(ANY_JSON)
    return data[""]
