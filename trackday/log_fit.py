"""What the whole logbook teaches for one venue: every fit, and on what it rests."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from trackday.advice.hot_gas import learn_rise
from trackday.advice.learned import explain_bias, explain_calls, explain_rise, explain_wet_line
from trackday.learning.from_entries import tire_calls
from trackday.learning.rise import RiseFit
from trackday.learning.tire_calls import TireCalls, count_calls
from trackday.learning.venue_bias import VenueBias, fit_venue_bias
from trackday.learning.wet_line import Limits, WetLine, fit_wet_line
from trackday.log_expected import Outcome, keep_expected
from trackday.logbook.store import Book
from trackday.recall import BookKnowledge
from trackday.verification.calibration import Calibration
from trackday.weekend.garage import Garage
from trackday.weekend.venue import Venue
from trackday.wording import Say


@dataclass(frozen=True)
class LogFit:
    """Everything learned for one venue as of a moment (UTC).

    `compared` counts what became of the lines here with a track temperature or state.
    """

    venue: Venue
    as_of: datetime
    rise: RiseFit
    bias: VenueBias
    wet_line: WetLine
    calls: TireCalls
    calibration: Calibration | None
    compared: Counter[Outcome]


def fit_log(
    book: Book,
    garage: Garage,
    venue: Venue,
    *,
    elevations_m: Mapping[str, float],
    as_of: datetime,
) -> LogFit:
    """Set the venue's readings beside the model, and learn from all that was written.

    `elevations_m` tells how high other venues lie, by name. Lines from after `as_of` count for
    nothing. TrackdayError where the book fails.
    """
    written = [line for line in book.entries() if line.written_at <= as_of]
    here = [line for line in written if line.entry.venue.casefold() == venue.name.casefold()]
    compared = keep_expected(book, here, venue=venue, when=as_of)
    book_knows = BookKnowledge(book, elevations_m, with_today=True)
    known = book_knows.knowledge(garage, venue, as_of=as_of)
    day, film = as_of.astimezone(venue.zone).date(), garage.film
    limits = Limits(film.damp_mm, film.wet_mm, film.standing_mm)
    return LogFit(
        venue=venue,
        as_of=as_of,
        rise=known.rise or learn_rise((), settings=garage.pressure, venue=venue, as_of=day),
        bias=known.bias or fit_venue_bias((), venue=venue.name),
        wet_line=known.wet_line or fit_wet_line((), limits=limits, venue=venue.name),
        calls=count_calls(tire_calls(line.entry for line in written)),
        calibration=known.calibration,
        compared=compared,
    )


def explain_fit(fit: LogFit) -> tuple[tuple[str, tuple[Say, ...]], ...]:
    """Say what was learned, a heading and its sentences each."""
    return (
        ("Pressures", explain_rise(fit.rise)),
        ("Track temperature here", explain_bias(fit.bias)),
        ("Damp and wet here", explain_wet_line(fit.wet_line)),
        ("Readings beside the model", explain_compared(fit.compared)),
        ("Tire calls", explain_calls(fit.calls)),
        ("Chance of rain here", explain_calibration(fit.calibration)),
    )


_REASONS: Mapping[Outcome, str] = {
    "no look": "left out: no plan from before is kept",
    "no time": "left out, no time: trackday log edit NUMBER --at HH:MM",
    "unreadable": "left out: the plan from before is of another version",
    "unknown weather": "left out: the plan from before does not know the weather there",
}


def explain_compared(compared: Counter[Outcome]) -> tuple[Say, ...]:
    """Say how many of the track's readings could be set beside the model, and why others not."""
    total = sum(compared.values())
    if not total:
        return (
            Say("None yet. Plan before you go out, then write the track temperature and state."),
        )
    return (
        Say(f"{compared['compared']} of {total} readings of the track stand beside the model."),
        *(Say(f"{compared[key]} {why}.") for key, why in _REASONS.items() if compared[key]),
    )


def explain_calibration(calibration: Calibration | None) -> tuple[Say, ...]:
    """Say on how many pairs a correction of rain chances rests, and what it gains."""
    if calibration is None:
        return (Say("As forecast. trackday score VENUE --fit looks for something better."),)
    first, last = calibration.first_day, calibration.last_day
    return (
        Say(
            f"Corrected by {calibration.count} forecasts and what came, "
            f"{first:%B %Y} to {last:%B %Y}, {calibration.events} of them wet."
        ),
        Say(
            f"Brier score {calibration.brier:.3f}, {calibration.raw_brier:.3f} uncorrected "
            f"(± {calibration.gain_error:.3f}), each stretch foretold from the others."
        ),
    )
