"""What each column may hold: the space over which a rule table has to be right.

Facts come in steps: ratios in hundredths (`engine.facts` rounds them), minutes, shares and told
numbers in whole ones. A cell is therefore brought onto the steps before it is compared with
anything: between 2.30 and 2.31 there is no ratio, and `2.395` accepts nothing that can be.
"""

from __future__ import annotations

from fractions import Fraction
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
"""Facts carry ratios in hundredths, whole 1/10,000 inside."""

_OPEN_END_WEIGHT: Final = 100
_INTERVAL_WEIGHT: Final = 10


class Domain(NamedTuple):
    """What a column may hold."""

    region: ValueSet
    step: int | None = None
    """Numbers are whole multiples of it, between two ends; None: every number there is."""


ALL_VALUES: Final = Domain(ANYTHING)


def domain_of(column: Column) -> Domain:
    """Say what a column of facts or of standing may hold, null included where it may be unknown.

    A column that says nothing of its values (`Kind.ANY`) may hold every value.
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
    """Give what a region accepts of a domain, its borders brought onto the domain's steps.

    Two regions that accept the same of the domain become equal.
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
    """Give the first multiple of a step that comes after a cut."""
    steps, rest = divmod(Fraction(cut.value), step)
    return (steps + 1 if rest or cut.after else steps) * step


def weight(region: ValueSet, domain: Domain) -> int:
    """Say how much of a domain a kept region takes: its values, or a fair guess without steps."""
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
    """Pick a value of a region, a known one if there is one; raises ValueError for none."""
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
