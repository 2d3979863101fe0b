"""One life of those that `tests/benchmarks/bench_visits.py` visits."""

from __future__ import annotations

from tests.simulator.visited_lenses import visit


def test_of_a_lens_that_is_read_from_both_sides_in_turn_intervals_hold() -> None:
    """Three in five held while what comes and goes with the side passed for chance."""
    life = visit("both sides, told", 60, 304)
    assert (life.showed, life.falsely) == (False, False)
    assert life.held >= 0.8 * life.told, life
