"""Where a picture stands in the raster: the integer part that decisions rest on.

Three places matter. The raster is what the projector lights, counted in its own pixels from
the top left. The screen lies somewhere in it: in its middle as long as nobody measured, else
where the measured corners say. Fitted panels leave an opening round the screen's middle. A
picture may pass the screen's edge by a little, where the black border swallows it; it may
never stand on a panel, and so everything here is rounded towards the inside of the opening.

Lengths are micrometres, shares and ratios 1/10,000, and no figure is a float. The raster's
pixels are square.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.aspect import SCALE
from engine.plane import Plane
from engine.room import DARK, Crop, Stretch
from engine.stretch import most_gain

if TYPE_CHECKING:
    from engine.room import Preset, Room, Screen

REMEMBERED: Final = 4_096
"""Answers kept in each cache: a room asks the same few questions all evening."""

FAR: Final = 1_000_000
"""Pixels beyond any raster."""

WORTH: Final = 50
"""A picture that grows by no more than this share has gained nothing that anybody sees."""


class Rect(NamedTuple):
    """A rectangle of raster pixels, from the raster's top left; empty when nothing is lit."""

    left: int
    top: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """The first column beyond it."""
        return self.left + self.width

    @property
    def bottom(self) -> int:
        """The first row beneath it."""
        return self.top + self.height

    @property
    def empty(self) -> bool:
        """Whether nothing is lit."""
        return self.width <= 0 or self.height <= 0


NOTHING: Final = Rect(0, 0, 0, 0)


class Window(NamedTuple):
    """A place for pictures round the screen's middle, micrometres."""

    width: int
    height: int


class Field(NamedTuple):
    """What one lens place and one arrangement leave for a picture, in raster pixels."""

    window: Rect
    """The screen within the opening, as far as the raster reaches."""
    opening: Rect
    """What panels leave free, without end where none stand; it may pass the raster."""
    free: Rect
    """What they leave free of the raster: beyond the screen's edge there is border, then wall."""
    wanted: int
    """Width of the screen within the opening, reached by the raster or not."""
    screen: Rect
    """The whole screen; it may pass the raster."""
    widest: int
    """How wide a picture may be where it passes the screen's edge; `highest` likewise."""
    highest: int


def raster_size(screen: Screen, columns: int, rows: int, fits: int) -> tuple[int, int]:
    """Say how large the raster is, in micrometres, when a plain picture of ratio `fits` just fits.

    By hand: 4096 x 2160 on a screen of 3.4 m by 1.416667 m, for 1.78: the picture has 3844.8 of
    4096 columns and all rows, so the raster is as high as the screen and 2.686420 m wide.
    """
    if fits * rows >= columns * SCALE:
        width = min(screen.width, screen.height * fits // SCALE)
        return width, width * rows // columns
    height = min(screen.height, screen.width * SCALE // fits)
    return height * columns // rows, height


@lru_cache(REMEMBERED)
def window(room: Room, panels: str | None) -> Window:
    """Say where pictures may stand: the screen within the opening of these panels.

    Panels that nobody knows of (None) count as fitted, all of them at once.
    """
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
    """Tell whether a change of panels takes something away, so that the window grows."""
    before, after = window(room, now), window(room, then)
    return after.width > before.width or after.height > before.height


@lru_cache(REMEMBERED)
def larger_preset(room: Room, one: str | None, other: str | None) -> str | None:
    """Name the preset with the larger raster; None (unknown) stands for the largest of all."""
    if one is None or other is None:
        return None
    return one if _area(room.presets[one]) >= _area(room.presets[other]) else other


def largest_preset(room: Room) -> str:
    """Name the preset with the largest raster, which is what an unknown lens counts as."""
    return max(room.presets, key=lambda name: _area(room.presets[name]))


@lru_cache(REMEMBERED)
def fit(  # noqa: PLR0913, PLR0917 - so many things decide it
    room: Room, picture: str, lift: int, aspect: int, preset: str | None, panels: str | None
) -> Rect:
    """Give the raster rectangle that a picture of this ratio fills.

    For the whole coded frame hand in the frame's own ratio. A lens whose place is not known
    (None) counts as the preset with the largest raster, panels not known as fitted. The answer
    is within the raster and off every panel. A named picture that has nothing to gain here is
    shown plain.
    """
    if picture == DARK:
        return NOTHING
    field = field_of(room, preset, panels)
    if field.window.empty:
        return NOTHING
    width, height = _size(room, picture, aspect, field)
    raised = field.screen.height * lift // SCALE
    inside, free = field.window, field.free
    left = inside.left + (inside.width - width) // 2
    top = inside.top + (inside.height - height) // 2 - raised
    return Rect(
        max(free.left, min(left, free.right - width)),
        max(free.top, min(top, free.bottom - height)),
        width,
        height,
    )


@lru_cache(REMEMBERED)
def on_panel(room: Room, rect: Rect, preset: str | None, panels: str | None) -> bool:
    """Tell whether a lit rectangle falls on panels that are, or may be, fitted.

    Or would, once the lens has gone to a smaller raster.
    """
    if rect.empty:
        return False
    opening = field_of(room, preset, panels).opening
    return (
        rect.left < opening.left
        or rect.top < opening.top
        or rect.right > opening.right
        or rect.bottom > opening.bottom
    )


@lru_cache(REMEMBERED)
def can_show(room: Room, picture: str, aspect: int, preset: str | None, panels: str | None) -> bool:
    """Tell whether a named picture gives here what it promises.

    A stretch must have unlit sides to fill, and reach its whole fill within its limits and
    within the raster; a crop must show something larger. What is not named can always be shown.
    """
    shape = room.pictures.get(picture)
    if shape is None:
        return True
    field = field_of(room, preset, panels)
    if field.window.empty:
        return False
    plain = _plain(aspect, field)[0]
    width = _enlarged(shape, aspect, field)[0]
    if not _grows(plain, width):
        return False
    if isinstance(shape, Crop):
        return True
    return not _grows(width, _target(shape, aspect, field.window.height, field.wanted))


def _size(room: Room, picture: str, aspect: int, field: Field) -> tuple[int, int]:
    """Give the size in pixels; a named picture is used only where it lights more than plain."""
    plain = _plain(aspect, field)
    shape = room.pictures.get(picture)
    if shape is None:
        return plain
    size = _enlarged(shape, aspect, field)
    return size if _grows(plain[0], size[0]) else plain


def _grows(width: int, other: int) -> bool:
    """Tell whether the second width is larger than the first by more than a trifle."""
    return (other - width) * SCALE > WORTH * width


def _plain(aspect: int, field: Field) -> tuple[int, int]:
    """Keep the ratio: covering the window if the border can swallow the rest, else within it."""
    inside, free = field.window, field.free
    within = _contained(aspect, inside.width, inside.height)
    if aspect * inside.height > inside.width * SCALE:
        cover = aspect * inside.height // SCALE, inside.height
    else:
        cover = inside.width, inside.width * SCALE // aspect
    if cover[0] > free.width or cover[1] > free.height:
        cover = _contained(aspect, min(cover[0], free.width), min(cover[1], free.height))
    return cover if cover[0] <= field.widest and cover[1] <= field.highest else within


def _contained(aspect: int, width: int, height: int) -> tuple[int, int]:
    """Give the largest size of a ratio within a width and a height."""
    if aspect * height <= width * SCALE:
        return max(1, aspect * height // SCALE), height
    return width, max(1, width * SCALE // aspect)


def _enlarged(shape: Stretch | Crop, aspect: int, field: Field) -> tuple[int, int]:
    """Fill the window's height, and of its width what the picture's limits allow."""
    inside = field.window
    plain = aspect * inside.height // SCALE
    kept = SCALE - shape.rows_lost
    if isinstance(shape, Crop):
        width = aspect * inside.height // kept
    else:
        gain, unit = most_gain(shape.edge_circle, shape.middle_circle, shape.even_middle)
        reach = aspect * inside.height * gain // (kept * unit)
        width = min(reach, _target(shape, aspect, inside.height, field.wanted))
    return min(inside.width, max(plain, width)), inside.height


def _target(shape: Stretch, aspect: int, height: int, wanted: int) -> int:
    """Say how wide a stretch shall make the picture: its fill of the gap beside the plain one."""
    plain = aspect * height // SCALE
    return plain + (wanted - plain) * shape.fill // SCALE


@lru_cache(REMEMBERED)
def field_of(room: Room, preset: str | None, panels: str | None) -> Field:
    """Say what a lens place and an arrangement leave; unknown means: what all of them leave.

    Smaller rasters are seen to as well, so that a picture off the panels stays off them while
    the lens travels there. Centred rasters see to that themselves, measured ones need not.
    """
    at = room.presets[preset or largest_preset(room)]
    below = [one for one in room.presets.values() if _area(one) <= _area(at)]
    known = preset is not None
    screen = _screen(room, at) if known else _common([_screen(room, one) for one in below])
    opening = _common([_opening(room, one, window(room, panels)) for one in below])
    free = _common([Rect(0, 0, room.projector.columns, room.projector.rows), opening])
    return Field(
        window=_common([screen, free]),
        opening=opening,
        free=free,
        wanted=_common([screen, opening]).width,
        screen=screen,
        widest=_overfilled(room, room.screen.width, _across(room, at)),
        highest=_overfilled(room, room.screen.height, _down(room, at)),
    )


def _overfilled(room: Room, length: int, scale: tuple[int, int]) -> int:
    """Say in pixels how long a picture may be on this length of screen: overfill within border."""
    passing = min(length * room.screen.overfill // SCALE, 2 * room.screen.border)
    pixels, spanned = scale
    return (length + passing) * pixels // spanned


def _across(room: Room, preset: Preset) -> tuple[int, int]:
    """Say how many pixels span how many micrometres; corners that were measured know better."""
    if preset.measured is not None:
        return _screen(room, preset).width, room.screen.width
    return room.projector.columns, preset.raster_width


def _down(room: Room, preset: Preset) -> tuple[int, int]:
    """Say the same of rows."""
    if preset.measured is not None:
        return _screen(room, preset).height, room.screen.height
    return room.projector.rows, preset.raster_height


def _screen(room: Room, preset: Preset) -> Rect:
    """Find the screen in the raster, to the nearest pixel: the border swallows part of one.

    Measured corners that are off square give the box that takes them all in.
    """
    if preset.measured is not None:
        return _between(*Plane.through(preset.measured).outer())
    columns, rows = room.projector.columns, room.projector.rows
    left = _nearest((preset.raster_width - room.screen.width) * columns, 2 * preset.raster_width)
    top = _nearest((preset.raster_height - room.screen.height) * rows, 2 * preset.raster_height)
    return Rect(left, top, columns - 2 * left, rows - 2 * top)


def _nearest(product: int, divisor: int) -> int:
    """Divide to the nearest whole number."""
    return (2 * product + divisor) // (2 * divisor)


def _opening(room: Room, preset: Preset, free: Window) -> Rect:
    """Find what panels leave free, and no end where none stands."""
    width, height = room.screen.width, room.screen.height
    if preset.measured is None:
        rect = _centred(room, preset, free.width, free.height)
    else:
        plane = Plane.through(preset.measured)
        rect = _between(*plane.inner((free.width, width), (free.height, height)))
    if free.width >= width:
        rect = rect._replace(left=-FAR, width=2 * FAR)
    return rect if free.height < height else rect._replace(top=-FAR, height=2 * FAR)


def _centred(room: Room, preset: Preset, width: int, height: int) -> Rect:
    """Place a size in micrometres in the raster's middle, rounded inwards."""
    columns, rows = room.projector.columns, room.projector.rows
    left = -((width - preset.raster_width) * columns // (2 * preset.raster_width))
    right = (preset.raster_width + width) * columns // (2 * preset.raster_width)
    top = -((height - preset.raster_height) * rows // (2 * preset.raster_height))
    bottom = (preset.raster_height + height) * rows // (2 * preset.raster_height)
    return _between(left, top, right, bottom)


def _between(left: int, top: int, right: int, bottom: int) -> Rect:
    """Make a rectangle of its edges; edges that cross leave nothing."""
    return Rect(left, top, max(0, right - left), max(0, bottom - top))


def _common(rects: list[Rect]) -> Rect:
    """Give what all rectangles share."""
    return _between(
        max(rect.left for rect in rects),
        max(rect.top for rect in rects),
        min(rect.right for rect in rects),
        min(rect.bottom for rect in rects),
    )


def _area(preset: Preset) -> int:
    """Size up a preset's raster."""
    return preset.raster_width * preset.raster_height
