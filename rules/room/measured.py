"""Check the corners that were measured on site against the screen, its border and its preset.

Somebody reads the corners off the test card and types them into the room file. They say where the
screen is, so a mistake in them would misplace every picture. What no screen can have is an error;
what is only unlikely is a warning.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.aspect import SCALE, ratio_text
from engine.plane import PIXEL, raster_seen
from engine.planning.alignment import SIDES, align
from rules.text.yaml_nodes import node_at

if TYPE_CHECKING:
    from engine.room import Corner, Corners, Middles, Preset, Room
    from rules.room.names import Report
    from rules.text.yaml_nodes import Mapping, Node, Place

MOST_OVERHANG: Final = 1_000
"""How far a corner may lie outside the range expected for it, in 1/10,000 of the raster's size."""
MOST_EDGE_DIFFERENCE: Final = 2_500
"""How much longer than its opposite edge an edge may be, in 1/10,000; more comes from no lens."""
MOST_ASPECT_ERROR: Final = 300
"""How far the measured aspect may be from the file's without a warning, in 1/10,000 of it."""
MOST_RASTER_ERROR: Final = 500
"""How far the measured raster width may be from the preset's without a warning, in 1/10,000.

A zoom is set by eye, so a small difference is normal."""
MOST_BOW: Final = 500
"""How far an edge's middle may lie off the middle of its corners, in 1/10,000 of the edge."""


def check_measured(report: Report, root: Mapping, room: Room, preset: Preset) -> bool:
    """Check that measured corners belong to this screen, and that its border takes the spill.

    Return whether placements can be computed from them.
    """
    if preset.measured is None:
        return True
    path = ("presets", preset.name, "measured")
    within = [
        _check_corner(report, place_in(root, *path, name), room, preset, (name, index))
        for index, name in enumerate(preset.measured._fields)
    ]
    if not all(within) or not _check_shape(report, place_in(root, *path), room, preset):
        return False
    if preset.middles is not None:
        _check_middles(report, root, path, preset.measured, preset.middles)
    found = align(room, preset.measured, preset.middles)
    for side in found.beyond:
        over = found.spill[SIDES.index(side)]
        first = f" First: {found.first.turn}." if found.first else ""
        report.error(
            "spill",
            place_in(root, *path),
            f"at preset {preset.name} the rectangle that takes in these corners passes the screen "
            f"by {millimetres(over)} on the {side}, and the border takes "
            f"{millimetres(room.screen.border)}",
            f"Align the projector and read the corners again.{first}",
        )
    return not found.beyond


def _check_corner(
    report: Report, where: Place, room: Room, preset: Preset, corner: tuple[str, int]
) -> bool:
    """See that a corner lies in the raster, or as far outside as this screen is the larger one."""
    assert preset.measured is not None  # noqa: S101 - the caller has seen it
    name, index = corner
    place = preset.measured[index]
    spans = (
        (place.x, room.projector.columns, room.screen.width, preset.raster_width),
        (place.y, room.projector.rows, room.screen.height, preset.raster_height),
    )
    limits = []
    for _, pixels, length, raster in spans:
        outside = max(0, length - raster) * pixels // (2 * raster)
        slack = pixels * MOST_OVERHANG // SCALE if length * 100 >= raster * 98 else 0
        limits.append((-outside - slack, pixels + outside + slack))
    if all(
        least * PIXEL <= value <= most * PIXEL
        for (value, *_), (least, most) in zip(spans, limits, strict=True)
    ):
        return True
    (left, right), (top, bottom) = limits
    report.error(
        "out-of-range",
        where,
        f"{name}: {place.x / PIXEL:g} x {place.y / PIXEL:g} lies where no corner of this screen "
        f"can be at preset {preset.name}",
        f"Write {left} x {top} to {right} x {bottom}.",
    )
    return False


def _check_shape(report: Report, where: Place, room: Room, preset: Preset) -> bool:
    """Check that four corners have the shape and size of this screen at this zoom."""
    corners = preset.measured
    assert corners is not None  # noqa: S101 - the caller has seen it
    top, right, bottom, left = (
        _distance(corners[index], corners[(index + 1) % 4]) for index in range(4)
    )
    uneven = max(top, bottom) / min(top, bottom), max(left, right) / min(left, right)
    if max(uneven) > 1 + MOST_EDGE_DIFFERENCE / SCALE:
        report.error(
            "contradiction",
            where,
            f"by these corners one edge of the screen is {max(uneven):.2f} times as long as the "
            "one opposite",
            f"No projector is turned so far (1.00 to {1 + MOST_EDGE_DIFFERENCE / SCALE:.2f}): "
            "read them again.",
        )
        return False
    aspect = round((top + bottom) / (left + right) * SCALE)
    if abs(aspect - room.screen.aspect) * SCALE > MOST_ASPECT_ERROR * room.screen.aspect:
        report.warning(
            "contradiction",
            where,
            f"by these corners the screen has a shape of {ratio_text(aspect)}, and aspect says "
            f"{ratio_text(room.screen.aspect)}",
            "Read off the corners of the white screen, not those of a picture on it.",
        )
    if of_another_zoom(room, preset):
        raster, _ = raster_seen(room, preset)
        report.warning(
            "contradiction",
            where,
            f"by these corners the raster is {_in_metres(raster)} wide, and by fits "
            f"{_in_metres(preset.raster_width)}",
            "Zoom until a picture of that ratio just fills the screen, or read them again.",
        )
    return True


def of_another_zoom(room: Room, preset: Preset) -> bool:
    """Tell whether measured corners are of another raster than the one that the preset fits."""
    width, _ = raster_seen(room, preset)
    return abs(width - preset.raster_width) * SCALE > MOST_RASTER_ERROR * preset.raster_width


def _in_metres(length: float) -> str:
    return f"{length / 1e6:.2f} m"


def _distance(one: Corner, other: Corner) -> float:
    return float(((one.x - other.x) ** 2 + (one.y - other.y) ** 2) ** 0.5)


def _check_middles(
    report: Report, root: Mapping, path: tuple[str, ...], corners: Corners, middles: Middles
) -> None:
    """Check that each edge's middle lies near the middle between its corners."""
    for index, name in enumerate(middles._fields):
        # The edges begin at the top, as the middles do.
        one, other = corners[index], corners[(index + 1) % 4]
        middle = ((one.x + other.x) / 2, (one.y + other.y) / 2)
        place = middles[index]
        off = ((place.x - middle[0]) ** 2 + (place.y - middle[1]) ** 2) ** 0.5
        if off * SCALE > MOST_BOW * _distance(one, other):
            report.error(
                "out-of-range",
                place_in(root, *path, "middles", name),
                f"{name}: {place.x / PIXEL:g} x {place.y / PIXEL:g} is far from the middle of the "
                f"{name} edge, {middle[0] / PIXEL:g} x {middle[1] / PIXEL:g}",
                f"Write a place within {_distance(one, other) * MOST_BOW / SCALE / PIXEL:.0f} "
                "pixels of it.",
            )


def millimetres(length: int) -> str:
    """Write a length (micrometres) in whole millimetres, rounded up."""
    return f"{-(-length // 1_000)} mm"


def place_in(root: Node, *path: str) -> Place:
    """Give the place of the value at a path, or of the innermost section that is there."""
    for length in range(len(path), 0, -1):
        node = node_at(root, *path[:length])
        if node is not None:
            return node.place
    return root.place
