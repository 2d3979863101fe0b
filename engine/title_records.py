"""What is kept of titles: how long shapes stood, what was chosen, and how one is gone on with."""

from __future__ import annotations

from typing import Final, NamedTuple

from engine.room import Show

DETOUR: Final = 60_000
"""How soon a title is back in its raster (ms) if it has only been interrupted."""

IN_A_LOOP: Final = 2
"""How many titles in a row the lens is sent for in vain before they count as a menu's previews."""


class Detour(NamedTuple):
    """What a title's shapes were before another raster showed another one."""

    raster: tuple[int, int]
    shapes: tuple[int, ...]
    varies: bool
    tallest: int | None
    until: int
    """Up to when a return to that raster makes it as if nothing had been shown between, ms UTC."""


class StoodShape(NamedTuple):
    """A shape of a title, with a time in ms."""

    aspect: int
    ms: int


class LastChoice(NamedTuple):
    """What a person has chosen for a title, up to its end."""

    look: Show | None = None
    """What they took over with; a look that names nothing leaves everything as it stands."""
    cues: tuple[tuple[str, str], ...] = ()
    """The cues that they have set."""


NO_CHOICE: Final = LastChoice()


class InterruptedTitle(NamedTuple):
    """A title that a long pause or another source ended, for when it is played on."""

    name: str | None
    declared: int | None
    series: str | None = None
    shapes: tuple[int, ...] = ()
    stood: tuple[StoodShape, ...] = ()
    longest: int | None = None
    varies: bool = False
    tallest: int | None = None
    subtitles: bool = False
    source: str | None = None
    """The source that it was left on for another one."""
    until: int | None = None
    """Until when it is then kept (ms UTC)."""
    refused: bool = False
    """Whether somebody has said `no` to panels for this title."""
    choice: LastChoice = NO_CHOICE


class RememberedTitle(NamedTuple):
    """What was learnt of a title, or of the series that it belongs to."""

    name: str
    aspect: int | None
    """The shape that stood longest; None: none has stood for long enough."""
    choice: LastChoice = NO_CHOICE
    """The family's last choice, which stands again when the title begins."""
