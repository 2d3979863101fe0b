"""A proof as plain data: what is said of it, and what is remembered of it.

Nothing here needs the simulator, so that a live room may ask what was proven before.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.events import AnyEvent

PromiseStatus = Literal["proven", "broken", "searched", "untouched", "waived"]
"""As `simulator.proof.proof.VerdictStatus`."""


@dataclass(frozen=True, slots=True)
class EveningEvent:
    """An event of an evening, and when it comes (ms UTC)."""

    now: int
    event: AnyEvent


@dataclass(frozen=True, slots=True)
class BreakingEvening:
    """An evening on which a promise breaks."""

    events: tuple[EveningEvent, ...]
    ends: int
    """When it breaks (ms UTC)."""
    fewest: bool
    """Every evening of fewer events was tried, and none breaks the promise."""


@dataclass(frozen=True, slots=True)
class ReportedFault:
    """One thing that a proof found wrong with a room's rules."""

    code: str
    """The code of its finding."""
    fatal: bool
    promise: str
    line: int
    """The line of the room file; 0: none."""
    message: str
    suggestion: str
    evening: BreakingEvening | None
    path: tuple[str, ...]
    """The steps of the exploration in words, where no evening was found."""


@dataclass(frozen=True, slots=True)
class ReportedPromise:
    """What a proof says of one promise."""

    promise: str
    because: str
    """Why it is promised, or why it is waived."""
    status: PromiseStatus


@dataclass(frozen=True, slots=True)
class ProofReport:
    """What a proof says of a room."""

    complete: bool
    """Every state that the room can reach was looked at, and every question was asked."""
    stopped: bool
    """It was broken off before its end."""
    done: int
    """The number of states that were looked at whole."""
    known: int
    """The number of states that were found."""
    steps: int
    worlds: int
    claims: int
    runs: int
    """The number of runs to rest that were played."""
    faults: tuple[ReportedFault, ...]
    promises: tuple[ReportedPromise, ...]
    not_proven: tuple[str, ...] = ()
    """What no exploration can say of the room."""

    def with_status(self, status: PromiseStatus) -> tuple[ReportedPromise, ...]:
        """Pick the promises of which the same is known."""
        return tuple(one for one in self.promises if one.status == status)
