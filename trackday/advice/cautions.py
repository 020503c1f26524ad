"""The usual cautions, shown with every plan where they matter."""

from __future__ import annotations

from collections.abc import Iterable

from trackday.advice.assumptions import COLD_TRACK_C
from trackday.advice.tires import Choice
from trackday.wording import Say

OFFICIALS = Say(
    "Advice from forecasts, not orders: event officials, class rules, local codes and makers' "
    "limits come first."
)
LIGHTNING = Say(
    "Thunder heard, whatever the odds: leave the canopy for a car or building and stay 30 minutes "
    "after the last thunder."
)
CANOPY = Say(
    "A canopy can lift without warning: never leave it untended in wind, and keep under it clear "
    "when gusts rise."
)
WET_TIRES = Say("On a wet track brake early for the first laps; puddles float any tire.")
COLD_TRACK = Say("Cold track: tires need gentle laps before they grip.")


def cautions(
    choices: Iterable[Choice], *, has_canopy: bool, coldest_track_c: Iterable[float]
) -> tuple[Say, ...]:
    """Pick the cautions that this weekend needs; an unknown track counts as wet and as cold."""
    said = [OFFICIALS, LIGHTNING]
    if has_canopy:
        said.append(CANOPY)
    if any(choice != "dry" for choice in choices):
        said.append(WET_TIRES)
    if any(not temp_c >= COLD_TRACK_C for temp_c in coldest_track_c):
        said.append(COLD_TRACK)
    return tuple(said)
