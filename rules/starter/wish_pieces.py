"""The pieces of what somebody typed for each wish, with their places, and findings about them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple, TypeVar

from rules.text.findings import Finding, Severity
from rules.text.quantity import QuantityError

Item = TypeVar("Item")


class WishPiece(NamedTuple):
    """A part of what was typed for one wish, on one line, and its column, from 1."""

    wish: str
    text: str
    column: int

    @property
    def option(self) -> str:
        """The argument or option of the command line that the wish was typed for."""
        return "NAME" if self.wish == "name" else f"--{self.wish}"


@dataclass(slots=True)
class Problems:
    """Collects findings about the wishes."""

    findings: list[Finding] = field(default_factory=list)

    def note(self, code: str, at: WishPiece, message: str, suggestion: str) -> None:
        """Add a finding at the place of a piece."""
        place = (at.option, 1, at.column)
        self.findings.append(Finding(Severity.ERROR, code, *place, message, suggestion))

    def read(self, piece: WishPiece, reader: Callable[[str], Item]) -> Item | None:
        """Read a piece; if it cannot be read, add a finding and give None."""
        try:
            return reader(piece.text)
        except QuantityError as error:
            self.note(error.code, piece, error.message, error.suggestion)
            return None


def piece_of(wish: str, text: str, start: int = 0, end: int | None = None) -> WishPiece:
    """Take a part of what was typed, without needless blanks."""
    part = text[start:end]
    before = len(part) - len(part.lstrip()) if part.strip() else 0
    return WishPiece(wish, " ".join(part.split()), start + before + 1)


def pieces_of(wish: str, text: str) -> Iterator[WishPiece]:
    """Split what was typed at its commas."""
    start = 0
    for part in text.split(","):
        yield piece_of(wish, text, start, start + len(part))
        start += len(part) + 1
