"""What the engine says to people: why nothing happens, what to do at the screen, with what care."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING, Final, Literal

from engine.aspect import ratio_text

if TYPE_CHECKING:
    from engine.decisions import Stage
    from engine.room import Panels

HoldCode = Literal[
    "no_source",
    "service",
    "projector",
    "travelling",
    "at_screen",
    "paused",
    "lens_unknown",
    "panels",
    "first_minutes",
    "per_title",
    "per_night",
    "unreached",
    "asked",
    "circle",
    "flash",
    "linger",
    "picture",
    "nearest",
    "menu",
    "helper",
    "mid_title",
    "travel_first",
]
"""Why what is wanted is not being done now."""

HOLDS: Final[dict[HoldCode, str]] = {
    "no_source": "No source has been reported yet: there is nothing to show.",
    "service": "A technician is at work: no orders until they have finished.",
    "projector": "The projector gives no light yet, or no more: orders wait until it is lit.",
    "travelling": "The lens is travelling: one travel at a time.",
    "at_screen": "Somebody is at the screen: picture, lens and other panels wait for them.",
    "paused": "Playback is paused: a pause moves nothing.",
    "lens_unknown": "Nobody knows where the lens stands, and something may be playing.",
    "panels": "The lens waits: panels that have to come off first are fitted, or may be.",
    "first_minutes": "The title's first minutes are over: no recall in mid-title.",
    "per_title": "This title has had its recalls.",
    "per_night": "This night has had its recalls.",
    "unreached": "That preset was refused or never reached: no new try until something changes.",
    "asked": "Somebody has been asked to see to the panels: the lens waits for them.",
    "circle": "The rules lead round in a circle: they wait until something outside changes.",
    "flash": "The picture has just changed: three large changes a second are the most.",
    "linger": "The wish for another preset or other panels must stand for a while first.",
    "picture": "The picture has to stand safely before the lens may travel.",
    "nearest": "The wanted picture cannot be shown at this shape and preset: plain is the nearest.",
    "menu": "A menu is not distorted, not even by hand: the wish counts once something plays.",
    "helper": "Nobody is free to fit panels this session.",
    "mid_title": "The title's first minutes are over: nobody is asked in mid-title.",
    "travel_first": "The lens travels first, then panels are fitted.",
}
"""Every hold with its sentence."""

Principle = Literal["lens", "panels", "pace", "picture", "rules"]

NOTED: Final[dict[HoldCode, Principle]] = {
    "lens_unknown": "lens",
    "panels": "panels",
    "first_minutes": "pace",
    "per_title": "pace",
    "per_night": "pace",
    "unreached": "lens",
    "nearest": "picture",
    "helper": "panels",
    "mid_title": "pace",
    "circle": "rules",
}
"""The holds worth a note, with the principle that makes them."""

_BEFORE: Final = (
    "Answer 'ready' before you go: the picture goes dark first.",
    "Ask for low house light; never darken escape lighting.",
    "Answer 'no' if nobody is free: the picture stays inside what is open.",
)
_AT_THE_SCREEN: Final = (
    (
        "Keep out of the beam, and never look into the lens (IEC 62471-5 risk groups; "
        "at long zoom the safe distance grows)."
    ),
    "Large panels need two people, and whatever hangs needs a second retention.",
    "Nothing goes near the hot exhaust; lens and lamp cool before they are touched.",
    (
        "Answer 'done' when you are away from the screen. Fixed wiring and loads on the ceiling "
        "are for licensed trades under local codes."
    ),
)
_BACK: Final = (
    "Answer 'done' when you are away from the screen, or 'no' if it cannot be done.",
    "If nobody answers, the light comes back, inside what can only be open.",
)


class ScreenLight(Enum):
    """What is known of the picture while somebody is at the screen."""

    OFF = "The picture is dark now. "
    TOLD = "The picture has been told to go dark: see that it is before you go near. "
    ON = (
        "The picture could not be made dark: switch the light off, "
        "or keep out of the beam before you reach to the screen. "
    )


CAUTIONS: Final[dict[Stage, tuple[str, ...]]] = {
    "asked": _BEFORE,
    "reminded": _BEFORE,
    "at the screen": _AT_THE_SCREEN,
    "light comes back": _BACK,
}
"""What each stage of a prompt says about safety."""


def prompt_words(panels: Panels, stage: Stage, light: ScreenLight) -> str:
    """Say what is asked for."""
    if panels.opening is None:
        task = f"Panels to '{panels.name}': take off whatever covers the screen."
    else:
        free = ratio_text(panels.opening)
        task = f"Panels to '{panels.name}': leave {free} of the screen free."
    if stage == "reminded":
        return "Still waiting. " + task
    if stage == "light comes back":
        return "Still at the screen? The light comes back soon. " + task
    return light.value + task if stage == "at the screen" else task
