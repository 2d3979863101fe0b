"""The test card: a picture of the raster's own size from which a screen's corners are read.

Numbers count raster pixels from the top left; a line drawn at 500 begins where pixel 500 does.
The card has rules along the raster's edges, a grid over all of it, graph paper where the
screen's corners and the middles of its edges are expected, a frame for each ratio as the preset
shows it plain, and circles. Every line is a whole pixel: nothing is smoothed.
"""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Final, NamedTuple

from PIL import Image, ImageDraw, ImageFont

from engine.aspect import ratio_text
from engine.optics import Rect, field_of, fit
from engine.planning.placement import widest
from engine.planning.plan import RATIOS
from engine.room import PLAIN

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.room import Room

Font = ImageFont.FreeTypeFont | ImageFont.ImageFont

BLACK, WHITE, DIM, GREY = range(4)
COLOURS: Final = (
    (0, 0, 0),
    (255, 255, 255),
    (58, 58, 58),
    (150, 150, 150),
    (255, 150, 40),
    (80, 220, 255),
    (255, 230, 60),
    (120, 255, 120),
    (255, 120, 220),
    (130, 160, 255),
)
FIRST_FRAME: Final = 4
"""Index of the first colour for frames; frames take turns with it and those after it."""

FINE, MIDDLE, COARSE = 10, 50, 100
"""Pixels between short ticks, between longer ones, and between numbered ones."""
PAPER: Final = 120
"""Pixels that graph paper reaches from an expected corner."""
NARROW_PAPER: Final = 60
"""Pixels that it reaches from the middle of an edge."""


class Expected(NamedTuple):
    """Where a corner or the middle of an edge is expected, in raster pixels."""

    name: str
    x: int
    y: int


def expected(room: Room, preset: str) -> tuple[Expected, ...]:
    """Say where the screen's corners ought to be, and the middles of its edges.

    They may lie outside the raster, where that is smaller than the screen.
    """
    screen = field_of(room, preset, widest(room)).screen
    x, y = screen.left + screen.width // 2, screen.top + screen.height // 2
    return (
        Expected("top_left", screen.left, screen.top),
        Expected("top_right", screen.right, screen.top),
        Expected("bottom_right", screen.right, screen.bottom),
        Expected("bottom_left", screen.left, screen.bottom),
        Expected("top", x, screen.top),
        Expected("right", screen.right, y),
        Expected("bottom", x, screen.bottom),
        Expected("left", screen.left, y),
    )


def inside(room: Room, place: Expected) -> bool:
    """Tell whether a place is on the card, its very edge included."""
    return 0 <= place.x <= room.projector.columns and 0 <= place.y <= room.projector.rows


def card_png(room: Room, preset: str) -> bytes:
    """Draw the card of a preset as a PNG file."""
    size = room.projector.columns, room.projector.rows
    image = Image.new("P", size, BLACK)
    image.putpalette([value for colour in COLOURS for value in colour])
    card = _Card(room, preset, ImageDraw.Draw(image))
    card.grid()
    card.circles()
    card.rules()
    card.papers()
    card.frames()
    card.title()
    file = BytesIO()
    image.save(file, "PNG", optimize=False, compress_level=6)
    return file.getvalue()


class _Card:
    """A card while it is drawn."""

    def __init__(self, room: Room, preset: str, draw: ImageDraw.ImageDraw) -> None:
        self.room, self.preset, self.draw = room, preset, draw
        self.columns, self.rows = room.projector.columns, room.projector.rows
        self.unit = max(11, self.rows // 90)
        """Height of small figures."""
        self.small = _font(self.unit)
        self.large = _font(self.unit * 3 // 2)
        field = field_of(room, preset, widest(room))
        self.screen, self.seen = field.screen, field.window

    def grid(self) -> None:
        """Draw a dim line every hundred pixels, and write coordinates every five hundred."""
        for x in range(0, self.columns, COARSE):
            self._upright(x, 0, self.rows, GREY if x % (5 * COARSE) == 0 else DIM)
        for y in range(0, self.rows, COARSE):
            self._level(y, 0, self.columns, GREY if y % (5 * COARSE) == 0 else DIM)
        for x in range(5 * COARSE, self.columns - self.unit * 12, 5 * COARSE):
            for y in range(5 * COARSE, self.rows, 5 * COARSE):
                self.draw.text((x + 6, y + 4), f"{x} x {y}", fill=GREY, font=self.small)

    def circles(self) -> None:
        """Draw a large circle in the middle and one towards each corner."""
        seen = self.seen
        middle = seen.left + seen.width / 2, seen.top + seen.height / 2
        large = min(seen.width, seen.height) * 0.46
        small = large * 0.32
        self._circle(middle, large)
        across, down = seen.width / 2 - small * 1.4, seen.height / 2 - small * 1.4
        for x in (-across, across):
            for y in (-down, down):
                self._circle((middle[0] + x, middle[1] + y), small)

    def frames(self) -> None:
        """Draw the frame of each ratio with its name on it, each in the next colour."""
        named: dict[Rect, list[str]] = {}
        for ratio in RATIOS:
            rect = fit(self.room, PLAIN, 0, ratio, self.preset, widest(self.room))
            named.setdefault(rect, []).append(ratio_text(ratio))
        beside = above = 0
        names = []
        for number, (rect, ratios) in enumerate(named.items()):
            colour = FIRST_FRAME + number % (len(COLOURS) - FIRST_FRAME)
            box = (rect.left, rect.top, rect.right - 1, rect.bottom - 1)
            self.draw.rectangle(box, outline=colour, width=2)
            if rect.width < self.seen.width:
                beside += 1
                place = rect.left, self.seen.top + self.seen.height // 4 + beside * self.unit * 2
            else:
                above += 1
                place = self.seen.left + self.seen.width // 6 + above * self.unit * 6, rect.top
            names.append((place, " ".join(ratios), colour))
        for place, text, colour in names:
            self._boxed(place, [text], colour, self.large)

    def papers(self) -> None:
        """Draw graph paper where the screen's corners and the middles of its edges should be."""
        for place in expected(self.room, self.preset):
            if inside(self.room, place):
                self._paper(place, PAPER if "_" in place.name else NARROW_PAPER)

    def rules(self) -> None:
        """Draw a rule along each edge of the raster, numbered every hundred pixels."""
        for x in range(0, self.columns + 1, FINE):
            length = self._tick(x)
            self._upright(x, 0, length, WHITE)
            self._upright(x, self.rows - length, self.rows, WHITE)
        for y in range(0, self.rows + 1, FINE):
            length = self._tick(y)
            self._level(y, 0, length, WHITE)
            self._level(y, self.columns - length, self.columns, WHITE)
        over = self.unit * 3 // 2
        for x in range(COARSE, self.columns - COARSE // 2, COARSE):
            self._on_rule((x, over), x)
            self._on_rule((x, self.rows - over), x)
        for y in range(COARSE, self.rows - COARSE // 2, COARSE):
            self._on_rule((over * 3 // 2, y), y)
            self._on_rule((self.columns - over * 3 // 2, y), y)
        self.draw.rectangle((0, 0, self.columns - 1, self.rows - 1), outline=WHITE)

    def title(self) -> None:
        """Write in the middle what the card is, and how it is read."""
        room = self.room
        pixel = room.screen.width / max(1, self.screen.width) / 1_000
        text = [
            f"{room.name}, preset {self.preset}",
            f"{self.columns} x {self.rows} pixels, counted from the top left",
            f"one is {pixel:.2f} mm on the screen",
            "Read the four corners of the white screen: columns x rows.",
            "Never look into the lens; stand out of the beam.",
        ]
        middle = self.seen.left + self.seen.width // 2, self.seen.top + self.seen.height // 2
        self._boxed(middle, text, WHITE, self.large)

    def _on_rule(self, middle: tuple[int, int], number: int) -> None:
        """Write a figure on a rule, unless graph paper with figures of its own lies there."""
        clear = PAPER + 2 * self.unit
        for place in expected(self.room, self.preset):
            near = abs(place.x - middle[0]) < clear and abs(place.y - middle[1]) < clear
            if near and inside(self.room, place):
                return
        self._figure(middle, number)

    def _paper(self, place: Expected, reach: int) -> None:
        """Draw one piece of graph paper, lines at whole tens, figures on the side of the screen."""
        left, right = self._span(place.x, reach, self.columns)
        top, bottom = self._span(place.y, reach, self.rows)
        self.draw.rectangle((left, top, right, bottom), fill=BLACK)
        for x in _tens(left, right):
            self._upright(x, top, bottom, WHITE if x % MIDDLE == 0 else GREY)
        for y in _tens(top, bottom):
            self._level(y, left, right, WHITE if y % MIDDLE == 0 else GREY)
        screen = self.screen
        below = place.y < screen.top + screen.height // 2
        after = place.x < screen.left + screen.width // 2
        row = bottom + self.unit if below else top - self.unit
        column = right + self.unit * 2 if after else left - self.unit * 2
        for x in _tens(left, right):
            if x % COARSE == 0:
                self._figure((x, row), x)
        for y in _tens(top, bottom):
            if y % MIDDLE == 0:
                self._figure((column, y), y)

    def _span(self, at: int, reach: int, end: int) -> tuple[int, int]:
        return max(0, at - reach), min(end - 1, at + reach)

    def _tick(self, at: int) -> int:
        share = 2 if at % COARSE == 0 else 3 if at % MIDDLE == 0 else 5
        return max(4, self.unit * 2 // share)

    def _upright(self, x: int, top: int, bottom: int, colour: int) -> None:
        x = min(x, self.columns - 1)
        self.draw.line((x, top, x, bottom - 1), fill=colour)

    def _level(self, y: int, left: int, right: int, colour: int) -> None:
        y = min(y, self.rows - 1)
        self.draw.line((left, y, right - 1, y), fill=colour)

    def _circle(self, middle: tuple[float, float], radius: float) -> None:
        (x, y), r = middle, radius
        self.draw.ellipse((x - r, y - r, x + r, y + r), outline=WHITE, width=2)

    def _figure(self, middle: tuple[int, int], number: int) -> None:
        self._boxed(middle, [str(number)], WHITE, self.small)

    def _boxed(self, middle: tuple[int, int], lines: list[str], colour: int, font: Font) -> None:
        """Write lines on black, centred on a place and kept within the raster."""
        boxes = [self.draw.textbbox((0, 0), line, font=font) for line in lines]
        wide = max(box[2] for box in boxes)
        high = max(box[3] for box in boxes)
        pad = max(2, int(high) // 6)
        gap = 1.25 if len(lines) > 1 else 1.0
        left = middle[0] - wide / 2
        top = middle[1] - high * (len(lines) * gap) / 2
        left = max(pad, min(left, self.columns - wide - pad))
        top = max(pad, min(top, self.rows - high * len(lines) * gap - pad))
        self.draw.rectangle(
            (left - pad, top - pad, left + wide + pad, top + high * len(lines) * gap + pad),
            fill=BLACK,
        )
        for number, line in enumerate(lines):
            x = left + (wide - boxes[number][2]) / 2
            self.draw.text((x, top + number * high * gap), line, fill=colour, font=font)


def _tens(first: int, last: int) -> Iterator[int]:
    """Give the multiples of ten from one place to another."""
    yield from range(-(-first // FINE) * FINE, last + 1, FINE)


def _font(size: int) -> Font:
    return ImageFont.load_default(size)
