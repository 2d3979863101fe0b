"""Read active format codes and bar data, with which a signal says where its picture lies.

A code of four bits names the shape of the active picture within its coded frame, 4:3 or 16:9. Bar
data say where the black bars end. The meanings are those of ATSC A/53-4 table 6.14 and SMPTE ST
2016-1. All figures are whole numbers: ratios in 1/10,000, bars as counts of lines or columns.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

from engine.aspect import NARROWEST, SCALE, WIDEST, ratio_text

FrameName = Literal["4:3", "16:9"]


class FormatError(ValueError):
    """A code or bar data that have no meaning, or that contradict each other."""


class Raster(NamedTuple):
    """How many columns and rows a coded picture has."""

    columns: int
    rows: int


class Bars(NamedTuple):
    """How many black lines (top, bottom) and black columns (left, right) a picture has."""

    top: int = 0
    bottom: int = 0
    left: int = 0
    right: int = 0


class BarLines(NamedTuple):
    """Bar data as they are sent: numbers of lines and columns, counted from 1. None: not sent.

    A bar at the top or left is given by its last line or column, 0 if there is none. A bar at the
    bottom or right is given by its first, one past the frame's last if there is none.
    """

    top_ends: int | None = None
    bottom_starts: int | None = None
    left_ends: int | None = None
    right_starts: int | None = None


FRAMES: Final[dict[FrameName, tuple[int, int]]] = {"4:3": (4, 3), "16:9": (16, 9)}
"""Width and height of each coded frame, in its own units."""

_WIDE: Final = 17_778
_MIDDLE: Final = 15_556
_NARROW: Final = 13_333
_OF_FRAME: Final[dict[FrameName, int]] = {"4:3": _NARROW, "16:9": _WIDE}

_UNDEFINED: Final = 0b0000
_WIDER: Final = 0b0100
_FULL: Final = 0b1000
_LAST: Final = 0b1111
_AT_TOP: Final = frozenset({0b0010, 0b0011})
_NAMED: Final = {
    0b0010: _WIDE,
    0b0011: _MIDDLE,
    0b1001: _NARROW,
    0b1010: _WIDE,
    0b1011: _MIDDLE,
    0b1101: _NARROW,  # protected 14:9
    0b1110: _WIDE,  # protected 14:9
    0b1111: _WIDE,  # protected 4:3
}

_SLACK: Final = 21
"""How far, in 1/1,000, bars may be off the shape and the place that their code names. Receivers
count 504 of 576 lines for 14:9, where geometry gives 493.7."""
_THOUSAND: Final = 1_000


def aspect_of_code(
    code: int,
    frame: FrameName,
    bars: Bars | BarLines | None = None,
    raster: Raster | None = None,
    *,
    both_pairs: bool = False,
) -> int | None:
    """Give the ratio (1/10,000) that an active format code names in its coded frame.

    `code` is 0 to 15. Bar data decide where the code leaves the shape open, and need the raster
    that they count in. With `both_pairs` they may tell of bars on all four sides, as CTA-861 has it
    and ST 2016-1 has not (both second-hand). Gives None where the code leaves it open and no bars
    were sent. Raises `FormatError` for a reserved code, for impossible bars, and for bars that
    contradict the code.
    """
    named = _named_by(code, frame)
    if bars is None or bars == BarLines():
        return named
    if raster is None:
        raise FormatError("bar data count lines of a raster: send its columns and rows with them")
    counts = counts_of(bars, raster) if isinstance(bars, BarLines) else bars
    left = aspect_of_bars(counts, raster, frame)
    if not both_pairs and (counts.top or counts.bottom) and (counts.left or counts.right):
        raise _both_pairs_at_once(counts)
    if not NARROWEST <= left <= WIDEST:
        raise FormatError(
            f"the bars leave a picture of {ratio_text(left)}: "
            f"no picture is outside {ratio_text(NARROWEST)} to {ratio_text(WIDEST)}"
        )
    if code == _UNDEFINED:
        return left
    if named is None:
        _refuse_not_wider(code, left)
    else:
        _refuse_other_shape(code, frame, named, left)
    _refuse_misplaced(code, frame, counts, raster)
    return left if named is None else named


def aspect_of_bars(bars: Bars, raster: Raster, frame: FrameName | None = None) -> int:
    """Compute the ratio (1/10,000) of what bars on any sides leave of a raster.

    The raster fills the coded frame; without a frame its pixels are square. Raises `FormatError`
    for negative bars and for bars that leave nothing.
    """
    wide, high = _extent(raster, frame)
    _refuse_beyond(bars.top, bars.bottom, raster.rows, "lines")
    _refuse_beyond(bars.left, bars.right, raster.columns, "columns")
    columns = raster.columns - bars.left - bars.right
    rows = raster.rows - bars.top - bars.bottom
    return _nearest(SCALE * wide * columns * raster.rows, high * raster.columns * rows)


def counts_of(lines: BarLines, raster: Raster) -> Bars:
    """Turn numbers of lines and columns into counts. A bar that was not sent has none.

    Raises `FormatError` for numbers outside the raster, and for two bars that overlap or leave
    nothing between them.
    """
    _refuse_empty(raster)
    top, bottom = _pair(lines.top_ends, lines.bottom_starts, raster.rows, _LINES)
    left, right = _pair(lines.left_ends, lines.right_starts, raster.columns, _COLUMNS)
    return Bars(top, bottom, left, right)


def bars_for(ratio: int, raster: Raster, frame: FrameName | None = None) -> Bars:
    """Give the bars round the largest picture of a ratio (1/10,000) in the middle of a raster.

    The picture's lines or columns are rounded to the nearest even count, which is this project's
    convention and no standard's. Without a frame the raster's pixels are square. Raises
    `FormatError` for a ratio outside 10,000 to 40,000.
    """
    if not NARROWEST <= ratio <= WIDEST:
        raise FormatError(
            f"a ratio is from {NARROWEST} to {WIDEST} in 1/10,000, {ratio} is none: "
            "write 23900 for 2.39"
        )
    wide, high = _extent(raster, frame)
    if ratio * high > wide * SCALE:
        lines = 2 * _nearest(wide * SCALE * raster.rows, 2 * high * ratio)
        dark = max(raster.rows - lines, 0)
        return Bars(top=dark // 2, bottom=dark - dark // 2)
    columns = 2 * _nearest(high * ratio * raster.columns, 2 * wide * SCALE)
    dark = max(raster.columns - columns, 0)
    return Bars(left=dark // 2, right=dark - dark // 2)


def _both_pairs_at_once(counts: Bars) -> FormatError:
    return FormatError(
        f"bars at top or bottom ({counts.top}, {counts.bottom} lines) and at the sides "
        f"({counts.left}, {counts.right} columns) at once: bar data give one pair or the other, "
        "but of a source whose bar_pairs are both"
    )


class _Side(NamedTuple):
    """The words for one pair of bars."""

    unit: str
    first: str
    second: str


_LINES: Final = _Side("line", "top", "bottom")
_COLUMNS: Final = _Side("column", "left", "right")


def _named_by(code: int, frame: FrameName) -> int | None:
    """Look up the ratio that a code names; None where the code leaves it open."""
    if frame not in FRAMES:
        raise FormatError(f"a coded frame is 4:3 or 16:9, {frame!r} is neither")
    if not 0 <= code <= _LAST:
        raise FormatError(f"an active format code has four bits, 0 to {_LAST}: {code} is none")
    if code in (_UNDEFINED, _WIDER):
        return None
    if code == _FULL:
        return _OF_FRAME[frame]
    if code not in _NAMED:
        raise FormatError(
            f"active format code {_bits(code)} is reserved: "
            "send 0000 where the shape is not known, with bar data where it is"
        )
    return _NAMED[code]


def _refuse_not_wider(code: int, left: int) -> None:
    """Refuse bars that leave 16:9 or less, for the code that says wider than 16:9."""
    if left <= _WIDE:
        raise FormatError(
            f"code {_bits(code)} says wider than 16:9, its bars leave {ratio_text(left)}: "
            "send code 0000 where the bars decide"
        )


def _refuse_other_shape(code: int, frame: FrameName, named: int, left: int) -> None:
    """Refuse bars that leave another shape than the code names."""
    if abs(left - named) * _THOUSAND > _SLACK * named:
        raise FormatError(
            f"code {_bits(code)} in a {frame} frame says {ratio_text(named)}, its bars leave "
            f"{ratio_text(left)}: send the code that fits them, or 0000 where the bars decide"
        )


def _refuse_misplaced(code: int, frame: FrameName, bars: Bars, raster: Raster) -> None:
    """Refuse bars that do not put the picture where the code says: at the top or in the middle."""
    if code in _AT_TOP and frame == "4:3":
        if bars.top * _THOUSAND > _SLACK * raster.rows:
            raise FormatError(
                f"code {_bits(code)} puts the picture at the top of the frame, "
                f"its bar data have a top bar of {bars.top} lines: send the code for the middle"
            )
    elif abs(bars.top - bars.bottom) * _THOUSAND > 2 * _SLACK * raster.rows:
        raise FormatError(
            f"code {_bits(code)} puts the picture in the middle, its bars are {bars.top} and "
            f"{bars.bottom} lines: send code 0000 where the bars decide"
        )
    if abs(bars.left - bars.right) * _THOUSAND > 2 * _SLACK * raster.columns:
        raise FormatError(
            f"code {_bits(code)} puts the picture in the middle, its bars are {bars.left} and "
            f"{bars.right} columns: send code 0000 where the bars decide"
        )


def _refuse_empty(raster: Raster) -> None:
    """Refuse a raster without a pixel."""
    if raster.columns < 1 or raster.rows < 1:
        raise FormatError(f"a raster of {raster.columns} x {raster.rows} has no picture")


def _refuse_beyond(one: int, other: int, extent: int, unit: str) -> None:
    """Refuse a pair of bars that is negative or leaves nothing between."""
    if one < 0 or other < 0:
        raise FormatError(f"bars of {one} and {other} {unit}: a bar has 0 {unit} or more")
    if one + other >= extent:
        raise FormatError(f"bars of {one} and {other} {unit} leave nothing of {extent}")


def _pair(ends: int | None, starts: int | None, extent: int, side: _Side) -> tuple[int, int]:
    """Turn the numbers that were sent for two opposite bars into their counts."""
    ends = 0 if ends is None else ends
    starts = extent + 1 if starts is None else starts
    if not 0 <= ends <= extent:
        raise FormatError(
            f"the {side.first} bar ends at {side.unit} {ends}, "
            f"outside the frame's {extent} (0: there is none)"
        )
    if not 1 <= starts <= extent + 1:
        raise FormatError(
            f"the {side.second} bar starts at {side.unit} {starts}, "
            f"outside the frame's {extent} ({extent + 1}: there is none)"
        )
    if starts <= ends:
        raise FormatError(
            f"the {side.second} bar starts at {side.unit} {starts}, before the {side.first} bar "
            f"ends at {ends}: upside down"
        )
    if starts == ends + 1:
        raise FormatError(
            f"the {side.first} bar ends at {side.unit} {ends} and the {side.second} bar starts "
            f"at {starts}: nothing is left between them"
        )
    return ends, extent + 1 - starts


def _extent(raster: Raster, frame: FrameName | None) -> tuple[int, int]:
    """Give the width and the height in which the whole raster is shown, in one unit."""
    _refuse_empty(raster)
    return raster if frame is None else FRAMES[frame]


def _nearest(number: int, divisor: int) -> int:
    """Divide, to the nearest whole number, halves up."""
    return (2 * number + divisor) // (2 * divisor)


def _bits(code: int) -> str:
    """Write a code as the standards do."""
    return f"{code:04b}"
