"""Repeatability, drift and its filter against standards, worked examples and reference libraries.

Trust, as far as each figure is known: read, second-hand, memory, computed.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from simulator.wear.first_passage import ONE_IN_TWENTY, OVERSHOOT, _reached
from simulator.wear.kalman_filter import KalmanFilter
from simulator.wear.repeatability import bidirectional, judge_pose, unidirectional

# ISO 230-2 (memory; the definitions reproduce a published report): five positions, five cycles in
# each direction. The positions are those of the public report named in the data file (read).
TARGETS = (-4.0, -2.0, 0.0, 2.0, 4.0)
FORWARD = (
    (-3.99861, -3.98366, -3.98366, -3.95012, -3.95335),
    (-2.00655, -1.98836, -1.98109, -1.9419, -1.93341),
    (-0.02782, -0.00802, -0.01005, 0.01986, 0.0344),
    (1.97474, 1.99616, 2.00181, 2.03495, 2.04909),
    (4.00316, 4.00397, 4.00963, 4.03024, 4.05165),
)
BACKWARD = (
    (-4.10205, -4.01598, -3.99861, -3.99254, -3.96143),
    (-2.11969, -2.02392, -2.00251, -1.99968, -1.9617),
    (-0.13005, -0.02904, -0.01489, -0.01126, 0.01622),
    (1.94767, 1.97191, 1.98848, 2.00949, 2.02323),
    (3.94983, 3.98054, 3.98538, 4.01731, 4.03024),
)


def test_repeatability_is_that_of_the_iso_230_2_example() -> None:
    """B 0.05124, R forward 0.12529, R backward 0.23715 (read: the report's own results)."""
    judged = [bidirectional(up, down) for up, down in zip(FORWARD, BACKWARD, strict=True)]
    assert max(abs(one.reversal) for one in judged) == pytest.approx(0.05124, abs=1e-5)
    assert max(one.up.repeatability for one in judged) == pytest.approx(0.12529, abs=1e-5)
    assert max(one.down.repeatability for one in judged) == pytest.approx(0.23715, abs=1e-5)


def test_means_and_spreads_give_the_accuracies_of_the_iso_230_2_example() -> None:
    """M 0.02226, A forward 0.14139, A backward 0.24337 (read)."""
    judged = [bidirectional(up, down) for up, down in zip(FORWARD, BACKWARD, strict=True)]
    pairs = list(zip(judged, TARGETS, strict=True))
    middle = [(one.up.mean + one.down.mean) / 2 - target for one, target in pairs]
    assert max(middle) - min(middle) == pytest.approx(0.02226, abs=1e-5)
    for name, published in (("up", 0.14139), ("down", 0.24337)):
        sides = [(getattr(one, name), target) for one, target in pairs]
        high = max(side.mean - target + 2 * side.spread for side, target in sides)
        low = min(side.mean - target - 2 * side.spread for side, target in sides)
        assert high - low == pytest.approx(published, abs=1e-5)


def test_the_positions_written_here_are_those_of_the_data_file(standards: Path) -> None:
    data = json.loads((standards / "iso230_example.json").read_text())
    assert [tuple(one) for one in data["forward"]] == list(FORWARD)
    assert [tuple(one) for one in data["backward"]] == list(BACKWARD)


# fmt: off
MICHELSO = (
    850, 740, 900, 1070, 930, 850, 950, 980, 980, 880, 1000, 980, 930, 650, 760, 810, 1000, 1000,
    960, 960, 960, 940, 960, 940, 880, 800, 850, 880, 900, 840, 830, 790, 810, 880, 880, 830, 800,
    790, 760, 800, 880, 880, 880, 860, 720, 720, 620, 860, 970, 950, 880, 910, 850, 870, 840, 840,
    850, 840, 840, 840, 890, 810, 810, 820, 800, 770, 760, 740, 750, 760, 910, 920, 890, 860, 880,
    720, 840, 850, 850, 780, 890, 840, 780, 810, 760, 810, 790, 810, 820, 850, 870, 870, 810, 740,
    810, 940, 950, 800, 810, 870,
)
# fmt: on


def test_a_spread_is_the_one_that_nist_certifies() -> None:
    """NIST StRD Michelso: mean 299.8524, sd 0.0790105478190518 (read).

    The hundred values are from memory; that both certified figures come out of them, to twelve
    digits, says that the memory is right.
    """
    judged = unidirectional([299 + one / 1_000 for one in MICHELSO])
    assert len(MICHELSO) == 100
    assert judged.spread == pytest.approx(0.0790105478190518, rel=1e-12)
    assert judged.mean == pytest.approx(299.8524, rel=1e-14)


def test_a_pose_is_judged_by_its_distances_from_the_middle() -> None:
    """ISO 9283: RP is the mean distance and three standard deviations of it (memory).

    A square of side 2: every corner lies sqrt(2) from the middle, so there is no deviation.
    """
    square = [(1.0, 1.0), (3.0, 1.0), (3.0, 3.0), (1.0, 3.0)]
    judged = judge_pose(square)
    assert judged.repeatability == pytest.approx(2**0.5)
    assert judged.accuracy == pytest.approx(8**0.5)


@pytest.mark.parametrize("judge", [unidirectional, lambda one: judge_pose([(x, x) for x in one])])
def test_one_position_tells_no_spread(judge: object) -> None:
    assert callable(judge)
    with pytest.raises(ValueError, match="at least 2"):
        judge([1.0])


# --------------------------------------------------------------------------------- first passage


def reached(limit: float, drift: float, step: float, travels: float) -> float:
    one = np.array([1.0])
    return float(_reached(limit * one, drift * one, step * one, travels)[0])


@pytest.mark.parametrize(
    ("travels", "published"), [(10, 0.080066752606), (20, 0.585288859163), (9.06601788, 0.05)]
)
def test_the_first_passage_is_inverse_gaussian(travels: float, published: float) -> None:
    """Limit 10, drift 0.5, scale 1 (computed: closed form and SciPy agree)."""
    assert reached(10, 0.5, 1, travels) == pytest.approx(published, abs=1e-9)


@pytest.mark.parametrize("limit", [0.5, 2, 10])
@pytest.mark.parametrize("drift", [0.05, 0.5])
@pytest.mark.parametrize("travels", [1, 30, 400])
def test_the_first_passage_is_scipys(limit: float, drift: float, travels: float) -> None:
    from scipy.stats import invgauss  # noqa: PLC0415 - a second, in each worker that collects tests

    shape = limit**2
    oracle = invgauss(mu=(limit / drift) / shape, scale=shape).cdf(travels)
    assert reached(limit, drift, 1, travels) == pytest.approx(oracle, abs=1e-10)


def test_against_the_drift_a_limit_may_never_be_reached() -> None:
    """Then the chance that it ever is, is exp(-2 v a / s^2) (computed, closed form)."""
    assert reached(2, -0.5, 1, 1e9) == pytest.approx(np.exp(-2), rel=1e-9)


def test_a_walk_in_steps_passes_the_limit_late_by_the_overshoot() -> None:
    """Drift 0.05, step 0.2, limit 2: about 42.56, where the continuous formula says 40 (computed).

    Simulated here with a fixed seed; the corrected limit gives 42.33.
    """
    chance = np.random.default_rng(11)
    paths = np.cumsum(chance.normal(0.05, 0.2, (20_000, 400)), axis=1)
    passed = paths >= 2
    assert passed.any(axis=1).mean() > 0.999
    first = passed.argmax(axis=1) + 1.0
    corrected = (2 + OVERSHOOT * 0.2) / 0.05
    assert corrected == pytest.approx(42.33, abs=0.005)
    assert first.mean() == pytest.approx(corrected, abs=0.5)
    assert abs(first.mean() - corrected) < abs(first.mean() - 40) / 4
    tenth = float(np.quantile(first, 0.1))
    assert reached(2 + OVERSHOOT * 0.2, 0.05, 0.2, tenth) == pytest.approx(0.1, abs=0.015)


def test_one_in_twenty_is_the_normal_distributions() -> None:
    """The 95 % point, 1.644854 (computed)."""
    assert pytest.approx(1.6448536) == ONE_IN_TWENTY


# ---------------------------------------------------------------------------------------- filter


def test_the_filter_is_statsmodels_level_with_drift() -> None:
    """Irregular variance 0.01, level variance 0.04, a fixed drift (computed).

    The series is a walk with drift of a fixed seed; both begin knowing next to nothing.
    """
    chance = np.random.default_rng(5)
    series = np.cumsum(chance.normal(0.1, 0.2, 300)) + chance.normal(0, 0.1, 300)
    _holds_against_statsmodels(series)


def test_a_lens_that_quickens_is_followed_as_least_squares_fit_a_parabola() -> None:
    """Without walk, and knowing nothing beforehand, the filter is NumPy's `polyfit` (computed)."""
    chance = np.random.default_rng(7)
    counts = np.array([3, 10, 40, 90, 200, 310])
    read = 0.3 + 0.01 * counts + 2e-5 * counts**2 + 0.05 * chance.normal(size=6)
    known = KalmanFilter(np.array([1e4]), np.array([1e2]), np.array([1.0]))
    before = 0
    for at, far in zip(counts, read, strict=True):
        known.travel(float(at - before), np.array([0.0]))
        known.see(float(far), np.array([0.05**2]))
        before = at
    fit, spread = np.polyfit(counts - counts[-1], read, 2, w=np.full(6, 1 / 0.05), cov="unscaled")
    assert known.mean[:, 0] == pytest.approx([fit[2], fit[1], 2 * fit[0]], rel=1e-5)
    assert known.known[0, 0, 0] == pytest.approx(spread[2, 2], rel=1e-3)
    assert known.known[1, 1, 0] == pytest.approx(spread[1, 1], rel=1e-3)
    assert known.known[2, 2, 0] == pytest.approx(4 * spread[0, 0], rel=1e-3)


def test_the_filter_is_statsmodels_on_the_shared_series(standards: Path) -> None:
    _holds_against_statsmodels(np.loadtxt(standards / "lldtrend_y.csv"))


def _holds_against_statsmodels(series: np.ndarray) -> None:
    from statsmodels.tsa.statespace.structural import (  # noqa: PLC0415 - the same
        UnobservedComponents,
    )

    model = UnobservedComponents(series, "lldtrend")
    model.ssm.initialize_known(np.zeros(2), np.diag([1e4, 1e2]))
    filtered = model.filter([0.01, 0.04])
    known = KalmanFilter(np.array([1e4]), np.array([1e2]))
    walk = np.array([0.2])
    levels, creeps = [], []
    for index, value in enumerate(series):
        if index:
            known.travel(1, walk)
        known.see(float(value), np.array([0.01]))
        levels.append(known.level[0])
        creeps.append(known.creep[0])
    assert levels == pytest.approx(filtered.filtered_state[0], abs=1e-8)
    assert creeps == pytest.approx(filtered.filtered_state[1], abs=1e-8)
