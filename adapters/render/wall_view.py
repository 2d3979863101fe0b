"""The wall as a family sees it, drawn to scale for a dark room: screen, panels, picture.

Nothing is told by colour alone: panels are hatched, a picture that is only ordered is a dashed
outline, one that stands is filled and carries a circle, which is drawn as the picture distorts it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from adapters.render import svg
from engine.optics import window
from engine.planning.placement import outline

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.optics import Rect
    from engine.room import Room

ACROSS: Final = 320.0
"""Width of a drawing in its own units; its height follows from the room."""
AROUND: Final = 0.04
"""How much of the wall is seen on each side, as a share of the screen's width."""
BORDER: Final = "#050505"
SCREEN: Final = "#2b2b2b"
EDGE: Final = "#6f6f6f"
PICTURE: Final = "#7f9fb4"
MARK: Final = "#22323c"
HATCHED: Final = "url(#panels-hatched)"
PANEL_EDGE: Final = "#a8756a"
ORDERED: Final = "#b9cad6"

Fill = Literal["stands", "ordered"]


class PictureSeen(NamedTuple):
    """A picture to draw, and how sure it is."""

    preset: str
    rect: Rect
    """Its place in the raster at that preset, in pixels."""
    aspect: float
    """The picture's own ratio, before it is widened."""
    fill: Fill


class WallSeen(NamedTuple):
    """What is to be drawn of a room."""

    picture: PictureSeen | None
    """None: there is none, or nobody knows where."""
    panels: str | None
    """None: nobody knows how they stand; they are drawn as if all of them might be fitted."""


class _Scale(NamedTuple):
    """From micrometres on the screen's plane to units of the drawing."""

    factor: float
    left: float
    top: float

    def x(self, at: float) -> float:
        return (at + self.left) * self.factor

    def y(self, at: float) -> float:
        return (at + self.top) * self.factor


def hatching() -> str:
    """Make the pattern of panels, once for all drawings of a page."""
    back = svg.draw_rect(0, 0, 7, 7, fill="#3b211c")
    stroke = svg.draw_line((0, 7), (7, 0), stroke="#8d5a50", stroke_width=1.4)
    pattern = svg.element(
        "pattern",
        back + stroke,
        id="panels-hatched",
        width=7,
        height=7,
        patternUnits="userSpaceOnUse",
    )
    return svg.element("svg", svg.element("defs", pattern), width=0, height=0, aria_hidden="true")


def draw_wall(room: Room, seen: WallSeen) -> str:
    """Draw the wall as a part of a page; the words beside it say the same, so it has none."""
    screen = room.screen
    around = screen.border + screen.width * AROUND
    factor = ACROSS / (screen.width + 2 * around)
    scale = _Scale(factor, around, around)
    high = (screen.height + 2 * around) * factor
    parts = [*_screen(room, scale), *_panels(room, seen.panels, scale)]
    if seen.picture is not None:
        parts += _picture(room, seen.picture, scale)
    return svg.element(
        "svg",
        "".join(parts),
        viewBox=f"0 0 {svg.short_number(ACROSS)} {svg.short_number(high)}",
        aria_hidden="true",
        focusable="false",
    )


def _screen(room: Room, scale: _Scale) -> Iterator[str]:
    """Draw the border and the screen."""
    screen = room.screen
    for over, style in ((screen.border, {"fill": BORDER}), (0, {"fill": SCREEN, "stroke": EDGE})):
        yield svg.draw_rect(
            _short(scale.x(-over)),
            _short(scale.y(-over)),
            (screen.width + 2 * over) * scale.factor,
            (screen.height + 2 * over) * scale.factor,
            **style,
        )


def _panels(room: Room, panels: str | None, scale: _Scale) -> Iterator[str]:
    """Draw what covers the screen; where nobody knows, as a dashed outline without a filling."""
    screen, free = room.screen, window(room, panels)
    side, end = (screen.width - free.width) / 2, (screen.height - free.height) / 2
    style = {"fill": HATCHED, "stroke": PANEL_EDGE}
    if panels is None:
        style = {"fill": "none", "stroke": PANEL_EDGE, "stroke_dasharray": "4 4"}
    for left, top, wide, high in (
        (0.0, 0.0, side, screen.height),
        (screen.width - side, 0.0, side, screen.height),
        (0.0, 0.0, screen.width, end),
        (0.0, screen.height - end, screen.width, end),
    ):
        if wide > 0 and high > 0:
            yield svg.draw_rect(
                _short(scale.x(left)),
                _short(scale.y(top)),
                wide * scale.factor,
                high * scale.factor,
                **style,
            )


def _picture(room: Room, seen: PictureSeen, scale: _Scale) -> Iterator[str]:
    """Draw the picture, with a circle in it as the picture's own is seen on the screen."""
    if seen.rect.empty:
        return
    corners = [(scale.x(x), scale.y(y)) for x, y in outline(room, seen.preset, seen.rect)]
    style: dict[str, float | str] = {"fill": PICTURE}
    if seen.fill == "ordered":
        style = {"fill": "none", "stroke": ORDERED, "stroke_dasharray": "6 4", "stroke_width": 1.5}
    yield svg.draw_polygon(corners, **style)
    across = [x for x, _ in corners]
    down = [y for _, y in corners]
    wide, high = max(across) - min(across), max(down) - min(down)
    widened = seen.rect.width / seen.rect.height / seen.aspect
    yield svg.element(
        "ellipse",
        cx=(max(across) + min(across)) / 2,
        cy=(max(down) + min(down)) / 2,
        rx=min(high * 0.3 * widened, wide * 0.45),
        ry=high * 0.3,
        fill="none",
        stroke=MARK if seen.fill == "stands" else ORDERED,
        stroke_width=1.5,
    )


def _short(value: float) -> float:
    return round(value, 1)
