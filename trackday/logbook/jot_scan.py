"""The state of reading one line: where the reader stands, what it understood and what it doubts."""

from __future__ import annotations

from dataclasses import dataclass, field

from trackday.logbook.jot_tokens import Token
from trackday.logbook.jot_when import JotContext

LINKS = frozenset({":", "=", "@", "~", "-", "–", "is", "was", "at", "about", "around"})
"""What may stand between a keyword and its value."""


@dataclass(frozen=True)
class Claim:
    """A field that the characters from `start` to `end` speak of, and what they say."""

    field: str
    value: object
    start: int
    end: int


@dataclass(frozen=True)
class Doubt:
    """A question about the characters from `start` to `end`, which then go into the note."""

    question: str
    start: int
    end: int


@dataclass
class Scan:
    """A reader's place in a line and what came of it so far.

    `loose` is True behind a word that was not understood, up to the next break: there only clauses
    that cannot be anything else are read. `begun` is True behind something understood.
    """

    text: str
    tokens: tuple[Token, ...]
    context: JotContext
    pos: int = 0
    loose: bool = False
    begun: bool = False
    claims: list[Claim] = field(default_factory=list)
    doubts: list[Doubt] = field(default_factory=list)
    left: list[int] = field(default_factory=list)
    """Places of the tokens that were not understood."""

    def at(self, ahead: int) -> Token | None:
        """Give a token by its place from here; None beyond the line's ends."""
        place = self.pos + ahead
        return self.tokens[place] if 0 <= place < len(self.tokens) else None

    def word(self, ahead: int = 0) -> str:
        """Give a token in the form to compare; empty beyond the line's ends."""
        token = self.at(ahead)
        return token.word if token is not None else ""

    def is_number(self, ahead: int = 0) -> bool:
        """Tell whether a token is a number."""
        token = self.at(ahead)
        return token is not None and token.kind == "number"

    def is_over(self, ahead: int = 0) -> bool:
        """Tell whether the clause is over there: a break or the end of the line."""
        token = self.at(ahead)
        return token is None or token.kind == "break"

    def past_links(self, ahead: int) -> int:
        """Skip what may stand between a keyword and its value."""
        while self.word(ahead) in LINKS:
            ahead += 1
        return ahead

    def span(self, count: int) -> tuple[int, int]:
        """Give the characters of the next tokens."""
        return self.tokens[self.pos].start, self.tokens[self.pos + count - 1].end

    def claim(self, name: str, value: object, count: int) -> None:
        """Note what the next tokens say of a field; does not move on."""
        self.claims.append(Claim(name, value, *self.span(count)))

    def ask(self, question: str, count: int) -> None:
        """Note a question about the next tokens; does not move on."""
        self.doubts.append(Doubt(question, *self.span(count)))

    def written(self, count: int) -> str:
        """Give the next tokens as they were written."""
        start, end = self.span(count)
        return self.text[start:end]

    def understood(self, count: int) -> bool:
        """Move behind tokens that were understood; True, for readers to return."""
        self.pos += count
        self.loose, self.begun = False, True
        return True

    def leave(self, count: int = 1) -> None:
        """Move behind tokens that were not understood."""
        self.left.extend(range(self.pos, self.pos + count))
        self.pos += count
        self.loose = True

    def pause(self) -> None:
        """Move behind a break: what follows is a new clause."""
        self.pos += 1
        self.loose = self.begun = False
