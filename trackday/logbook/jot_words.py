"""What the sky, the track and the tires were, in a jotted line: "dry", "no rain", "on wets"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trackday.logbook.entry import RanOn, TrackSeen
from trackday.logbook.jot_scan import Scan
from trackday.logbook.jot_times import ALONE, is_plain
from trackday.logbook.jot_when import JotContext, folded, nearest_name

_STATES: dict[str, TrackSeen] = {
    "dry": "dry",
    "damp": "damp",
    "moist": "damp",
    "wet": "wet",
    "soaked": "wet",
    "standing": "standing",
    "puddles": "standing",
    "flooded": "standing",
}
_FULLY = frozenset({"fully", "completely", "bone", "all", "still", "now", "totally"})
_PLACES = frozenset({"track", "surface", "conditions"})
# "A dry line" and "damp patches" say that the rest of the track is otherwise.
_PART_OF_TRACK = frozenset({
    "curb", "curbs", "grass", "kerb", "kerbs", "line", "lines", "patch", "patches", "side",
    "sides", "spot", "spots", "start",
})  # fmt: skip

_FALLING = frozenset({"raining", "drizzling"})
_RAIN = frozenset({"rain", "drizzle", "shower", "showers"})
_HOW = frozenset({"light", "heavy", "steady", "some", "still"})
_FROM_WHEN = frozenset({"at", "after"})
_OVER = frozenset({"stopped", "over"})

_KINDS: dict[str, RanOn] = {
    "slicks": "dry",
    "dries": "dry",
    "drys": "dry",
    "inter": "grooved",
    "inters": "grooved",
    "intermediates": "grooved",
    "grooved": "grooved",
    "wets": "wet",
    "rains": "wet",
}
_BEFORE_NOUN: dict[str, RanOn] = {
    "dry": "dry",
    "slick": "dry",
    "slicks": "dry",
    "cut": "grooved",
    "hand-cut": "grooved",
    "grooved": "grooved",
    "intermediate": "grooved",
    "wet": "wet",
    "rain": "wet",
}
_NOUNS = frozenset({"tire", "tires", "tyre", "tyres", "set", "rubber", "ones"})
_ARTICLES = frozenset({"the", "my", "our", "new", "old", "used", "fresh", "scrubbed"})
# "Ran on wets" and "went out on wets" are of this car; "everybody on wets" is not.
_OF_THIS_CAR = frozenset({
    "again", "back", "car", "go", "out", "ran", "run", "started", "stayed", "still", "was",
    "went", "were",
})  # fmt: skip
_WENT = frozenset({
    "been", "fitted", "for", "gone", "on", "out", "put", "run", "started", "stayed", "switched",
    "taken", "the", "to", "used", "with",
})  # fmt: skip
_RIGHT = frozenset({"right", "better", "correct", "best"})
_CALL = frozenset({"tire", "tires", "tyre", "tyres", "call", "choice", "ones", "set"})
_MOST_WORDS = 6
"""Longest name of a set that is looked for without its key, in words (assumption)."""


@dataclass(frozen=True)
class Tires:
    """Tires as written: a set of the garage, or a kind ("wets"), and how many tokens they took."""

    kind: RanOn | None
    name: str
    count: int


def read_state(scan: Scan) -> bool:
    """Read "dry", "track was damp", "wet track" or "standing water"."""
    if scan.loose:
        return False
    ahead = 1 if scan.word() in _FULLY else 0
    has_place = scan.word(ahead) in _PLACES
    if has_place:
        ahead = scan.past_links(ahead + 1)
        ahead += scan.word(ahead) in _FULLY
    state = _STATES.get(scan.word(ahead))
    if state is None:
        return False
    end = ahead + 1
    is_place = scan.word(end) in _PLACES and not has_place and not scan.is_number(end + 1)
    if is_place or (state == "standing" and scan.word(end) == "water"):
        end += 1
    if scan.word(end) in _PART_OF_TRACK:
        return False
    if is_plain(scan, end) and not scan.begun:
        scan.ask(f'Is "{scan.written(ahead + 1)}" the state of the track? {ALONE}', end)
        scan.leave(end)
        return True
    scan.claim("track_state", state, end)
    return scan.understood(end)


def read_rain(scan: Scan) -> bool:
    """Read "raining", "light rain", "no rain" or "rain stopped"."""
    if scan.loose:
        return False
    first, second = scan.word(), scan.word(1)
    rains = _FALLING | _RAIN
    if (first in {"no", "not"} and second in rains) or (first == "stopped" and second in rains):
        return _say_rain(scan, falls=False, count=2)
    if first in rains and second in _OVER:
        return _say_rain(scan, falls=False, count=2)
    ahead = 1 if first in _HOW else 0
    word = scan.word(ahead)
    if word in _FALLING:
        # "Raining hard" also stays in the note: how hard is worth keeping.
        return _say_rain(scan, falls=True, count=ahead + 1, keep=is_plain(scan, ahead + 1))
    if word not in _RAIN:
        return False
    if is_plain(scan, ahead + 1) or scan.word(ahead + 1) in _FROM_WHEN:
        scan.ask(f'Did it rain, "{scan.written(ahead + 2)}"? Then write "raining"', ahead + 1)
        scan.leave(ahead + 1)
        return True
    return _say_rain(scan, falls=True, count=ahead + 1, keep=ahead > 0)


def _say_rain(scan: Scan, *, falls: bool, count: int, keep: bool = False) -> bool:
    scan.claim("raining", falls, count)
    if keep:
        scan.left.extend(range(scan.pos, scan.pos + count))
    return scan.understood(count)


def read_right_tire(scan: Scan) -> bool:
    """Read "should have been on wets", "wets were right" or "right tires wets"."""
    found = _should_have(scan) or _were_right(scan) or _right_tires(scan)
    if found is None:
        return False
    kind, count = found
    scan.claim("right_tire", kind, count)
    return scan.understood(count)


def _should_have(scan: Scan) -> tuple[RanOn, int] | None:
    if scan.word() == "should've":
        ahead = 1
    elif scan.word() == "should" and scan.word(1) in {"have", "of"}:
        ahead = 2
    else:
        return None
    while scan.word(ahead) in _WENT:
        ahead += 1
    tires = _tires_at(scan, ahead, bare_kind=True)
    return _with_kind(scan, tires, ahead)


def _were_right(scan: Scan) -> tuple[RanOn, int] | None:
    if scan.loose:
        return None
    first = 1 if scan.word() in _ARTICLES else 0
    tires = _tires_at(scan, first)
    if tires is None:
        return None
    end = first + tires.count
    verbs = [scan.word(n) for n in range(end, end + 3)]
    if verbs[0] in {"was", "were"}:
        end += 1
    elif verbs[:3] == ["would", "have", "been"]:
        end += 3
    elif verbs[:2] in (["would've", "been"], ["would", "be"]):
        end += 2
    else:
        return None
    end += scan.word(end) == "the"
    if scan.word(end) not in _RIGHT:
        return None
    end += 1
    end += scan.word(end) in _CALL
    return _with_kind(scan, tires, end - tires.count)


def _right_tires(scan: Scan) -> tuple[RanOn, int] | None:
    if scan.loose or scan.word() != "right" or scan.word(1) not in _NOUNS:
        return None
    ahead = scan.past_links(2)
    return _with_kind(scan, _tires_at(scan, ahead, bare_kind=True), ahead)


def _with_kind(scan: Scan, tires: Tires | None, before: int) -> tuple[RanOn, int] | None:
    """Give what tires run as, and how many tokens they took with those before them."""
    if tires is None:
        return None
    kind = tires.kind or scan.context.tire_sets[tires.name]
    return kind, before + tires.count


def read_tires(scan: Scan) -> bool:
    """Read "on wets", "on Dry B", "slicks" or the name of a set."""
    has_on = scan.word() == "on"
    ahead = 1 if has_on else 0
    ahead += scan.word(ahead) in _ARTICLES
    if scan.loose and not has_on:
        return False
    if has_on and _ask_for_unknown(scan, ahead):
        return True
    tires = _tires_at(scan, ahead, bare_kind=has_on)
    if tires is None:
        return False
    count = ahead + tires.count
    if scan.loose and not _is_of_this_car(scan):
        scan.ask(f"Was this car {scan.written(count)}? Then write it behind a comma", count)
        scan.leave(count)
        return True
    if tires.name:
        scan.claim("tire_set", tires.name, count)
    else:
        scan.claim("tires", tires.kind, count)
    if is_plain(scan, count):
        scan.left.extend(range(scan.pos, scan.pos + count))
    return scan.understood(count)


def _is_of_this_car(scan: Scan) -> bool:
    return scan.word(-1) in _OF_THIS_CAR


def _tires_at(scan: Scan, ahead: int, *, bare_kind: bool = False) -> Tires | None:
    """Read a set's name or a kind of tire; `bare_kind` also takes "wet" without a noun."""
    named = _set_at(scan, ahead)
    if named is not None:
        return named
    word, behind = scan.word(ahead), scan.word(ahead + 1)
    if word in _BEFORE_NOUN and behind in _NOUNS:
        return Tires(_BEFORE_NOUN[word], "", 2)
    if word in _KINDS:
        return Tires(_KINDS[word], "", 1)
    if bare_kind and word in _BEFORE_NOUN and not is_plain(scan, ahead + 1):
        is_place = behind in _PLACES | _PART_OF_TRACK
        return None if is_place else Tires(_BEFORE_NOUN[word], "", 1)
    return None


def _set_at(scan: Scan, ahead: int) -> Tires | None:
    """Find the longest name of a set of the garage that stands there."""
    named = {folded(name): name for name in scan.context.tire_sets}
    for count in range(_MOST_WORDS, 0, -1):
        if any(scan.is_over(ahead + n) for n in range(count)):
            continue
        start, end = scan.tokens[scan.pos + ahead], scan.tokens[scan.pos + ahead + count - 1]
        phrase = folded(scan.text[start.start : end.end])
        # A set that is called "Dry" is not meant by every "dry".
        if phrase in named and (phrase not in _STATES or scan.word(ahead - 1) == "on"):
            return Tires(None, named[phrase], count)
    return None


def _ask_for_unknown(scan: Scan, ahead: int) -> bool:
    """Ask where "on Dry C" looks like a set that the garage does not have."""
    if _set_at(scan, ahead) is not None or scan.is_over(ahead) or scan.is_over(ahead + 1):
        return False
    start, end = scan.tokens[scan.pos + ahead], scan.tokens[scan.pos + ahead + 1]
    written = scan.text[start.start : end.end]
    if end.word in _NOUNS or nearest_name(written, list(scan.context.tire_sets)) is None:
        return False
    scan.ask(unknown_set(written, scan.context), ahead + 2)
    scan.leave(ahead + 2)
    return True


def unknown_set(written: str, context: JotContext) -> str:
    """Word the question about a set that is not in the garage."""
    return f'"{written}" is no set in the garage ({", ".join(context.tire_sets)}). Which one?'


def kind_named(text: str) -> RanOn | None:
    """Read a kind of tire that stands alone: "wet", "wets", "dry tires"; None for other text."""
    words = folded(text).split()
    if len(words) == 2 and words[1] in _NOUNS:
        words = words[:1]
    return (_KINDS | _BEFORE_NOUN).get(words[0]) if len(words) == 1 else None


def only_set_of(kind: RanOn, context: JotContext) -> str:
    """Give the garage's set of a kind where it has just one; else ""."""
    names: Sequence[str] = [name for name, each in context.tire_sets.items() if each == kind]
    return names[0] if len(names) == 1 else ""


def fits(kind: RanOn, set_kind: RanOn) -> bool:
    """Tell whether a set can have run as a kind: a dry set may have been grooved since."""
    return kind == set_kind or (kind, set_kind) == ("grooved", "dry")
