"""A story weighed where it differs is as likely as the same story followed from end to end."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.wear.creep import Observation, RepeatabilitySession, Series
from simulator.wear.stories import follow

SIZE = 0.3


def book(seed: int) -> Series:
    """Make a book with everything in it: realignments, a bump told before, sides unknown."""
    chance = np.random.default_rng(seed)
    counts = np.cumsum(chance.integers(1, 400, 9))
    read = np.cumsum(0.02 * chance.standard_normal(9)) + 0.02 * chance.standard_normal(9)
    return tuple(
        Observation(
            int(count),
            float(x),
            0.01,
            resets=n in {0, 5},
            rests=0.01 * (n == 5),
            doubt=0.05 * (n % 2),
            jumped=SIZE * (n == 3),
            wrong=SIZE * (n == 6),
        )
        for n, (count, x) in enumerate(zip(counts, read, strict=True))
    )


@pytest.mark.parametrize("seed", range(4))
def test_a_story_is_as_likely_as_if_the_filter_had_followed_it(seed: int) -> None:
    """De Jong and Penzer's quick way against the plain one: each tale followed by itself."""
    series, known = book(seed), ([RepeatabilitySession(30, 0.02, 0.005)], 0.05)
    moved, misread = follow([series, series], *known).with_one_more(SIZE)
    assert moved.shape == misread.shape == (2, 2, len(series)), "steady or quickening, by tale"
    for reading, one in enumerate(series):
        if one.resets or one.jumped or one.wrong:
            continue
        for quick, what in (
            (moved, one._replace(jumped=SIZE)),
            (misread, one._replace(wrong=SIZE)),
        ):
            tale = (*series[:reading], what, *series[reading + 1 :])
            plain = follow([tale], *known).plain()
            assert plain.shape == (2, 1)
            assert quick[:, :, reading] == pytest.approx(np.hstack([plain, plain]), abs=1e-9), what
