"""Place labels where they can be read: inside the drawing, and never one on another."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from adapters.render import svg

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from adapters.render.palette import Palette

NARROW: Final = frozenset("iljftrI.,:;'|!()[]/ -")
WIDE: Final = frozenset("mwMWQ@%&+<>=~")
ROUNDS: Final = 6
"""How many rings around its point are tried for a label before the rest of the drawing."""
NEXT_TO_IT: Final = 4.0
"""The least distance of a label from its point."""


class Frame(NamedTuple):
    """A rectangle of a drawing, in its units; y grows downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def covers(self, other: Frame) -> bool:
        """Tell whether another one lies wholly inside."""
        return (
            self.left <= other.left
            and self.top <= other.top
            and other.right <= self.right
            and other.bottom <= self.bottom
        )

    def meets(self, other: Frame) -> bool:
        """Tell whether the two share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


class LabelSize(NamedTuple):
    """A label: the point that it stands beside, and its size."""

    x: float
    y: float
    width: float
    height: float


class LabelWriter:
    """Writes words into a drawing, each beside its point and clear of those written before."""

    def __init__(self, frame: Frame, palette: Palette) -> None:
        self._frame = frame
        self._palette = palette
        self._taken: list[Frame] = []

    def keep_free(self, frame: Frame) -> None:
        """Let no words stand here."""
        self._taken.append(frame)

    def write(self, x: float, y: float, words: str, size: float = 11) -> Iterator[str]:
        """Write words beside a point; where they stand far from it a thin line leads there.

        Words for which the frame has no room at all are left out.
        """
        wide, high = text_width(words, size), size * 1.3
        (place,) = place_labels([LabelSize(x, y, wide, high)], self._frame, self._taken)
        if place is None:
            return
        self._taken.append(place)
        middle = (place.left + place.right) / 2, (place.top + place.bottom) / 2
        near = wide / 2 + high, 2 * high
        if abs(middle[0] - x) > near[0] or abs(middle[1] - y) > near[1]:
            yield svg.draw_line((x, y), middle, stroke=self._palette.faint, stroke_width=0.6)
        style: dict[str, float | str] = {"stroke": self._palette.sheet, "stroke_width": 3}
        yield svg.draw_text(
            middle[0],
            place.bottom - 0.32 * size,
            words,
            size,
            text_anchor="middle",
            fill=self._palette.ink,
            paint_order="stroke",
            **style,
        )


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Say how wide a line of text is at most in the fonts of the drawings."""
    parts = (0.42 if one in NARROW else 1.0 if one in WIDE or one > "~" else 0.72 for one in text)
    return sum(parts) * size * (1.12 if bold else 1.0)


def place_labels(
    labels: Sequence[LabelSize], frame: Frame, taken: Sequence[Frame] = ()
) -> list[Frame | None]:
    """Find a place for each label inside the frame, off the others and off what is `taken`.

    The first label chooses first. Near its point is tried before far away; None: there is no room.
    """
    used, found = list(taken), list[Frame | None]()
    for label in labels:
        place = next(
            (
                one
                for one in _tries(label, frame)
                if frame.covers(one) and not any(map(one.meets, used))
            ),
            None,
        )
        found.append(place)
        used += [] if place is None else [place]
    return found


def _tries(label: LabelSize, frame: Frame) -> Iterator[Frame]:
    """Give the places for a label, the best first: around its point, then row by row."""
    x, y, wide, high = label
    for ring in range(ROUNDS):
        off = NEXT_TO_IT + ring * high / 2
        for left, top in (
            (x + off, y - high / 2),
            (x - off - wide, y - high / 2),
            (x - wide / 2, y - off - high),
            (x - wide / 2, y + off),
            (x + off, y - off - high),
            (x + off, y + off),
            (x - off - wide, y - off - high),
            (x - off - wide, y + off),
        ):
            yield Frame(left, top, left + wide, top + high)
    if wide <= 0 or high <= 0:
        return
    top = frame.top
    while top + high <= frame.bottom:
        left = frame.left
        while left + wide <= frame.right:
            yield Frame(left, top, left + wide, top + high)
            left += max(wide / 2, 1.0)
        top += max(high / 2, 1.0)


def keep_apart(places: Sequence[float], widths: Sequence[float], gap: float = 6.0) -> list[int]:
    """Say which labels of an axis, written around their places, stand clear of those before them.

    The first is always kept. Gives their numbers; `places` ascend.
    """
    kept: list[int] = []
    end = float("-inf")
    for number, (place, width) in enumerate(zip(places, widths, strict=True)):
        if place - width / 2 >= end:
            kept.append(number)
            end = place + width / 2 + gap
    return kept
