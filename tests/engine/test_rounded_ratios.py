"""Ratios are rounded to 1/10,000, and no pixel of any picture is lost to that.

The places are worked out here from the ratios themselves, as fractions of whole numbers.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.aspect import ratio_of_size
from engine.optics import fit
from engine.room import Screen
from tests.engine.planned import RASTERS, room, screen

WIDE = Fraction(16, 9)
TALL = Fraction(4, 3)
RASTERS_OF_16_9 = ((1_280, 720), (1_920, 1_080), (3_840, 2_160), (7_680, 4_320))


def written(ratio: Fraction) -> int:
    """A ratio as a room file has it, in whole 1/10,000."""
    return ratio_of_size(ratio.numerator, ratio.denominator)


def cloth_of(ratio: Fraction, width: int, overfill: int = 0) -> Screen:
    return screen(width=width, aspect=written(ratio), overfill=overfill)


@pytest.mark.parametrize("raster", RASTERS_OF_16_9)
@pytest.mark.parametrize("width", [2_000_000, 3_556_000, 5_000_000])
@pytest.mark.parametrize("overfill", [0, 200])
def test_a_raster_of_16_9_fills_a_screen_of_16_9_with_every_row_of_it(
    raster: tuple[int, int], width: int, overfill: int
) -> None:
    at = room(cloth_of(WIDE, width, overfill), raster=raster, fits={"one": written(WIDE)})
    for picture in ("plain", "whole"):
        assert fit(at, picture, 0, written(WIDE), "one", "open")[2:] == raster


@pytest.mark.parametrize("raster", RASTERS_OF_16_9)
def test_television_of_4_3_has_three_quarters_of_the_columns_of_16_9(
    raster: tuple[int, int],
) -> None:
    at = room(cloth_of(WIDE, 3_556_000), raster=raster, fits={"one": written(WIDE)})
    columns, rows = raster
    bar = columns // 8
    assert fit(at, "plain", 0, written(TALL), "one", "open") == (bar, 0, columns - 2 * bar, rows)


@pytest.mark.parametrize("rows", range(962, 2_161))
def test_a_picture_whose_bars_were_counted_is_shown_pixel_by_pixel(rows: int) -> None:
    at = room(cloth_of(WIDE, 3_556_000), raster=(3_840, 2_160), fits={"one": written(WIDE)})
    assert fit(at, "plain", 0, ratio_of_size(3_840, rows), "one", "open")[2:] == (3_840, rows)


@given(
    st.fractions(1, 4, max_denominator=2_160),
    st.fractions(Fraction(13, 10), Fraction(28, 10), max_denominator=100),
    st.integers(500_000, 20_000_000),
    RASTERS,
)
def test_no_picture_is_more_than_a_pixel_from_the_size_of_its_true_ratio(
    picture: Fraction, cloth: Fraction, width: int, raster: tuple[int, int]
) -> None:
    """Without overfill, at the preset of the screen's own ratio."""
    at = room(cloth_of(cloth, width), raster=raster, fits={"one": written(cloth)})
    rect = fit(at, "plain", 0, written(picture), "one", "open")
    own = Fraction(*raster)
    wide = min(Fraction(raster[0]), raster[1] * cloth)
    lit = (wide, wide / cloth) if cloth >= own else (raster[1] * cloth, Fraction(raster[1]))
    exact = min(lit[0], lit[1] * picture), min(lit[1], lit[0] / picture)
    assert all(abs(one - other) <= 1 for one, other in zip(rect[2:], exact, strict=True))
