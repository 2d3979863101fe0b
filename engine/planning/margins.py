"""Say how far each edge of a preset's picture may move before it shows.

A lens that creeps moves the picture. Where an edge moves inwards, a strip of the screen stays dark
as soon as the picture no longer passes the edge of what is free. Where it moves outwards, light
falls on a panel at once, or beyond the border as soon as the border is used up. An edge that ends
inside the free part anyway leaves nothing dark by moving.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from engine.optics import Rect, fit, window
from engine.plane import at_ends
from engine.planning.alignment import SIDES, Side
from engine.planning.placement import free_area, outline, widest
from engine.room import PLAIN

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.room import Room

_ENDS: Final[dict[Side, tuple[int, int]]] = {
    "left": (0, 3),
    "top": (0, 1),
    "right": (1, 2),
    "bottom": (2, 3),
}
"""Which two corners, clockwise from the top left, an edge ends in."""


class Margin(NamedTuple):
    """How far one edge may move, in micrometres. 0: any movement shows."""

    inwards: int | None
    """Before a strip stays dark; None: the picture ends inside, so nothing more stays dark."""
    outwards: int
    """Before light falls where none belongs."""
    on_panel: bool
    """Whether that is a panel; else it is beyond the border."""


class PresetMargins(NamedTuple):
    """The margins of one preset with one arrangement of panels."""

    panels: str | None
    edges: dict[Side, Margin]
    bleed: dict[Side, int]
    """How far the raster passes each edge of what is free, micrometres; negative: it ends inside.
    Within it new corners in the room file put right what has crept; beyond it only the lens does.
    """


def margins(room: Room, preset: str) -> tuple[PresetMargins, ...]:
    """Work out the margins of the picture that a preset fits, shown plain.

    Once for each arrangement of panels that a rule fits at this preset; with the widest opening if
    no rule names one. With corners that are not square the worse end of each edge counts.
    """
    return tuple(_margins(room, preset, panels) for panels in _panels(room, preset))


def narrowest(room: Room, preset: str) -> dict[Side, Margin]:
    """Give for each edge and direction the narrowest of a preset's margins."""
    found = margins(room, preset)
    return {side: _narrowest([one.edges[side] for one in found]) for side in SIDES}


def _narrowest(found: list[Margin]) -> Margin:
    inwards = [one.inwards for one in found if one.inwards is not None]
    outwards = min(found, key=lambda one: (one.outwards, not one.on_panel))
    return outwards._replace(inwards=min(inwards, default=None))


def _panels(room: Room, preset: str) -> list[str | None]:
    """Name the arrangements that rules show at a preset."""
    shown = [row.output for row in room.rules.table.rows]
    named = {one.panels for one in shown if one.preset == preset and one.panels is not None}
    return [*sorted(named)] or [widest(room)]


def _margins(room: Room, preset: str, panels: str | None) -> PresetMargins:
    at = room.presets[preset]
    rect = fit(room, PLAIN, 0, at.fits, preset, panels)
    raster = Rect(0, 0, room.projector.columns, room.projector.rows)
    # Edges are compared in the raster's own pixels: less than two of them are rounding.
    trifle = 2 * at.raster_width / room.projector.columns
    picture = dict(_passing(room, panels, outline(room, preset, rect)))
    edges = {side: _margin(room, panels, side, picture[side], trifle) for side in SIDES}
    light = dict(_passing(room, panels, outline(room, preset, raster)))
    return PresetMargins(panels, edges, {side: round(light[side][0]) for side in SIDES})


def _margin(
    room: Room, panels: str | None, side: Side, passing: tuple[float, float], trifle: float
) -> Margin:
    least, most = passing
    free = window(room, panels)
    across = side in {"left", "right"}
    on_panel = (free.width < room.screen.width) if across else (free.height < room.screen.height)
    swallowed = 0 if on_panel else room.screen.border
    return Margin(
        inwards=None if least < -trifle else max(0, round(least)),
        outwards=max(0, round(swallowed - most)),
        on_panel=on_panel,
    )


def _passing(
    room: Room, panels: str | None, corners: tuple[tuple[float, float], ...]
) -> Iterator[tuple[Side, tuple[float, float]]]:
    """Yield how far each edge passes the free part, least and most, in micrometres.

    The least is looked for along the free part: what a slanting edge does beyond that leaves
    nothing of it dark. The most is that of its ends, for light may fall there.
    """
    free = free_area(room, panels)
    for index, (side, end) in enumerate(zip(SIDES, free, strict=True)):
        axis, outwards = index % 2, 1 if index > 1 else -1
        one, other = (corners[corner] for corner in _ENDS[side])
        along = at_ends((one, other), axis, (free[1 - axis], free[3 - axis]))
        least = min(outwards * (place - end) for place in along)
        yield side, (least, max(outwards * (place[axis] - end) for place in (one, other)))
