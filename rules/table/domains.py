"""The domain of each column: the values for which a rule table has to be right.

Numbers among the facts come in steps: ratios in hundredths (`engine.facts` rounds them); minutes,
shares and told numbers in whole ones. So cells are brought onto these steps before they are
compared: there is no ratio between 2.30 and 2.31, and the cell `2.395` accepts no possible value.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import Final, NamedTuple

from engine.table import Column
from engine.value_set import (
    ANYTHING,
    BOOLEANS,
    NULL,
    Cut,
    Kind,
    Number,
    Value,
    ValueSet,
    intersection,
    interval,
    intervals,
    union,
)

RATIO_STEP: Final = 100
"""The step of ratios among the facts: a hundredth, in 1/10,000."""

_OPEN_END_WEIGHT: Final = 100
"""What `weight` assumes for an interval without an end, or for all other strings."""
_INTERVAL_WEIGHT: Final = 10
"""What `weight` assumes for an interval of numbers that have no steps."""


class Domain(NamedTuple):
    """The possible values of a column."""

    region: ValueSet
    step: int | None = None
    """Numbers are multiples of it, with a least and a greatest one; None: any number."""


ALL_VALUES: Final = Domain(ANYTHING)


@lru_cache(1_024)
def domain_of(column: Column) -> Domain:
    """Give a column's possible values, with null if its fact may be unknown.

    A column of the kind `Kind.ANY` may have every value.
    """
    step: int | None = None
    match column.kind:
        case Kind.ANY:
            return ALL_VALUES
        case Kind.NAME:
            region = ValueSet(strings=tuple(sorted(column.words)))
        case Kind.TRUTH:
            region = BOOLEANS
        case _:
            region = interval(column.least, column.most)
            if column.least is not None and column.most is not None:
                step = RATIO_STEP if column.kind is Kind.RATIO else 1
    domain = Domain(union(region, NULL) if column.unknown else region, step)
    return domain._replace(region=within_domain(domain.region, domain))


def within_domain(region: ValueSet, domain: Domain) -> ValueSet:
    """Restrict a region to a domain, and move its boundaries onto the domain's steps.

    Two regions that accept the same values of the domain give equal results.
    """
    inside = intersection(region, domain.region)
    if domain.step is None or not inside.cuts:
        return inside
    cuts: list[Cut] = []
    for start, end in intervals(inside):
        if start is None or end is None:
            raise ValueError("numbers in steps need a least and a greatest one")
        first, beyond = reached(start, domain.step), reached(end, domain.step)
        if first == beyond:
            continue
        if cuts and cuts[-1].value == first:
            cuts.pop()
        else:
            cuts.append(Cut(first, after=False))
        cuts.append(Cut(beyond, after=False))
    return inside._replace(cuts=tuple(cuts))


def reached(cut: Cut, step: int) -> int:
    """Give the first multiple of a step that lies after a cut."""
    steps, rest = divmod(Fraction(cut.value), step)
    return (steps + 1 if rest or cut.after else steps) * step


def weight(region: ValueSet, domain: Domain) -> int:
    """Count the values of a region within a domain; without steps, make a rough guess."""
    found = region.null + region.true + region.false
    found += _OPEN_END_WEIGHT if region.other_strings else len(region.strings)
    for start, end in intervals(region):
        if start is None or end is None:
            found += _OPEN_END_WEIGHT
        elif domain.step is not None:
            found += (int(end.value) - int(start.value)) // domain.step
        else:
            found += 1 if start.value == end.value else _INTERVAL_WEIGHT
    return found


def some_value(region: ValueSet) -> Value:
    """Pick a value of a region, null only if there is no other; raises ValueError if empty."""
    if region.strings and not region.other_strings:
        return region.strings[0]
    if region.true or region.false:
        return region.true
    if region.other_strings:
        return max(region.strings, key=len, default="") + "x"
    for start, end in intervals(region):
        return _between(start, end)
    if region.null:
        return None
    raise ValueError("nothing belongs to this region")


def _between(start: Cut | None, end: Cut | None) -> Number:
    if start is None:
        return 0 if end is None else Fraction(end.value) - 1
    if not start.after:
        return start.value
    if end is None:
        return Fraction(start.value) + 1
    return end.value if end.after else (Fraction(start.value) + Fraction(end.value)) / 2
