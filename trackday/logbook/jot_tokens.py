"""From a jotted line to its pieces: free text behind a key, words, numbers and times."""

from __future__ import annotations

import re
import string
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

TokenKind = Literal["number", "word", "clock", "date", "moment", "mark", "break"]

# What may stand right behind a number without a space: "41C", "31.5psi", "12laps".
_GLUED = r"(?:psig?|kpa|bar|deg[cf]?|mm|min(?:utes?|s)?|laps?|hrs?|[cfh])"
# A dash behind a number is no sign: "31.5-31.0" is two pressures.
_NUMBER = r"(?:(?<![\w.,°])[+\-−–])?(?:\d+(?:[.,]\d+)*|\.\d+)[¼½¾]?"
# A lap time ("1:52.3") is a word: it must not be taken for a time of day.
_TOKEN = re.compile(
    r"(?P<moment>\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+\-−]\d\d:?\d\d))(?!\w)"
    r"|(?P<date>\d{4}-\d\d-\d\d)(?!\w)"
    r"|(?P<laptime>\d+:\d\d[.,]\d+)(?!\w)"
    r"|(?P<clock>\d{1,2}:\d\d(?:\s?[ap]m|Z|[+\-−]\d\d:?\d\d)?)(?![\w:])"
    rf"|(?P<number>{_NUMBER}(?=(?:{_GLUED})?(?!\w|[.,]\d)))"
    r"|(?P<glued>(?:hot|cold|track|air|laps|[fr][lr]|l[fr]|[fr])(?=\d\d))"
    r"|(?P<degree>[°º˚]\s?[cf](?!\w)|[°º˚℃℉])"
    r"|(?P<word>\w(?:[\w'’]|-(?=[^\W\d]))*)"
    r"|(?P<break>[;\n,.!?]+)"
    r"|(?P<mark>\S)",
    re.IGNORECASE | re.ASCII,
)
# re.ASCII keeps foreign digits out of numbers, so letters beyond ASCII are named by hand.
_LETTERS = re.compile(r"[^\W\d_](?:[\w'’]|-(?=[^\W\d]))*")

_FREE_KEYS = {
    "note": "note",
    "todo": "todo",
    "next time": "todo",
    "changed": "changes",
    "did": "changes",
    "decided": "decision",
    "alignment": "alignment",
}
_SHORT_KEYS = {
    "session": "session",
    "set": "tire_set",
    "tires": "tire_set",
    "ran on": "ran_on",
    "right tire": "right_tire",
}
SHORT_FIELDS = frozenset(_SHORT_KEYS.values())
"""Fields whose keyed text is a name, and ends at a comma."""
_KEY = re.compile(
    r"(?<!\w)(?:(?P<note>notes?)|(?P<todo>to[ \-]?do)|(?P<next_time>next\s+time)"
    r"|(?P<changed>chang(?:ed|es?))|(?P<did>did)|(?P<decided>decided|decision)"
    r"|(?P<alignment>alignment)|(?P<session>session)|(?P<ran_on>ran\s+on)"
    r"|(?P<right_tire>right\s+t[iy]res?)|(?P<tires>t[iy]res?|t[iy]re\s+set)|(?P<set>set)"
    r")\s*:\s*",
    re.IGNORECASE,
)
# Two openers are unmistakable also without a colon, where a clause begins.
_BARE_KEY = re.compile(
    r"(?:^|(?<=[;,\n]))[^\S\n]*(?:(?P<todo>to-?do)|(?P<next_time>next\s+time))\s+", re.IGNORECASE
)
_QUOTED = re.compile(r'"((?:[^"]|"")*)"(?=\s*(?:[;,\n]|$))')
_READING_IN_TEXT = re.compile(r",\s*((?:hot|cold|track|air|laps)\b[\s:=]*[+\-−]?\d[^,]*)", re.I)
_DASHES = "-−–—"


@dataclass(frozen=True)
class Token:
    """A piece of the line, with its place in it; `word` is its text in the form to compare."""

    kind: TokenKind
    text: str
    start: int
    end: int

    @property
    def word(self) -> str:
        """Lower case; "c", "f" or "deg" for a degree sign with or without its letter."""
        if self.kind != "word":
            return self.text
        if self.text[0] in "°º˚℃℉":
            return {"℃": "c", "℉": "f"}.get(self.text, self.text[1:].strip().lower() or "deg")
        return self.text.casefold().replace("’", "'")


@dataclass(frozen=True)
class Keyed:
    """Text behind a key such as "note:", for a field of the entry."""

    field: str
    text: str
    start: int
    end: int
    quoted: bool = False

    @property
    def readings(self) -> tuple[str, ...]:
        """What looks like a reading behind a comma, though the text runs to the next ";"."""
        if self.quoted or self.field in SHORT_FIELDS:
            return ()
        return tuple(found.strip() for found in _READING_IN_TEXT.findall(self.text))


def tidy(text: str) -> str:
    """Make every kind of space one, and replace what cannot be printed or stored."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").replace("\u2028", "\n")
    return unicodedata.normalize("NFC", "".join(_tidied(char) for char in lines))


def _tidied(char: str) -> str:
    category = unicodedata.category(char)
    if char in "\t" or category == "Zs":
        return " "
    if category == "Cf":
        return ""
    return char if char.isprintable() or char == "\n" else "\N{REPLACEMENT CHARACTER}"


def cut_keyed(text: str) -> tuple[str, tuple[Keyed, ...]]:
    """Take the keyed texts out of a line; gives the rest, as long as before, and the texts.

    A text runs to the next ";", line break or key ("session:" and other names also to a comma), or
    to its closing quotation mark where it starts with one.
    """
    rest, found, at = text, [], 0
    while (key := _next_key(text, at)) is not None:
        field = _field(key)
        keyed, end = _keyed_text(text, key.end(), field, start=key.start())
        if keyed.text:
            found.append(keyed)
        rest = rest[: key.start()] + ";" * (end - key.start()) + rest[end:]
        at = max(end, key.end())
    return rest, tuple(found)


def _next_key(text: str, at: int) -> re.Match[str] | None:
    matches = (pattern.search(text, at) for pattern in (_KEY, _BARE_KEY))
    return min((m for m in matches if m is not None), key=lambda m: m.start(), default=None)


def _field(key: re.Match[str]) -> str:
    name = next(name for name, value in key.groupdict().items() if value is not None)
    return (_FREE_KEYS | _SHORT_KEYS)[name.replace("_", " ")]


def _keyed_text(text: str, begin: int, field: str, *, start: int) -> tuple[Keyed, int]:
    quoted = _QUOTED.match(text, begin)
    if quoted is not None:
        inside = quoted[1].replace('""', '"')
        return Keyed(field, inside, start, quoted.end(), quoted=True), quoted.end()
    stops = ";\n," if field in SHORT_FIELDS else ";\n"
    ends = [place for stop in stops if (place := text.find(stop, begin)) >= 0]
    following = _next_key(text, begin)
    if following is not None:
        ends.append(following.start())
    end = min(ends, default=len(text))
    return Keyed(field, text[begin:end].strip(" ,\n"), start, end), end


def quote(text: str) -> str:
    """Write text so that it reads back the same behind a key."""
    return '"' + text.replace('"', '""') + '"'


def tokens(text: str) -> tuple[Token, ...]:
    """Cut a line without its keyed texts into tokens."""
    return tuple(_tokens(text))


def _tokens(text: str) -> Iterator[Token]:
    at = 0
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:  # a space
            at += 1
            continue
        if match.lastgroup in {"word", "mark"}:
            match = _LETTERS.match(text, at) or match
        yield Token(_KINDS.get(str(match.lastgroup), "word"), match[0], at, match.end())
        at = match.end()


_KINDS: dict[str, TokenKind] = {
    "moment": "moment",
    "date": "date",
    "clock": "clock",
    "number": "number",
    "break": "break",
    "mark": "mark",
}


def is_only_marks(text: str) -> bool:
    """Tell whether nothing but punctuation is left."""
    return all(char in string.punctuation + _DASHES or char.isspace() for char in text)


def number_text(text: str) -> str | None:
    """Write a token as one number with a decimal point; None where it is several or none."""
    parts = comma_decimal(text)
    return parts[0] if len(parts) == 1 else None


def comma_decimal(text: str) -> tuple[str, ...]:
    """Read a number token with commas as decimal marks: "31,5,30,2" is 31.5 and 30.2.

    Empty where that is impossible.
    """
    plain = _plain(text)
    if "," not in plain:
        return (plain,) if plain.count(".") <= 1 else ()
    parts = plain.split(",")
    if "." in plain or len(parts) % 2:
        return ()
    return tuple(".".join(parts[n : n + 2]) for n in range(0, len(parts), 2))


def comma_list(text: str) -> tuple[str, ...]:
    """Read a number token with commas between numbers: "31.5,31" is 31.5 and 31."""
    parts = tuple(_plain(text).split(","))
    return parts if all(part.count(".") <= 1 for part in parts) else ()


def _plain(text: str) -> str:
    """Write signs and quarters of a number token as a computer reads them."""
    plain = text.lstrip("+").translate(str.maketrans("−–", "--"))
    return plain.replace("¼", ".25").replace("½", ".5").replace("¾", ".75")


_MEASURING = ("hot", "cold", "track", "air", "laps", "ambient", "pressures")
# Words of English that are one slip away from one of these and stand beside numbers in notes.
_ORDINARY = frozenset({
    "ahir", "ai", "aid", "ail", "airs", "all", "bold", "caps", "cola", "colt", "cost", "could",
    "crack", "dot", "fair", "fold", "gaps", "gold", "got", "hair", "hat", "hit", "ho", "hog",
    "hold", "hoot", "hop", "host", "how", "ht", "jot", "lap", "laps", "lapse", "lot", "maps",
    "not", "old", "pair", "pot", "pressure", "rack", "rot", "shot", "slaps", "sold", "tack",
    "taps", "told", "trace", "tracks", "trick", "truck",
})  # fmt: skip


def _slips(word: str) -> set[str]:
    """List what one missing, extra, wrong or swapped letter makes of a word."""
    cuts = [(word[:n], word[n:]) for n in range(len(word) + 1)]
    letters = string.ascii_lowercase
    return (
        {a + b[1:] for a, b in cuts if b}
        | {a + b[1] + b[0] + b[2:] for a, b in cuts if len(b) > 1}
        | {a + letter + b[1:] for a, b in cuts if b for letter in letters}
        | {a + letter + b for a, b in cuts for letter in letters}
    )


_SLIP_OF = {slip: word for word in _MEASURING for slip in _slips(word)}
_SLIP_OF["trk"] = "track"  # two letters short, and how it is written in a hurry


def slip_of(word: str) -> str | None:
    """Give the keyword that a word looks like a slip of; None for ordinary words."""
    if word in _MEASURING or word in _ORDINARY:
        return None
    return _SLIP_OF.get(word)
