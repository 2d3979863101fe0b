"""The pieces of what somebody typed for each wish, and findings about them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple, TypeVar

from rules.text.findings import Finding, Severity
from rules.text.quantity import QuantityError

Item = TypeVar("Item")


class WishPiece(NamedTuple):
    """What was typed for one wish, or one of several things that stand there, without breaks."""

    wish: str
    text: str
    number: int = 1
    """Which of them it is, from 1."""
    of: int = 1
    """How many there are."""

    @property
    def option(self) -> str:
        """The argument or option of the command line that the wish was typed for."""
        option = "NAME" if self.wish == "name" else f"--{self.wish}"
        return option if self.of == 1 else f"{option}, {self.number} of {self.of}"


@dataclass(slots=True)
class Problems:
    """Collects findings about the wishes."""

    findings: list[Finding] = field(default_factory=list)

    def note(self, code: str, at: WishPiece, message: str, suggestion: str) -> None:
        """Add a finding about a piece."""
        place = (at.option, 0, 0)
        self.findings.append(Finding(Severity.ERROR, code, *place, message, suggestion))

    def read(self, piece: WishPiece, reader: Callable[[str], Item]) -> Item | None:
        """Read a piece; if it cannot be read, add a finding and give None."""
        try:
            return reader(piece.text)
        except QuantityError as error:
            self.note(error.code, piece, error.message, error.suggestion)
            return None


def piece_of(wish: str, text: str) -> WishPiece:
    """Take what was typed, without needless blanks."""
    return WishPiece(wish, " ".join(text.split()))


def pieces_of(wish: str, text: str) -> list[WishPiece]:
    """Split what was typed at its commas."""
    parts = text.split(",")
    return [
        WishPiece(wish, " ".join(part.split()), number, len(parts))
        for number, part in enumerate(parts, 1)
    ]
