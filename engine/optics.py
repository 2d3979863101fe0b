"""Work out where a picture stands in the raster, in integers, because decisions rest on it.

Three places matter. The raster is what the projector lights, counted in its own pixels from the top
left. The screen lies in it: where its measured corners say, or in the middle if nobody measured.
Fitted panels leave an opening round the middle of the screen. A picture may pass the edge of the
screen a little, where the black border swallows the light. It must never stand on a panel, so
everything here is rounded towards the inside of the opening.

A picture's size is worked out in exact fractions of a pixel and rounded down once, at the end: a
rounded height would move the width by more than a pixel, and by far more where a limit is near.

Lengths are micrometres, shares and ratios are 1/10,000, and the pixels of the raster are square.
Wherever a preset or panels are given by name, None means that nobody knows: an unknown lens counts
as the preset with the largest raster, and unknown panels as all of them fitted at once.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.aspect import SCALE
from engine.plane import PIXEL, ExactRect, Lengths, Plane, in_whole_numbers
from engine.room import DARK, Crop, RoomBelow, Stretch
from engine.stretch import enlarged_size, gain_of, target_width

if TYPE_CHECKING:
    from engine.room import Preset, Room, Screen

CACHE_SIZE: Final = 4_096
"""How many results each cache keeps. A room asks the same few questions all evening."""

FAR: Final = 1_000_000
"""A distance, in pixels, that is outside every raster."""

WHISKER: Final = Fraction(1, 50)
"""A length that falls short of a whole pixel by at most this much of one counts as whole.
Micrometres are rounded as well, and that must never cost a pixel; nor must ratios (`unsure`)."""

TRIFLE: Final = 50
"""Nobody sees that a picture grows by this share (1/10,000) or less."""


class Rect(NamedTuple):
    """A rectangle of raster pixels, from the raster's top left; empty if nothing is lit."""

    left: int
    top: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """The first column to the right of it."""
        return self.left + self.width

    @property
    def bottom(self) -> int:
        """The first row below it."""
        return self.top + self.height

    @property
    def empty(self) -> bool:
        """Whether nothing is lit."""
        return self.width <= 0 or self.height <= 0

    def exact(self) -> ExactRect:
        """Give its edges as exact fractions."""
        return ExactRect(*map(Fraction, (self.left, self.top, self.right, self.bottom)))


UNLIT: Final = Rect(0, 0, 0, 0)
"""The rectangle of a dark picture."""


class Window(NamedTuple):
    """The size of the place for pictures, centred on the screen, in micrometres."""

    width: int
    height: int


class Field(NamedTuple):
    """The room for a picture at one preset with one arrangement of panels, in raster pixels."""

    window: Rect
    """The part of the screen that is within the opening and within the raster, rounded."""
    exact: ExactRect
    """That part before the screen's edges were rounded."""
    opening: Rect
    """What panels leave free. It may pass the raster, and has no end where no panel stands."""
    free: Rect
    """The part of the raster that panels leave free, past the screen's edge too."""
    free_edges: ExactRect
    """The edges of that part, for exact places between them."""
    exact_free: ExactRect
    """That part before the panels' edges were rounded."""
    screen: Rect
    """The whole screen; it may pass the raster."""
    screen_height: Fraction
    """The height of the whole screen before its edges were rounded."""
    unsure: Fraction
    """The share of its height that is unsure, because the screen's ratio is rounded to 1/10,000.
    By hand: 16:9 is written 1.7778, so that on a screen of that ratio 3840 columns come to 2159.973
    rows; with what is unsure of both ratios, 0.121 of a row, they are the 2160 that they are."""
    lengths: Lengths
    """The lengths before any rounding."""

    @property
    def wanted(self) -> Fraction:
        """Width in pixels of the screen within the opening, within the raster or past it."""
        return Fraction(self.lengths.wanted, self.lengths.pixel)


def raster_size(screen: Screen, columns: int, rows: int, fits: int) -> tuple[int, int]:
    """Give the raster's width and height (micrometres) at which ratio `fits` just fits the screen.

    By hand: 4096 x 2160 on a screen of 3.4 m by 1.416667 m, for 1.78: the picture has 3844.8 of
    4096 columns and all rows, so the raster is as high as the screen and 2.686420 m wide.
    """
    if fits * rows >= columns * SCALE:
        width = min(screen.width, screen.height * fits // SCALE)
        return width, width * rows // columns
    height = min(screen.height, screen.width * SCALE // fits)
    return height * columns // rows, height


@lru_cache(CACHE_SIZE)
def window(room: Room, panels: str | None) -> Window:
    """Give the size of the screen within the opening of these panels."""
    if panels is None:
        every = [window(room, name) for name in room.panels]
        return Window(
            min((one.width for one in every), default=room.screen.width),
            min((one.height for one in every), default=room.screen.height),
        )
    width, height = room.screen.width, room.screen.height
    opening = room.panels[panels].opening
    if opening is None:
        return Window(width, height)
    if opening * height < width * SCALE:
        return Window(height * opening // SCALE, height)
    return Window(width, width * SCALE // opening)


def removes(room: Room, now: str | None, then: str) -> bool:
    """Tell whether a change from panels `now` to `then` uncovers a part of the screen."""
    before, after = window(room, now), window(room, then)
    return after.width > before.width or after.height > before.height


@lru_cache(CACHE_SIZE)
def larger_preset(room: Room, one: str | None, other: str | None) -> str | None:
    """Name the one of two presets with the larger raster; None, the unknown one, is the largest."""
    if one is None or other is None:
        return None
    return one if _area(room.presets[one]) >= _area(room.presets[other]) else other


def largest_preset(room: Room) -> str:
    """Name the preset with the largest raster."""
    return max(room.presets, key=lambda name: _area(room.presets[name]))


@lru_cache(CACHE_SIZE)
def fit(  # noqa: PLR0913, PLR0917 - all of these decide where a picture stands
    room: Room, picture: str, lift: int, aspect: int, preset: str | None, panels: str | None
) -> Rect:
    """Give the rectangle of the raster that a picture of this ratio (1/10,000) fills.

    For the whole coded frame, hand in the frame's own ratio. `lift` is how far the picture is
    raised, in 1/10,000 of the screen's height. The rectangle is within the raster and off every
    panel. A named picture that gains nothing here is shown plain.
    """
    if picture == DARK:
        return UNLIT
    field = field_of(room, preset, panels)
    if field.window.empty:
        return UNLIT
    shape = room.pictures.get(picture)
    exact_width, exact_height = _exact_size(shape, aspect, field)
    raised = field.screen_height * lift / SCALE
    if isinstance(shape, RoomBelow):
        spare = (field.exact.height - exact_height) / 2
        raised += max(Fraction(), exact_height * shape.room_below / SCALE - spare)
    # Whole pixels; at panels it may cost one more to keep them clear. Half of 1/10,000 is unsure of
    # every ratio; where a panel pushes the picture aside, nothing more of it is to pass than must.
    exact = field.exact.in_middle(exact_width, exact_height, raised, field.exact_free)
    free = field.free_edges
    pushed = exact.left < free.left or exact.right > free.right
    pushed = pushed or exact.top < free.top or exact.bottom > free.bottom
    rounded = 1 if pushed else 1 + field.unsure + Fraction(1, 2 * aspect)
    width = min(max(1, int(exact_width * rounded + WHISKER)), field.free.width)
    height = min(max(1, int(exact_height * rounded + WHISKER)), field.free.height)
    place = field.exact.in_middle(Fraction(width), Fraction(height), raised, free)
    return Rect(_at_pixel(place.left), _at_pixel(place.top), width, height)


def exact_fit(room: Room, aspect: int, preset: str | None, panels: str | None) -> ExactRect:
    """Give the exact edges of a plain picture that is not raised; `fit` gives its pixels."""
    field = field_of(room, preset, panels)
    width, height = _exact_size(None, aspect, field)
    return field.exact.in_middle(width, height, Fraction(), field.exact_free)


def _at_pixel(place: Fraction) -> int:
    """Give the nearest whole pixel; of two that are as near, the first.

    A size is rounded down, so both edges are then within a pixel of their exact places.
    """
    return -((1 - 2 * place) // 2)


@lru_cache(CACHE_SIZE)
def on_panel(room: Room, rect: Rect, preset: str | None, panels: str | None) -> bool:
    """Tell whether a lit rectangle falls on panels, now or once the lens has a smaller raster."""
    if rect.empty:
        return False
    opening = field_of(room, preset, panels).opening
    return (
        rect.left < opening.left
        or rect.top < opening.top
        or rect.right > opening.right
        or rect.bottom > opening.bottom
    )


@lru_cache(CACHE_SIZE)
def can_show(room: Room, picture: str, aspect: int, preset: str | None, panels: str | None) -> bool:
    """Tell whether a named picture gives what it promises at this ratio (1/10,000).

    A stretch must have unlit sides to fill, and fill them as asked within its limits and within the
    raster. A crop must enlarge the picture. A picture with room below it, or without a name, can
    always be shown.
    """
    shape = room.pictures.get(picture)
    if shape is None:
        return True
    field = field_of(room, preset, panels)
    if field.window.empty:
        return False
    if isinstance(shape, RoomBelow):
        return True
    at = _divisible(field.lengths, aspect, shape)
    width = enlarged_size(shape, aspect, at)[0]
    if not _grows(_plain(aspect, at)[0], width):
        return False
    if isinstance(shape, Crop):
        return True
    return not _grows(width, target_width(shape, aspect, at))


def _exact_size(
    shape: Stretch | Crop | RoomBelow | None, aspect: int, field: Field
) -> tuple[Fraction, Fraction]:
    """Give a picture's size in pixels; an enlarged one counts only if it is larger than plain."""
    if isinstance(shape, RoomBelow):
        highest = field.exact.height * SCALE / (SCALE + shape.room_below)
        highest = min(highest, field.exact.width * SCALE / aspect)
        return highest * aspect / SCALE, highest
    at = _divisible(field.lengths, aspect, shape)
    width, height = _plain(aspect, at)
    if shape is not None:
        larger = enlarged_size(shape, aspect, at)
        width, height = larger if _grows(width, larger[0]) else (width, height)
    return Fraction(width, at.pixel), Fraction(height, at.pixel)


def _divisible(lengths: Lengths, aspect: int, shape: Stretch | Crop | None) -> Lengths:
    """Give lengths in so small a unit that all divisions by which a size is found come out even.

    A size is divided by the ratio once, by `SCALE` once or twice, and by what is kept of the rows
    and the unit of the largest gain.
    """
    parts = aspect * SCALE * SCALE
    if shape is not None:
        parts *= SCALE - shape.rows_lost
    if isinstance(shape, Stretch):
        parts *= gain_of(shape)[1]
    return Lengths(*(length * parts for length in lengths))


def _grows(width: int, other: int) -> bool:
    """Tell whether the second width is visibly larger than the first."""
    return (other - width) * SCALE > TRIFLE * width


def _plain(aspect: int, at: Lengths) -> tuple[int, int]:
    """Give the size of a plain picture.

    It covers the window if the border can swallow what passes it, and else lies within the window.
    Where the raster or a panel ends a pixel or more before all is covered, it lies within: what
    passed the window would be lost for nothing. Less than a pixel of that is rounding.
    """
    width, height = at.width, at.height
    across, down = height * aspect // SCALE, width * SCALE // aspect
    cover = min(max(width, across), at.free_width), min(max(height, down), at.free_height)
    cover = min(cover[0], cover[1] * aspect // SCALE), min(cover[1], cover[0] * SCALE // aspect)
    short, lost = (width - cover[0], height - cover[1]), (cover[0] - width, cover[1] - height)
    pays = min(max(short), max(lost)) < at.pixel
    if pays and cover[0] <= at.widest and cover[1] <= at.highest:
        return cover
    return min(width, across), min(height, down)


@lru_cache(CACHE_SIZE)
def field_of(room: Room, preset: str | None, panels: str | None) -> Field:
    """Work out the room for a picture at one preset with one arrangement of panels.

    Only what every smaller raster leaves free as well counts as free, so that a picture stays off
    the panels while the lens travels there. Centred rasters do so anyway, measured ones may not.
    """
    at = room.presets[preset or largest_preset(room)]
    below = [one for one in room.presets.values() if _area(one) <= _area(at)]
    known = preset is not None
    seen = [at] if known else below
    raster = Rect(0, 0, room.projector.columns, room.projector.rows)
    exact = ExactRect.common([_exact_screen(room, one) for one in seen])
    screen = _common([_screen(room, one) for one in seen])
    left_free = ExactRect.common([_exact_opening(room, one, window(room, panels)) for one in below])
    opening = _inside(left_free)
    free = _common([raster, opening])
    bare = ExactRect.common([left_free, raster.exact()])
    lit = ExactRect.common([exact, bare])
    return Field(
        window=_common([screen, free]),
        exact=lit,
        opening=opening,
        free=free,
        free_edges=free.exact(),
        exact_free=bare,
        screen=screen,
        screen_height=exact.height,
        unsure=Fraction(room.screen.height, 2 * SCALE * room.screen.width),
        lengths=in_whole_numbers(
            lit.width,
            lit.height,
            bare.width,
            bare.height,
            ExactRect.common([exact, left_free]).width,
            _overfilled(room, room.screen.width, _across(room, at)),
            _overfilled(room, room.screen.height, _down(room, at)),
        ),
    )


def _overfilled(room: Room, length: int, pixels: Fraction) -> Fraction:
    """Say how long a picture may be on a length of screen, in pixels.

    It may pass the screen by the overfill, and by no more than the border on both sides. `pixels`
    is how many there are in a micrometre.
    """
    passing = min(Fraction(length * room.screen.overfill, SCALE), Fraction(2 * room.screen.border))
    return (length + passing) * pixels


def _across(room: Room, preset: Preset) -> Fraction:
    """Give the number of columns in a micrometre, from corners if measured."""
    if preset.measured is not None:
        return _exact_screen(room, preset).width / room.screen.width
    return Fraction(room.projector.columns, preset.raster_width)


def _down(room: Room, preset: Preset) -> Fraction:
    """Give the number of rows in a micrometre, from corners if measured."""
    if preset.measured is not None:
        return _exact_screen(room, preset).height / room.screen.height
    return Fraction(room.projector.rows, preset.raster_height)


def _screen(room: Room, preset: Preset) -> Rect:
    """Find the screen in the raster, to the nearest pixel, since the border swallows half of one.

    Measured corners that are not square give the box that takes in all four.
    """
    if preset.measured is not None:
        return _between(*Plane.through(preset.measured).outer())
    columns, rows = room.projector.columns, room.projector.rows
    left = _nearest((preset.raster_width - room.screen.width) * columns, 2 * preset.raster_width)
    top = _nearest((preset.raster_height - room.screen.height) * rows, 2 * preset.raster_height)
    return Rect(left, top, columns - 2 * left, rows - 2 * top)


def _exact_screen(room: Room, preset: Preset) -> ExactRect:
    """Find the screen in the raster without rounding."""
    if preset.measured is not None:
        x, y = zip(*preset.measured, strict=True)
        return ExactRect(*(Fraction(end, PIXEL) for end in (min(x), min(y), max(x), max(y))))
    return _centred(room, preset, room.screen.width, room.screen.height)


def _nearest(product: int, divisor: int) -> int:
    """Divide to the nearest whole number."""
    return (2 * product + divisor) // (2 * divisor)


def _exact_opening(room: Room, preset: Preset, free: Window) -> ExactRect:
    """Find what panels leave free; where no panel stands it has no end."""
    width, height = room.screen.width, room.screen.height
    if preset.measured is None:
        box = _centred(room, preset, free.width, free.height)
    else:
        plane = Plane.through(preset.measured)
        box = plane.inner((free.width, width), (free.height, height))
    if free.width >= width:
        box = box._replace(left=Fraction(-FAR), right=Fraction(FAR))
    return box if free.height < height else box._replace(top=Fraction(-FAR), bottom=Fraction(FAR))


def _centred(room: Room, preset: Preset, width: int, height: int) -> ExactRect:
    """Place a size in micrometres in the middle of the raster."""
    columns, rows = room.projector.columns, room.projector.rows
    across = Fraction(width * columns, 2 * preset.raster_width)
    down = Fraction(height * rows, 2 * preset.raster_height)
    x, y = Fraction(columns, 2), Fraction(rows, 2)
    return ExactRect(x - across, y - down, x + across, y + down)


def _inside(box: ExactRect) -> Rect:
    """Give the largest rectangle of whole pixels in a box."""
    return _between(-(-box.left // 1), -(-box.top // 1), box.right // 1, box.bottom // 1)


def _between(left: int, top: int, right: int, bottom: int) -> Rect:
    """Make a rectangle of its edges; edges that cross make an empty one."""
    return Rect(left, top, max(0, right - left), max(0, bottom - top))


def _common(rects: list[Rect]) -> Rect:
    """Give the part that is in all rectangles."""
    return _between(
        max(rect.left for rect in rects),
        max(rect.top for rect in rects),
        min(rect.right for rect in rects),
        min(rect.bottom for rect in rects),
    )


def _area(preset: Preset) -> int:
    """Give the area of a preset's raster, square micrometres."""
    return preset.raster_width * preset.raster_height
