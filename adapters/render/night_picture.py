"""The picture as the audience saw it at a moment of a night, and what it was decided on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from adapters.render import svg
from adapters.render.palette import ON_PAPER, line_style
from adapters.render.wall_drawing import (
    draw_lit,
    draw_panels,
    draw_raster,
    draw_wall,
    wall_view,
)
from engine.optics import largest_preset
from engine.planning.placement import outline

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.room import Room
    from engine.state import Core

WIDE = 300.0


def seen_picture(room: Room, core: Core, wide: float = WIDE) -> str:
    """Draw screen, panels and picture as they stood; the page must hold the hatches.

    Where nobody knows where the lens stands it is drawn at the largest raster.
    """
    view = wall_view(room, wide)
    known = core.preset is not None and core.preset in room.presets
    preset = core.preset if known and core.preset is not None else largest_preset(room)
    parts = list(draw_wall(room, view, ON_PAPER, preset))
    parts += draw_panels(room, view, ON_PAPER, core.arrangement)
    if core.shown is not None and not core.shown.region.empty:
        corners = outline(room, preset, core.shown.region)
        parts.append(draw_lit(view, corners, ON_PAPER))
        if core.failed:
            parts.append(
                svg.draw_polygon(map(view.at, corners), **line_style(ON_PAPER, "wrong", 2))
            )
    parts.append(draw_raster(room, view, ON_PAPER, preset))
    width, height = view.size
    return (
        f'<svg class="seen" viewBox="0 0 {width:.0f} {height:.0f}" role="img"'
        f' aria-label="The picture as the audience saw it">{"".join(parts)}</svg>'
    )


def seen_words(room: Room, core: Core) -> str:
    """Say what the drawing shows, and what of it is not known."""
    return "; ".join(_seen(room, core)) + "."


def _seen(room: Room, core: Core) -> Iterator[str]:
    if core.shown is None:
        yield "no picture is known"
    elif core.shown.region.empty:
        yield "nothing was lit"
    else:
        region = core.shown.region
        yield f"{core.shown.picture}, {region.width} x {region.height} pixels"
    if core.failed:
        yield "it was ordered and not done"
    elif core.picture is not None:
        yield "it was ordered and not yet confirmed"
    if core.preset not in room.presets:
        yield f"nobody knew where the lens stood: drawn at {largest_preset(room)}"
    elif core.lens == "travelling":
        yield f"the lens was on its way{' by hand' if core.recall is None else ''} to {core.preset}"
    else:
        yield f"lens at {core.preset}"
    if core.arrangement is None:
        yield "how the panels stood was not known: all that may be fitted are drawn"
    else:
        yield f"panels {core.arrangement}"
    if core.override == "person":
        yield "a person had the room"
