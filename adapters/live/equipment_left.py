"""Lens and panels of which the broker knows more than the journal: they are as they were left.

Where a journal is new, or begins anew as an older copy does, the room does not know how the lens
rests, nor that somebody has fitted panels since the hub retained that they are open. The broker has
kept how the room stood.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from adapters.live.announcements import last_id_read, object_in
from adapters.live.durable_room import DurableRoom
from engine.events import LensReport, PanelReport
from engine.prompts import PANELS
from engine.room import Room
from engine.told_words import was_told


def equipment_left(
    stood: Sequence[bytes], durable: DurableRoom
) -> Iterator[LensReport | PanelReport]:
    """Yield how lens and panels stood, as far as nobody has told a room whose journal is new.

    Half fitted panels count as they are said after the work, and not as they were before it.
    """
    told = [object_in(body) for body in stood if last_id_read(body)]
    if not told or not durable.identity.is_new_to_broker:
        return
    room, state = durable.room, durable.engine.state
    if room.projector.lens.reports and not was_told(state, "lens"):
        yield lens_read(told[-1], room)
    if state.core.asked is None and not was_told(state, PANELS):
        yield panels_read(told[-1], room)


def lens_read(said: dict[str, Any], room: Room) -> LensReport:
    """Read out of a word on how a room stood where its lens rests; else it is not known."""
    preset = said.get("preset")
    rests = said.get("lens") == "resting" and isinstance(preset, str) and preset in room.presets
    return LensReport(moving=False, preset=preset if rests else None, known=rests)


def panels_read(said: dict[str, Any], room: Room) -> PanelReport:
    """Read out of a word on how a room stood how its panels do; else it is not known."""
    panels = said.get("panels")
    known = isinstance(panels, str) and panels in room.panels
    return PanelReport(panels=panels if known else None)
