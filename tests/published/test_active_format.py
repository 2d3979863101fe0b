"""Active format codes and bar data against what standards bodies and public decoders say.

Trust, as far as each figure is known: read (the source or a named implementation of it was read),
second-hand (a restatement was read), computed (plain arithmetic).
"""

import re
from fractions import Fraction
from pathlib import Path
from typing import get_args
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.formats import (
    BarLines,
    Bars,
    FormatError,
    FrameName,
    Raster,
    aspect_of_bars,
    aspect_of_code,
    counts_of,
)

FRAMES = get_args(FrameName)
HD = Raster(1920, 1080)
SD = Raster(720, 576)

NARROW, MIDDLE, WIDE = Fraction(4, 3), Fraction(14, 9), Fraction(16, 9)

# ATSC A/53-4 table 6.14 and SMPTE ST 2016-1, restated in a public media library's documentation
# (read): code -> active picture in a 4:3 coded frame, in a 16:9 coded frame.
NAMED = {
    0b0010: (WIDE, WIDE),
    0b0011: (MIDDLE, MIDDLE),
    0b1000: (NARROW, WIDE),
    0b1001: (NARROW, NARROW),
    0b1010: (WIDE, WIDE),
    0b1011: (MIDDLE, MIDDLE),
    0b1101: (NARROW, NARROW),
    0b1110: (WIDE, WIDE),
    0b1111: (WIDE, WIDE),
}
OPEN = (0b0000, 0b0100)  # the same table (read): no shape without bar data
RESERVED = (1, 5, 6, 7, 12)  # the same table (read)

EBU_LISTS = ("ebu_ActiveFormatDescriptionCodeCS.xml", "ebu_ActiveFormatDescriptorCodeCS.xml")


def scaled(shape: Fraction) -> int:
    return round(shape * 10_000)


# ------------------------------------------------------------------------------ codes alone


@pytest.mark.parametrize("code", NAMED)
def test_a_code_names_the_shape_that_the_table_gives_in_either_frame(code: int) -> None:
    said = tuple(aspect_of_code(code, frame) for frame in FRAMES)
    assert said == tuple(scaled(shape) for shape in NAMED[code])


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize("code", OPEN)
def test_a_code_that_leaves_the_shape_open_names_none(code: int, frame: FrameName) -> None:
    assert aspect_of_code(code, frame) is None
    assert aspect_of_code(code, frame, BarLines(), HD) is None


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize("code", RESERVED)
def test_a_reserved_code_is_refused(code: int, frame: FrameName) -> None:
    with pytest.raises(FormatError, match=f"{code:04b} is reserved"):
        aspect_of_code(code, frame)


@pytest.mark.parametrize("code", [-1, 16])
def test_a_number_of_more_than_four_bits_is_no_code(code: int) -> None:
    with pytest.raises(FormatError, match="four bits"):
        aspect_of_code(code, "4:3")


def test_the_table_above_speaks_of_every_code() -> None:
    assert sorted([*NAMED, *OPEN, *RESERVED]) == list(range(16))


def by_the_name(name: str, frame: FrameName) -> Fraction | None:
    """Work out a shape from the words of the EBU's term alone.

    "Full Frame image" is the frame's own shape, "wider than" leaves it open; else the first
    ratio of the name is the picture's, and what is protected comes after it.
    """
    if "wider than" in name:
        return None
    if name.startswith("Full Frame"):
        return NARROW if frame == "4:3" else WIDE
    first = re.search(r"(\d+):(\d+)", name)
    assert first, name
    return Fraction(int(first[1]), int(first[2]))


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize("file", EBU_LISTS)
def test_every_term_of_the_broadcasting_unions_lists_is_read_as_it_is_named(
    standards: Path, file: str, frame: FrameName
) -> None:
    # EBU classification schemes of 2016 (read; CC BY-SA 3.0), terms named afd_0010 and so on.
    terms = ET.parse(standards / "ebu" / file).getroot().findall("Term")
    stated = {int(term.attrib["termID"].removeprefix("afd_"), 2): term for term in terms}
    assert len(stated) == 10
    for code, term in stated.items():
        shape = by_the_name(term.findtext("Name", ""), frame)
        assert aspect_of_code(code, frame) == (None if shape is None else scaled(shape)), code


# --------------------------------------------------------------------- line numbers, counted

# Computed; that a top bar is given by its last line, a bottom bar by its first, and that lines
# and columns count from 1, is read in the public HDMI headers and packing code of a kernel.
WORKED = {
    "2.39 in 1080 lines": (BarLines(top_ends=138, bottom_starts=943), Bars(138, 138)),
    "4:3 in 1920 columns": (BarLines(left_ends=240, right_starts=1681), Bars(0, 0, 240, 240)),
    "14:9 in 1920 columns": (BarLines(left_ends=120, right_starts=1801), Bars(0, 0, 120, 120)),
}


@pytest.mark.parametrize(("lines", "bars"), WORKED.values(), ids=WORKED)
def test_worked_line_numbers_are_the_counts_that_they_were_worked_from(
    lines: BarLines, bars: Bars
) -> None:
    assert counts_of(lines, HD) == bars


def test_worked_line_numbers_give_the_shapes_they_were_worked_for() -> None:
    scope = aspect_of_code(0b0100, "16:9", BarLines(top_ends=138, bottom_starts=943), HD)
    assert scope == round(Fraction(1920, 804) * 10_000)  # 2.388, the nearest even count to 2.39
    narrow = BarLines(left_ends=240, right_starts=1681)
    assert aspect_of_code(0b0000, "16:9", narrow, HD) == scaled(NARROW)
    assert aspect_of_code(0b1001, "16:9", narrow, HD) == scaled(NARROW)
    middle = BarLines(left_ends=120, right_starts=1801)
    # 14:9 would have 1680 columns exactly
    assert aspect_of_code(0b0000, "16:9", middle, HD) == scaled(MIDDLE)
    assert aspect_of_code(0b1011, "16:9", middle, HD) == scaled(MIDDLE)


@given(st.integers(0, 300), st.integers(0, 300), st.integers(0, 300), st.integers(0, 300))
def test_counts_written_as_line_numbers_read_back_as_the_same_counts(
    top: int, bottom: int, left: int, right: int
) -> None:
    lines = BarLines(top, HD.rows - bottom + 1, left, HD.columns - right + 1)
    assert counts_of(lines, HD) == Bars(top, bottom, left, right)


def test_a_bar_that_was_not_sent_is_no_bar() -> None:
    # 16:9 at the top of a 4:3 frame needs its bottom bar alone.
    only_bottom = BarLines(bottom_starts=433)
    assert counts_of(only_bottom, SD) == Bars(bottom=144)
    assert aspect_of_code(0b0010, "4:3", only_bottom, SD) == scaled(WIDE)


# ----------------------------------------------------------------------- bars beside a code

# ETSI EN 300 294 as a public decoder implements it (read): active lines of 576 in a 4:3 frame.
# Pure geometry (computed) gives 493.7 and 432, hence the tolerance of about 2.1 %.
COUNTED_LINES = [
    (0b1011, Bars(36, 36), MIDDLE),  # 14:9 in the middle, 504 lines
    (0b0011, Bars(0, 72), MIDDLE),  # 14:9 at the top, 504
    (0b1010, Bars(73, 73), WIDE),  # 16:9 in the middle, 430
    (0b0010, Bars(0, 146), WIDE),  # 16:9 at the top, 430
]


@pytest.mark.parametrize(("code", "bars", "shape"), COUNTED_LINES)
def test_published_line_counts_agree_with_their_codes(
    code: int, bars: Bars, shape: Fraction
) -> None:
    assert aspect_of_code(code, "4:3", bars, SD) == scaled(shape)


@pytest.mark.parametrize(("code", "bars", "shape"), COUNTED_LINES)
def test_published_line_counts_alone_give_their_shape_within_the_tolerance(
    code: int, bars: Bars, shape: Fraction
) -> None:
    assert code in NAMED
    read = aspect_of_code(0b0000, "4:3", bars, SD)
    assert read == pytest.approx(scaled(shape), rel=0.021)


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize("code", NAMED)
def test_bars_laid_by_plain_geometry_agree_with_the_code(code: int, frame: FrameName) -> None:
    shape = NAMED[code][FRAMES.index(frame)]
    own = NARROW if frame == "4:3" else WIDE
    lines, columns = round(SD.rows * own / shape), round(SD.columns * shape / own)
    dark, side = max(SD.rows - lines, 0), max(SD.columns - columns, 0)
    top = 0 if code in (0b0010, 0b0011) else dark // 2
    bars = Bars(top, dark - top, side // 2, side - side // 2)
    assert aspect_of_code(code, frame, bars, SD) == scaled(shape)


def test_where_the_code_is_undefined_the_bars_decide() -> None:
    assert aspect_of_code(0b0000, "4:3", Bars(), SD) == scaled(NARROW)
    assert aspect_of_code(0b0000, "16:9", Bars(), SD) == scaled(WIDE)
    assert aspect_of_code(0b0000, "16:9", Bars(top=140, bottom=140), HD) == 24_000
    # the same counts in either frame of one raster: pixels are not square
    assert aspect_of_code(0b0000, "4:3", Bars(top=72, bottom=72), SD) == scaled(WIDE)
    assert aspect_of_code(0b0000, "16:9", Bars(top=72, bottom=72), SD) == scaled(WIDE * 576 / 432)


def test_the_wide_code_takes_its_shape_from_the_bars_in_either_frame() -> None:
    assert aspect_of_code(0b0100, "16:9", Bars(140, 140), HD) == 24_000
    lines = 320  # 4/3 x 576/320 = 2.40 (computed)
    dark = (SD.rows - lines) // 2
    assert aspect_of_code(0b0100, "4:3", Bars(dark, dark), SD) == 24_000


def test_columns_beside_a_picture_read_the_same_whatever_the_shape_of_a_pixel() -> None:
    bars = Bars(left=90, right=90)  # 540 of 720 columns: 3/4 of 16:9 is 4:3 (computed)
    assert aspect_of_bars(bars, SD, "16:9") == scaled(NARROW)
    assert aspect_of_bars(Bars(left=240, right=240), HD) == scaled(NARROW)


# --------------------------------------------------------------------------- contradictions


@pytest.mark.parametrize(
    ("sentence", "code", "frame", "bars"),
    [
        # ST 2016-1, second-hand: one pair of bars or the other, never both.
        ("at once", 0b0000, "16:9", Bars(top=100, bottom=100, left=200, right=200)),
        ("at once", 0b0000, "16:9", BarLines(100, 981, 200, 1721)),
        ("at once", 0b0100, "16:9", BarLines(top_ends=140, left_ends=1)),
        ("outside the frame's 1080", 0b0000, "16:9", BarLines(top_ends=1081)),
        ("outside the frame's 1080", 0b0000, "16:9", BarLines(bottom_starts=1082)),
        ("outside the frame's 1080", 0b0000, "16:9", BarLines(bottom_starts=0)),
        ("outside the frame's 1920", 0b0000, "16:9", BarLines(left_ends=1921)),
        ("outside the frame's 1920", 0b0000, "16:9", BarLines(left_ends=-1)),
        ("leave nothing of 1080", 0b0000, "16:9", Bars(top=600, bottom=600)),
        ("leave nothing of 1920", 0b0000, "16:9", Bars(left=1920)),
        ("0 lines or more", 0b0000, "16:9", Bars(top=-1)),
        ("upside down", 0b0000, "16:9", BarLines(top_ends=943, bottom_starts=138)),
        ("upside down", 0b0000, "16:9", BarLines(left_ends=1681, right_starts=240)),
        ("nothing is left", 0b0000, "16:9", BarLines(top_ends=540, bottom_starts=541)),
        ("no picture is outside", 0b0000, "16:9", Bars(top=500, bottom=500)),
        ("says 1.78, its bars leave 2.40", 0b1010, "16:9", Bars(140, 140)),
        ("says 1.33, its bars leave 1.78", 0b1001, "16:9", Bars()),
        ("says 1.78, its bars leave 1.33", 0b1010, "4:3", Bars()),
        ("says 1.56, its bars leave 1.78", 0b1011, "4:3", Bars(135, 135)),
        ("wider than 16:9, its bars leave 1.78", 0b0100, "16:9", Bars()),
        ("wider than 16:9, its bars leave 1.33", 0b0100, "16:9", Bars(left=240, right=240)),
        ("at the top", 0b0010, "4:3", Bars(top=135, bottom=135)),
        ("in the middle", 0b1010, "4:3", Bars(bottom=270)),
        ("in the middle", 0b1001, "16:9", Bars(left=480)),
    ],
)
def test_a_contradiction_is_refused_with_its_reason(
    sentence: str, code: int, frame: FrameName, bars: Bars | BarLines
) -> None:
    with pytest.raises(FormatError, match=re.escape(sentence)):
        aspect_of_code(code, frame, bars, HD)


def test_bar_data_without_their_raster_are_refused() -> None:
    with pytest.raises(FormatError, match="columns and rows"):
        aspect_of_code(0b0100, "16:9", BarLines(top_ends=138, bottom_starts=943))


def test_a_raster_without_a_pixel_is_refused() -> None:
    with pytest.raises(FormatError, match="0 x 1080"):
        aspect_of_code(0b0000, "16:9", BarLines(top_ends=0), Raster(0, 1080))


NUMBERS = st.none() | st.integers(-2, 2_000)


@given(
    code=st.integers(0, 15),
    frame=st.sampled_from(FRAMES),
    bars=st.none()
    | st.builds(BarLines, NUMBERS, NUMBERS, NUMBERS, NUMBERS)
    | st.builds(Bars, *[st.integers(-2, 2_000)] * 4),
    raster=st.none() | st.builds(Raster, st.integers(0, 2_000), st.integers(0, 1_100)),
)
def test_whatever_is_sent_gives_a_shape_from_1_to_4_or_none_or_a_format_error(
    code: int, frame: FrameName, bars: Bars | BarLines | None, raster: Raster | None
) -> None:
    try:
        aspect = aspect_of_code(code, frame, bars, raster)
    except FormatError:
        return
    assert aspect is None or 10_000 <= aspect <= 40_000


@given(
    code=st.sampled_from(sorted(NAMED)),
    frame=st.sampled_from(FRAMES),
    dark=st.integers(0, 700),
)
def test_a_code_never_says_a_shape_that_its_bars_miss_by_more_than_the_tolerance(
    code: int, frame: FrameName, dark: int
) -> None:
    bars = Bars(0, dark) if code in (0b0010, 0b0011) else Bars(dark // 2, dark - dark // 2)
    own = NARROW if frame == "4:3" else WIDE
    left = own * HD.rows / (HD.rows - dark)
    shape = NAMED[code][FRAMES.index(frame)]
    agrees = abs(left - shape) <= shape * Fraction("0.0209")
    differs = abs(left - shape) >= shape * Fraction("0.0211")
    try:
        said = aspect_of_code(code, frame, bars, HD)
    except FormatError:
        assert not agrees
    else:
        assert said == scaled(shape)
        assert not differs
