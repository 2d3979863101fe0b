"""The signs of what went wrong stand apart, however close together it happened."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from adapters.render.night_lanes import APART, LEFT, RIGHT, spread


@given(st.lists(st.floats(LEFT, RIGHT), max_size=250).map(sorted))
def test_signs_keep_their_order_and_their_distance(points: list[float]) -> None:
    places = spread(points)
    gap = min(APART, (RIGHT - LEFT) / max(1, len(points)))
    assert all(other - one >= gap - 1e-6 for one, other in pairwise(places))
    assert all(LEFT - 1e-6 <= place <= RIGHT + 1e-6 for place in places)


def test_a_sign_with_nothing_near_it_stands_at_its_time() -> None:
    assert spread([200.0, 500.0, 900.0]) == [200.0, 500.0, 900.0]
    assert spread([500.0, 501.0]) == [500.0, 518.0]
