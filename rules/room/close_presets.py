"""Find presets that lie so close together that nobody sees a travel from one to the other."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, Final

from engine.aspect import SAME_SHAPE, SCALE
from engine.plane import PIXEL
from rules.room.measured import place_in
from rules.text.quantity import show_share

if TYPE_CHECKING:
    from engine.room import Corners, Preset, Room
    from rules.room.names import Report
    from rules.text.yaml_nodes import Mapping

CLOSE: Final = SAME_SHAPE
"""Two rasters that differ by no more than this share of the larger width are one, in 1/10,000.

Within it two ratios count as one shape, so that no rule can tell which of the two presets a film
needs, and `roomcue new` refuses to write them. Of a screen of 3 m, 2 % is 30 mm on each side: as
much as a picture may pass the screen's edge by default (`overfill`), so that both presets fill the
same screen. Common practice, with no source. A travel between them wears the lens and shows
nothing."""


def check_close_presets(report: Report, root: Mapping, room: Room) -> None:
    """Warn about each two presets that cannot be told apart, at the one that stands second."""
    for one, other in combinations(room.presets.values(), 2):
        difference = _difference(one, other)
        if difference > CLOSE or _stand_apart(room, one.measured, other.measured):
            continue
        how = "are equally wide" if not difference else f"differ by {show_share(difference)}"
        report.warning(
            "presets-too-close",
            place_in(root, "presets", other.name, "fits"),
            f"presets {one.name} and {other.name} cannot be told apart: their rasters {how}",
            _advice(room, one, other),
        )


def _difference(one: Preset, other: Preset) -> int:
    """Give by which share of the larger one two rasters differ in width, in 1/10,000."""
    larger = max(one.raster_width, other.raster_width)
    return abs(one.raster_width - other.raster_width) * SCALE // larger


def _stand_apart(room: Room, one: Corners | None, other: Corners | None) -> bool:
    """Tell whether measured corners show that two presets differ, in size or in place."""
    if one is None or other is None:
        return False
    least = room.projector.columns * PIXEL * CLOSE // SCALE
    return any(
        max(abs(here.x - there.x), abs(here.y - there.y)) >= least
        for here, there in zip(one, other, strict=True)
    )


def _advice(room: Room, one: Preset, other: Preset) -> str:
    """Say what to do; presets on one side of screen and raster are equal for another reason."""
    keep = f"Keep one of the two, and show {one.name} where rules show {other.name}"
    low, high = sorted((room.screen.aspect, room.projector.aspect))
    if one.raster_width == other.raster_width and one.fits != other.fits:
        return (
            f"{keep}: with this screen and raster presets differ only where they fit "
            f"{low / SCALE:.2f} to {high / SCALE:.2f}."
        )
    return f"{keep}, or let them differ by more than {show_share(CLOSE)}."
