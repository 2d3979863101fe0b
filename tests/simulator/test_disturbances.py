"""What no creep explains is named: a bump, a slip of the reading; and nothing else is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from ruptures import Binseg

from simulator.wear.creep import Observation, Series, believe
from simulator.wear.disturbances import WayRead, disturbances, gain, kinds, told
from tests.simulator.lens_lives import KINDS, MISREAD, made
from tests.soak import sample

MILLIMETRE = 80 / 3_400
"""On a wide screen, in units."""


def found_in(*offsets: float, every: int = 10) -> dict[int, str]:
    series: Series = tuple(
        Observation(every * n, offset, 0.012, resets=n == 0) for n, offset in enumerate(offsets)
    )
    return dict(kinds(disturbances([WayRead(series)])))


def test_a_jump_is_told_from_creep_as_soon_as_it_is_read_twice() -> None:
    """In millimetres on a wide screen: 0, 0.4, 0.8, 1.1, then 22 (a unit is 42.5 mm)."""
    assert found_in(0, 0.01, 0.02, 0.026, 0.52, 0.53) == {4: "moved"}


def test_a_single_reading_far_off_is_left_out_when_the_next_is_as_before() -> None:
    assert found_in(0, 0.01, 0.02, 0.026, 0.52, 0.03) == {4: "misread"}


def test_of_the_latest_reading_nobody_knows_yet() -> None:
    series = tuple(
        Observation(10 * n, x, 0.012) for n, x in enumerate((0, 0.01, 0.02, 0.026, 0.52))
    )
    (one,) = disturbances([WayRead(series)])
    assert (one.kind, one.reading) == ("unclear", 4)
    assert one.by[0] == pytest.approx(0.49, abs=0.04)


def test_a_bump_is_asked_about_even_as_the_third_reading_of_all() -> None:
    """In millimetres: 0, 1.1, then 22; else it would be told as creep, which it is not."""
    series = tuple(
        Observation(*one, 0.012, resets=n == 0)
        for n, one in enumerate([(0, 0.0), (16, 0.026), (21, 0.518)])
    )
    (one,) = disturbances([WayRead(series)])
    assert (one.kind, one.reading) == ("unclear", 2)


def test_a_bump_there_and_one_back_are_both_told() -> None:
    """Each alone looks like scatter while the other is not told."""
    there = (0.508, 0.516, 0.529)
    assert found_in(0, 0.002, 0.02, *there, 0.004, 0.014, 0.012, every=8) == {
        3: "moved",
        6: "moved",
    }


def test_a_reading_far_off_among_few_is_left_out() -> None:
    series = [(0, 0.0), (8, 0.012), (12, 0.447), (17, 0.028), (25, 0.035)]
    seen = tuple(Observation(*one, 0.012, resets=n == 0) for n, one in enumerate(series))
    assert kinds(disturbances([WayRead(seen)])) == {2: "misread"}


@pytest.mark.parametrize("rate", [0, 0.001, 0.005])
def test_creep_is_no_jump_however_fast(rate: float) -> None:
    assert found_in(*(rate * 30 * n for n in range(8)), every=30) == {}


@pytest.mark.parametrize(
    "read",
    [
        # It quickens, and is looked at seldom.
        (
            *((0, -0.01), (30, 0.004), (60, -0.016), (627, -0.005)),
            *((2_568, 0.066), (5_896, 0.385), (5_897, 0.366)),
        ),
        # It creeps fast, and the first looks are close together.
        ((0, -0.018), (30, -0.008), (60, -0.087), (61, -0.076)),
        # Its scatter is large, and shows late.
        (
            *((0, 0.0), (30, 0.01), (60, -0.016), (72, 0.013), (86, -0.024)),
            *((104, -0.002), (134, 0.054), (135, 0.042)),
        ),
    ],
)
def test_what_creep_walk_and_scatter_can_do_is_asked_about_at_most(
    read: tuple[tuple[int, float], ...],
) -> None:
    """Lives in which a bump was told falsely: each was read once more as asked."""
    series = tuple(Observation(at, far, 0.012, resets=at == 0) for at, far in read)
    assert {one.kind for one in disturbances([WayRead(series)])} <= {"open"}


def test_the_same_jump_says_less_the_more_travels_there_were_for_it() -> None:
    """Read every fifty travels, but for the jump: that lies behind few travels, or behind many."""
    offsets = (0, 0.01, -0.012, 0.02, 0.015, 0.15, 0.16)

    def found(gap: int) -> dict[int, str]:
        counts = (*range(0, 250, 50), 200 + gap, 201 + gap)
        read = zip(counts, offsets, strict=True)
        series = tuple(Observation(at, far, 0.012, resets=at == 0) for at, far in read)
        return dict(kinds(disturbances([WayRead(series)])))

    assert found(20) == {5: "moved"}
    assert found(2_000) == {}


def test_a_question_makes_what_is_told_beside_it_no_less_likely() -> None:
    """It was bumped; later it was read a little off, and once more: that is open."""
    offsets = (0, 0.01, 0.02, 0.52, 0.53, 0.52, 0.58, 0.58)
    way = WayRead(tuple(Observation(10 * n, x, 0.012) for n, x in enumerate(offsets)))
    assert gain([way], {3: "moved", 6: "open"}) == pytest.approx(gain([way], {3: "moved"}))
    assert gain([way], {3: "moved"}) > 0


def test_after_a_jump_the_lens_stands_where_it_is_read_and_creeps_as_before() -> None:
    series = tuple(
        Observation(30 * n, 0.0004 * 30 * n + (0.5 if n > 6 else 0), 0.005) for n in range(12)
    )
    found = disturbances([WayRead(series)])
    belief = believe(told(series, kinds(found)))
    assert belief.points(330)[1] == pytest.approx(0.632, abs=0.01)
    assert belief.creep()[1] == pytest.approx(0.0004, rel=0.3)


def test_jumps_are_found_where_a_general_change_point_search_finds_them() -> None:
    """The `ruptures` library (binary segmentation, least squares on levels) is the oracle.

    Twenty seeded series without creep, each with one jump of 0.2 to 0.8 units.
    """
    for seed in range(sample(20, 200)):
        chance = np.random.default_rng(seed)
        at = int(chance.integers(4, 9))
        offsets = 0.012 * chance.normal(size=12) + 0.01
        offsets[at:] += chance.choice([-1, 1]) * chance.uniform(0.2, 0.8)
        series = tuple(Observation(20 * n, float(x), 0.012) for n, x in enumerate(offsets))
        (oracle, _) = Binseg(model="l2", min_size=1, jump=1).fit(offsets).predict(n_bkps=1)
        found = kinds(disturbances([WayRead(series)]))
        assert found == {oracle: "moved"}, seed


# ------------------------------------------------------------------------------- in all three ways


def found_sideways(*millimetres: float) -> dict[int, str]:
    """What is told of a preset that is read every 360 travels and moves sideways alone."""
    still = [0.0] * len(millimetres)
    return dict(kinds(disturbances([_course(millimetres), _course(still), _course(still)])))


def _course(millimetres: Sequence[float]) -> WayRead:
    error = 0.5 / 2**0.5 * MILLIMETRE
    return WayRead(
        tuple(
            Observation(1 + 360 * n, far * MILLIMETRE, error, resets=n == 0)
            for n, far in enumerate(millimetres)
        )
    )


@pytest.mark.parametrize(
    ("millimetres", "found"),
    [
        ((0, 0.3, 0.6, 0.9, 1.1, 22), {5: "unclear"}),
        ((0, 0.3, 0.6, 0.9, 1.1, 22, 22.3), {5: "moved"}),
        ((0, 0.2, 12), {2: "unclear"}),
        ((0, 0.2, 12, 12.3, 0.7, 0.9, 1.1), {2: "moved", 4: "moved"}),  # bumped, and put back
        ((0, 2, 4, 6, 0.2, 2.1, 4.2), {4: "moved"}),  # aligned, and not written down
        ((0, 2, 4, -6, 8, 10, 12), {3: "misread"}),  # the wrong sign
        ((0, 2, 4, 0.24, 8, 10, 12), {3: "misread"}),  # read in inches
        ((0, 0.3, 0.6, 0.9, 1.1, 1.3, 100), {6: "unclear"}),
        ((0, 0.2, 0.8, 1.8, 3.2, 5, 7.2), {}),  # creep that quickens
        ((0, 1.5, 0.2, 2.2, 0.8, -1, 0.9), {}),  # a walk
    ],
)
def test_a_bump_sideways_is_named_though_the_height_stays(
    millimetres: tuple[float, ...], found: dict[int, str]
) -> None:
    """Ways in which nothing has happened do not speak against what has happened in one."""
    assert found_sideways(*millimetres) == found


def test_who_reads_once_more_as_asked_is_told_of_the_bump_and_goes_on_being_told() -> None:
    """Two bumps, each read again at once; in millimetres, with the count of travels.

    Of four readings, two of them before the first bump, nobody knows yet how the lens walks: so
    it is asked about again, and told at the next look.
    """
    read = [
        *((1, 0.0), (361, 0.2), (721, 12.0), (723, 12.1), (1_081, 12.3), (1_441, 12.6)),
        *((1_801, 25.0), (1_803, 25.1), (2_161, 25.2)),
    ]
    error = 0.5 / 2**0.5 * MILLIMETRE
    seen = [
        Observation(at, far * MILLIMETRE, error, resets=n == 0) for n, (at, far) in enumerate(read)
    ]
    said = []
    for count in range(3, len(seen) + 1):
        course = WayRead((*seen[:count],))
        still = WayRead(tuple(one._replace(offset=0.0) for one in seen[:count]))
        said.append(kinds(disturbances([course, still, still])))
    moved = {2: "moved"}
    assert said == [
        {2: "unclear"},
        {2: "open"},
        *[moved] * 2,
        {2: "moved", 6: "unclear"},
        *[{2: "moved", 6: "moved"}] * 2,
    ]


@pytest.mark.parametrize(("far", "share"), [(5, 0.5), (10, 0.9), (20, 1), (40, 1)])
def test_whoever_enters_a_bump_hears_of_a_bump(far: float, share: float) -> None:
    """Asked at once, or told once it was read again; sideways, with an error of 0.5 mm.

    A bump of 5 mm lies among what lenses do by themselves, so it is not always told from that.
    """
    seeds, heard = sample(8, 100), 0
    for seed in range(seeds):
        ways = [made("scattered", 0.5, 3 * seed + way) for way in range(3)]
        at = 3 + seed % 8
        counts = np.array([*range(0, 100 * at + 1, 100), 100 * at + 2])
        series = []
        for way, (lens, chance) in enumerate(ways):
            stood = np.array([0.0, *lens.level[counts[1:] - 1]])
            read = stood + np.hypot(lens.scatter, MISREAD) * chance.standard_normal(len(counts))
            read[at:] += far * MILLIMETRE * (way == 0)
            series.append(
                [
                    Observation(int(count), float(x), MISREAD, resets=n == 0)
                    for n, (count, x) in enumerate(zip(counts, read, strict=True))
                ]
            )
        asked = kinds(disturbances([WayRead((*one[:-1],)) for one in series]))
        again = kinds(disturbances([WayRead((*one,)) for one in series]))
        heard += asked.get(at) == "unclear" or again.get(at) == "moved"
    assert heard >= share * seeds - (seeds < 20), heard


@pytest.mark.parametrize("kind", KINDS)
def test_of_a_lens_that_nobody_touches_no_bump_is_told(kind: str) -> None:
    """Seeded: a dozen readings of a lens of each kind, a hundred travels apart.

    How far its sides end apart is known, as sessions tell it. A single reading is left out where
    readings are now and then far off, and nowhere else. Of few books one may be wrong by chance.
    """
    seeds, bumps, misread = sample(6, 100), 0, 0
    for seed in range(seeds):
        ways = []
        for number in range(3):
            lens, chance = made(kind, 0.5, 3 * seed + number)
            slips = lens.scatter * chance.standard_normal(12) + MISREAD * _slips(chance, lens.heavy)
            slips += lens.apart * chance.choice([-0.5, 0.5], 12)
            stood = np.concatenate([[0.0], lens.level[99:1_199:100]])
            offsets, doubt = stood + slips * ([0] + [1] * 11), lens.apart / 2
            series = tuple(
                Observation(100 * n, float(x), MISREAD, resets=n == 0, doubt=doubt)
                for n, x in enumerate(offsets)
            )
            ways.append(WayRead(series, doubt=doubt))
        found = set(kinds(disturbances(ways)).values())
        bumps += "moved" in found
        misread += "misread" in found
    assert bumps <= max(1, 0.05 * seeds), bumps
    assert misread <= (max(1, 0.1 * seeds) if kind == "heavy tails" else 0), misread


def _slips(chance: np.random.Generator, heavy: bool) -> np.ndarray:
    return chance.standard_t(3, 12) / 3**0.5 if heavy else chance.standard_normal(12)
