"""The signs of what went wrong stand apart, however close together it happened."""

from __future__ import annotations

import re
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from adapters.cli.night_records import report_input
from adapters.render.night_lanes import APART, CLOSE, LEFT, RIGHT, spread
from adapters.render.night_report import night_report
from simulator.shipped import NIGHTS
from tests.night_records import record_of


@given(st.lists(st.floats(LEFT, RIGHT), max_size=250).map(sorted), st.floats(1, 500))
def test_signs_keep_their_order_and_their_distance(points: list[float], closer: float) -> None:
    """Also to whoever looks closer, where each sign goes with its moment."""
    places = spread(points, APART)
    gap = min(APART, (RIGHT - LEFT) / max(1, len(points)))
    assert all(other - one >= gap - 1e-6 for one, other in pairwise(places))
    near = [place + x * (closer - 1) for x, place in zip(points, places, strict=True)]
    assert all(other - one >= gap - 1e-6 for one, other in pairwise(near))
    assert all(LEFT - 1e-6 <= place <= RIGHT + 1e-6 for place in places)


def test_a_sign_with_nothing_near_it_stands_at_its_time() -> None:
    assert spread([200.0, 500.0, 900.0], APART) == [200.0, 500.0, 900.0]
    assert spread([500.0, 501.0], APART) == [500.0, 518.0]


def test_every_decision_of_a_moment_has_a_place_of_its_own() -> None:
    record = record_of("two-phones")
    page = night_report(report_input(NIGHTS / "two-phones.jsonl", None, None, "0", skip=False))
    stems = re.findall(r'aria-label="[^"]*"><title>[^<]*</title><line x1="([\d.]+)"', page)
    assert len(stems) == sum(len(one.decisions) for one in record.moments)
    places = sorted(map(float, stems))
    assert all(other - one >= CLOSE - 1e-6 for one, other in pairwise(places))
