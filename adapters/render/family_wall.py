"""The wall as a family sees it on a phone in the dark: screen, panels and picture, to scale.

A picture that stands is filled; one that is only ordered is a dashed outline. Both carry a circle,
drawn as the picture distorts it. Panels are hatched, and dashed where nobody knows of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from adapters.render import svg
from adapters.render.palette import ON_BLACK, hatches, line_style
from adapters.render.wall_drawing import WallView, draw_lit, draw_panels
from engine.optics import window
from engine.planning.placement import outline

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.optics import Rect
    from engine.room import Room

ACROSS: Final = 320.0
"""Width of a drawing in its own units; its height follows from the room."""
AROUND: Final = 0.015
"""How much of the wall is seen beyond the border, as a share of the screen's width."""
CIRCLE: Final = 0.3
"""The circle's radius, as a share of the picture's height."""

Certainty = Literal["stands", "ordered"]


class PictureSeen(NamedTuple):
    """A picture to draw, and how sure it is."""

    preset: str
    rect: Rect
    """Its place in the raster at that preset, in pixels."""
    aspect: float
    """The picture's own ratio, before it is widened."""
    certainty: Certainty


class WallSeen(NamedTuple):
    """What is to be drawn of a room."""

    picture: PictureSeen | None
    """None: there is none, or nobody knows where."""
    panels: str | None
    """None: nobody knows how they stand; any of them may be fitted."""


def panel_hatch() -> str:
    """Make the hatch of panels, once for all drawings of a page."""
    return svg.element(
        "svg", hatches(ON_BLACK, ("panel",)), width=0, height=0, aria_hidden="true", class_="unseen"
    )


def draw_family_wall(room: Room, seen: WallSeen) -> str:
    """Draw the wall as a part of a page; the words beside it say the same."""
    view = _view(room)
    parts = [*_screen(room, view), *_panels(room, view, seen.panels)]
    if seen.picture is not None and not seen.picture.rect.empty:
        parts += _picture(room, view, seen.picture)
    wide, high = map(svg.short_number, view.size)
    return svg.element(
        "svg",
        "".join(parts),
        viewBox=f"0 0 {wide} {high}",
        aria_hidden="true",
        focusable="false",
    )


def _view(room: Room) -> WallView:
    """Show the screen and its border, and a little of the wall."""
    screen = room.screen
    around = screen.border + screen.width * AROUND
    width, height = screen.width + 2 * around, screen.height + 2 * around
    return WallView(-around, -around, width, height, ACROSS / width)


def _screen(room: Room, view: WallView) -> Iterator[str]:
    """Draw the border and the screen."""
    screen = room.screen
    for over, fill, edge in (
        (screen.border, ON_BLACK.border, "none"),
        (0, ON_BLACK.screen, ON_BLACK.faint),
    ):
        x, y = view.at((-over, -over))
        yield svg.draw_rect(
            round(x, 1),
            round(y, 1),
            (screen.width + 2 * over) * view.scale,
            (screen.height + 2 * over) * view.scale,
            fill=fill,
            stroke=edge,
        )


def _panels(room: Room, view: WallView, panels: str | None) -> Iterator[str]:
    """Draw what covers the screen; where nobody knows, the edges of all that may be fitted."""
    if panels is not None:
        yield from draw_panels(room, view, ON_BLACK, panels)
        return
    width, height = room.screen.width, room.screen.height
    for free in sorted({window(room, one) for one in room.panels}):
        side, end = (width - free.width) / 2, (height - free.height) / 2
        across = [((x, 0), (x, height)) for x in (side, width - side) if side]
        down = [((0, y), (width, y)) for y in (end, height - end) if end]
        for start, stop in (*across, *down):
            yield svg.draw_line(view.at(start), view.at(stop), **line_style(ON_BLACK, "panel"))


def _picture(room: Room, view: WallView, seen: PictureSeen) -> Iterator[str]:
    """Draw the picture, with a circle in it as the picture's own is seen on the screen."""
    outer = outline(room, seen.preset, seen.rect)
    corners = [view.at(place) for place in outer]
    stands = seen.certainty == "stands"
    colour = ON_BLACK.ground if stands else ON_BLACK.lit
    if stands:
        yield draw_lit(view, outer, ON_BLACK)
    else:
        yield svg.draw_polygon(
            corners, fill="none", stroke=colour, stroke_width=1.5, stroke_dasharray="6 4"
        )
    across, down = [x for x, _ in corners], [y for _, y in corners]
    wide, high = max(across) - min(across), max(down) - min(down)
    widened = seen.rect.width / seen.rect.height / seen.aspect
    yield svg.element(
        "ellipse",
        cx=(max(across) + min(across)) / 2,
        cy=(max(down) + min(down)) / 2,
        rx=min(high * CIRCLE * widened, wide * 0.45),
        ry=high * CIRCLE,
        fill="none",
        stroke=colour,
        stroke_width=1.2,
    )
