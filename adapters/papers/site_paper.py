"""The site's paper: a worksheet of presets, the cutting list of panels, corners to be read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from adapters.render.testcard import expected
from engine.aspect import ratio_text
from engine.optics import window
from engine.plane import PIXEL
from engine.planning.alignment import SIDES
from engine.planning.margins import narrowest
from rules.text.quantity import show_length

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.planning.plan import Plan, Zoom
    from engine.room import Room

TableRow = tuple[str, ...]
CORNERS: Final = 4


class SitePaper(NamedTuple):
    """What the site's paper says beside its drawings."""

    about: tuple[TableRow, ...]
    presets: tuple[TableRow, ...]
    corners: tuple[TableRow, ...]
    pieces: tuple[TableRow, ...]
    margins: tuple[TableRow, ...]


def site_paper(plan: Plan) -> SitePaper:
    """Gather the site's paper; lengths in millimetres, from the screen's top left."""
    return SitePaper(
        about=tuple(_about(plan.room)),
        presets=tuple(_preset(zoom) for zoom in plan.zooms),
        corners=tuple(row for preset in plan.room.presets for row in _corners(plan.room, preset)),
        pieces=tuple(_pieces(plan)),
        margins=tuple(_margins(plan.room, preset) for preset in plan.room.presets),
    )


def _about(room: Room) -> Iterator[TableRow]:
    screen, throw = room.screen, room.projector.throw
    yield "Screen", f"{_mm(screen.width)} x {_mm(screen.height)} mm, {ratio_text(screen.aspect)}"
    yield "Border", show_length(screen.border)
    yield "Raster", f"{room.projector.columns} x {room.projector.rows}"
    if throw is None:
        yield "Lens", "not in the room file: give projector: throw to have it here"
        return
    yield "Lens to screen", f"{_mm(throw.distance)} mm"
    over = screen.height / 2 + throw.offset_up
    yield "Lens above the screen's lower edge", f"{_mm(over)} mm"
    off = throw.offset_across
    side = " right" if off > 0 else " left" if off < 0 else ""
    yield "Lens off the screen's middle", f"{_mm(abs(off))} mm{side}"
    yield "To measure: from the finished floor up to the white area's lower edge", ""
    for row in room.seats or ("each row",):
        yield f"To measure: from the finished floor up to the eyes of whoever sits in {row}", ""


def _preset(zoom: Zoom) -> TableRow:
    reach = zoom.reach
    throw, shift = "", ""
    if reach is not None:
        throw = ratio_text(reach.throw_ratio) + ("" if reach.in_range else " out of reach")
        shift = f"{reach.shift_up / 100:+.0f} %, {reach.shift_across / 100:+.0f} %"
    light = "" if zoom.light is None else f"{zoom.light.luminance:.0f}"
    return (
        zoom.preset,
        ratio_text(zoom.fits),
        f"{_mm(zoom.width)} x {_mm(zoom.height)}",
        *(throw, shift, light, "", ""),
    )


def _corners(room: Room, preset: str) -> Iterator[TableRow]:
    """Give where each corner is expected or was read, in pixels, and where it is in millimetres."""
    measured = room.presets[preset].measured
    width, height = room.screen.width, room.screen.height
    places = ((0, 0), (width, 0), (width, height), (0, height))
    for index, one in enumerate(expected(room, preset)[:CORNERS]):
        read = (
            ""
            if measured is None
            else f"{measured[index].x / PIXEL:g}, {measured[index].y / PIXEL:g}"
        )
        at = f"{_mm(places[index][0])}, {_mm(places[index][1])}"
        yield preset, one.name.replace("_", " "), at, f"{one.x}, {one.y}", read


def _pieces(plan: Plan) -> Iterator[TableRow]:
    """List what is to be cut: what of each panel covers the screen, without what holds it."""
    screen = plan.room.screen
    for one in plan.maskings:
        free = window(plan.room, one.panels)
        opening = f"{_mm(free.width)} x {_mm(free.height)}, {ratio_text(one.opening)}"
        if one.side:
            size = f"{_mm(one.side)} x {_mm(screen.height)}"
            yield one.panels, "at the sides", "2", size, opening
        if one.end:
            size = f"{_mm(screen.width)} x {_mm(one.end)}"
            yield one.panels, "above and below", "2", size, opening


def _margins(room: Room, preset: str) -> TableRow:
    """Say for each side how far the edge may move inwards and outwards, and onto what."""
    cells = [preset]
    found = narrowest(room, preset)
    for side in SIDES:
        one = found[side]
        inwards = "ends inside" if one.inwards is None else _mm(one.inwards)
        cells.append(f"{inwards} / {_mm(one.outwards)} {'panel' if one.on_panel else 'border'}")
    return tuple(cells)


def _mm(micrometres: float) -> str:
    return f"{micrometres / 1_000:.0f}"
