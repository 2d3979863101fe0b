"""Rasters and aspect ratios of the trade against registries, standards and plain arithmetic.

Trust, as far as each figure is known: read, second-hand, memory, computed, common practice.
"""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.aspect import ratio_of, same_shape
from engine.formats import Bars, FormatError, Raster, aspect_of_bars, bars_for

HD = Raster(1920, 1080)
UHD = Raster(3840, 2160)

# ISDCF registry of projector aspect ratios (read; CC BY 4.0), which refers to SMPTE ST 429-16,
# 429-2 and 428-12: code -> its 2K and its 4K raster.
REGISTERED = {
    "F": (Raster(1998, 1080), Raster(3996, 2160)),  # flat
    "S": (Raster(2048, 858), Raster(4096, 1716)),  # scope
    "C": (Raster(2048, 1080), Raster(4096, 2160)),  # full container
}


def whole(raster: Raster) -> int:
    return aspect_of_bars(Bars(), raster)


def test_the_carried_rasters_are_those_of_the_registry(standards: Path) -> None:
    text = (standards / "isdcf" / "projectoraspectratios.json").read_text(encoding="utf-8")
    stated = {}
    for entry in json.loads(text):
        areas = [entry["cplMetadata"][size]["MainPictureStoredArea"] for size in ("2K", "4K")]
        stated[entry["dcncCode"]] = tuple(Raster(area["Width"], area["Height"]) for area in areas)
    assert stated == REGISTERED


@pytest.mark.parametrize(
    ("code", "ratio"),
    [
        ("F", 18_500),  # 3996/2160 = 1.85 exactly (computed)
        ("S", 23_869),  # 4096/1716 = 2.3869: called 2.39, and is not (computed)
        ("C", 18_963),  # 4096/2160 = 1.8963: called 1.90, and is not (computed)
    ],
)
def test_a_registered_raster_has_the_ratio_of_its_pixels_and_not_of_its_name(
    code: str, ratio: int
) -> None:
    assert [whole(raster) for raster in REGISTERED[code]] == [ratio, ratio]


@pytest.mark.parametrize(("code", "named"), [("F", "1.85"), ("S", "2.39"), ("C", "1.90")])
def test_a_registered_raster_is_one_shape_with_its_name_all_the_same(code: str, named: str) -> None:
    for raster in REGISTERED[code]:
        assert same_shape(whole(raster), ratio_of(float(named)))


@pytest.mark.parametrize("raster", [HD, UHD])
def test_television_rasters_are_16_to_9(raster: Raster) -> None:
    # ITU-R BT.709 and BT.2020 (second-hand)
    assert whole(raster) == aspect_of_bars(Bars(), raster, "16:9") == 17_778


def test_narrow_pictures_stand_between_side_bars_in_flat() -> None:
    # ISDCF naming convention, appendix 7 (read): 1.33 is shown pillarboxed inside flat
    for raster in REGISTERED["F"]:
        bars = bars_for(ratio_of(1.33), raster)
        assert (bars.top, bars.bottom) == (0, 0)
        assert bars.left == bars.right > 0


def test_very_wide_pictures_lie_between_bars_above_and_below_in_scope() -> None:
    # ISDCF naming convention, appendix 7 (read): 2.66 is shown letterboxed inside scope
    for raster in REGISTERED["S"]:
        bars = bars_for(ratio_of(2.66), raster)
        assert (bars.left, bars.right) == (0, 0)
        assert bars.top == bars.bottom > 0


@pytest.mark.parametrize(
    ("named", "width", "height", "squeeze"),
    [
        ("2.35", 0.839, 0.715, 2),  # PH22.106-1957 (second-hand; the quotient computed: 2.3469)
        ("2.39", 0.838, 0.700, 2),  # PH22.106-1971 (second-hand; the quotient computed: 2.3943)
        ("1.37", 0.825, 0.602, 1),  # SMPTE 195 (memory; the quotient computed)
        ("1.66", 0.825, 0.497, 1),  # SMPTE 195 (memory; the quotient computed)
        ("1.85", 0.825, 0.446, 1),  # SMPTE 195 (memory; the quotient computed)
    ],
)
def test_a_film_aperture_is_one_shape_with_the_ratio_it_is_called_by(
    named: str, width: float, height: float, squeeze: int
) -> None:
    assert same_shape(ratio_of(squeeze * width / height), ratio_of(float(named)))


# Exact values computed: columns / ratio, or rows x ratio. The nearest even count and the one bar
# beside it are this project's convention. (ratio, in 1080: count, one bar; in 2160: count, bar)
ROWS = [
    (1.85, (1038, 21), (2076, 42)),
    (1.90, (1010, 35), (2022, 69)),
    (2.00, (960, 60), (1920, 120)),
    (2.20, (872, 104), (1746, 207)),
    (2.35, (818, 131), (1634, 263)),
    (2.39, (804, 138), (1606, 277)),
    (2.40, (800, 140), (1600, 280)),
    (2.55, (752, 164), (1506, 327)),
    (2.76, (696, 192), (1392, 384)),
]
COLUMNS = [
    (4 / 3, (1440, 240), (2880, 480)),
    (1.66, (1792, 64), (3586, 127)),
]


@pytest.mark.parametrize(("ratio", "hd", "uhd"), ROWS)
def test_a_wide_picture_takes_the_nearest_even_count_of_rows(
    ratio: float, hd: tuple[int, int], uhd: tuple[int, int]
) -> None:
    for raster, (rows, bar) in ((HD, hd), (UHD, uhd)):
        assert bars_for(ratio_of(ratio), raster) == Bars(top=bar, bottom=bar)
        assert raster.rows - 2 * bar == rows
        assert abs(rows - raster.columns / ratio) <= 1


@pytest.mark.parametrize(("ratio", "hd", "uhd"), COLUMNS)
def test_a_narrow_picture_takes_the_nearest_even_count_of_columns(
    ratio: float, hd: tuple[int, int], uhd: tuple[int, int]
) -> None:
    for raster, (columns, bar) in ((HD, hd), (UHD, uhd)):
        assert bars_for(ratio_of(ratio), raster) == Bars(left=bar, right=bar)
        assert raster.columns - 2 * bar == columns
        assert abs(columns - raster.rows * ratio) <= 1


@pytest.mark.parametrize("raster", [HD, UHD])
def test_a_picture_of_the_rasters_own_shape_has_no_bars(raster: Raster) -> None:
    assert bars_for(whole(raster), raster) == Bars()


def test_bars_in_a_raster_whose_pixels_are_not_square_follow_the_coded_frame() -> None:
    # 16:9 in a 4:3 frame of 576 lines: 432 active (computed)
    assert bars_for(17_778, Raster(720, 576), "4:3") == Bars(top=72, bottom=72)
    # 4:3 in a 16:9 frame of 720 columns: 540 active (computed)
    assert bars_for(13_333, Raster(720, 576), "16:9") == Bars(left=90, right=90)


@pytest.mark.parametrize("ratio", [0, 239, 9_999, 40_001])
def test_what_is_no_ratio_is_refused(ratio: int) -> None:
    with pytest.raises(FormatError, match=f"{ratio} is none"):
        bars_for(ratio, HD)


@given(
    ratio=st.integers(10_000, 40_000),
    raster=st.builds(Raster, st.integers(640, 8_192), st.integers(480, 4_320)),
)
def test_bars_laid_for_a_ratio_read_back_as_that_ratio_to_a_line(
    ratio: int, raster: Raster
) -> None:
    bars = bars_for(ratio, raster)
    columns = raster.columns - bars.left - bars.right
    rows = raster.rows - bars.top - bars.bottom
    assert not ((bars.top or bars.bottom) and (bars.left or bars.right))
    assert abs(bars.top - bars.bottom) <= 1
    assert abs(bars.left - bars.right) <= 1
    misses = (rows - columns * 10_000 / ratio, columns - rows * ratio / 10_000)
    assert min(abs(miss) for miss in misses) <= 1.01
    assert aspect_of_bars(bars, raster) == pytest.approx(columns * 10_000 / rows, abs=0.51)
