"""Quantities are read exactly, with their units, or refused with what to write instead."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.text import quantity
from rules.text.quantity import QuantityError

if TYPE_CHECKING:
    from collections.abc import Callable

MOST = 10**12
FAR = 10**9

# Metres and seconds in one unit, by definition: an inch is 25.4 mm, a foot twelve of them.
IN_METRES = {
    "m": Fraction(1),
    "cm": Fraction(1, 100),
    "mm": Fraction(1, 1000),
    "in": Fraction(254, 10_000),
    "ft": Fraction(3_048, 10_000),
}
IN_SECONDS = {
    "h": Fraction(3_600),
    "min": Fraction(60),
    "s": Fraction(1),
    "ms": Fraction(1, 1000),
}
DECIMALS = st.tuples(st.integers(0, 99_999), st.integers(0, 4)).map(
    lambda parts: f"{parts[0] / 10 ** parts[1]:.{parts[1]}f}"
)


def length(text: str) -> int:
    return quantity.read_length(text, -MOST, MOST)


def duration(text: str) -> int:
    return quantity.read_duration(text, 0, MOST)


def share(text: str) -> int:
    return quantity.read_share(text, 0, 10_000)


def ratio(text: str) -> int:
    return quantity.read_ratio(text, 10_000, 40_000)


def ratio_range(text: str) -> tuple[int, int]:
    return quantity.read_ratio_range(text, 2_000, 150_000)


def raster(text: str) -> tuple[int, int]:
    return quantity.read_raster(text, (320, 180), (16_384, 8_640))


def count(text: str) -> int:
    return quantity.read_count(text, 0, 1_000)


def number(text: str) -> float:
    return quantity.read_number(text, 0.1, 1e6)


READERS = (length, duration, share, ratio, ratio_range, raster, count, number)


def rounded(exact: Fraction) -> int:
    """Python rounds fractions half to even."""
    return round(exact)


# ----------------------------------------------------------------------------- what is read


@given(digits=DECIMALS, unit=st.sampled_from([*IN_METRES]), gap=st.sampled_from(["", " ", "  "]))
def test_a_length_is_its_number_times_its_unit_to_the_micrometre(
    digits: str, unit: str, gap: str
) -> None:
    exact = Fraction(digits) * IN_METRES[unit] * 1_000_000
    assert length(f"{digits}{gap}{unit}") == rounded(exact)


@given(digits=DECIMALS, unit=st.sampled_from([*IN_SECONDS]))
def test_a_time_is_its_number_times_its_unit_to_the_millisecond(digits: str, unit: str) -> None:
    assert duration(f"{digits} {unit}") == rounded(Fraction(digits) * IN_SECONDS[unit] * 1000)


@given(hours=st.integers(0, 23), minutes=st.integers(0, 59), seconds=st.integers(0, 59))
def test_parts_of_a_quantity_add_up(hours: int, minutes: int, seconds: int) -> None:
    text = f"{hours} h {minutes} min {seconds} s"
    assert duration(text) == ((hours * 60 + minutes) * 60 + seconds) * 1000


@given(wide=st.integers(100, 400), high=st.integers(100, 400))
def test_two_numbers_with_a_colon_are_their_quotient(wide: int, high: int) -> None:
    exact = Fraction(wide, high) * 10_000
    if 10_000 <= rounded(exact) <= 40_000:
        assert ratio(f"{wide}:{high}") == rounded(exact)


@pytest.mark.parametrize(
    ("read", "text", "value"),
    [
        (length, "11 ft 2 in", 3_403_600),
        (length, "134 in", 3_403_600),  # which is the same: 11 x 12 + 2
        (length, "118 3/4 in", 3_016_250),  # 118.75 x 25.4, as a tape shows it
        (length, "9 ft 10-3/4 in", 3_016_250),
        (length, "3/8in", 9_525),
        (length, "-1 1/64 in", -25_797),  # 65 / 64 x 25.4 is 25.796875
        (length, "3.4 m", 3_400_000),
        (length, "3 m 40 cm", 3_400_000),
        (length, "340cm", 3_400_000),
        (length, "80 mm", 80_000),
        (length, "-40 cm", -400_000),
        (length, "0.0000005 m", 0),  # half a micrometre, to even
        (length, "0.0000015 m", 2),
        (duration, "500 ms", 500),
        (duration, "4 s", 4_000),
        (duration, "1 min 30 s", 90_000),
        (duration, "1.5 h", 5_400_000),
        (share, "2 %", 200),
        (share, "2%", 200),
        (share, "0.85", 8_500),
        (share, "1", 10_000),
        (share, "12.34 %", 1_234),
        (ratio, "2.40", 24_000),
        (ratio, "16:9", 17_778),
        (ratio, "2.39:1", 23_900),
        (ratio, "4:3", 13_333),
        (ratio, " 1.85 ", 18_500),
        (ratio_range, "1.35 to 2.70", (13_500, 27_000)),
        (ratio_range, "2.0", (20_000, 20_000)),
        (raster, "4096 x 2160", (4_096, 2_160)),
        (raster, "1920X1080", (1_920, 1_080)),
        (raster, "3840 × 2160", (3_840, 2_160)),  # noqa: RUF001 - people do write it
        (count, "12", 12),
        (number, "2200", 2_200.0),
    ],
)
def test_quantities_are_read_as_people_write_them(
    read: Callable[[str], object], text: str, value: object
) -> None:
    assert read(text) == value


@pytest.mark.parametrize(
    ("show", "read"),
    [
        (quantity.show_length, length),
        (quantity.show_duration, duration),
        (quantity.show_share, lambda text: quantity.read_share(text, 0, FAR)),
        (quantity.show_ratio, lambda text: quantity.read_ratio(text, 0, FAR)),
    ],
)
@given(value=st.integers(0, FAR))
def test_what_is_shown_reads_back_the_same(
    show: Callable[[int], str], read: Callable[[str], int], value: int
) -> None:
    assert read(show(value)) == value


def test_quantities_are_shown_as_people_would_write_them() -> None:
    assert quantity.show_length(3_400_000) == "3.4 m"
    assert quantity.show_length(80_000) == "80 mm"
    assert quantity.show_duration(90_000) == "90 s"
    assert quantity.show_duration(1_200_000) == "20 min"
    assert quantity.show_share(200) == "2 %"
    assert quantity.show_ratio(24_000) == "2.40"
    assert quantity.show_ratio(17_778) == "1.7778"


# --------------------------------------------------------------------------- what is refused


@pytest.mark.parametrize(
    ("read", "text", "code", "words"),
    [
        (length, "3.4", "unit-missing", "m, cm, mm, ft or in"),
        (length, "3.4 metres", "unit-unknown", "Write 3.4 m."),
        (length, "3.4 M", "unit-unknown", "Write 3.4 m."),
        (length, '134"', "unit-unknown", "Write 134 in."),
        (length, "11' 2\"", "unit-unknown", "Write 11 ft 2 in."),
        (length, '118 3/4"', "unit-unknown", "Write 118.75 in."),
        (length, "1.12 1/2 in", "bad-value", "Write a decimal point. Inches may have"),
        (length, "1.12 0/2 in", "bad-value", "Write a decimal point. Inches may have"),
        (length, "118 2/3 in", "bad-value", "Write a decimal point: 118.67 in."),
        (length, "118 5/4 in", "bad-value", "such as 118 3/4 in"),
        (length, "3 1/2 m", "bad-value", "Write a decimal point: 3.5 m."),
        (length, "9 ft 1/3 in", "bad-value", "Write a decimal point: 9 ft 0.33 in."),
        (length, "1/0 m", "bad-value", "Write a decimal point. Inches may have"),
        (duration, "1 hr 20 mins", "unit-unknown", "Write 1 h 20 min."),
        (length, "3.4 s", "unit-unknown", "m, cm, mm, ft or in"),
        (length, "3,4 m", "bad-value", "Write a decimal point: 3.4 m."),
        (length, "1e3 m", "bad-value", "in full"),
        (length, "+3 m", "bad-value", "Write 3 m."),
        (length, "2 in 11 ft", "bad-value", "from the largest unit"),
        (length, "wide", "bad-value", "Write it like 3.4 m."),
        (length, "", "missing", "Write it like 3.4 m."),
        (length, "nan m", "not-finite", "finite"),
        (length, ".inf", "not-finite", "finite"),
        (length, "-Infinity", "not-finite", "finite"),
        (length, "9" * 70, "bad-value", "Write it like"),
        (duration, "20", "unit-missing", "h, min, s or ms"),
        (duration, "20 minutes", "unit-unknown", "Write 20 min."),
        (duration, "-4 s", "out-of-range", "Write 0 s"),
        (share, "85", "unit-missing", "Did you mean 85 %?"),
        (share, "120 %", "out-of-range", "Write 0 % to 100 %."),
        (share, "nan", "not-finite", "finite"),
        (ratio, "0.42", "out-of-range", "width over the height"),
        (ratio, "1:2.39", "out-of-range", "width over the height"),
        (ratio, "2,39", "bad-value", "2.39"),
        (ratio, "16:0", "out-of-range", "1.00 to 4.00"),
        (ratio, "16/9", "bad-value", "2.40 or 16:9"),
        (ratio_range, "1.35 - 2.70", "bad-value", "Write 1.35 to 2.70."),
        (ratio_range, "1.35..2.70", "bad-value", "Write 1.35 to 2.70."),
        (ratio_range, "2.70 to 1.35", "bad-value", "Write 1.35 to 2.70."),
        (raster, "4096", "bad-value", "4096 x 2160"),
        (raster, "4096 x 2", "out-of-range", "320 x 180"),
        (raster, "2160 x 4096", "out-of-range", "Columns come first: write 4096 x 2160."),
        (count, "1.5", "bad-value", "without a unit"),
        (count, "-1", "out-of-range", "0 to 1000"),
        (count, "12 times", "bad-value", "without a unit"),
        (number, "0", "out-of-range", "0.1 to 1000000"),
        (number, "1e3", "bad-value", "in full"),
        (number, "lots", "bad-value", "Write 0.1 to 1000000, without a unit."),
    ],
)
def test_what_is_no_quantity_is_refused_with_what_to_write_instead(
    read: Callable[[str], object], text: str, code: str, words: str
) -> None:
    with pytest.raises(QuantityError) as caught:
        read(text)
    assert caught.value.code == code
    assert words in caught.value.suggestion


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("4 mm", "Did you mean 4 m?"),
        ("340 m", "Did you mean 340 cm?"),
        ("3400 m", "Did you mean 3400 mm?"),
        ("134 ft", "Did you mean 134 in?"),
        ("11 in", "Did you mean 11 ft?"),
        ("134 cm", ""),
    ],
)
def test_a_number_that_fits_with_another_unit_brings_that_unit_to_mind(
    text: str, hint: str
) -> None:
    low, high = 300_000, 30_000_000
    if not hint:
        assert quantity.read_length(text, low, high) == 1_340_000
        return
    with pytest.raises(QuantityError) as caught:
        quantity.read_length(text, low, high)
    # 300 mm is 11.811 in, and 30 m is 1181.102 in: what is told lies within.
    span = "11.9 in to 1181.1 in" if text.endswith(("ft", "in")) else "300 mm to 30 m"
    assert caught.value.suggestion == f"Write {span}. {hint}"


@pytest.mark.parametrize("read", READERS)
@given(text=st.text(max_size=30) | st.from_regex(r"-?[0-9.,eE%:x to]{0,12} ?[a-z%]{0,3}"))
def test_whatever_the_text_a_reader_gives_a_value_or_its_own_error(
    read: Callable[[str], object], text: str
) -> None:
    try:
        value = read(text)
    except QuantityError as error:
        value = error.code and error.message.rstrip(".") == error.message
    assert str(value) not in {"None", "", "False"}
