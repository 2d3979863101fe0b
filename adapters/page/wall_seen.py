"""Read off `standing` what is to be drawn of a room, and the sentence that says the same."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

from adapters.render.family_wall import PictureSeen, WallSeen
from engine.aspect import SCALE, WIDE_FRAME, ratio_of_size
from engine.optics import Rect, fit, window
from engine.planning.placement import outline
from engine.room import DARK, WHOLE

if TYPE_CHECKING:
    from adapters.page.page_words import PageCode
    from adapters.render.family_wall import Certainty
    from engine.room import Room

NEARLY: Final = 0.985
"""A picture with this share of a length fills it, as far as anybody sees."""


class WallSight(NamedTuple):
    """What is seen, and the code of the sentence that says it."""

    wall: WallSeen
    code: PageCode


def frame_of(standing: dict[str, Any]) -> int:
    """Give the ratio of the coded frame, of which the picture may be a part."""
    signal = standing["signal"]
    columns, rows = signal["columns"], signal["rows"]
    return ratio_of_size(columns, rows) if columns and rows else WIDE_FRAME


def picture_in(frame: Rect, aspect: int) -> Rect:
    """Find the picture of a ratio in the middle of a frame that is shown whole, bars and all."""
    width = min(frame.width, frame.height * aspect // SCALE)
    height = min(frame.height, frame.width * SCALE // aspect)
    left = frame.left + (frame.width - width) // 2
    return Rect(left, frame.top + (frame.height - height) // 2, width, height)


def aspect_shown(standing: dict[str, Any]) -> int:
    """Give the ratio that is there now; nobody knows it: that of the frame."""
    aspect = standing["aspect"]
    return frame_of(standing) if aspect is None else max(1, round(aspect * SCALE))


def rect_shown(room: Room, standing: dict[str, Any], picture: str, lift: int) -> Rect | None:
    """Work out where a picture stands with lens and panels as they stand; None: nobody knows."""
    parts = standing["parts"]
    preset = parts["preset"]["stands"] or parts["preset"]["ordered"]
    if preset not in room.presets or picture not in {*room.pictures, "plain", WHOLE, DARK}:
        return None
    panels = known_panels_of(room, standing)
    if picture == WHOLE:
        frame = fit(room, WHOLE, lift, frame_of(standing), preset, panels)
        return picture_in(frame, aspect_shown(standing)) if not frame.empty else frame
    return fit(room, picture, lift, aspect_shown(standing), preset, panels)


def known_panels_of(room: Room, standing: dict[str, Any]) -> str | None:
    """Give the panels as they are known to stand; None: nobody knows, or the room has not those."""
    panels = standing["panels"]
    return panels if panels in room.panels else None


def sight_of(room: Room, standing: dict[str, Any]) -> WallSight:
    """Say what is seen of the picture: where it is reported, else where it was ordered."""
    panels = known_panels_of(room, standing)
    parts = standing["parts"]
    empty = WallSeen(None, panels)
    if standing["lens"] == "travelling":
        return WallSight(WallSeen(_arriving(room, standing), panels), "seen_moving")
    stands, ordered = parts["picture"]["stands"], parts["picture"]["ordered"]
    if stands == DARK:
        return WallSight(empty, "seen_dark")
    preset = parts["preset"]["stands"] or parts["preset"]["ordered"]
    region = standing["region"]
    if stands is not None and region is not None and preset in room.presets:
        rect = Rect(region["left"], region["top"], region["width"], region["height"])
        if stands == WHOLE and not rect.empty:
            rect = picture_in(rect, aspect_shown(standing))
        sure: Certainty = "stands" if parts["preset"]["stands"] else "ordered"
        seen = PictureSeen(preset, rect, aspect_shown(standing) / SCALE, sure)
        return WallSight(WallSeen(seen, panels), _sentence(room, seen, panels))
    if ordered is not None:
        place = rect_shown(room, standing, ordered, 0)
        if place is not None and not place.empty:
            seen = PictureSeen(preset, place, aspect_shown(standing) / SCALE, "ordered")
            return WallSight(WallSeen(seen, panels), "seen_ordered")
    return WallSight(empty, "seen_nobody_knows")


def _arriving(room: Room, standing: dict[str, Any]) -> PictureSeen | None:
    """Give the picture where it will be once the lens has arrived, as only ordered."""
    preset, picture = standing["parts"]["preset"]["ordered"], standing["parts"]["picture"]
    name = picture["stands"] or picture["ordered"]
    if preset not in room.presets or name is None:
        return None
    rect = rect_shown(room, standing, name, 0)
    if rect is None or rect.empty:
        return None
    return PictureSeen(preset, rect, aspect_shown(standing) / SCALE, "ordered")


def _sentence(room: Room, seen: PictureSeen, panels: str | None) -> PageCode:
    """Say what a picture leaves free of what the panels leave of the screen."""
    if seen.rect.empty:
        return "seen_dark"
    corners = outline(room, seen.preset, seen.rect)
    free = window(room, panels)
    wide = corners[1][0] - corners[0][0] >= NEARLY * free.width
    high = corners[3][1] - corners[0][1] >= NEARLY * free.height
    codes: dict[tuple[bool, bool], PageCode] = {
        (True, True): "seen_fills",
        (False, True): "seen_sides",
        (True, False): "seen_ends",
        (False, False): "seen_inside",
    }
    return codes[wide, high]
