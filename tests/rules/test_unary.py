"""Cells mean what S-FEEL says: held against plain comparisons."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import chain
from typing import NamedTuple

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from engine.table import Column
from engine.value_set import NOTHING, Value, ValueSet, equal_to, interval, show
from rules.text.unary import NO_SHAPES, parse_test
from tests.engine.test_value_set import KNOWN, VALUES, is_number, same
from tests.rules.cell_columns import COUNT, LIFT, RATIO, SHAPES, SOURCE, TIME, VARIES, accepts

# ------------------------------------------------------- any test, beside its plain meaning


class Meant(NamedTuple):
    """A test as a row of tokens, what it means, and the sorts of value it speaks of."""

    tokens: tuple[str, ...]
    holds: Callable[[Value], bool]
    sorts: frozenset[str]


def sort_of(value: Value) -> str:
    if value is None:
        return "null"
    return "number" if is_number(value) else type(value).__name__


DECIMALS = st.decimals(-2, 3, places=1) | st.integers(-2, 3).map(Decimal)
STRINGS = st.sampled_from(
    ["", "a", "b", "1", "true", "not", "-", 'say "x"', "\\", "a,b", "\u00e9\n"]
)
NUMERIC = frozenset({"number"})


@st.composite
def written_numbers(draw: st.DrawFn) -> tuple[str, Decimal]:
    number = draw(DECIMALS)
    text = str(abs(number))
    if text.startswith("0.") and draw(st.booleans()):
        text = text[1:]
    return ("-" if number < 0 else "") + text, number


@st.composite
def equalities(draw: st.DrawFn) -> Meant:
    kind = draw(st.sampled_from(["number", "string", "boolean", "null"]))
    wanted: Value
    if kind == "number":
        text, wanted = draw(written_numbers())
    elif kind == "string":
        wanted = draw(STRINGS)
        text = '"' + wanted.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'
    elif kind == "boolean":
        wanted = draw(st.booleans())
        text = str(wanted).lower()
    else:
        text, wanted = "null", None
    sorts = frozenset({sort_of(wanted)})
    sign = draw(st.sampled_from([(), ("=",), ("!=",)]))
    if sign == ("!=",):
        return denied(Meant((*sign, text), lambda value: same(value, wanted), sorts))
    return Meant((*sign, text), lambda value: same(value, wanted), sorts)


COMPARED: dict[str, Callable[[int | Fraction | Decimal, Decimal], bool]] = {
    "<": lambda value, bound: value < bound,
    "<=": lambda value, bound: value <= bound,
    ">": lambda value, bound: value > bound,
    ">=": lambda value, bound: value >= bound,
}


def numeric(sign: str, value: Value, bound: Decimal) -> bool:
    if isinstance(value, bool | str) or value is None:
        return False
    return COMPARED[sign](value, bound)


@st.composite
def comparisons(draw: st.DrawFn) -> Meant:
    sign = draw(st.sampled_from(sorted(COMPARED)))
    text, bound = draw(written_numbers())
    return Meant((sign, text), lambda value: numeric(sign, value, bound), NUMERIC)


@st.composite
def spans(draw: st.DrawFn) -> Meant:
    (low_text, low), (high_text, high) = draw(written_numbers()), draw(written_numbers())
    assume(low <= high)
    opening, closing = draw(st.sampled_from("[(]")), draw(st.sampled_from("])["))
    above = ">=" if opening == "[" else ">"
    below = "<=" if closing == "]" else "<"
    return Meant(
        (opening, low_text, "..", high_text, closing),
        lambda value: numeric(above, value, low) and numeric(below, value, high),
        NUMERIC,
    )


def denied(inner: Meant) -> Meant:
    """What not(...) makes of a test: all other values of its sorts, or with null alone all."""
    spoken_of = inner.sorts - {"null"} or {"number", "str", "bool"}
    return Meant(
        inner.tokens,
        lambda value: sort_of(value) in spoken_of and not inner.holds(value),
        inner.sorts,
    )


def listed(tests: Sequence[Meant], *, how: str) -> Meant:
    commas = chain.from_iterable((",", *test.tokens) for test in tests)
    tokens = tuple(commas)[1:]
    whole = Meant(
        tokens,
        lambda value: any(test.holds(value) for test in tests),
        frozenset().union(*(test.sorts for test in tests)),
    )
    if how == "not":
        return denied(whole._replace(tokens=("not", "(", *tokens, ")")))
    return whole._replace(tokens=("(", *tokens, ")")) if how == "brackets" else whole


SIMPLE = equalities() | comparisons() | spans()
LISTS = st.builds(
    lambda tests, how: listed(tests, how=how),
    st.lists(SIMPLE, min_size=1, max_size=4),
    st.sampled_from(["bare", "brackets", "not"]),
)
TESTS = LISTS | st.builds(
    lambda tests, how: listed(tests, how=how),
    st.lists(SIMPLE | LISTS, min_size=1, max_size=3),
    st.sampled_from(["bare", "brackets"]),
)
GAPS = st.sampled_from(["", "", " ", "  ", "\t", "\n  "])


@given(TESTS, st.data(), st.lists(VALUES, min_size=1, max_size=8))
def test_a_test_accepts_what_its_plain_meaning_accepts(
    meant: Meant, data: st.DataObject, values: list[Value]
) -> None:
    gaps = [data.draw(GAPS) for _ in range(len(meant.tokens) + 1)]
    text = gaps[0] + "".join(chain(*zip(meant.tokens, gaps[1:], strict=True)))
    test = parse_test(text)
    assert [test.matches(value) for value in values] == [meant.holds(value) for value in values]


@given(KNOWN.map(lambda known: known.region))
def test_a_region_that_is_shown_reads_back_as_itself(region: ValueSet) -> None:
    text = show(region)
    assume("/" not in text)  # a third has no decimal form
    assert parse_test(text).region == region


@pytest.mark.parametrize(
    ("column", "texts"),
    [
        (RATIO, ["-", "2.39", "null, not(scope, 1.33)", "[1.3333..1.85), nearly", "!= 1.78"]),
        (SOURCE, ["disc", "not(disc, streamer)", "null, blu-grey", '"very low", "2x"']),
        (VARIES, ["yes", "no", "null, yes", "not(no)", "true, false"]),
        (TIME, [">= 22:00, < 6:30", "[22:00..24:00)", "not([00:00..05:59])", "< 24:00", "12:00"]),
        (LIFT, ["5 %", "(2.25 %..10%]", "not(0 %)"]),
        (COUNT, ["-3", "> .5", "not(1, 2)", "(2..2)"]),
    ],
)
def test_what_a_column_shows_it_reads_back(column: Column, texts: list[str]) -> None:
    shapes = SHAPES if column is RATIO else NO_SHAPES
    for text in texts:
        region = parse_test(text, column, shapes).region
        assert parse_test(show(region, column.kind), column, shapes).region == region


# ------------------------------------------------------------------------ corners, one by one


def test_a_dash_accepts_anything_and_null_only_what_is_not_known() -> None:
    assert accepts(" - ", None, True, 0, "x", 2.39) == [True] * 5
    assert accepts("null", None, False, 0, "", "null") == [True, False, False, False, False]


@pytest.mark.parametrize(
    "text", ['not("menu")', '!= "menu"', "not(2)", "!= 2", "not(null)", "< 2, >= 2", "true, false"]
)
def test_what_is_not_known_passes_no_test_that_does_not_name_it(text: str) -> None:
    assert accepts(text, None) == [False]


def test_not_null_means_known() -> None:
    assert accepts("not(null)", None, "x", 0, False) == [False, True, True, True]
    assert accepts('null, not("menu")', None, "menu", "film") == [True, False, True]


def test_a_denial_keeps_to_the_sorts_it_speaks_of() -> None:
    assert accepts('not("menu")', "film", 5, True) == [True, False, False]
    assert accepts('not("menu", 5)', "film", 5, 6, True) == [True, False, True, False]
    assert accepts("not((2..2))", 2, "x") == [True, False]


def test_brackets_and_denials_may_stand_side_by_side_as_often_as_one_likes() -> None:
    assert accepts("not(1), not(2)", 1, 2, None) == [True, True, False]
    assert accepts(", ".join(f"({number})" for number in range(20)), 0, 19, 20) == [
        True,
        True,
        False,
    ]


def test_one_is_not_true_and_a_digit_in_quotes_is_no_number() -> None:
    assert accepts("1", 1, True, "1", 1.0, Decimal("1.00")) == [True, False, False, True, True]
    assert accepts("true", True, 1, "true") == [True, False, False]
    assert accepts('"1"', "1", 1) == [True, False]


def test_a_float_stands_for_its_shortest_decimal() -> None:
    assert accepts("2.39", 2.39, Decimal("2.39"), Fraction(239, 100)) == [True] * 3
    assert accepts("0.3", 0.1 + 0.2) == [False]
    assert accepts("[0.1..0.3]", 0.1, 0.3) == [True, True]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), Decimal("-Infinity")])
def test_a_value_that_is_not_finite_is_refused(value: float | Decimal) -> None:
    with pytest.raises(ValueError, match="finite"):
        parse_test("-").matches(value)


def test_text_may_hold_every_character() -> None:
    for text in (r'"\ud83c\udfac"', r'"\U01F3AC"', '"\U0001f3ac"'):
        assert accepts(text, "\U0001f3ac") == [True]
    assert accepts(r'"\"\\\n\r\t\'\u00E9"', "\"\\\n\r\t'\u00e9") == [True]
    assert accepts('"- not(1, 2] // é"', "- not(1, 2] // é") == [True]


def test_an_interval_without_anything_in_it_accepts_nothing() -> None:
    assert [parse_test(text).region for text in ("(2..2)", "[2..2)", "]2..2]")] == [NOTHING] * 3


def test_a_closed_vocabulary_needs_no_quotes() -> None:
    assert parse_test("disc", SOURCE).region == equal_to("disc")
    assert parse_test('"disc"', SOURCE).region == equal_to("disc")
    assert accepts("not(disc, blu-grey)", "disc", "streamer", "blu-grey", column=SOURCE) == [
        False,
        True,
        False,
    ]


def test_yes_and_no_are_truths_where_truths_are_asked_for() -> None:
    assert accepts("yes", True, False, 1, "yes", column=VARIES) == [True, False, False, False]
    assert accepts("not(yes)", True, False, None, column=VARIES) == [False, True, False]


def test_ratios_and_shares_are_counted_in_ten_thousandths_exactly() -> None:
    assert parse_test("2.39", RATIO).region == equal_to(23_900)
    assert parse_test("1.3333", RATIO).region == equal_to(13_333)
    assert parse_test(">= 2.5 %", LIFT).region == interval(250, None)


def test_times_are_minutes_and_the_day_has_an_end_that_is_left_out() -> None:
    assert parse_test("9:30", TIME).region == equal_to(570)
    assert accepts("[22:00..24:00)", 1_319, 1_320, 1_439, column=TIME) == [False, True, True]
    assert accepts(">= 22:00, < 02:00", 1_320, 0, 119, 120, column=TIME) == [True] * 3 + [False]


def test_a_shape_stands_for_its_region_alone_in_lists_and_denied() -> None:
    assert parse_test("scope", RATIO, SHAPES).region == SHAPES["scope"]
    ratios = (18_500, 21_500, 23_900, None)
    assert accepts("1.85, nearly", *ratios, column=RATIO) == [True, True, False, False]
    assert accepts("not(scope, nearly)", *ratios, column=RATIO) == [True, False, False, False]
    assert accepts("!= nearly", *ratios, column=RATIO) == [True, False, True, False]
