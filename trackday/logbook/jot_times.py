"""When and how long, in a jotted line: "Sat Q1 11:52", "12 laps", "after 4 min", "camber -2.1"."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from trackday.logbook.jot_scan import Scan
from trackday.logbook.jot_tokens import number_text
from trackday.logbook.jot_when import (
    WEEKDAYS,
    day_named,
    days_written,
    looks_like_code,
    nearest_name,
    read_clock_time,
    reads_as_word,
    session_words,
    sessions_called,
    weekday_number,
)
from trackday.weekend.localtime import read_date

_UNITS_MINUTES = {
    "min": 1.0, "mins": 1.0, "minute": 1.0, "minutes": 1.0,
    "h": 60.0, "hr": 60.0, "hrs": 60.0, "hour": 60.0, "hours": 60.0,
}  # fmt: skip
_DROVE = frozenset({"ran", "run", "did", "drove"})
_STOP = frozenset({"stop", "stopping", "stopped", "parking"})
_ALIGNMENT = frozenset({"camber", "toe", "caster", "castor"})
_OF_ALIGNMENT = _ALIGNMENT | frozenset({
    "and", "deg", "degrees", "each", "f", "fl", "fr", "front", "height", "in", "inch", "left",
    "lf", "lr", "min", "mm", "neg", "negative", "out", "positive", "r", "rear", "rf", "ride",
    "right", "rl", "rr", "side", "total",
})  # fmt: skip
_MEASURED = frozenset({"hot", "cold", "track", "air", "laps"})
_MOST_WORDS = 6
"""Longest name of a session that is looked for without its key, in words (assumption)."""

# These begin the names of sessions, but also say what the day is like.
_NOT_SESSIONS = frozenset({"warm", "free", "open", "fast", "short", "long"})
ALONE = "Then put a comma behind it"
"""How to mend a word that may begin a clause or a note."""

# Words that a clause may begin with, so that a state or session before them stands alone.
_KNOWN = frozenset({
    "after", "air", "ambient", "and", "asphalt", "at", "bled", "bone", "camber", "caster",
    "castor", "cold", "colds", "completely", "cut", "damp", "dries", "drying",
    "drizzle", "drizzling",
    "drove", "dry", "drys", "flooded", "fully", "grooved", "heavy", "hot", "hots", "inter",
    "intermediates", "inters", "laps", "light", "moist", "no", "not", "on", "pressure",
    "pressures", "puddles", "rain", "raining", "rains", "ran", "right", "run", "should",
    "should've", "shower", "showers", "slick", "slicks", "soaked", "standing", "still",
    "stopped", "surface", "temp", "today", "toe", "track", "wet", "wets", "with", "yesterday",
})  # fmt: skip


@dataclass(frozen=True)
class Dates:
    """The dates that what was written may mean."""

    written: str
    days: tuple[date, ...]


def is_plain(scan: Scan, ahead: int) -> bool:
    """Tell whether a token is neither a break nor the beginning of a clause: free text."""
    token = scan.at(ahead)
    if token is None or token.kind in {"break", "clock", "date", "moment", "mark"}:
        return False
    if token.kind == "number":
        behind = scan.word(ahead + 1)
        return behind not in {"laps", "c", "f", "deg", "track", "air", *_UNITS_MINUTES}
    return (
        token.word not in _KNOWN
        and weekday_number(token.word) is None
        and not _is_session(token.text, scan)
    )


def _is_session(text: str, scan: Scan) -> bool:
    return looks_like_code(text.casefold()) or bool(sessions_called(text, scan.context))


def read_day(scan: Scan) -> bool:
    """Read "Sat", "Saturday", "2027-06-12", "today" or "6/12"."""
    token = scan.at(0)
    if scan.loose or token is None:
        return False
    if token.kind == "date":
        try:
            day = read_date(token.text)
        except ValueError:
            return False
        scan.claim("day", Dates(token.text, (day,)), 1)
        return scan.understood(1)
    if token.kind == "number":
        return _read_slashed(scan)
    named = day_named(token.word, scan.context)
    if named is None:
        return False
    if reads_as_word(token.text) and is_plain(scan, 1):
        if any(claim.field in {"day", "session"} for claim in scan.claims):
            return False
        scan.ask(f'Is "{token.text}" the day? Then write "{token.text.title()},"', 1)
        scan.leave()
        return True
    scan.claim("day", Dates(token.text, (named,)), 1)
    return scan.understood(1)


def _read_slashed(scan: Scan) -> bool:
    """Read "6/12" or "6/12/27" where nothing but clauses are behind it."""
    numbers: list[str] = []
    ahead = 0
    while len(numbers) < 3 and scan.is_number(ahead) and scan.word(ahead).isdecimal():
        numbers.append(scan.word(ahead))
        ahead += 1
        if scan.word(ahead) != "/":
            break
        ahead += 1
    if len(numbers) < 2 or max(map(len, numbers)) > 4:
        return False
    year = int(numbers[2]) if len(numbers) == 3 else None
    days = days_written(int(numbers[0]), int(numbers[1]), year, scan.context)
    if not days:
        return False
    written = scan.written(ahead)
    if is_plain(scan, ahead):
        # "1/2 turn of wing" is no day, but a line may begin with one.
        if scan.pos > 0:
            return False
        scan.ask(f'Is "{written}" the day? {ALONE}', ahead)
        scan.leave(ahead)
        return True
    scan.claim("day", Dates(written, tuple(days)), ahead)
    return scan.understood(ahead)


def read_session(scan: Scan) -> bool:
    """Read a session's name or a way to say it: "Q1", "qual", "race 2"."""
    if scan.loose:
        return False
    for count in range(_MOST_WORDS, 0, -1):
        if any(scan.is_over(n) for n in range(count)) or not _may_be_session(scan, count):
            continue
        # A second session named before other words is spoken of, not meant: "better than Q1".
        is_known = any(claim.field == "session" for claim in scan.claims)
        if is_known and is_plain(scan, count):
            return False
        scan.claim("session", scan.written(count), count)
        return scan.understood(count)
    return _ask_for_slip(scan)


def _may_be_session(scan: Scan, count: int) -> bool:
    """Tell whether the next tokens name a session, or could name one where none are known."""
    last, phrase = scan.at(count - 1), scan.written(count)
    if last is None or last.kind not in {"word", "number"}:
        return False
    if last.kind == "number" and (count == 1 or not is_plain_number(scan, count - 1)):
        return False
    word = phrase.casefold()
    if count == 1 and (word in _KNOWN | _NOT_SESSIONS or weekday_number(word) is not None):
        return False
    if scan.context.sessions:
        # Behind a session, "P4" is where the car finished.
        is_known = any(claim.field == "session" for claim in scan.claims)
        is_code = count == 1 and looks_like_code(word) and not (is_known and word[0] == "p")
        return is_code or bool(sessions_called(phrase, scan.context))
    is_kind = word in {"practice", "qualifying", "race"} and not is_plain(scan, count)
    return count == 1 and (looks_like_code(word) or is_kind)


def is_plain_number(scan: Scan, ahead: int) -> bool:
    """Tell whether a number has nothing behind it that says what it counts."""
    return scan.word(ahead + 1) not in {"laps", "lap", *_UNITS_MINUTES}


def _ask_for_slip(scan: Scan) -> bool:
    """Ask where the first words of a line look like a misspelled session or day."""
    token = scan.at(0)
    is_named = any(claim.field == "session" for claim in scan.claims)
    if token is None or token.kind != "word" or len(token.text) < 5 or token.word in _KNOWN:
        return False
    days = [] if any(claim.field == "day" for claim in scan.claims) else list(WEEKDAYS)
    sessions = [] if is_named else session_words(scan.context)
    meant = nearest_name(token.text, [name for name in [*days, *sessions] if len(name) > 4])
    if meant is None:
        return False
    scan.ask(f'"{token.text}": did you mean {meant.title() if meant in days else meant}?', 1)
    scan.leave()
    scan.loose = False
    return True


def read_clock(scan: Scan) -> bool:
    """Read "11:52", "at 1:40 pm", "at 1152" or a whole moment."""
    if scan.loose:
        return False
    ahead = 1 if scan.word() in {"at", "@", "time"} else 0
    ahead += scan.word(ahead) == ":"
    token = scan.at(ahead)
    if token is None:
        return False
    is_digits = ahead > 0 and token.kind == "number" and len(token.text) in {3, 4}
    if token.kind == "moment":
        scan.claim("moment", token.text, ahead + 1)
        return scan.understood(ahead + 1)
    clock = read_clock_time(token.text) if token.kind == "clock" or is_digits else None
    if clock is None:
        return False
    if is_plain(scan, ahead + 1) and not scan.begun:
        scan.ask(f'Is {token.text} when this was measured? Then write "at {token.text},"', 1)
        scan.leave(ahead + 1)
        return True
    scan.claim("clock", clock, ahead + 1)
    return scan.understood(ahead + 1)


def read_run(scan: Scan) -> bool:
    """Read "laps 12", "12 laps", "ran 18 min" and "after 4 min"."""
    return _laps_first(scan) or _read_drove(scan) or _read_after(scan) or _read_amount(scan)


def _laps_first(scan: Scan) -> bool:
    ahead = scan.past_links(1)
    if scan.word() != "laps" or not scan.is_number(ahead):
        return False
    scan.claim("laps", scan.word(ahead), ahead + 1)
    return scan.understood(ahead + 1)


def _read_drove(scan: Scan) -> bool:
    """Read "ran 12 laps in 18 min"."""
    if scan.loose or scan.word() not in _DROVE:
        return False
    found = [_amount(scan, scan.past_links(1))]
    if found[0] is None:
        return False
    first, end = found[0], scan.past_links(1) + 2
    scan.claim(*first, end)
    second = _amount(scan, end + 1) if scan.word(end) in {"in", "and"} else None
    if second is not None:
        end += 3
        scan.claim(*second, end)
    return scan.understood(end)


def _amount(scan: Scan, ahead: int) -> tuple[str, object] | None:
    """Read a number of laps, or of minutes driven."""
    if not scan.is_number(ahead):
        return None
    unit = scan.word(ahead + 1)
    if unit in {"laps", "lap"}:
        return "laps", scan.word(ahead)
    return ("minutes_run", _minutes(scan, ahead)) if unit in _UNITS_MINUTES else None


def _minutes(scan: Scan, ahead: int) -> float | None:
    number = number_text(scan.word(ahead))
    return None if number is None else float(number) * _UNITS_MINUTES[scan.word(ahead + 1)]


def _read_after(scan: Scan) -> bool:
    """Read the minutes since the stop: "after 4 min", "4 min after stopping"."""
    if scan.loose:
        return False
    begins = scan.word() in {"after", "at", "@"}
    ahead = 1 if begins else 0
    if not scan.is_number(ahead) or scan.word(ahead + 1) not in _UNITS_MINUTES:
        return False
    end = ahead + 2
    if not begins:
        if scan.word(end) != "after":
            return False
        end += 1
        end += scan.word(end) == "the"
        end += scan.word(end) in _STOP
    if is_plain(scan, end) and not scan.begun:
        scan.ask(f'Is "{scan.written(end)}" the time since the stop? {ALONE}', end)
        scan.leave(end)
        return True
    scan.claim("minutes_since_stop", _minutes(scan, ahead), end)
    return scan.understood(end)


def _read_amount(scan: Scan) -> bool:
    """Read "12 laps" and "18 min run"; ask what "18 min" is."""
    if scan.loose:
        return False
    found = _amount(scan, 0)
    if found is None:
        return False
    if found[0] == "minutes_run" and scan.word(2) in {"run", "running", "driven"}:
        scan.claim(*found, 3)
        return scan.understood(3)
    if found[0] == "minutes_run" and scan.begun and scan.claims[-1].field == "laps":
        scan.claim(*found, 2)
        return scan.understood(2)
    if found[0] == "laps" and (scan.begun or not is_plain(scan, 2)):
        scan.claim(*found, 2)
        return scan.understood(2)
    written = scan.written(2)
    meant = f'"ran {written}"'
    if found[0] == "minutes_run":
        meant += f' or "after {written}" (since the stop)'
    scan.ask(f'"{written}": write {meant}', 2)
    scan.leave(2)
    return True


def read_alignment(scan: Scan) -> bool:
    """Read "camber -2.1 toe 1mm" up to the first word that is not of the alignment."""
    if scan.loose or not _begins_alignment(scan, 0):
        return False
    end = ahead = 0
    while _is_of_alignment(scan, ahead):
        ahead += 1
        if scan.word(ahead - 1) != ",":
            end = ahead
    if not any(scan.is_number(n) for n in range(end)):
        return False
    scan.claim("alignment", scan.written(end), end)
    return scan.understood(end)


def _begins_alignment(scan: Scan, ahead: int) -> bool:
    return scan.word(ahead) in _ALIGNMENT or (
        scan.word(ahead) == "ride" and scan.word(ahead + 1) == "height"
    )


def _is_of_alignment(scan: Scan, ahead: int) -> bool:
    token = scan.at(ahead)
    if token is None:
        return False
    if token.kind == "break":
        return token.text == "," and _begins_alignment(scan, ahead + 1)
    if token.kind == "number":
        return scan.word(ahead + 1) not in {"laps", "track", "air", "psi", "kpa", "bar"}
    return token.word in _OF_ALIGNMENT or (token.kind == "mark" and token.text in "/+-−:='\"°")


def read_bleeding(scan: Scan) -> bool:
    """Read "bled 0.5 psi rear" up to the next break or reading: a change of the car."""
    if scan.loose or scan.word() != "bled":
        return False
    end = 1
    while not scan.is_over(end) and not (
        scan.word(end) in _MEASURED and scan.is_number(scan.past_links(end + 1))
    ):
        end += 1
    scan.claim("changes", scan.written(end), end)
    scan.claim("bled", True, end)
    return scan.understood(end)
