"""Plan a room: show every ratio in every way, side by side.

Nothing here decides anything. The places are those that would be ordered (`engine.optics`); the
modules `placement`, `light` and `alignment` beside this one work out what they mean.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.aspect import WIDE_FRAME, ratio_text
from engine.optics import Rect, fit, largest_preset, on_panel, raster_size, window
from engine.plane import raster_seen
from engine.planning.alignment import align
from engine.planning.frames import between_bars
from engine.planning.light import brightness
from engine.planning.placement import (
    Area,
    free_area,
    outline,
    pixels_per_degree,
    place,
    presets_for,
    reach,
    viewing_angle,
    widest,
)
from engine.room import PLAIN, WHOLE, Look, Preset

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.planning.alignment import Alignment
    from engine.planning.light import Brightness
    from engine.planning.placement import Placement, Reach
    from engine.room import Room

RATIOS: Final = (
    13_333,
    13_700,
    16_600,
    17_778,
    18_500,
    19_000,
    20_000,
    22_000,
    23_500,
    23_900,
    24_000,
    25_500,
    26_600,
    27_600,
)
"""The ratios (1/10,000) that films and television come in: registered rasters (1.85, 1.90, 2.39),
film apertures (1.37, 1.66, 2.35, 2.55), television (4:3, 16:9), and the trade's 2.00, 2.20, 2.40,
2.66 and 2.76, the widest to plan for."""

SEEN: Final = 1_000
"""The least length (micrometres) that is told: nobody sees a shorter one."""

LEAST_ANGLE: Final = 30.0
"""The least horizontal viewing angle, degrees (SMPTE EG 18-1994, second-hand)."""

LEAST_GREY: Final = 0.005
"""Black light on less than this share of the screen is not seen."""
LEAST_GAIN: Final = 1.01
"""A travel is worth it if it gives more than this many times the light, pixels or width."""


class Zoom(NamedTuple):
    """One preset: its raster, its light, and whether the lens gets there."""

    preset: str
    fits: int
    width: float
    """Width of the whole raster in the plane of the screen, micrometres; from corners if
    measured."""
    height: float
    """Height of it."""
    measured: bool
    on_wall: int
    """How far the raster passes the border at worst, micrometres: black light falls on the wall
    there. 0 if it ends within the border, or less than a millimetre past it."""
    grey: bool
    """Whether any picture that is planned leaves black light on the screen beside it."""
    light: Brightness | None
    reach: Reach | None


class BetweenPanels(NamedTuple):
    """What panels leave of a picture: a share of its width, and one of its height."""

    across: float
    down: float

    @property
    def share(self) -> float:
        """The lesser of the two."""
        return min(self.across, self.down)


class Way(NamedTuple):
    """One way to show one ratio, with no panels in front of the screen."""

    preset: str
    picture: str
    placement: Placement
    area: Area
    """The picture itself on the screen: for `whole`, the part of the frame between its bars."""
    shown: Rect
    """The picture itself in the raster."""
    unlit_width: int
    """Width of the screen beside it that stays dark, both sides together, micrometres."""
    unlit_height: int
    """Height of the screen above and below it that stays dark, micrometres."""
    as_plain: bool
    """Whether it is a named picture that gains nothing here and is shown plain."""
    covered: tuple[str, ...]
    """The arrangements on whose panels it would fall. With them fitted it is made smaller."""
    left: tuple[tuple[str, BetweenPanels], ...]
    """What each arrangement leaves of it, fitted: a stretch may fill less between panels that it
    does not reach."""

    @property
    def columns(self) -> int:
        """How many columns of the raster the picture itself takes up."""
        return self.shown.width

    @property
    def rows(self) -> int:
        """How many rows of it."""
        return self.shown.height


class ShapeWays(NamedTuple):
    """One ratio and all the ways to show it."""

    ratio: int
    best: Way
    """Plain, at the preset that shows it largest, and of equals at the brightest."""
    ways: tuple[Way, ...]


class PresetComparison(NamedTuple):
    """One ratio at a preset, against the same at a zoom that is left alone."""

    preset: str
    light: float | None
    """How many times as bright the preset is; None if nothing is known about light."""
    pixels: float
    """How many times as many pixels the picture has there."""
    size: float
    """How many times as wide the picture is there; what passes the screen's edge counts for
    nothing."""

    @property
    def gains(self) -> bool:
        """Whether anybody would see what is gained."""
        return self.brighter_or_finer or self.size > LEAST_GAIN

    @property
    def brighter_or_finer(self) -> bool:
        """Whether anybody would see more light or more pixels."""
        return max(self.light or 1.0, self.pixels) > LEAST_GAIN


class Trade(NamedTuple):
    """One ratio: a zoom that is left alone, compared with the preset that shows the ratio best."""

    ratio: int
    fixed: Way
    best: Way
    made: bool
    """Whether the preset is not in the room file and was made up for this ratio."""
    light: float | None
    """How many times as bright the preset is; None if nothing is known about light."""
    pixels: float
    """How many times as many pixels the picture has there."""
    size: float
    """How many times as wide the picture is there; what passes the screen's edge counts for
    nothing."""
    travel: int
    """How long the lens travels there at most, ms; 0 if it stays."""
    others: tuple[PresetComparison, ...]
    """The same at every other preset of the room file."""

    @property
    def moves(self) -> bool:
        """Whether the lens travels for it."""
        return self.fixed.preset != self.best.preset


class Masking(NamedTuple):
    """One arrangement of panels."""

    panels: str
    opening: int
    side: int
    """Width of the panel at each side, micrometres; 0 if there is none."""
    end: int
    """Height of the panel at the top and at the bottom, micrometres; 0 if there is none."""
    kept: tuple[tuple[int, float], ...]
    """For each ratio, the share of the picture's width or height that is left at its best
    preset."""


class Seen(NamedTuple):
    """What one row of seats sees of one ratio, at its best preset."""

    ratio: int
    angle: float
    """Horizontal viewing angle of the picture, degrees."""
    upright: float
    """Its vertical viewing angle, degrees."""
    pixels: float
    """The number of raster pixels in the middle degree of it."""


class Seat(NamedTuple):
    """One row of seats."""

    seat: str
    distance: int
    angle: float
    """Horizontal viewing angle of the whole screen, degrees."""
    upright: float
    """Its vertical viewing angle, degrees."""
    seen: tuple[Seen, ...]


class Plan(NamedTuple):
    """Everything that is worked out about a room before it is built."""

    room: Room
    zooms: tuple[Zoom, ...]
    fixed: str
    """The preset at which a lens that never moves would stay: the one with the largest raster."""
    shapes: tuple[ShapeWays, ...]
    trades: tuple[Trade, ...]
    maskings: tuple[Masking, ...]
    seats: tuple[Seat, ...]
    aligned: tuple[tuple[str, Alignment], ...]
    """The alignment of each preset whose corners were measured."""

    def zoom(self, preset: str) -> Zoom:
        """Give one preset's figures."""
        return next(zoom for zoom in self.zooms if zoom.preset == preset)


def plan(room: Room, ratios: tuple[int, ...] = RATIOS) -> Plan:
    """Plan a room for these ratios, each 10,000 to 40,000."""
    shapes = tuple(_shape(room, ratio) for ratio in ratios)
    return Plan(
        room=room,
        zooms=tuple(_zoom(room, preset, shapes) for preset in room.presets.values()),
        fixed=largest_preset(room),
        shapes=shapes,
        trades=tuple(_trades(room, shapes)),
        maskings=tuple(_maskings(room, shapes)),
        seats=tuple(_seat(room, name, distance, shapes) for name, distance in room.seats.items()),
        aligned=tuple(
            (name, align(room, preset.measured, preset.middles))
            for name, preset in room.presets.items()
            if preset.measured is not None
        ),
    )


def _zoom(room: Room, preset: Preset, shapes: tuple[ShapeWays, ...]) -> Zoom:
    columns, rows = room.projector.columns, room.projector.rows
    width, height = raster_seen(room, preset)
    raster = outline(room, preset.name, Rect(0, 0, columns, rows))
    passed = (
        over for x, y in raster for over in (-x, x - room.screen.width, -y, y - room.screen.height)
    )
    ways = (way for shape in shapes for way in shape.ways if way.preset == preset.name)
    return Zoom(
        preset=preset.name,
        fits=preset.fits,
        width=width,
        height=height,
        measured=preset.measured is not None,
        on_wall=over if (over := round(max(passed)) - room.screen.border) >= SEEN else 0,
        grey=any(way.placement.grey > LEAST_GREY for way in ways),
        light=brightness(room, preset.name),
        reach=reach(room, preset.name),
    )


def _shape(room: Room, ratio: int) -> ShapeWays:
    ways = tuple(way for name in room.presets for way in _ways(room, ratio, name))
    best = presets_for(room, ratio)[0].preset
    plain = next(way for way in ways if (way.preset, way.picture) == (best, PLAIN))
    return ShapeWays(ratio, plain, ways)


def _ways(room: Room, ratio: int, preset: str) -> Iterator[Way]:
    """Show a ratio plain, whole, and in every named picture."""
    plain = _way(room, ratio, preset, PLAIN)
    yield plain
    yield _way(room, ratio, preset, WHOLE)
    for picture in room.pictures:
        rect = fit(room, picture, 0, ratio, preset, widest(room))
        if rect == plain.placement.rect:
            left = _left_between(room, rect, preset, (picture, ratio))
            yield plain._replace(picture=picture, as_plain=True, left=left)
        else:
            yield _way(room, ratio, preset, picture)


def _way(room: Room, ratio: int, preset: str, picture: str) -> Way:
    whole = picture == WHOLE
    found = place(room, Look(picture, 0, preset, widest(room)), WIDE_FRAME if whole else ratio)
    rect, area = found.rect, found.picture
    across, down = _share(ratio) if whole else (1.0, 1.0)
    beside, above = area.width * (1 - across) / 2, area.height * (1 - down) / 2
    shown = Area(area.left + beside, area.top + above, area.right - beside, area.bottom - above)
    opening = free_area(room, widest(room))
    return Way(
        preset=preset,
        picture=picture,
        placement=found,
        area=shown,
        shown=between_bars(room, preset, rect, (across, down)),
        unlit_width=round(opening.width - opening.across(shown)),
        unlit_height=round(opening.height - opening.down(shown)),
        as_plain=False,
        covered=tuple(name for name in room.panels if on_panel(room, rect, preset, name)),
        left=_left_between(room, rect, preset, (picture, WIDE_FRAME if whole else ratio)),
    )


def _left_between(
    room: Room, rect: Rect, preset: str, shown: tuple[str, int]
) -> tuple[tuple[str, BetweenPanels], ...]:
    """Give for all panels what they leave of a picture."""
    picture, ratio = shown
    inside = {panels: fit(room, picture, 0, ratio, preset, panels) for panels in room.panels}
    whole = max(1, rect.width), max(1, rect.height)
    return tuple(
        (name, BetweenPanels(min(1.0, one.width / whole[0]), min(1.0, one.height / whole[1])))
        for name, one in inside.items()
    )


def _share(ratio: int) -> tuple[float, float]:
    """Say how much of a 16:9 frame's width and height a picture of this ratio takes up."""
    return min(1.0, ratio / WIDE_FRAME), min(1.0, WIDE_FRAME / ratio)


def _trades(room: Room, shapes: tuple[ShapeWays, ...]) -> Iterator[Trade]:
    """Compare a zoom that is left alone with the best preset for each ratio.

    A room with one preset is compared with presets that are made up for each ratio, as far as the
    lens reaches them. So the plan shows what a second preset would gain.
    """
    fixed = largest_preset(room)
    made = len(room.presets) == 1
    trial = _with_made(room, shapes) if made else room
    for shape in shapes:
        alone = next(way for way in shape.ways if (way.preset, way.picture) == (fixed, PLAIN))
        best = shape.best
        if made:
            best = _way(trial, shape.ratio, presets_for(trial, shape.ratio)[0].preset, PLAIN)
        found = _trade(trial, shape, alone, best)
        if not _compare(trial, shape.ratio, alone, best).gains:
            found = _trade(trial, shape, alone, alone)
        yield found._replace(made=found.best.preset not in room.presets)


def _trade(room: Room, shape: ShapeWays, alone: Way, best: Way) -> Trade:
    """Compare a lens left alone with one preset, and with every other of the room file."""
    against = _compare(room, shape.ratio, alone, best)
    plain = (way for way in shape.ways if way.picture == PLAIN and way.preset != alone.preset)
    return Trade(
        ratio=shape.ratio,
        fixed=alone,
        best=best,
        made=False,
        light=against.light,
        pixels=against.pixels,
        size=against.size,
        travel=room.projector.lens.travel if best.preset != alone.preset else 0,
        others=tuple(_compare(room, shape.ratio, alone, way) for way in plain),
    )


def _compare(room: Room, ratio: int, alone: Way, other: Way) -> PresetComparison:
    there, here = brightness(room, other.preset), brightness(room, alone.preset)
    sizes = {one.preset: one.size for one in presets_for(room, ratio)}
    return PresetComparison(
        preset=other.preset,
        light=there.luminance / here.luminance if there and here else None,
        pixels=other.columns * other.rows / max(1, alone.columns * alone.rows),
        size=sizes[other.preset] / max(1, sizes[alone.preset]),
    )


def _with_made(room: Room, shapes: tuple[ShapeWays, ...]) -> Room:
    """Add a preset for each ratio, named by it, if the lens reaches it."""
    projector = room.projector
    presets = dict(room.presets)
    for shape in shapes:
        size = raster_size(room.screen, projector.columns, projector.rows, shape.ratio)
        name = ratio_text(shape.ratio)
        presets[name] = Preset(name, shape.ratio, *size)
    trial = replace(room, presets=presets)
    reached = {name: reach(trial, name) for name in presets}
    kept = {
        name: preset
        for name, preset in presets.items()
        if name in room.presets
        or (found := reached[name]) is None
        or (found.in_range and found.shift != "beyond")
    }
    return replace(room, presets=kept)


def _maskings(room: Room, shapes: tuple[ShapeWays, ...]) -> Iterator[Masking]:
    """Work out the size of the panels, and how much of each ratio's picture they leave."""
    for name, panels in room.panels.items():
        if panels.opening is None:
            continue
        free = window(room, name)
        yield Masking(
            panels=name,
            opening=panels.opening,
            side=(room.screen.width - free.width) // 2,
            end=(room.screen.height - free.height) // 2,
            kept=tuple((shape.ratio, dict(shape.best.left)[name].share) for shape in shapes),
        )


def _seat(room: Room, name: str, distance: int, shapes: tuple[ShapeWays, ...]) -> Seat:
    seen = []
    for shape in shapes:
        width = max(1.0, shape.best.area.width)
        seen.append(
            Seen(
                ratio=shape.ratio,
                angle=viewing_angle(distance, width),
                upright=viewing_angle(distance, max(1.0, shape.best.area.height)),
                pixels=pixels_per_degree(distance, width, shape.best.columns),
            )
        )
    screen = room.screen
    whole = viewing_angle(distance, screen.width), viewing_angle(distance, screen.height)
    return Seat(name, distance, *whole, tuple(seen))
