"""Fuzz the reader of METAR: the reply, and the report's own text."""

from __future__ import annotations

from typing import Any

from harness import any_reply, broken_text, demand_plain, fuzz

from trackday.weather.failures import SourceError
from trackday.weather.metar import parse_metar
from trackday.weather.metar_text import falling, hourly_rain_mm

RAW = (
    "KTMH 121153Z AUTO 18008G18KT 3/4SM +TSRA VCSH BR BKN025 OVC100 M02/M05 A2992 "
    "RMK AO2 SLP132 P0012 60023 T10171028 $"
)
PIECES = (" ", "/", "M", "P", "P0000", "P////", "VC", "-", "+", "RA", "SN", "TS", "FZ", "RMK",
          "SPECI", "METAR", "COR", "\n", "\x1b", "９", "²", "٣", "P00٣2", "=", "$",
          "0" * 200)  # fmt: skip
REPLY = [
    {
        "icaoId": "KTMH", "obsTime": 1_812_800_000, "temp": 20.0, "dewp": 10.0, "wdir": 180,
        "wspd": 8, "wgst": 20, "visib": "10+", "altim": 1013.25, "elev": 300,
        "metarType": "METAR", "wxString": "-RA", "rawOb": RAW,
    },
    {"icaoId": "KTMH", "obsTime": 1_812_803_600, "visib": 3, "rawOb": RAW},
]  # fmt: skip


def reply(data: Any) -> None:
    try:
        seen = parse_metar(data, station="KTMH")
    except SourceError as error:
        demand_plain(error.reason)
        return
    assert seen is None or seen.text.isprintable()


def text(raw: str) -> None:
    rain_mm = hourly_rain_mm(raw)
    assert rain_mm != rain_mm or 0.0 <= rain_mm < 2600.0  # NaN is unknown
    assert falling(raw, raw) in (True, False, None)


if __name__ == "__main__":
    fuzz(
        {
            "reply": (any_reply(REPLY), reply),
            "text": (broken_text(RAW, PIECES), text),
        }
    )
