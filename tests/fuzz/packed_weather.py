"""Fuzz the reader of stored weather: the archive's bytes, and the text and arrays inside it."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime
from typing import Any

import numpy as np
from harness import any_reply, broken_bytes, demand_plain, fuzz

# isort: split
from builders import weather

from trackday.weather.packing import PackingError, pack, unpack
from trackday.weather.sources import Alert, Gathered, Observation, SourceReport

WHEN = datetime(2027, 6, 12, 11, 5, tzinfo=UTC)
GATHERED = Gathered(
    weather=weather(members=2, hours=4),
    sources=(SourceReport("Made-up", "rain odds", "stale", "said so", WHEN, 61.5, "by nobody"),),
    basis="ensemble",
    alerts=(Alert("wind", "Wind Advisory", "Gusts", "Moderate", "Likely", WHEN, None, "Secure"),),
    observation=Observation("KXYZ", WHEN, 21.3, 9.0, 3.1, 5.0, 98e3, 16e3, 0.0, None, "fair"),
    climatology=weather(members=1, hours=4),
    usual=None,
)
PACKED = pack(GATHERED)
with np.load(io.BytesIO(PACKED)) as opened:
    ARRAYS = {name: opened[name] for name in opened.files}
TEXT = json.loads(ARRAYS["text"].tobytes())


def read(packed: bytes) -> None:
    try:
        unpack(packed)
    except PackingError as error:
        demand_plain(str(error))


def inside(data: Any) -> None:
    text = np.frombuffer(json.dumps(data).encode(), dtype=np.uint8)
    buffer = io.BytesIO()
    np.savez(buffer, **(ARRAYS | {"text": text}))
    read(buffer.getvalue())


def stored() -> bytes:
    """The same archive without compression, so that spoilt bytes reach the arrays' own heads."""
    buffer = io.BytesIO()
    np.savez(buffer, **ARRAYS)
    return buffer.getvalue()


if __name__ == "__main__":
    fuzz(
        {
            "archive": (broken_bytes(PACKED), read),
            "stored": (broken_bytes(stored()), read),
            "text": (any_reply(TEXT), inside),
        }
    )
