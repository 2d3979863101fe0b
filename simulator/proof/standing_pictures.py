"""Pictures that may stand when a step begins, one for each thing that the engine asks of them.

Of a picture that stands the engine asks only where it is safe, whether it is dark, whether it is
distorted, and whether it is the one that is wanted. So these few stand for all that may.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.aspect import WIDE_FRAME
from engine.optics import Rect, field_of, on_panel
from engine.reconcile import NOTHING_LIT, standing_place
from engine.room import PLAIN, Room
from engine.state import Core, OrderedPicture

SPOT: Final = 2
"""Side of a picture so small that it is safe wherever any picture is, pixels."""


class StandingPictures:
    """Makes such pictures for a room, wherever its lens and panels stand."""

    def __init__(self, room: Room) -> None:
        self.room = room
        projector = room.projector
        self._raster = Rect(0, 0, projector.columns, projector.rows)

    def safe(self, core: Core) -> Iterator[OrderedPicture]:
        """Yield a picture that is safe everywhere, and one that is safe just here."""
        field = field_of(self.room, standing_place(self.room, core), core.arrangement)
        if field.window.empty:
            return
        window = field.window
        yield _plain(
            Rect(
                window.left + window.width // 2,
                window.top + window.height // 2,
                min(SPOT, window.width),
                min(SPOT, window.height),
            )
        )
        yield _plain(field.free)

    def unsafe(self, core: Core) -> Iterator[OrderedPicture]:
        """Yield a picture that falls on panels here, if any can."""
        if on_panel(self.room, self._raster, standing_place(self.room, core), core.arrangement):
            yield _plain(self._raster)

    def of_every_kind(self, core: Core, *, menu: bool) -> Iterator[OrderedPicture]:
        """Yield safe, unsafe and dark pictures; distorted ones too, which only a menu forbids."""
        for shown in (*self.safe(core), *self.unsafe(core)):
            yield shown
            for name in [*self.room.pictures][:1] if menu else ():
                yield shown._replace(picture=name)
        yield NOTHING_LIT


def _plain(region: Rect) -> OrderedPicture:
    return OrderedPicture(PLAIN, WIDE_FRAME, 0, region)
