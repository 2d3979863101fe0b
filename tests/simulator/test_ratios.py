"""Every ratio is like one that stands for its class: the same tests pass, the same can be shown.

Rules see ratios in hundredths, but a named picture begins and ceases to be possible somewhere
between two of them. So ratios are tried in their own steps of 1/10,000; `make soak` tries them all.
"""

from __future__ import annotations

from functools import cache
from typing import Any, Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.aspect import NARROWEST, UPRIGHT, WIDEST, in_hundredths
from engine.room import Room
from engine.table import RuleTable
from rules.room.load import load
from simulator.proof.fact_classes import FactTests, RatioClasses
from simulator.shipped import ROOMS
from tests.simulator.listing import possible
from tests.simulator.random_rooms import drawn_room
from tests.simulator.small import TEXTS, room_of
from tests.soak import TIMES

SHIPPED: Final = {path.stem: path for path in ROOMS}
DRAWN: Final = tuple(f"drawn {seed}" for seed in range(20 if TIMES else 4))
STEP: Final = 1 if TIMES else 29
"""How far the ratios tried are apart; 29 meets hundredths in different places."""

Passed = tuple[frozenset[tuple[int, int]], ...]
Kind = tuple[Passed, frozenset[tuple[str, str | None, str | None]]]
"""The rows that accept a ratio as this fact or that; which pictures can be shown of it, where."""


@cache
def named(name: str) -> tuple[Room, RatioClasses]:
    if name.startswith("drawn"):
        room = drawn_room(int(name.split()[1]))
    elif name in SHIPPED:
        room = load(SHIPPED[name].read_text("utf-8"), name)
    else:
        room = room_of(name)
    return room, RatioClasses(room, FactTests(room))


def kind(room: Room, ratio: int, *facts: str, asked_at: int | None) -> Kind:
    """Say what a ratio comes to, of the pictures that rows ask for at `asked_at`."""
    tables: tuple[RuleTable[Any], ...] = (
        room.rules.table,
        *(promise.never for promise in room.promises),
    )
    seen = in_hundredths(ratio)
    passed = tuple(
        frozenset(
            (number, index)
            for number, table in enumerate(tables)
            for index in accepting(table, fact, seen)
        )
        for fact in facts
    )
    table = room.rules.table
    shows = [table.rows[index].output for index in accepting(table, "aspect", asked_at)]
    pictures = {show.picture for show in (*shows, table.default) if show is not None}
    places = (possible(room, one, ratio) for one in room.pictures if one in pictures)
    return passed, frozenset().union(*places)


@cache
def accepting(table: RuleTable[Any], fact: str, value: int | None) -> tuple[int, ...]:
    at = [column.name for column in table.columns].index(fact)
    return tuple(index for index, row in enumerate(table.rows) if row.cells[at].accepts(value))


def every_ratio() -> range:
    return range(NARROWEST, WIDEST + 1, STEP)


@pytest.mark.parametrize("name", [*SHIPPED, *TEXTS, *DRAWN])
@pytest.mark.parametrize("facts", [("aspect",), ("aspect", "declared")])
def test_every_ratio_that_may_settle_or_be_declared_is_like_one_that_stands_for_it(
    name: str, facts: tuple[str, ...]
) -> None:
    room, ratios = named(name)
    standing = {kind(room, one, *facts, asked_at=in_hundredths(one)) for one in ratios.of(*facts)}
    for ratio in every_ratio():
        assert kind(room, ratio, *facts, asked_at=in_hundredths(ratio)) in standing, ratio


@pytest.mark.parametrize("name", [*SHIPPED, *TEXTS, *DRAWN])
def test_every_coded_frame_is_like_one_that_stands_for_it(name: str) -> None:
    """While no shape is known rows match without one, and the frame says what can be shown."""
    room, ratios = named(name)
    standing = {kind(room, one, asked_at=None) for one in ratios.frames()}
    for ratio in every_ratio():
        assert kind(room, ratio, asked_at=None) in standing, ratio


@pytest.mark.parametrize("name", [*SHIPPED, *TEXTS, *DRAWN])
def test_a_declared_ratio_beside_a_settled_one_is_only_tested(name: str) -> None:
    room, ratios = named(name)
    picked = ratios.of("declared", placed=False)
    standing = {kind(room, one, "declared", asked_at=None)[0] for one in picked}
    for ratio in every_ratio():
        assert kind(room, ratio, "declared", asked_at=None)[0] in standing, ratio


@given(seed=st.integers(0, 10_000), ratio=st.integers(NARROWEST, WIDEST))
def test_any_ratio_of_any_drawn_room_can_be_shown_as_its_pattern_says(
    seed: int, ratio: int
) -> None:
    """Two ratios of one pattern can be shown in the same ways at every place."""
    room, ratios = named(f"drawn {seed % len(DRAWN)}")
    seen = in_hundredths(ratio)
    pattern, shown = ratios.pattern(seen, ratio), kind(room, ratio, asked_at=seen)[1]
    for other in (ratio - 1, ratio + 1, ratio - ratio % 100, NARROWEST, WIDEST):
        if ratios.pattern(seen, other) == pattern:
            assert kind(room, other, asked_at=seen)[1] == shown


def test_an_upright_picture_stands_for_itself_where_it_cannot_be_shown_as_a_square_is() -> None:
    """Rules see it as 1.00; to be stretched as far as a square it would have to be wider."""
    text = SHIPPED["hayloft"].read_text("utf-8")
    gentle = text[text.index("  gentle: {stretch") :].split("\n")[0]
    lax = "fill: 50 %, edge_circle: 2.00, middle_circle: 1.50, even_middle: 10 %, rows_lost: 25 %"
    text = text.replace(gentle, f"  gentle: {{stretch: {{{lax}}}}}")
    room = load(text.replace("[2.10..2.30)", "[1.00..1.70)"), "hayloft.yaml")
    classes = RatioClasses(room, FactTests(room))
    assert set(classes.settled()) - set(classes.of("aspect")) == {5_625}
    kinds = {kind(room, one, "aspect", asked_at=in_hundredths(one)) for one in classes.settled()}
    assert {kind(room, one, "aspect", asked_at=NARROWEST) for one in UPRIGHT} <= kinds
