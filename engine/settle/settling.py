"""What the readings add up to, and what is kept of it when a pause or a title begins."""

from __future__ import annotations

from typing import Final, NamedTuple

from engine.settle.learnt import NOTHING_LEARNT, Learnt
from engine.settle.lettering import BothBars
from engine.settle.rivals import Rival
from engine.settle.shapes import BarReading, LitEdges, Outline, RasterKey
from engine.settle.sightings import NO_EVIDENCE, TEXT, Evidence
from engine.settle.stillness import Stands

DOUBT: Final = 5_000
"""Once the settled shape has not been seen for this long it is doubtful, ms.

A wider shape under a mark takes as long to settle, and hardly any plain one longer. So what has not
settled by then is no plain change of shape."""


class Settling(NamedTuple):
    """What the readings add up to. The first three fields are for everyone.

    The filter makes one for every changed reading, so it is built by position, from variables that
    have its fields' names: by keyword that takes twice as long.
    """

    aspect: int | None = None
    """The settled ratio in 1/10,000, None while it is unknown."""
    subtitles: bool = False
    """Whether the bottom bar carries text."""
    deadline: int | None = None
    """When `elapse` has something to do if no other reading comes, ms UTC; None: never."""
    reading: BarReading | int | None = None
    """The last reading: bars, a ratio in 1/10,000, or None for a black raster."""
    since: int = 0
    """Since when it holds, ms UTC."""
    evidence: Evidence = NO_EVIDENCE
    """What it is evidence of."""
    raster: RasterKey | None = None
    """The raster of the last bars: columns, rows, frame."""
    home: Outline | None = None
    """Where the settled shape's bars lie in that raster."""
    learnt: Learnt = NOTHING_LEARNT
    """What is known of the source and of the detector."""
    left: int | None = None
    """Since when the settled shape has not been seen, ms UTC; None: the last reading shows it."""
    rival: Rival | None = None
    """The shape that may replace the settled one."""
    aside: Rival | None = None
    """The strongest other shape that may."""
    both: BothBars | None = None
    """What stands in both bars above and below the settled shape."""
    stands: Stands = ()
    """Where the last readings stood once the settled shape has not been seen for a while."""
    light: LitEdges | None = None
    """How far light has come to each edge since the settled shape was seen."""


UNSETTLED: Final = Settling()


def parked(settling: Settling, now: int) -> Settling:
    """Keep what is settled, and forget every rival, the last reading and what stood in the bars.

    The next reading is then seen afresh, even if it equals the last one. `now` is in ms UTC.
    """
    return settling._replace(
        deadline=None,
        reading=None,
        since=now,
        evidence=NO_EVIDENCE,
        left=None,
        rival=None,
        aside=None,
        both=None,
        stands=(),
        light=None,
    )


def line_noted(settling: Settling, again_at: int | None) -> Settling:
    """Wait for the next line in the bottom bar; one that still stands counts again at `again_at`.

    `again_at` is in ms UTC; None: it has been counted often enough.
    """
    deadline = again_at if settling.evidence == TEXT else settling.deadline
    return settling._replace(subtitles=False, deadline=deadline)


def new_title(settling: Settling) -> Settling:
    """Begin a title: the shape stays settled until another one shows, the subtitles do not."""
    return settling._replace(subtitles=False) if settling.subtitles else settling
