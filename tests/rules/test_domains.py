"""The domain of a column: which values it may have, and what a region is there."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from engine.table import Column
from engine.value_set import (
    ANYTHING,
    NOTHING,
    NULL,
    Kind,
    Value,
    ValueSet,
    equal_to,
    interval,
    meets,
)
from rules.table.domains import Domain, domain_of, some_value, weight, within_domain
from tests.engine.test_value_set import REGIONS, VALUES
from tests.rules.random_tables import COLUMNS, cells, values


@given(st.sampled_from(COLUMNS), st.data())
def test_regions_that_accept_the_same_of_a_domain_are_kept_as_the_same(
    column: Column, data: st.DataObject
) -> None:
    one, other = (data.draw(cells(column)) for _ in range(2))
    domain = domain_of(column)
    accepted = [[*map(region.accepts, values(column))] for region in (one, other)]
    assert (within_domain(one, domain) == within_domain(other, domain)) is (
        accepted[0] == accepted[1]
    )
    assert [*map(within_domain(one, domain).accepts, values(column))] == accepted[0]
    assert weight(within_domain(one, domain), domain) == sum(accepted[0])
    assert meets(domain.region, one) or not any(accepted[0])


@given(REGIONS)
def test_a_value_of_a_region_belongs_to_it_and_is_known_if_any_is(region: ValueSet) -> None:
    assume(region != NOTHING)
    assert region.accepts(some_value(region))
    assert (some_value(region) is None) is (region == NULL)


def test_nothing_has_no_value() -> None:
    with pytest.raises(ValueError, match="nothing belongs"):
        some_value(NOTHING)


def test_numbers_in_steps_need_ends() -> None:
    with pytest.raises(ValueError, match="a least and a greatest"):
        within_domain(interval(2, None), Domain(ANYTHING, 1))


@given(REGIONS, VALUES)
def test_without_steps_a_region_is_kept_as_it_is(region: ValueSet, value: Value) -> None:
    inside = within_domain(region, domain_of(Column("a")))
    assert inside.accepts(value) is region.accepts(value)


def test_between_two_hundredths_there_is_no_ratio() -> None:
    """`engine.aspect.in_hundredths` rounds every ratio to hundredths before a rule sees it."""
    aspect = domain_of(Column("aspect", Kind.RATIO, least=10_000, most=40_000))
    assert within_domain(interval(23_001, 23_099), aspect) == NOTHING
    assert within_domain(interval(23_000, None, low_open=True), aspect) == within_domain(
        interval(23_100, None), aspect
    )
    assert within_domain(equal_to(17_778), aspect) == NOTHING
