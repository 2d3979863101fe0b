"""Work out what a look does to a picture on the screen, for whoever plans the room.

The rectangle in the raster is that of `optics.fit`, the one that would be ordered. What is worked
out here are lengths on the screen, in micrometres from its top left, and shares as plain numbers.
"""

from __future__ import annotations

from functools import lru_cache
from math import atan, ceil, degrees, isqrt, radians, tan
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from engine.aspect import SCALE
from engine.formats import Raster, bars_for
from engine.optics import Rect, can_show, field_of, fit, largest_preset, on_panel, window
from engine.plane import Plane, raster_seen
from engine.room import PLAIN, RoomBelow
from engine.stretch import Widening, widen

if TYPE_CHECKING:
    from collections.abc import Callable

    from engine.room import Look, Preset, Room

    Eye = Callable[[float, float], tuple[float, float]]

SAFE_MARGIN: Final = 500
"""How far above the lower edge of the coded frame subtitles end, in 1/10,000 of its height (common
practice: the outer 5 % are left free of text)."""

SAME_SIZE: Final = 9_980
"""A picture with this share (1/10,000) of the largest width is as large as it gets; what is missing
is rounding."""

UHD_RASTER: Final = Raster(3_840, 2_160)
"""The coded raster of television and discs, 16:9."""


class Sides(NamedTuple):
    """A length for each side, micrometres."""

    left: int
    top: int
    right: int
    bottom: int


class Area(NamedTuple):
    """A rectangle on the screen's plane, micrometres from the screen's top left."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """The width, micrometres."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """The height, micrometres."""
        return self.bottom - self.top

    def across(self, other: Area) -> float:
        """Give how much of its width another one covers, micrometres."""
        return max(0.0, min(self.right, other.right) - max(self.left, other.left))

    def down(self, other: Area) -> float:
        """Give the height of the overlap with another area, micrometres."""
        return max(0.0, min(self.bottom, other.bottom) - max(self.top, other.top))

    def shared(self, other: Area) -> float:
        """Give the area, square micrometres, that lies in both."""
        return self.across(other) * self.down(other)


class Sampling(NamedTuple):
    """How the source's pixels are scaled to the raster's."""

    columns: int
    """How many columns the picture itself has in the source."""
    rows: int
    """How many rows it has there."""
    across: float
    """Raster columns for each source column; 1 if nothing is scaled."""
    down: float
    """Raster rows for each source row."""
    one_to_one: float | None
    """Width of the picture if it were not scaled, as a share of its width here; None if it would
    not fit then."""


class Subtitles(NamedTuple):
    """Whether two lines of subtitles in the lower bar can be seen."""

    land: bool
    """Whether they are on the screen, within the opening and the raster."""
    lift: int
    """The smallest lift that brings them there, in 1/10,000 of the screen's height."""
    can: bool
    """Whether that lift is possible: no picture is raised on to a panel or out of the raster."""


class Enlargement(NamedTuple):
    """What a stretch or a crop does here."""

    widening: Widening
    fill: float
    """Share of the unlit width that it fills, 0 to 1."""
    kept: bool
    """Whether it gives all that it promises: see `optics.can_show`."""
    at_end: bool
    """Whether it is as wide as raster and opening allow, so that nothing wider can be shown."""


ShiftRange = Literal["within", "doubtful", "beyond"]
"""Whether a lens shift is possible. Doubtful: the chart of the lens decides."""


class Reach(NamedTuple):
    """Whether the lens can project a preset's raster on to the screen."""

    throw_ratio: int
    """Distance over raster width, 1/10,000."""
    in_range: bool
    shift_up: int
    """Shift needed, 1/10,000 of the raster's height, positive upwards."""
    shift_across: int
    """The same across, of the raster's width, positive to the right."""
    shift: ShiftRange
    """Whether the lens can shift so far."""


class Placement(NamedTuple):
    """Where a picture lands, and what it costs. Lengths are in micrometres."""

    rect: Rect
    """In raster pixels."""
    picture: Area
    """On the screen. Outside it, coordinates are below 0 or above the screen's size."""
    lost: Sides
    """How far it passes each edge on to the border."""
    spill: Sides
    """How far it passes the border on to the wall."""
    unlit_width: int
    """Width of the screen within the opening that stays dark, both sides together."""
    unlit_height: int
    """Height of it that stays dark, top and bottom together."""
    grey: float
    """Share of the screen within the opening that is no picture and yet lit by the black raster."""
    raster_used: float
    """Share of the raster that is picture."""
    on_panel: bool
    """Whether it falls on a panel."""
    sampling: Sampling | None
    """None if nothing is lit."""
    subtitles: Subtitles | None
    """None if nothing is lit."""
    enlarged: Enlargement | None
    """None if the picture is shown plain."""
    reach: Reach | None
    """None if the throw is not known."""


class PresetFit(NamedTuple):
    """How large a preset shows one ratio, plain and with no panels fitted."""

    preset: str
    size: int
    """The picture's width, 1/10,000 of the largest that this screen can show of the ratio."""

    @property
    def fits(self) -> bool:
        """Whether it is as large as this screen allows."""
        return self.size >= SAME_SIZE


def place(room: Room, look: Look, aspect: int, coded: Raster = UHD_RASTER) -> Placement:
    """Work out where a picture of a ratio (10,000 to 40,000) stands under a look, and its cost.

    For the picture `whole`, hand in the coded frame's own ratio. A look without a preset counts as
    one at the largest raster, a look without panels as one with all of them fitted.
    """
    rect = fit(room, look.picture, look.lift, aspect, look.preset, look.panels)
    preset = room.presets[look.preset or largest_preset(room)]
    eye = _eye(room, preset)
    picture = Area(0, 0, 0, 0) if rect.empty else _area(rect, eye)
    raster = Rect(0, 0, room.projector.columns, room.projector.rows)
    opening = free_area(room, look.panels)
    grey = opening.shared(_area(raster, eye)) - opening.shared(picture)
    passed = _passed(room, rect, eye)
    enlarged = _enlarged(room, look, aspect, rect)
    return Placement(
        rect=rect,
        picture=picture,
        lost=Sides(*(min(over, room.screen.border) for over in passed)),
        spill=Sides(*(max(0, over - room.screen.border) for over in passed)),
        unlit_width=round(opening.width - opening.across(picture)),
        unlit_height=round(opening.height - opening.down(picture)),
        grey=max(0.0, grey) / (opening.width * opening.height),
        raster_used=rect.width * rect.height / (raster.width * raster.height),
        on_panel=on_panel(room, rect, look.preset, look.panels),
        sampling=None if rect.empty else _sampling(room, look, aspect, coded, rect, enlarged),
        subtitles=None if rect.empty else _subtitles(room, look, aspect, coded, enlarged),
        enlarged=enlarged,
        reach=reach(room, preset.name),
    )


@lru_cache(256)
def presets_for(room: Room, aspect: int) -> tuple[PresetFit, ...]:
    """List how large every preset shows a ratio, the largest picture first, then the brightest.

    Pictures that differ by rounding alone count as equally large. No panels are fitted, or, if the
    room always has some, those that cover the least. A picture that covers the whole screen,
    because the border swallows what passes it, is as large as it gets.
    """
    free = widest(room)
    room_for = window(room, free)
    largest = min(room_for.width, room_for.height * aspect // SCALE)
    found = []
    for name, preset in room.presets.items():
        area = _area(fit(room, PLAIN, 0, aspect, name, free), _eye(room, preset))
        found.append(PresetFit(name, min(SCALE, round(area.width * SCALE / largest))))
    width = {name: raster_seen(room, preset)[0] for name, preset in room.presets.items()}
    return tuple(sorted(found, key=lambda one: (-min(one.size, SAME_SIZE), width[one.preset])))


def widest(room: Room) -> str | None:
    """Name the arrangement that leaves the most of the screen free; None if there are no panels."""
    return max(room.panels, key=lambda name: _size(room, name), default=None)


def reach(room: Room, preset: str) -> Reach | None:
    """Say whether the lens reaches a preset: its zoom range, and the shift that the raster needs.

    The shift needed is the lens's offset from the middle of the screen, divided by the size of the
    raster, so it grows as the zoom makes the raster smaller. Lenses state how far they shift up
    while not shifted across, and the other way round. Every combination on or below the straight
    line between these two limits is `within`, and one past either limit is `beyond`. The rest is
    `doubtful`, for most lenses reach an ellipse. None if the throw is not known.
    """
    throw = room.projector.throw
    if throw is None:
        return None
    width, height = raster_seen(room, room.presets[preset])
    up, across = -throw.offset_up * SCALE / height, -throw.offset_across * SCALE / width
    used = _used(up, throw.shift_up), _used(across, throw.shift_across)
    ratio = round(throw.distance * SCALE / width)
    return Reach(
        throw_ratio=ratio,
        in_range=throw.shortest <= ratio <= throw.longest,
        shift_up=round(up),
        shift_across=round(across),
        shift="within" if sum(used) <= 1 else "beyond" if max(used) > 1 else "doubtful",
    )


def outline(room: Room, preset: str, rect: Rect) -> tuple[tuple[float, float], ...]:
    """Give the corners of a raster rectangle on the screen, clockwise from the top left.

    In micrometres from the screen's top left. If corners were measured, it is hardly ever square.
    """
    return tuple(_corners(rect, _eye(room, room.presets[preset])))


def screen_by_diagonal(diagonal: int, aspect: int) -> tuple[int, int]:
    """Give width and height of a screen from its diagonal and ratio (1/10,000), all in one unit.

    By hand: 163 in at 2.35 is 163 x 2.35 / sqrt(2.35^2 + 1) = 149.98 in wide; 3, 4 and 5 make a
    right angle, so a diagonal of 5 m at 4:3 is 4 m wide.
    """
    square = (2 * diagonal * aspect) ** 2 // (aspect * aspect + SCALE * SCALE)
    width = (isqrt(square) + 1) // 2
    return width, round(width * SCALE / aspect)


def viewing_angle(distance: float, length: float) -> float:
    """Give the angle, degrees, at which a width or height is seen from in front of its middle."""
    return 2 * degrees(atan(length / (2 * distance)))


def pixels_per_degree(distance: float, width: float, pixels: int) -> float:
    """Give the number of pixels in the middle degree of the view, where people look.

    A flat picture has more of them in a degree towards its sides, because these are further away.
    """
    return pixels * 2 * distance * tan(radians(0.5)) / width


def _used(share: float, limit: int) -> float:
    """Give the share of a shift limit that is used; 2 if there is no shift and some is needed."""
    if limit == 0:
        return 0.0 if share == 0 else 2.0
    return abs(share) / limit


def _size(room: Room, panels: str) -> int:
    """Give the area of the window that an arrangement leaves, square micrometres."""
    free = window(room, panels)
    return free.width * free.height


def free_area(room: Room, panels: str | None) -> Area:
    """Give the place of what an arrangement of panels leaves free."""
    free = window(room, panels)
    left, top = (room.screen.width - free.width) / 2, (room.screen.height - free.height) / 2
    return Area(left, top, left + free.width, top + free.height)


def _eye(room: Room, preset: Preset) -> Eye:
    """Give the function from a place in the raster, in pixels, to the place on the screen."""
    width, height = room.screen.width, room.screen.height
    if preset.measured is not None:
        plane = Plane.through(preset.measured)

        def measured(x: float, y: float) -> tuple[float, float]:
            u, v = plane.back(x, y)
            return u * width, v * height

        return measured
    columns, rows = room.projector.columns, room.projector.rows
    across, down = preset.raster_width / columns, preset.raster_height / rows

    def centred(x: float, y: float) -> tuple[float, float]:
        return width / 2 + (x - columns / 2) * across, height / 2 + (y - rows / 2) * down

    return centred


def _corners(rect: Rect, eye: Eye) -> list[tuple[float, float]]:
    """Give a rectangle's corners on the screen, clockwise from the top left."""
    return [
        eye(rect.left, rect.top),
        eye(rect.right, rect.top),
        eye(rect.right, rect.bottom),
        eye(rect.left, rect.bottom),
    ]


def _area(rect: Rect, eye: Eye) -> Area:
    """Give a rectangle's place on the screen, with each edge at its mean."""
    one, two, three, four = _corners(rect, eye)
    return Area(
        (one[0] + four[0]) / 2,
        (one[1] + two[1]) / 2,
        (two[0] + three[0]) / 2,
        (three[1] + four[1]) / 2,
    )


def _passed(room: Room, rect: Rect, eye: Eye) -> Sides:
    """Give how far a picture passes each edge of the screen at worst, micrometres."""
    if rect.empty:
        return Sides(0, 0, 0, 0)
    places = _corners(rect, eye)
    return Sides(
        max(0, round(max(-x for x, _ in places))),
        max(0, round(max(-y for _, y in places))),
        max(0, round(max(x for x, _ in places)) - room.screen.width),
        max(0, round(max(y for _, y in places)) - room.screen.height),
    )


def _enlarged(room: Room, look: Look, aspect: int, rect: Rect) -> Enlargement | None:
    """Say what a named picture does here; None if it does nothing."""
    shape = room.pictures.get(look.picture)
    plain = fit(room, PLAIN, look.lift, aspect, look.preset, look.panels)
    if shape is None or isinstance(shape, RoomBelow) or rect.empty:
        return None
    if (rect.width, rect.height) == (plain.width, plain.height):
        return None
    field = field_of(room, look.preset, look.panels)
    even = aspect * float(field.exact.height) / SCALE
    return Enlargement(
        widening=widen(shape, max(1.0, rect.width / even)),
        fill=(rect.width - even) / (float(field.wanted) - even),
        kept=can_show(room, look.picture, aspect, look.preset, look.panels),
        at_end=rect.width >= int(field.exact.width),
    )


def _sampling(  # noqa: PLR0913, PLR0917 - it compares one thing with many
    room: Room, look: Look, aspect: int, coded: Raster, rect: Rect, enlarged: Enlargement | None
) -> Sampling:
    """Compare the source's pixels with the raster's."""
    bars = bars_for(aspect, coded)
    columns = coded.columns - bars.left - bars.right
    rows = coded.rows - bars.top - bars.bottom
    free = field_of(room, look.preset, look.panels).window
    fits = columns <= free.width and rows <= free.height
    return Sampling(
        columns=columns,
        rows=rows,
        across=rect.width / columns,
        down=rect.height * _enlargement(enlarged) / rows,
        one_to_one=columns / rect.width if fits else None,
    )


def _enlargement(enlarged: Enlargement | None) -> float:
    """Give the height of the whole picture, divided by that of the rows that are shown."""
    return 1.0 if enlarged is None else enlarged.widening.enlarged


def _subtitles(
    room: Room, look: Look, aspect: int, coded: Raster, enlarged: Enlargement | None
) -> Subtitles:
    """Find the smallest lift that brings subtitles on to the screen.

    They end a safe margin above the lower edge of the coded frame, and keep their distance from the
    middle of the picture when it is enlarged or raised.
    """
    rows = min(coded.rows, coded.columns * SCALE / aspect)
    end = coded.rows * (0.5 - SAFE_MARGIN / SCALE) / rows * _enlargement(enlarged)
    field = field_of(room, look.preset, look.panels)
    limit = min(field.screen.bottom, field.free.bottom)

    def over(lift: int) -> int:
        rect = fit(room, look.picture, lift, aspect, look.preset, look.panels)
        return ceil(rect.top + rect.height * (0.5 + end) - limit)

    missing = over(look.lift)
    if missing <= 0:
        return Subtitles(land=True, lift=look.lift, can=True)
    lift = look.lift - (-missing * SCALE // field.screen_height)
    return Subtitles(land=False, lift=lift, can=over(lift) <= 0)
