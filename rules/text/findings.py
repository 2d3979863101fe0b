"""Findings: what is wrong with a room file, each with its place and a sentence for people."""

from __future__ import annotations

from difflib import get_close_matches
from enum import StrEnum
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.former_words import new_word

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

LEFT_TO_OTHERS: Final = {
    "curv": "warp for curved screens",
    "radius": "warp for curved screens",
    "warp": "warp for curved screens",
    "keystone": "digital keystone",
    "blend": "blending",
    "tone_map": "tone mapping",
}
"""What roomcue does not do, by what is in the words of whoever asks for it."""

MOST_FINDINGS_LISTED: Final = 200
"""No more findings than this are listed; the last one then says how many are left out."""


class Severity(StrEnum):
    """How serious a finding is: only errors keep a room from being loaded."""

    ERROR = "error"
    WARNING = "warning"
    INFO = "info"


class Finding(NamedTuple):
    """One thing that is wrong, where, and what to write instead.

    `code` never changes once it is published, so that programs may rely on it. `line` and
    `column` count from 1; both are 0 for an option, which has no lines. `message` is a sentence
    without its full stop. `suggestion` is one or more whole sentences. `example` gives the facts of
    one case in which the fault shows, written as in a rule's `case`.
    """

    severity: Severity
    code: str
    file: str
    line: int
    column: int
    message: str
    suggestion: str = ""
    example: str = ""

    def __str__(self) -> str:
        rest = f" {self.suggestion}" if self.suggestion else ""
        place = f":{self.line}:{self.column}" if self.line else ""
        return f"{self.file}{place}: {self.severity}: {self.message}.{rest}"

    @property
    def fatal(self) -> bool:
        """Whether a room with this finding cannot be loaded."""
        return self.severity is Severity.ERROR


class BadRoom(ValueError):  # noqa: N818 - it names what was handed in, as people say it
    """A room file that cannot be used; `findings` holds everything that was found in it."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("\n".join(map(str, self.findings)))


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Sort findings by their place and drop repeated ones.

    Of more than `MOST_FINDINGS_LISTED` the errors are kept first, and one more finding says how
    many are left out.
    """
    ordered = sorted(
        dict.fromkeys(map(_on_one_line, findings)), key=lambda one: (one.line, one.column, one.code)
    )
    if len(ordered) <= MOST_FINDINGS_LISTED:
        return tuple(ordered)
    ordered.sort(key=lambda one: not one.fatal)  # stable: errors first, each by its place
    shown, rest = ordered[:MOST_FINDINGS_LISTED], ordered[MOST_FINDINGS_LISTED:]
    message = f"findings not listed here: {len(rest):,}"
    advice = "Mend those above first."
    more = rest[0]._replace(code="more", message=message, suggestion=advice, example="")
    return (*sorted(shown, key=lambda one: (one.line, one.column, one.code)), more)


def _on_one_line(finding: Finding) -> Finding:
    """Replace line breaks, which text quoted from the file may contain, by spaces."""
    if "\n" not in finding.message and "\n" not in finding.suggestion:
        return finding
    message, suggestion = " ".join(finding.message.split()), " ".join(finding.suggestion.split())
    return finding._replace(message=message, suggestion=suggestion)


def nearest(word: str, known: Sequence[str], likeness: float = 0.6) -> str | None:
    """Find the known word that a former one means, or that is most like a mistyped one, or None.

    `likeness` goes from 0 (any word) to 1 (only the same word).
    """
    if len(word) > 2 * max(map(len, known), default=0):
        return None
    word = word.lower().replace("-", "_").strip()
    found = get_close_matches(word, known, n=1, cutoff=likeness)
    return new_word(word, known) or next(iter(found), None)


def listed(words: Iterable[str], joint: str = "or") -> str:
    """Join words for a sentence: "a, b or c"."""
    *before, last = [*words] or ["nothing"]
    return f"{', '.join(before)} {joint} {last}" if before else last


def left_to_others(words: str) -> str:
    """Name what somebody asks for that roomcue leaves to others; "" if it is nothing of that."""
    return next((what for sign, what in LEFT_TO_OTHERS.items() if sign in words.lower()), "")


def advice_for_unknown(word: str, known: Sequence[str]) -> str:
    """Suggest the known word most like an unknown one, and list all that are known."""
    near = nearest(word, known)
    if not known:
        return ""
    allowed = f"Here may stand: {listed(known)}."
    return f"Did you mean {near}? {allowed}" if near else allowed
