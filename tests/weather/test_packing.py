"""Packing what was gathered, so that a look can be planned again exactly."""

from dataclasses import fields, replace
from datetime import UTC, datetime
from io import BytesIO

import numpy as np
import pandas as pd
import pytest
from builders import weather
from hypothesis import given
from hypothesis import strategies as st

from trackday.weather.observed import Difference
from trackday.weather.packing import PackingError, pack, unpack
from trackday.weather.series import MEMBER_FIELDS
from trackday.weather.sources import Alert, Gathered, Observation, SourceReport

WHEN = datetime(2027, 6, 12, 11, 5, 7, 123456, tzinfo=UTC)
ALERT = Alert("wind", "Wind Advisory", "Gusts", "Moderate", "Likely", WHEN, None, "Secure things")
SEEN = Observation("KXYZ", WHEN, 21.3, np.nan, 3.1, np.nan, 98123.4, 16093.0, np.nan, None, "fair")
REPORT = SourceReport("Made-up", "rain odds", "stale", "said — so", WHEN, 61.5, "by nobody")


def same(one, other):
    """Compare two weathers bit by bit."""
    assert (one.times == other.times).all()
    assert one.times.dtype == other.times.dtype
    for field in fields(one):
        if field.name != "times":
            mine, yours = getattr(one, field.name), getattr(other, field.name)
            if isinstance(mine, np.ndarray):
                assert mine.tobytes() == yours.tobytes(), field.name
            else:
                assert mine == yours, field.name


def full():
    """Everything that can be gathered, with odd numbers and holes."""
    rng = np.random.default_rng(7)
    sky = weather(members=3, air_temp_c=rng.normal(size=(3, 12)), rain_mm=np.nan)
    sky = replace(sky, times=sky.times.as_unit("s"))
    return Gathered(
        weather=sky,
        sources=(REPORT, replace(REPORT, fetched_at=None, age_minutes=None, attribution=None)),
        basis="ensemble",
        alerts=(ALERT,),
        observation=SEEN,
        climatology=sky,
        usual=None,
        difference=Difference(air_temp_c=1.25, note="x"),
    )


def test_what_is_packed_comes_back_bit_by_bit():
    """Protects replays: the same numbers, not numbers that are close."""
    gathered = full()
    again = unpack(pack(gathered))
    same(gathered.weather, again.weather)
    same(gathered.climatology, again.climatology)
    assert again.usual is None
    assert again.sources == gathered.sources
    assert again.alerts == gathered.alerts
    assert repr(again.observation) == repr(gathered.observation)
    assert repr(again.difference) == repr(gathered.difference)
    assert again.basis == gathered.basis


def test_packing_is_small():
    """Protects the logbook's size: what members share is not kept twice."""
    sky = weather(members=82, hours=168)
    gathered = replace(full(), weather=replace(sky, times=sky.times.as_unit("s")))
    assert len(pack(gathered)) < 60_000


def test_a_field_that_was_not_known_then_is_unknown():
    """Protects old looks: a field of a later version is NaN, never zero."""
    gathered = full()
    packed = pack(gathered)
    with np.load(BytesIO(packed)) as archive:
        arrays = {k: archive[k] for k in archive.files if k != f"weather.{MEMBER_FIELDS[-1]}"}
    buffer = BytesIO()
    np.savez_compressed(buffer, **arrays)
    again = unpack(buffer.getvalue())
    assert np.isnan(getattr(again.weather, MEMBER_FIELDS[-1])).all()


@given(st.binary(max_size=300))
def test_other_bytes_are_refused(junk):
    """Protects from damaged logbooks: one error that callers expect, whatever the bytes."""
    with pytest.raises(PackingError):
        unpack(junk)


def test_a_cut_file_is_refused():
    """Protects from a half-written look."""
    packed = pack(full())
    for length in (0, 10, len(packed) // 2, len(packed) - 5):
        with pytest.raises(PackingError):
            unpack(packed[:length])


def test_times_keep_their_unit():
    """Protects the time axis, whose unit pandas versions choose differently."""
    assert isinstance(unpack(pack(full())).weather.times, pd.DatetimeIndex)
