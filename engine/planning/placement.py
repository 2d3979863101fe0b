"""What a look does to a picture on the screen, in figures for whoever plans the room.

The raster rectangle is `optics.fit`'s, the one that is ordered; what is said of it here are
lengths on the screen, seen from its top left, in micrometres, and shares as plain numbers.
"""

from __future__ import annotations

from functools import lru_cache
from math import atan, ceil, degrees, isqrt
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.aspect import SCALE
from engine.formats import Raster, bars_for
from engine.optics import Rect, can_show, field_of, fit, largest_preset, on_panel, window
from engine.plane import Plane
from engine.room import PLAIN
from engine.stretch import Widening, widen

if TYPE_CHECKING:
    from collections.abc import Callable

    from engine.room import Look, Preset, Room

    Eye = Callable[[float, float], tuple[float, float]]

SAFE_MARGIN: Final = 500
"""Subtitles end no lower than this share of the coded frame above its lower edge (common
practice: the outer 5 % are left free of text)."""

SAME_SIZE: Final = 9_980
"""A picture with this share of the largest width is as large as it gets, but for roundings."""


UHD_RASTER: Final = Raster(3_840, 2_160)
CONTAINER_RASTER: Final = Raster(4_096, 2_160)


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
        """How wide it is."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """How high it is."""
        return self.bottom - self.top

    def across(self, other: Area) -> float:
        """Say how much of its width another takes up."""
        return max(0.0, min(self.right, other.right) - max(self.left, other.left))

    def down(self, other: Area) -> float:
        """Say how much of its height another takes up."""
        return max(0.0, min(self.bottom, other.bottom) - max(self.top, other.top))

    def shared(self, other: Area) -> float:
        """Give the area, square micrometres, that lies in both."""
        return self.across(other) * self.down(other)


class Sampling(NamedTuple):
    """How the source's pixels meet the raster's."""

    columns: int
    """Columns and rows that the picture itself has in the source."""
    rows: int
    across: float
    """Raster pixels for each source pixel, 1 where nothing is scaled."""
    down: float
    one_to_one: float | None
    """Width of the picture if it were not scaled, as a share of its width here; None where it
    would not fit."""


class Subtitles(NamedTuple):
    """Where two lines in the lower bar end."""

    land: bool
    """Whether they stand on the screen, within the opening and the raster."""
    lift: int
    """The look's whole lift that just brings them there, 1/10,000 of the screen's height."""
    can: bool
    """Whether that lift is to be had: the picture may not be raised on to a panel, or out of
    the raster."""


class Enlargement(NamedTuple):
    """What a stretch or a crop does here."""

    widening: Widening
    fill: float
    """Share of the unlit width that it fills."""
    kept: bool
    """Whether it gives all that it promises: `optics.can_show`."""


class Reach(NamedTuple):
    """Whether the lens can throw a preset's raster on to the screen."""

    throw_ratio: int
    """Distance over raster width, 1/10,000."""
    in_range: bool
    shift_up: int
    """Shift needed, 1/10,000 of the raster's height, positive upwards."""
    shift_across: int
    """The same across, of the raster's width, positive to the right."""
    shift: str
    """within, doubtful (ask the lens's own chart) or beyond."""


class Placement(NamedTuple):
    """Where a picture lands."""

    rect: Rect
    """In raster pixels."""
    picture: Area
    """On the screen; beyond its edges, coordinates below 0 or above its size."""
    lost: Sides
    """What the border swallows."""
    spill: Sides
    """What passes the border and falls on the wall."""
    unlit_width: int
    """What is left dark of the screen within the opening, both sides together."""
    unlit_height: int
    grey: float
    """Share of the screen within the opening that is not picture and yet gets raster black."""
    raster_used: float
    """Share of the raster that is picture."""
    on_panel: bool
    sampling: Sampling | None
    """None where nothing is lit; `subtitles` likewise."""
    subtitles: Subtitles | None
    enlarged: Enlargement | None
    """None where the picture is shown plain."""
    reach: Reach | None
    """None where the throw is not known."""


class PresetFit(NamedTuple):
    """What a preset makes of one ratio, shown plain with nothing fitted."""

    preset: str
    size: int
    """The picture's width, 1/10,000 of the largest that this screen can show of the ratio."""

    @property
    def fits(self) -> bool:
        """Whether it is as large as it gets."""
        return self.size >= SAME_SIZE


def place(room: Room, look: Look, aspect: int, coded: Raster = UHD_RASTER) -> Placement:
    """Say where a picture of this ratio, 1 to 4, stands under a look, and what it costs.

    For the picture `whole` hand in the coded frame's own ratio. A look without a preset is taken
    at the largest raster, one without panels as if all of them were fitted.
    """
    rect = fit(room, look.picture, look.lift, aspect, look.preset, look.panels)
    preset = room.presets[look.preset or largest_preset(room)]
    eye = _eye(room, preset)
    picture = Area(0, 0, 0, 0) if rect.empty else _area(rect, eye)
    raster = Rect(0, 0, room.projector.columns, room.projector.rows)
    opening = _opening(room, look.panels)
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
    """List what every preset makes of a ratio, the largest picture first, then the brightest.

    Pictures that differ by roundings alone are equally large.

    With nothing fitted, or with what takes the least away where something always is. A picture
    that the border lets cover the whole screen is as large as it gets.
    """
    free = widest(room)
    room_for = window(room, free)
    largest = min(room_for.width, room_for.height * aspect // SCALE)
    found = []
    for name, preset in room.presets.items():
        area = _area(fit(room, PLAIN, 0, aspect, name, free), _eye(room, preset))
        found.append(PresetFit(name, min(SCALE, round(area.width * SCALE / largest))))
    return tuple(
        sorted(
            found,
            key=lambda one: (-min(one.size, SAME_SIZE), room.presets[one.preset].raster_width),
        )
    )


def widest(room: Room) -> str | None:
    """Name the arrangement that leaves the most of the screen free."""
    return max(room.panels, key=lambda name: _size(room, name), default=None)


def reach(room: Room, preset: str) -> Reach | None:
    """Say whether the lens reaches a preset: its zoom range, and the shift the raster needs.

    The shift needed is the lens's offset from the screen's middle over the raster's size, and so
    grows as the zoom makes the raster smaller. Lenses state how far they shift up with nothing
    across, and the other way round. Between the two every lens reaches at least the straight
    line (a diamond round the middle), most an ellipse, none more than both limits at once: on or
    within the line is `within`, past one of the limits `beyond`, the rest `doubtful` (common
    practice: the maker's chart decides).
    """
    throw, at = room.projector.throw, room.presets[preset]
    if throw is None:
        return None
    up = -throw.offset_up * SCALE / at.raster_height
    across = -throw.offset_across * SCALE / at.raster_width
    used = _used(up, throw.shift_up), _used(across, throw.shift_across)
    ratio = round(throw.distance * SCALE / at.raster_width)
    return Reach(
        throw_ratio=ratio,
        in_range=throw.shortest <= ratio <= throw.longest,
        shift_up=round(up),
        shift_across=round(across),
        shift="within" if sum(used) <= 1 else "beyond" if max(used) > 1 else "doubtful",
    )


def outline(room: Room, preset: str, rect: Rect) -> tuple[tuple[float, float], ...]:
    """See a rectangle of raster pixels on the screen: its corners, clockwise from the top left.

    Micrometres from the screen's top left; where corners were measured, hardly ever square.
    """
    return tuple(_corners(rect, _eye(room, room.presets[preset])))


def screen_by_diagonal(diagonal: int, aspect: int) -> tuple[int, int]:
    """Give width and height of a screen that is told by its diagonal, all in one unit.

    By hand: 163 in at 2.35 is 163 x 2.35 / sqrt(2.35^2 + 1) = 149.98 in wide; 3, 4 and 5 make a
    right angle, so a diagonal of 5 m at 4:3 is 4 m wide.
    """
    square = (2 * diagonal * aspect) ** 2 // (aspect * aspect + SCALE * SCALE)
    width = (isqrt(square) + 1) // 2
    return width, round(width * SCALE / aspect)


def viewing_angle(distance: float, width: float) -> float:
    """Give the horizontal angle, degrees, under which a width is seen from straight before it."""
    return 2 * degrees(atan(width / (2 * distance)))


def pixels_per_degree(distance: float, width: float, pixels: int) -> float:
    """Give the mean number of pixels in a degree of that angle."""
    return pixels / viewing_angle(distance, width)


def _used(share: float, limit: int) -> float:
    """Say how much of a shift limit is used."""
    if limit == 0:
        return 0.0 if share == 0 else 2.0
    return abs(share) / limit


def _size(room: Room, panels: str) -> int:
    """Size up the window that an arrangement leaves."""
    free = window(room, panels)
    return free.width * free.height


def _opening(room: Room, panels: str | None) -> Area:
    """Place the window on the screen."""
    free = window(room, panels)
    left, top = (room.screen.width - free.width) / 2, (room.screen.height - free.height) / 2
    return Area(left, top, left + free.width, top + free.height)


def _eye(room: Room, preset: Preset) -> Eye:
    """Give the way from a place in the raster, in pixels, to the place on the screen."""
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
    """See a rectangle's corners on the screen: top left, top right, bottom right, bottom left."""
    return [
        eye(rect.left, rect.top),
        eye(rect.right, rect.top),
        eye(rect.right, rect.bottom),
        eye(rect.left, rect.bottom),
    ]


def _area(rect: Rect, eye: Eye) -> Area:
    """See a rectangle on the screen, each edge where it is in the mean."""
    one, two, three, four = _corners(rect, eye)
    return Area(
        (one[0] + four[0]) / 2,
        (one[1] + two[1]) / 2,
        (two[0] + three[0]) / 2,
        (three[1] + four[1]) / 2,
    )


def _passed(room: Room, rect: Rect, eye: Eye) -> Sides:
    """Say how far a picture passes each edge of the screen at worst."""
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
    """Say what a named picture does, if it does anything here."""
    shape = room.pictures.get(look.picture)
    plain = fit(room, PLAIN, look.lift, aspect, look.preset, look.panels)
    if shape is None or rect.empty or (rect.width, rect.height) == (plain.width, plain.height):
        return None
    even = aspect * rect.height / SCALE
    gap = field_of(room, look.preset, look.panels).wanted - even
    return Enlargement(
        widening=widen(shape, max(1.0, rect.width / even)),
        fill=(rect.width - even) / gap,
        kept=can_show(room, look.picture, aspect, look.preset, look.panels),
    )


def _sampling(  # noqa: PLR0913, PLR0917 - it holds one thing against many
    room: Room, look: Look, aspect: int, coded: Raster, rect: Rect, enlarged: Enlargement | None
) -> Sampling:
    """Hold the source's pixels against the raster's."""
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
    """Say how much higher the whole picture is than what is shown of it."""
    return 1.0 if enlarged is None else enlarged.widening.enlarged


def _subtitles(
    room: Room, look: Look, aspect: int, coded: Raster, enlarged: Enlargement | None
) -> Subtitles:
    """Find the lift that brings lines on to the screen.

    They end a safe share above the coded frame's lower edge, and keep their distance from the
    picture's middle whatever becomes of it.
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
    lift = look.lift - (-missing * SCALE // field.screen.height)
    return Subtitles(land=False, lift=lift, can=over(lift) <= 0)
