"""Describe a box (a set of values for each column) in words, as a row's case, or by an example.

Only the columns that the box restricts are mentioned. "2.00 up to 2.20" excludes its upper end,
and "not known" stands for null.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final

from engine.aspect import in_hundredths
from engine.table import Column
from engine.value_set import Kind, Value, ValueSet, intervals, show, show_value
from rules.table.boundaries import FILM_RATIOS
from rules.table.boxes import Box
from rules.table.domains import Domain, domain_of, some_value
from rules.text.findings import listed

MINUTES_IN_A_DAY: Final = 24 * 60
NOT_KNOWN: Final = "not known"
_PLAYBACK: Final = "playback"
_SELF_EXPLAINING: Final = frozenset({"playing", "paused", "stopped"})
"""Values that are clear without the name of the fact before them."""
_UNQUOTED: Final = re.compile(r"[\w.]+")


def box_sentence(box: Box, columns: Sequence[Column]) -> str:
    """Describe a box for people: source disc, paused, aspect 2.00 up to 2.20."""
    parts = []
    for column, region, domain in _restricted(box, columns):
        words = _region_words(region, column, domain)
        bare = column.name == _PLAYBACK and _SELF_EXPLAINING.issuperset(region.strings)
        parts.append(words if bare else f"{column.name} {words}")
    return ", ".join(parts) or "always"


def case_of(box: Box, columns: Sequence[Column]) -> str:
    """Write the case of a row that matches exactly in a box, as it stands in a room file."""
    entries = []
    for column, region, domain in _restricted(box, columns):
        test = _test(region, column, domain)
        entries.append(f"{column.name}: {test if _UNQUOTED.fullmatch(test) else _quoted(test)}")
    return f"{{{', '.join(entries)}}}"


def example_of(box: Box, columns: Sequence[Column]) -> str:
    """Give one example of facts in a box: source: disc, playback: paused, aspect: 2.00."""
    return ", ".join(
        f"{column.name}: {_word(_usual_value(region, column), column.kind)}"
        for column, region, _ in _restricted(box, columns)
    )


def _restricted(box: Box, columns: Sequence[Column]) -> Iterator[tuple[Column, ValueSet, Domain]]:
    for column, region in zip(columns, box, strict=True):
        domain = domain_of(column)
        if region != domain.region:
            yield column, region, domain


def _usual_value(region: ValueSet, column: Column) -> Value:
    """Pick a value of a region; of ratios, a film's if the region has one."""
    films = (in_hundredths(film) for film in FILM_RATIOS if column.kind is Kind.RATIO)
    return next((film for film in films if region.accepts(film)), None) or some_value(region)


def _word(value: Value, kind: Kind) -> str:
    """Write a value without quotes."""
    return value if isinstance(value, str) else show_value(value, kind)


def _quoted(test: str) -> str:
    return f"'{test}'" if '"' in test else f'"{test}"'


# ------------------------------------------------------------------------------ for people


def _region_words(region: ValueSet, column: Column, domain: Domain) -> str:
    if column.kind is Kind.ANY:
        return show(region)
    if region == domain.region._replace(null=False):
        return "known"
    if column.kind is Kind.NAME:
        return _name_words(region, domain)
    words = [word for word, held in (("yes", region.true), ("no", region.false)) if held]
    words += _time_words(region) if column.kind is Kind.MINUTE else _number_words(region, column)
    return listed([*words, NOT_KNOWN] if region.null else words)


def _name_words(region: ValueSet, domain: Domain) -> str:
    """List the words of a region, or those it excludes if they are fewer."""
    others = [word for word in domain.region.strings if word not in region.strings]
    if len(others) < len(region.strings):
        known = "known, " if domain.region.null and not region.null else ""
        return f"{known}not {listed(others)}"
    return listed([*region.strings, NOT_KNOWN] if region.null else region.strings)


def _time_words(region: ValueSet) -> list[str]:
    """Describe stretches of the day; one that passes midnight counts as one."""
    stretches = _stretches(region)
    if len(stretches) > 1 and stretches[0][0] == 0 and stretches[-1][1] == MINUTES_IN_A_DAY:
        first, *middle, last = stretches
        stretches = [*middle, (last[0], first[1])]
    return [_stretch_words(low, high, Kind.MINUTE, 1) for low, high in stretches]


def _number_words(region: ValueSet, column: Column) -> list[str]:
    step = domain_of(column).step or 1
    found = []
    for low, high in _stretches(region):
        if high - low > step and low == column.least:
            last, beyond = (show_value(one, column.kind) for one in (high - step, high))
            found.append(f"{last} or less" if column.kind is Kind.NUMBER else f"below {beyond}")
        elif high - low > step and column.most is not None and high > column.most:
            found.append(f"{show_value(low, column.kind)} or more")
        else:
            found.append(_stretch_words(low, high, column.kind, step))
    return found


def _stretch_words(low: int, high: int, kind: Kind, step: int) -> str:
    first = show_value(low, kind)
    if high - low == step:
        return first
    if kind is Kind.NUMBER:
        return f"{first} to {show_value(high - step, kind)}"
    return f"{first} up to {show_value(high, kind)}"


def _stretches(region: ValueSet) -> list[tuple[int, int]]:
    """List a region's stretches of numbers: the first number of each, and the one after its last.

    The region must be brought onto its domain's steps (`within_domain`).
    """
    return [(int(low.value), int(high.value)) for low, high in intervals(region) if low and high]


# ---------------------------------------------------------------------------- for a room file


def _test(region: ValueSet, column: Column, domain: Domain) -> str:
    if column.kind is Kind.ANY:
        return show(region)
    if region == domain.region._replace(null=False):
        return "not(null)"
    tests = ["null"] if region.null else []
    others = [word for word in domain.region.strings if word not in region.strings]
    if len(others) < len(region.strings):
        tests.append(f"not({', '.join(others)})")
    else:
        tests += region.strings
    tests += [word for word, held in (("yes", region.true), ("no", region.false)) if held]
    for low, high in _stretches(region):
        tests.append(_number_test(low, high, column, domain.step or 1))
    return ", ".join(tests)


def _number_test(low: int, high: int, column: Column, step: int) -> str:
    first, last, beyond = (show_value(one, column.kind) for one in (low, high - step, high))
    if high - low == step:
        return first
    if low == column.least:
        return f"<= {last}" if column.kind is Kind.NUMBER else f"< {beyond}"
    if column.most is not None and high > column.most:
        return f">= {first}"
    return f"[{first}..{last}]" if column.kind is Kind.NUMBER else f"[{first}..{beyond})"
