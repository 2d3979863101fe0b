"""How a room stands, told to whoever comes along: a phone that comes late needs nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pydantic_core import to_json

from adapters.live.messages import OutgoingMessage, rfc3339
from engine.aspect import ratio_text
from engine.facts import aspect_of

if TYPE_CHECKING:
    from engine.room import Room
    from engine.state import State


def standing_data(room: Room, state: State) -> dict[str, object]:
    """Give how things stand as far as has been reported, as plain data."""
    core, asked = state.core, state.core.asked
    source = None if core.source is None else room.sources[core.source]
    aspect = aspect_of(source, core, state.settling)
    return {
        "source": core.source,
        "playback": core.playback,
        "projector": core.projector,
        "aspect": None if aspect is None else aspect / 10_000,
        "shape": ratio_text(aspect),
        "picture": None if core.shown is None else core.shown.picture,
        "lens": core.lens,
        "preset": core.preset,
        "panels": core.arrangement,
        "override": core.override,
        "service": core.service,
        "prompt": None if asked is None else {"id": asked.id, "panels": asked.panels},
        "holds": core.holds,
    }


def standing_message(data: dict[str, object], now: int) -> OutgoingMessage:
    """Say how things stand, for whoever comes along."""
    return OutgoingMessage("standing", to_json({**data, "at": rfc3339(now)}), retained=True)
