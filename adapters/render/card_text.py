"""How a test card is read: where the corners are expected, and what to take care of."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, Final

from adapters.render.plan_sentences import AT_THE_SCREEN, BEAM, ON_A_LADDER
from adapters.render.testcard import expected, inside
from rules.text.findings import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.room import Room

WIDTH: Final = 100
CORNERS: Final = 4


def card_lines(room: Room, preset: str) -> Iterator[str]:
    """Say how the card of a preset is read and where its corners are typed."""
    for sentence in _reading(room, preset):
        yield from wrap(sentence, WIDTH)
    for caution in (BEAM, AT_THE_SCREEN, ON_A_LADDER):
        yield from wrap(f"! {caution}", WIDTH, subsequent_indent="  ")


def _reading(room: Room, preset: str) -> Iterator[str]:
    """Say where each corner is expected, and how to read a corner that is not on the card."""
    corners = expected(room, preset)[:CORNERS]
    places = ", ".join(f"{place.name}: {place.x} x {place.y}" for place in corners)
    yield "Recall the preset, read where the corners of the white screen lie, and type them."
    yield f"Expected: presets: {{{preset}: {{measured: {{{places}}}}}}}"
    beyond = [place.name for place in corners if not inside(room, place)]
    if beyond:
        across = abs(corners[1].x - corners[0].x) / (room.screen.width / 1_000)
        yield (
            f"{listed(beyond, 'and')} lie outside the raster, which is smaller than the screen "
            f"here: measure on from its edge, at {across:.3f} pixels to the millimetre. Left of "
            "the raster and above it numbers are negative."
        )
