"""A region is a set of values: held against plain predicates and against its own algebra."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.value_set import (
    ANYTHING,
    BOOLEANS,
    NOTHING,
    NULL,
    NUMBERS,
    SOMETHING,
    STRINGS,
    Cut,
    Kind,
    Number,
    Value,
    ValueSet,
    difference,
    equal_to,
    exact,
    intersection,
    interval,
    intervals,
    meets,
    show,
    show_value,
    union,
)

# A small world, so that the same values and borders keep meeting each other.
NUMBERS_AT_HAND: st.SearchStrategy[Number] = st.one_of(
    st.integers(-2, 3),
    st.decimals(-2, 3, places=1),
    st.integers(-9, 9).map(lambda thirds: Fraction(thirds, 3)),
)
STRINGS_AT_HAND = st.sampled_from(["", "a", "b", "1", "true", "null", "\u00e9"])
VALUES: st.SearchStrategy[Value] = st.one_of(
    st.none(), st.booleans(), STRINGS_AT_HAND, NUMBERS_AT_HAND
)


class Known(NamedTuple):
    """A region, and by other means what it has to accept."""

    region: ValueSet
    holds: Callable[[Value], bool]


def is_number(value: Value) -> bool:
    return isinstance(value, int | Fraction | Decimal) and not isinstance(value, bool)


def same(one: Value, other: Value) -> bool:
    """Equal and of one sort: True is not 1."""
    both_numbers = is_number(one) and is_number(other)
    return one == other and (both_numbers or type(one) is type(other))


def stretch(low: Number | None, high: Number | None, opened: tuple[bool, bool]) -> Known:
    def holds(value: Value) -> bool:
        if isinstance(value, bool | str) or value is None:
            return False
        above = low is None or value > low or (value == low and not opened[0])
        below = high is None or value < high or (value == high and not opened[1])
        return above and below

    return Known(interval(low, high, low_open=opened[0], high_open=opened[1]), holds)


ENDS = st.none() | NUMBERS_AT_HAND
ATOMS = st.one_of(
    st.builds(stretch, ENDS, ENDS, st.tuples(st.booleans(), st.booleans())),
    VALUES.map(lambda accepted: Known(equal_to(accepted), lambda value: same(value, accepted))),
    st.just(Known(ANYTHING, lambda _: True)),
    st.just(Known(SOMETHING, lambda value: value is not None)),
    st.just(Known(STRINGS, lambda value: isinstance(value, str))),
    st.just(Known(NUMBERS, is_number)),
    st.just(Known(BOOLEANS, lambda value: isinstance(value, bool))),
    st.just(Known(NOTHING, lambda _: False)),
)


def combined(pairs: st.SearchStrategy[Known]) -> st.SearchStrategy[Known]:
    def either(one: Known, other: Known) -> Known:
        return Known(
            union(one.region, other.region), lambda value: one.holds(value) or other.holds(value)
        )

    def both(one: Known, other: Known) -> Known:
        return Known(
            intersection(one.region, other.region),
            lambda value: one.holds(value) and other.holds(value),
        )

    def without(one: Known, other: Known) -> Known:
        return Known(
            difference(one.region, other.region),
            lambda value: one.holds(value) and not other.holds(value),
        )

    return st.one_of(*(st.builds(make, pairs, pairs) for make in (either, both, without)))


KNOWN = st.recursive(ATOMS, combined, max_leaves=6)
REGIONS = KNOWN.map(lambda known: known.region)


def probes(*regions: ValueSet) -> Iterator[Value]:
    """One value out of every set of values that none of the regions tells apart."""
    yield from (None, True, False)
    strings = {text for region in regions for text in region.strings}
    yield from sorted(strings)
    yield "".join(sorted(strings)) + "!"  # longer than each of them
    borders = sorted({Fraction(cut.value) for region in regions for cut in region.cuts})
    yield from borders
    yield from ((one + other) / 2 for one, other in pairwise(borders))
    yield (borders or [Fraction(0)])[0] - 1
    yield (borders or [Fraction(0)])[-1] + 1


@given(KNOWN, VALUES)
def test_a_region_accepts_exactly_the_values_of_its_set(known: Known, value: Value) -> None:
    assert known.region.accepts(value) is known.holds(value)


@given(REGIONS, REGIONS)
def test_regions_that_accept_the_same_values_are_equal_as_data(
    one: ValueSet, other: ValueSet
) -> None:
    alike = all(one.accepts(value) == other.accepts(value) for value in probes(one, other))
    assert (one == other) is alike
    assert not alike or hash(one) == hash(other)


@given(REGIONS, REGIONS)
def test_regions_meet_where_some_value_belongs_to_both(one: ValueSet, other: ValueSet) -> None:
    shared = [value for value in probes(one, other) if one.accepts(value) and other.accepts(value)]
    assert meets(one, other) is bool(shared)


@given(REGIONS, REGIONS)
def test_taking_away_and_putting_back_gives_the_same_region(one: ValueSet, other: ValueSet) -> None:
    shared = intersection(one, other)
    assert union(difference(one, other), shared) == one
    assert difference(one, difference(one, other)) == shared


@given(st.lists(REGIONS, max_size=5))
def test_a_union_does_not_depend_on_the_order(regions: list[ValueSet]) -> None:
    assert union(*regions) == union(*reversed(regions))


@given(REGIONS)
def test_the_stretches_of_a_region_rise_and_never_touch(region: ValueSet) -> None:
    edges = [edge for ends in intervals(region) for edge in ends]
    assert None not in edges[1:-1]
    cuts = [edge for edge in edges if edge is not None]
    assert all(one < other for one, other in pairwise(cuts))
    assert tuple(cuts) == region.cuts


@pytest.mark.parametrize("other", [1, 0, "true", "1", Decimal(1), None])
def test_a_boolean_equals_nothing_but_itself(other: Value) -> None:
    assert not BOOLEANS.accepts(other)
    assert not equal_to(other).accepts(value=True)
    assert not equal_to(other).accepts(value=False)


def test_null_belongs_only_where_it_is_named() -> None:
    assert NULL.accepts(None)
    assert ANYTHING.accepts(None)
    assert not union(STRINGS, NUMBERS, BOOLEANS).accepts(None)


@pytest.mark.parametrize(
    "written", [Decimal("2.39"), Decimal("2.390"), Fraction(239, 100), Decimal("239e-2")]
)
def test_one_number_is_one_region_however_it_is_written(written: Number) -> None:
    assert equal_to(written) == equal_to(Fraction("2.39"))
    assert isinstance(exact(written), Fraction)
    assert exact(written * 100) == 239
    assert isinstance(exact(written * 100), int)


@pytest.mark.parametrize(
    ("value", "error", "words"),
    [
        (2.39, TypeError, "no floats"),
        ([], TypeError, "no value of a rule table"),
        (Decimal("NaN"), ValueError, "not a finite number"),
        (Decimal("-Infinity"), ValueError, "not a finite number"),
    ],
)
def test_what_is_no_exact_value_is_refused(
    value: Value, error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        ANYTHING.accepts(value)
    with pytest.raises(error, match=words):
        equal_to(value)


@pytest.mark.parametrize("ends", [(3, 2), (Decimal("2.1"), 2)])
def test_an_interval_upside_down_holds_nothing(ends: tuple[Number, Number]) -> None:
    assert interval(*ends) == NOTHING


@pytest.mark.parametrize(
    ("region", "kind", "text"),
    [
        (ANYTHING, Kind.ANY, "-"),
        (SOMETHING, Kind.ANY, "not(null)"),
        (interval(23_000, None), Kind.RATIO, ">= 2.30"),
        (interval(18_500, 22_000, high_open=True), Kind.RATIO, "[1.85..2.20)"),
        (union(NULL, equal_to(13_333)), Kind.RATIO, "null, 1.3333"),
        (interval(None, 360), Kind.MINUTE, "<= 06:00"),
        (interval(100, 1_050, low_open=True), Kind.SHARE, "(1 %..10.5 %]"),
        (equal_to(value=True), Kind.TRUTH, "yes"),
        (equal_to(value=False), Kind.ANY, "false"),
        (difference(STRINGS, equal_to("menu")), Kind.NAME, 'not("menu")'),
        (equal_to('say "no"\n\x07\U000e0001'), Kind.ANY, r'"say \"no\"\n\u0007\U0E0001"'),
        (difference(NUMBERS, equal_to(Decimal("-0.25"))), Kind.NUMBER, "< -0.25, > -0.25"),
        (NUMBERS, Kind.NUMBER, "< 0, >= 0"),
        (NOTHING, Kind.NUMBER, "(0..0)"),
        (equal_to(Fraction(1, 3)), Kind.NUMBER, "1/3"),
    ],
)
def test_a_region_is_shown_as_its_column_writes_it(region: ValueSet, kind: Kind, text: str) -> None:
    assert show(region, kind) == text


def test_a_number_that_is_no_time_of_day_is_shown_as_it_is() -> None:
    assert show_value(-5, Kind.MINUTE) == "-5"
    assert show_value(Fraction(1, 2), Kind.MINUTE) == "0.5"


def test_a_cut_after_a_number_lies_above_the_one_before_it() -> None:
    assert Cut(2, after=False) < Cut(2, after=True) < Cut(Fraction(5, 2), after=False)
