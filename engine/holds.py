"""The holds: the codes of what keeps orders back, each with its sentence.

What a family reads stands in the catalogue (`rules.words`). The sentences here are for whoever sets
a room up or looks a night through: `check` and `why` say them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping


HoldCode = Literal[
    "no_source",
    "service",
    "projector",
    "travelling",
    "at_screen",
    "paused",
    "lens_unknown",
    "lens_nowhere",
    "panels",
    "first_minutes",
    "per_title",
    "per_night",
    "put_back",
    "unreached",
    "asked",
    "circle",
    "flash",
    "linger",
    "picture",
    "nearest",
    "menu",
    "left_alone",
    "helper",
    "mid_title",
    "travel_first",
]
"""Why what is wanted is not being done now."""

HOLDS: Final[Mapping[str, str]] = {
    "no_source": "No source has been reported yet: there is nothing to show.",
    "service": "A technician is at work: no orders until they have finished.",
    "projector": "The projector gives no light yet, or no more: orders wait until it is lit.",
    "travelling": "The lens is travelling: one travel at a time.",
    "at_screen": "Somebody is at the screen: picture, lens and other panels wait for them.",
    "paused": "Playback is paused: a pause moves nothing.",
    "lens_unknown": "Nobody knows where the lens stands, and something may be playing.",
    "lens_nowhere": "Nobody knows where the lens stands, and no rule asks for a preset.",
    "panels": "The lens waits: panels that have to come off first are fitted, or may be.",
    "first_minutes": "The title's first minutes are over: no recall in mid-title.",
    "per_title": "This title has had its recalls.",
    "per_night": "This night has had its recalls.",
    "put_back": "Somebody has put the lens back for this source and shape: it is left so.",
    "unreached": "That preset was refused or never reached: no new try until something changes.",
    "asked": "Somebody has been asked to see to the panels: the lens waits for them.",
    "circle": "The rules lead round in a circle: they wait until something outside changes.",
    "flash": "The picture has just changed: three large changes a second are the most.",
    "linger": "The wish for another preset or other panels must stand for a while first.",
    "picture": "The picture has to stand safely before the lens may travel.",
    "nearest": "The wanted picture cannot be shown at this shape and preset: plain is the nearest.",
    "menu": "A menu is not distorted, not even by hand: the wish counts once something plays.",
    "left_alone": "Somebody wants everything left as it is, and nobody knows which picture stands: "
    "none is ordered before another title begins, or they say otherwise.",
    "helper": "Nobody is free to fit panels this session.",
    "mid_title": "The title's first minutes are over: nobody is asked in mid-title.",
    "travel_first": "The lens travels first, then panels are fitted.",
}
"""Every hold with its sentence for technicians."""

Principle = Literal["lens", "panels", "pace", "picture", "rules"]

NOTED: Final[dict[HoldCode, Principle]] = {
    "lens_unknown": "lens",
    "lens_nowhere": "lens",
    "panels": "panels",
    "first_minutes": "pace",
    "per_title": "pace",
    "per_night": "pace",
    "put_back": "lens",
    "unreached": "lens",
    "nearest": "picture",
    "left_alone": "picture",
    "helper": "panels",
    "mid_title": "pace",
    "circle": "rules",
}
"""The holds worth a note, with the principle that makes them."""
