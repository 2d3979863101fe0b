"""The stretch's curve: even in the middle, smooth, never folding, ending where it was asked to."""

from itertools import pairwise
from math import isclose

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from engine.room import Crop, Stretch
from engine.stretch import STRAIGHT, Curve, Widening, largest_gain, most_gain, solve, widen
from tests.engine.planned import CROPPED, CROPS, GENTLE, RATIOS, STRETCHES

PLACES = st.floats(-1, 1)
CURVES = st.builds(
    lambda middle, more, even: Curve(middle, middle + more, even),
    st.floats(1, 1.5),
    st.floats(0, 1),
    st.floats(0, 0.95),
)
NAMED = STRETCHES | CROPS


@given(CURVES, PLACES, PLACES)
def test_the_map_never_folds(curve: Curve, one: float, other: float) -> None:
    left, right = sorted((one, other))
    assume(right - left > 1e-9)
    assert curve.shown(left) < curve.shown(right)
    assert curve.source(left) < curve.source(right)


@given(CURVES, PLACES)
def test_the_map_is_the_same_to_the_left_and_to_the_right(curve: Curve, place: float) -> None:
    assert curve.shown(-place) == -curve.shown(place)
    assert curve.source(-place) == -curve.source(place)
    assert curve.circle(-place) == curve.circle(place)


@given(CURVES)
def test_middle_and_edges_stay_where_they_are(curve: Curve) -> None:
    assert [curve.shown(place) for place in (-1, 0, 1)] == [-1, 0, 1]
    assert [curve.source(place) for place in (-1, 0, 1)] == [-1, 0, 1]


@given(CURVES, st.floats(-1, 1))
def test_the_middle_is_exactly_even(curve: Curve, share: float) -> None:
    place = share * curve.even
    assert curve.circle(place) == curve.middle
    assert isclose(curve.shown(place), place * curve.middle / curve.gain, rel_tol=1e-15)


@given(CURVES, PLACES)
def test_a_circle_is_never_narrower_than_in_the_middle_nor_wider_than_at_the_edge(
    curve: Curve, place: float
) -> None:
    assert curve.middle <= curve.circle(place) <= curve.edge * (1 + 1e-15)
    assert isclose(curve.circle(1.0), curve.edge)


@given(CURVES, st.floats(-0.999, 0.999))
def test_the_circle_changes_without_a_step_or_a_kink(curve: Curve, place: float) -> None:
    # With 3 t^2 - 2 t^3 over (1 - even) the slope stays under 1.5 / (1 - even) and its own slope
    # under 6 / (1 - even)^2, at the joint as elsewhere.
    uneven, rise, step = 1 - curve.even, curve.edge - curve.middle, 1e-3
    near = [curve.circle(place + step * side) for side in (-1, 0, 1)]
    slopes = [(after - before) / step for before, after in pairwise(near)]
    assert all(abs(slope) <= 1.5 * rise / uneven + 1e-9 for slope in slopes)
    assert abs(slopes[1] - slopes[0]) <= 6 * rise / uneven**2 * step + 1e-9


@given(CURVES, PLACES)
def test_what_is_shown_is_found_again_in_the_source(curve: Curve, place: float) -> None:
    assert isclose(curve.source(curve.shown(place)), place, abs_tol=1e-12)
    assert isclose(curve.shown(curve.source(place)), place, abs_tol=1e-12)


@given(CURVES, st.integers(1, 400))
def test_a_table_of_any_length_runs_evenly_through_the_source(curve: Curve, columns: int) -> None:
    table = curve.table(columns)
    assert len(table) == columns
    assert all(0 < place < 1 for place in table)
    assert all(left < right for left, right in pairwise(table))
    mirrored = [1 - place for place in reversed(table)]
    assert table == pytest.approx(mirrored, abs=1e-12)


@given(NAMED, RATIOS, RATIOS)
def test_a_picture_ends_exactly_where_it_was_asked_to_or_at_its_limits(
    named: Stretch | Crop, aspect: int, window: int
) -> None:
    found = solve(named, aspect, window)
    assert isclose(found.widening.gain * aspect / 10_000, found.aspect)
    if aspect >= window:
        assert found.widening == Widening(STRAIGHT, 0.0)
        return
    asked = aspect + (window - aspect) * found.asked
    if found.limited:
        assert found.aspect * 10_000 < asked
        assert isclose(found.widening.gain, largest_gain(named))
    else:
        assert isclose(found.aspect * 10_000, asked)
    assert isclose((found.aspect * 10_000 - aspect) / (window - aspect), found.fill, abs_tol=1e-9)


@given(NAMED, RATIOS, RATIOS)
def test_the_limits_hold_whatever_is_asked(named: Stretch | Crop, aspect: int, window: int) -> None:
    found = solve(named, aspect, window)
    assert 0 <= found.fill <= found.asked <= 1
    assert 0 <= found.widening.rows_lost <= named.rows_lost / 10_000
    curve = found.widening.curve
    if isinstance(named, Crop):
        assert curve == STRAIGHT
    else:
        assert 1 <= curve.middle <= named.middle_circle / 10_000 * (1 + 1e-12)
        assert curve.middle <= curve.edge <= named.edge_circle / 10_000 * (1 + 1e-12)


@given(STRETCHES, RATIOS, RATIOS)
def test_rows_are_given_up_before_anything_is_bent(
    stretch: Stretch, aspect: int, window: int
) -> None:
    found = solve(stretch, aspect, window)
    if found.widening.curve != STRAIGHT:
        assert isclose(found.widening.rows_lost, stretch.rows_lost / 10_000)


@given(STRETCHES, RATIOS, st.integers(0, 5_000), st.integers(0, 5_000))
def test_a_wider_gap_never_makes_rounder_circles(
    stretch: Stretch, aspect: int, one: int, other: int
) -> None:
    narrow, wide = sorted((one, other))
    gentle = solve(stretch, aspect, aspect + narrow).widening
    strong = solve(stretch, aspect, aspect + wide).widening
    assert gentle.curve.edge <= strong.curve.edge + 1e-12
    assert gentle.rows_lost <= strong.rows_lost + 1e-12


@given(STRETCHES)
def test_the_gain_that_decisions_use_is_the_curves_own_at_its_limits(stretch: Stretch) -> None:
    most, unit = most_gain(stretch.edge_circle, stretch.middle_circle, stretch.even_middle)
    curve = Curve(
        stretch.middle_circle / 10_000, stretch.edge_circle / 10_000, stretch.even_middle / 10_000
    )
    assert isclose(curve.gain, most / unit)
    assert isclose(largest_gain(stretch), most / unit / (1 - stretch.rows_lost / 10_000))


def test_the_example_worked_by_hand_comes_out() -> None:
    found = solve(GENTLE, 21_000, 24_000)
    curve = found.widening.curve
    assert found.widening.gain == pytest.approx(1.142857, abs=1e-6)
    assert (curve.middle, curve.edge) == pytest.approx((1.026162, 1.261619), abs=2e-6)
    assert curve.shown(0.5) * curve.gain == pytest.approx(0.516376, abs=2e-6)
    assert curve.shown(0.5) == pytest.approx(0.465803, abs=2e-6)
    assert (found.fill, found.limited) == (1.0, False)


def test_a_fill_beyond_the_limits_becomes_the_largest_that_they_allow() -> None:
    found = solve(GENTLE, 17_778, 24_000)
    assert found.limited
    # a gain of 1.1245 / 0.97 for a gap of 2.40 / 1.7778, each less 1
    assert found.fill == pytest.approx(0.159278 / 0.349983, abs=1e-5)
    assert found.widening.curve.edge == pytest.approx(1.30)


def test_a_crop_enlarges_evenly_and_gives_up_rows() -> None:
    found = solve(CROPPED, 23_000, 24_000)
    assert found.widening.rows_lost == pytest.approx(1 - 23 / 24)
    assert found.widening.magnified(0.7) == pytest.approx((24 / 23, 24 / 23))
    assert solve(CROPPED, 20_000, 24_000).widening.rows_lost == pytest.approx(0.08)


def test_a_detail_is_as_much_larger_across_as_enlarging_and_curve_make_it() -> None:
    found = solve(GENTLE, 21_000, 24_000).widening
    across, down = found.magnified(1.0)
    assert down == pytest.approx(1 / 0.97)
    assert across / down == pytest.approx(found.curve.edge)


def test_a_stretch_that_may_bend_nothing_is_a_crop() -> None:
    flat = Stretch(10_000, 10_000, 10_000, 3_000, 500)
    assert widen(flat, 1.04).curve == STRAIGHT
    assert widen(flat, 1.04).gain == pytest.approx(1.04)
    assert solve(flat, 17_778, 24_000).limited
