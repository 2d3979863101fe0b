"""The settle filter: published figures, and how it scores on labelled sets of readings."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.settle import (
    MARKED,
    BarReading,
)
from simulator.readings.labelled import LabelledSet, Segment
from tests.engine import settle_sets as sets
from tests.engine.settle_score import load, report, run, score
from tests.engine.settling import (
    DWELL,
    FINE,
    bars,
    laid,
    later,
    settled,
    told,
)
from tests.house.tree import beside

# ----------------------------------------------------------- figures from outside the project

# One bar's rows, rounded to an even picture (computed; the rounding is a convention), of ratios
# from SMPTE standards and trade practice: 1.85, 2.35, 2.39 second-hand, the others from memory.
ACTIVE_ROWS = [
    (18_500, 21, 42),
    (19_000, 35, 69),
    (20_000, 60, 120),
    (22_000, 104, 207),
    (23_500, 131, 263),
    (23_900, 138, 277),
    (24_000, 140, 280),
    (25_500, 164, 327),
    (27_600, 192, 384),
]
# The same for columns: 4:3 and 1.66.
ACTIVE_COLUMNS = [(13_333, 240, 480), (16_600, 64, 127)]


@pytest.mark.parametrize(("ratio", "in_1080", "in_2160"), ACTIVE_ROWS)
def test_published_rows_in_a_16_to_9_raster_settle_to_their_ratio(
    ratio: int, in_1080: int, in_2160: int
) -> None:
    for bar, raster in ((in_1080, sets.HD), (in_2160, sets.Raster(3840, 2160))):
        settling = later(told((0, bars((bar, bar, 0, 0), raster))), 10_000)
        assert settling.aspect == pytest.approx(ratio, rel=0.004)


@pytest.mark.parametrize(("ratio", "in_1080", "in_2160"), ACTIVE_COLUMNS)
def test_published_columns_in_a_16_to_9_raster_settle_to_their_ratio(
    ratio: int, in_1080: int, in_2160: int
) -> None:
    for bar, raster in ((in_1080, sets.HD), (in_2160, sets.Raster(3840, 2160))):
        settling = later(told((0, bars((0, 0, bar, bar), raster))), 10_000)
        assert settling.aspect == ratio


# Active lines of a 576-line 4:3 frame (ETSI EN 300 294 as a public decoder implements it, read):
# a reader of such counts needs a tolerance of about 2.1 %.
@pytest.mark.parametrize(("ratio", "lines"), [(15_556, 504), (17_778, 430)])
def test_published_lines_of_a_4_to_3_frame_settle_to_their_ratio(ratio: int, lines: int) -> None:
    bar = (576 - lines) // 2
    reading = BarReading(bar, bar, 0, 0, 720, 576, 13_333)
    assert later(told((0, reading)), 10_000).aspect == pytest.approx(ratio, rel=0.021)


def test_small_rasters_whose_pixels_cannot_be_square_are_16_to_9_unless_somebody_says() -> None:
    assert later(told((0, BarReading(0, 0, 0, 0, 720, 576))), 10_000).aspect == 17_778
    assert later(told((0, BarReading(0, 0, 0, 0, 720, 480, 13_333))), 10_000).aspect == 13_333
    assert later(told((0, BarReading(0, 0, 0, 0, 640, 480))), 10_000).aspect == 13_333


def test_a_new_raster_keeps_the_settled_aspect_and_where_its_bars_are_now() -> None:
    settling = told((0, laid(23_900, sets.Raster(3840, 2160))), before=settled(23_900))
    assert (settling.aspect, settling.deadline) == (23_900, None)


# ------------------------------------------------------------------------- labelled sets


@pytest.mark.parametrize("seed", range(16))
def test_made_evenings_of_the_ordinary_kind_are_right_all_the_time(seed: int) -> None:
    result = score(sets.make_plain(seed, FINE))
    assert not result.false, report(f"plain {seed}", result)
    assert result.share > 99, report(f"plain {seed}", result)


@pytest.mark.parametrize("seed", range(16))
def test_made_evenings_of_what_misleads_settle_on_nothing_that_is_not_there(seed: int) -> None:
    result = score(sets.make_hard(seed, FINE))
    assert not result.false, report(f"hard {seed}", result)
    assert result.share > 88, report(f"hard {seed}", result)


def test_made_evenings_of_what_misleads_are_right_nearly_all_the_time() -> None:
    results = [score(sets.make_hard(seed, FINE)) for seed in range(16)]
    right, counted = sum(r.right for r in results), sum(r.counted for r in results)
    assert right > 0.97 * counted


@pytest.mark.parametrize("seed", range(8))
def test_sets_in_coarse_rasters_are_right_most_of_the_time(seed: int) -> None:
    coarse = [raster for raster in sets.RASTERS if raster not in FINE]
    assert score(sets.make_plain(seed, coarse)).share > 97


@pytest.fixture(scope="module")
def readings() -> Path:
    """The folder of real readings that may lie beside the checkout."""
    return beside("readings", "made sets of the same kinds are scored all the same")


def test_the_real_plain_set_is_right_all_the_time(readings: Path) -> None:
    result = score(load(readings / "plain"))
    assert (result.right, result.false) == (result.counted, ()), report("plain", result)


def test_the_real_hard_set_is_right_nearly_all_the_time(readings: Path) -> None:
    result = score(load(readings / "hard"))
    assert result.share >= 97, report("hard", result)
    assert not result.false, report("hard", result)


def test_the_real_sets_are_settled_within_their_lags(readings: Path) -> None:
    plain, hard = (score(load(readings / kind)).lags for kind in ("plain", "hard"))
    most = 42 * 2  # Some segments begin with a frame or two of the last one.
    limits = {
        "tall-scene": 600, "broadcast-4x3": 600, "flat-film": DWELL.wider + most,
        "scope-film": DWELL.wider + most, "scope-return": DWELL.wider + most,
        "grain": DWELL.wider + most, "mark-in-upper-bar": DWELL.wider + MARKED + most,
        "odd-2.55": 3_500, "odd-1.5": 3_500, "windowed": 1_000,
    }  # fmt: skip
    found = {**plain, **hard}
    assert {name: found[name] for name in limits if (found[name] or 0) > limits[name]} == {}
    assert all(found[name] is not None for name in limits)


def test_the_scorer_counts_what_is_wrong() -> None:
    segments = [Segment("wide", 0, 10_000, 23_900), Segment("tall", 10_000, 20_000, 13_333)]
    always = LabelledSet([(0, laid(23_900))], segments)
    result = score(always)
    assert result.lags == {"wide": 500, "tall": None}
    assert (result.right, result.counted) == (90, 180)
    lie = LabelledSet([(0, laid(18_500))], segments)
    assert [change.aspect for change in score(lie).false] == [18_500]
    assert run([], DWELL) == [(0, None, False)]
