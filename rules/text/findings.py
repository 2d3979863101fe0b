"""What is wrong with a room file: located sentences, all of them at once."""

from __future__ import annotations

from difflib import get_close_matches
from enum import StrEnum
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

MOST_FINDINGS_LISTED: Final = 200
"""So many findings are listed one by one; of the rest the number is told."""


class Severity(StrEnum):
    """How much a finding weighs: only errors keep a room from being loaded."""

    ERROR = "error"
    WARNING = "warning"
    INFO = "info"


class Finding(NamedTuple):
    """One thing that is wrong, where, and what to write instead.

    `code` never changes once given out, so that machines may rely on it. `line` and `column`
    count from 1. `message` is a sentence without its full stop, `suggestion` whole sentences,
    `example` the facts of one case where it shows, as a rule's `case` would name them.
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
        return f"{self.file}:{self.line}:{self.column}: {self.severity}: {self.message}.{rest}"

    @property
    def fatal(self) -> bool:
        """Whether a room with this finding cannot be loaded."""
        return self.severity is Severity.ERROR


class BadRoom(ValueError):  # noqa: N818 - it names what was handed in, as people say it
    """A room file that cannot be used; carries everything that was found in it."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("\n".join(map(str, self.findings)))


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Sort findings by their place, each once; beyond `LISTED` the last one tells the number."""
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
    """Keep what was quoted from the file from breaking a sentence in two."""
    if "\n" not in finding.message and "\n" not in finding.suggestion:
        return finding
    message, suggestion = " ".join(finding.message.split()), " ".join(finding.suggestion.split())
    return finding._replace(message=message, suggestion=suggestion)


def nearest(word: str, known: Sequence[str], likeness: float = 0.6) -> str | None:
    """Find the known word that a mistyped one was most likely meant to be, if any is near."""
    if len(word) > 2 * max(map(len, known), default=0):
        return None
    found = get_close_matches(word.lower().replace("-", "_").strip(), known, n=1, cutoff=likeness)
    return found[0] if found else None


def listed(words: Iterable[str], joint: str = "or") -> str:
    """Join words for a sentence: "a, b or c"."""
    *before, last = [*words] or ["nothing"]
    return f"{', '.join(before)} {joint} {last}" if before else last


def advice_for_unknown(word: str, known: Sequence[str]) -> str:
    """Say what may stand in place of an unknown word: the nearest one, and all there are."""
    near = nearest(word, known)
    if not known:
        return ""
    allowed = f"Here may stand: {listed(known)}."
    return f"Did you mean {near}? {allowed}" if near else allowed
