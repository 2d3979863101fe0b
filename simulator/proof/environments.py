"""An environment: all facts that do not belong to the equipment's own state.

A hub may miss events, send them late, or come back to a room in which everything is different. So
environments are not reached event by event: every possible combination of facts is one, and
between two steps any may follow any other.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, Literal, NamedTuple

from engine import settle
from engine.aspect import WIDE_FRAME
from engine.events import LightRange, PlaybackState, ProjectorState
from engine.facts import pausing
from engine.room import Show
from engine.settle import Settling
from engine.state import Core, Timers
from engine.transition_table import OverrideState
from simulator.proof.copies import copied

LATER: Final = 10**15
"""When running timers end (ms UTC): an exploration chooses which one fires next."""
BEFORE: Final = 0
"""Since when a shape is doubtful (ms UTC): whether it is counts, not since when."""
FRAMES: Final = (WIDE_FRAME, 13_333)
"""Ratios of the coded frames that nearly all sources send, in 1/10,000."""


class Environment(NamedTuple):
    """All facts that do not belong to the equipment's own state."""

    projector: ProjectorState | Literal["unknown"] = "lit"
    service: bool = False
    source: str | None = None
    playback: PlaybackState = "unknown"
    pause_over: bool = False
    title: bool = False
    first_minutes: bool = False
    aspect: int | None = None
    """The ratio that the readings have settled on, in 1/10,000."""
    frame: int = WIDE_FRAME
    declared: int | None = None
    longest: int | None = None
    """The shape in which the title has stood longest, in 1/10,000."""
    remembered: int | None = None
    """The shape in which the title is remembered, in 1/10,000."""
    tallest: int | None = None
    varies: bool = False
    subtitles: bool = False
    doubtful: bool = False
    minute: int | None = None
    range: LightRange | None = None
    three_d: bool | None = None
    told: tuple[tuple[str, str | bool | int], ...] = ()
    override: OverrideState = "rules"
    wish: Show | None = None
    """What the person who has taken over wants."""

    @property
    def settling(self) -> Settling:
        """What the filter of readings remembers in this environment."""
        return settled_on(self.aspect, self.subtitles, self.doubtful)


@lru_cache(4_096)
def settled_on(
    aspect: int | None,
    subtitles: bool,  # noqa: FBT001 - a cache's key
    doubtful: bool,  # noqa: FBT001
) -> Settling:
    """Return the filter's memory of a ratio that no reading contradicts, or that none shows now."""
    left = BEFORE if doubtful else None
    return settle.UNSETTLED._replace(aspect=aspect, subtitles=subtitles, reading=aspect, left=left)


def entered(core: Core, environment: Environment) -> Core:
    """Return a copy of a core, put into this environment."""
    new = copied(core)
    enter(new, environment)
    return new


def enter(core: Core, environment: Environment) -> None:
    """Put a core into this environment, in place."""
    core.projector = environment.projector
    core.service = environment.service
    core.source = environment.source
    core.playback = environment.playback
    core.pause_over = environment.pause_over
    core.title = environment.title
    core.frame = environment.frame
    core.declared = environment.declared
    core.first_left = 0
    core.longest, core.remembered = environment.longest, environment.remembered
    core.tallest = environment.tallest
    core.varies = environment.varies
    core.subtitles = environment.subtitles
    core.doubt = BEFORE if environment.doubtful else None
    core.minute = environment.minute
    core.range = environment.range
    core.three_d = environment.three_d
    core.told = environment.told
    core.override = environment.override
    core.override_look = environment.wish
    idle = environment.playback in {"stopped", "unknown"} or environment.pause_over
    core.timers = _running(
        core.timers,
        LATER if pausing(core) else None,
        LATER if environment.first_minutes else None,
        LATER if idle else None,
    )


@lru_cache(4_096)
def _running(
    timers: Timers, pause: int | None, first_minutes: int | None, session: int | None
) -> Timers:
    """Return the equipment's timers with the environment's; cached, as there are few of them."""
    return timers._replace(pause=pause, first_minutes=first_minutes, session=session)
