"""Active format codes and bar data: what a signal says about where its picture lies.

A code of four bits names the shape of the active picture within its coded frame, 4:3 or 16:9;
bar data say where the bars end. The meanings are those of ATSC A/53-4 table 6.14 and SMPTE ST
2016-1. Everything is whole numbers; ratios are 1/10,000, bars are counts of lines or columns.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

from engine.aspect import NARROWEST, SCALE, WIDEST, ratio_text

FrameName = Literal["4:3", "16:9"]


class FormatError(ValueError):
    """A code or bar data that mean nothing, or contradict each other."""


class Raster(NamedTuple):
    """How many columns and rows a coded picture has."""

    columns: int
    rows: int


class Bars(NamedTuple):
    """Counts of black lines (top, bottom) and black columns (left, right)."""

    top: int = 0
    bottom: int = 0
    left: int = 0
    right: int = 0


class BarLines(NamedTuple):
    """Bar data as they are sent: line and column numbers, counted from 1; None was not sent.

    A bar at the top or left is given by its last line, one at the bottom or right by its first;
    0 and one past the last line or column mean that there is none.
    """

    top_ends: int | None = None
    bottom_starts: int | None = None
    left_ends: int | None = None
    right_starts: int | None = None


FRAMES: Final[dict[FrameName, tuple[int, int]]] = {"4:3": (4, 3), "16:9": (16, 9)}

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

# Receivers count 504 lines of 576 for 14:9 where geometry gives 493.7: bars that agree with
# their code may still be off by so many thousandths, and so may the picture's middle.
_SLACK: Final = 21
_THOUSAND: Final = 1_000


def aspect_of_code(
    code: int,
    frame: FrameName,
    bars: Bars | BarLines | None = None,
    raster: Raster | None = None,
) -> int | None:
    """Read an active format code (0 to 15) in its coded frame, with bar data where sent.

    Gives the active picture's ratio, or None where the code leaves it open and no bars were
    sent. Bars need the raster they count in. Raises `FormatError` for a reserved code, for bars
    that cannot be, and for bars that say something else than the code.
    """
    named = _named_by(code, frame)
    if bars is None or bars == BarLines():
        return named
    if raster is None:
        raise FormatError("bar data count lines of a raster: send its columns and rows with them")
    counts = counts_of(bars, raster) if isinstance(bars, BarLines) else bars
    left = aspect_of_bars(counts, raster, frame)
    if (counts.top or counts.bottom) and (counts.left or counts.right):
        raise FormatError(
            f"bars at top or bottom ({counts.top}, {counts.bottom} lines) and at the sides "
            f"({counts.left}, {counts.right} columns) at once: bar data give one pair or the other"
        )
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
    """Compute the ratio of what the bars leave of the raster, on any sides.

    The raster fills the coded frame; without a frame its pixels are square. Raises `FormatError`
    for bars that pass the frame or leave nothing of it.
    """
    wide, high = _extent(raster, frame)
    _refuse_beyond(bars.top, bars.bottom, raster.rows, "lines")
    _refuse_beyond(bars.left, bars.right, raster.columns, "columns")
    columns = raster.columns - bars.left - bars.right
    rows = raster.rows - bars.top - bars.bottom
    return _nearest(SCALE * wide * columns * raster.rows, high * raster.columns * rows)


def counts_of(lines: BarLines, raster: Raster) -> Bars:
    """Turn line and column numbers into counts; what was not sent is no bar.

    Raises `FormatError` for numbers outside the raster, and for a pair that is upside down or
    leaves nothing between its bars.
    """
    _refuse_empty(raster)
    top, bottom = _pair(lines.top_ends, lines.bottom_starts, raster.rows, _LINES)
    left, right = _pair(lines.left_ends, lines.right_starts, raster.columns, _COLUMNS)
    return Bars(top, bottom, left, right)


def bars_for(ratio: int, raster: Raster, frame: FrameName | None = None) -> Bars:
    """Lay a picture of this ratio into the middle of a raster, as large as it fits.

    Its lines or columns are the nearest even count (our convention, no standard's). Without a
    frame the raster's pixels are square. Raises `FormatError` for a ratio outside 1 to 4.
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


class _Side(NamedTuple):
    """How one pair of bars is spoken of."""

    unit: str
    first: str
    second: str


_LINES: Final = _Side("line", "top", "bottom")
_COLUMNS: Final = _Side("column", "left", "right")


def _named_by(code: int, frame: FrameName) -> int | None:
    """Look up the shape that a code names; None where it leaves the shape open."""
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
    """Refuse bars that leave too little width for the code without a ratio."""
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
    """Refuse bars that put the picture elsewhere than at the top or in the middle, as coded."""
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
    """Refuse a pair of bars that is less than nothing or as large as the frame."""
    if one < 0 or other < 0:
        raise FormatError(f"bars of {one} and {other} {unit}: a bar has 0 {unit} or more")
    if one + other >= extent:
        raise FormatError(f"bars of {one} and {other} {unit} leave nothing of {extent}")


def _pair(ends: int | None, starts: int | None, extent: int, side: _Side) -> tuple[int, int]:
    """Turn the numbers that were sent for two facing bars into their counts."""
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
    """The shape that a whole raster is shown in, as width to height."""
    _refuse_empty(raster)
    return raster if frame is None else FRAMES[frame]


def _nearest(number: int, divisor: int) -> int:
    """Divide, to the nearest whole number, halves up."""
    return (2 * number + divisor) // (2 * divisor)


def _bits(code: int) -> str:
    """Write a code as the standards do."""
    return f"{code:04b}"
