"""Labelled evenings of readings: alike from a seed, in order, and true to their labels."""

from __future__ import annotations

from itertools import pairwise
from random import Random

import pytest

from simulator.readings.effects import Habits
from simulator.readings.made_evenings import (
    CLASSES,
    HELD_OUT,
    Detector,
    Scene,
    laid_in,
    made_evenings,
    make_evening,
    record,
)
from tests.engine.settle_score import within

HD = Detector(1_920, 1_080, 24, 2, 0)


@pytest.mark.parametrize("name", CLASSES)
def test_a_seed_makes_the_same_evening_again_and_another_seed_another_one(name: str) -> None:
    evening = make_evening(name, 7)
    assert make_evening(name, 7) == evening
    assert make_evening(name, 8) != evening
    assert make_evening(name, 7, HELD_OUT) != evening


@pytest.mark.parametrize("name", CLASSES)
def test_readings_are_in_order_within_their_raster_and_every_moment_has_its_truth(
    name: str,
) -> None:
    evening = make_evening(name, 3)
    assert all(last[0] < after[0] for last, after in pairwise(evening.readings))
    assert all(last.end == after.begin for last, after in pairwise(evening.segments))
    assert evening.readings[-1][0] < evening.segments[-1].end
    for _, bars in evening.readings:
        if bars is not None:
            assert min(bars[:4]) >= 0
            assert bars.top + bars.bottom < bars.rows
            assert bars.left + bars.right < bars.columns


def test_every_class_has_its_turn() -> None:
    made = [name for name, _ in made_evenings(len(CLASSES) + 2)]
    assert made == [*CLASSES, *tuple(CLASSES)[:2]]


@pytest.mark.parametrize("size", [1.0, 0.75])
@pytest.mark.parametrize("ratio", [10_000, 13_333, 17_778, 23_900])
def test_a_picture_is_laid_in_at_its_ratio_and_pushed_no_further_than_the_edge(
    ratio: int, size: float
) -> None:
    for down in (0.0, -0.01, -0.5, 0.5):
        top, bottom, left, right = laid_in(Scene(ratio, 1, lambda _: (), size=size, down=down), HD)
        assert min(top, bottom, left, right) >= 0
        lit = (HD.columns - left - right) * 10_000 / (HD.rows - top - bottom)
        assert within(round(lit), ratio, 1)


def test_a_plain_scene_reads_as_it_was_laid_in() -> None:
    evening = record(Random(1), HD, [Scene(23_900, 2, lambda _: ())], Habits())
    assert {bars[:4] for _, bars in evening.readings if bars} == {(138, 138, 0, 0)}
    assert evening.segments == [("2.39", 0, 2_000, 23_900, False)]
