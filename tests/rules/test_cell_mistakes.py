"""A cell that cannot be read says at which character, and what to write instead."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.table import Column
from engine.value_set import Kind
from rules.text.cell_mistakes import MOST_CELL_CHARACTERS, UNTYPED_COLUMN
from rules.text.cell_tokens import CellError
from rules.text.unary import NO_SHAPES, parse_test
from tests.rules.cell_columns import COUNT, LIFT, RATIO, SHAPES, SOURCE, TIME, VARIES, accepts

MISTAKES: list[tuple[Column, str, int, str]] = [
    # column, text, characters before the mistake, words of the sentence
    (UNTYPED_COLUMN, "", 0, "write - to accept anything"),
    (UNTYPED_COLUMN, "   ", 3, "write - to accept anything"),
    (
        UNTYPED_COLUMN,
        "x" * (MOST_CELL_CHARACTERS + 1),
        MOST_CELL_CHARACTERS,
        "too long; write at most 1000",
    ),
    (UNTYPED_COLUMN, "menu", 0, "put text in double quotes"),
    (UNTYPED_COLUMN, "not(menu)", 4, "put text in double quotes"),
    (UNTYPED_COLUMN, "yes", 0, "write true or false"),
    (UNTYPED_COLUMN, "TRUE", 0, "did you mean true?"),
    (UNTYPED_COLUMN, '"open', 0, 'never closed; end it with "'),
    (UNTYPED_COLUMN, '1, "a\n"', 3, "never closed"),
    (UNTYPED_COLUMN, r'"a\q"', 2, r"\q is no character; after \ write"),
    (UNTYPED_COLUMN, r'"\ud83c"', 1, "is no character"),
    (UNTYPED_COLUMN, r'"\UFFFFFF"', 1, "is no character"),
    (UNTYPED_COLUMN, "'menu'", 0, 'write " round text'),
    (UNTYPED_COLUMN, "\u201cmenu\u201d", 0, 'write " round text'),
    (UNTYPED_COLUMN, "\u2265 2", 0, "write >="),
    (UNTYPED_COLUMN, "2 | 3", 2, "put a comma between alternatives"),
    (UNTYPED_COLUMN, "1 or 2", 2, "put commas between alternatives"),
    (UNTYPED_COLUMN, "1 2", 2, "2 follows without a comma"),
    (UNTYPED_COLUMN, ">= = 2", 0, ">= = is no comparison; write >= and then a value"),
    (UNTYPED_COLUMN, "> = 2", 0, "write >= and"),
    (UNTYPED_COLUMN, "=> 2", 0, "write >= and"),
    (UNTYPED_COLUMN, "== 2", 0, "write = and"),
    (UNTYPED_COLUMN, "<> 2", 0, "write != and"),
    (UNTYPED_COLUMN, ">", 1, "a value is missing here"),
    (UNTYPED_COLUMN, "1,", 2, "a value is missing here"),
    (UNTYPED_COLUMN, "1,,2", 2, "a value is missing here"),
    (UNTYPED_COLUMN, "()", 1, "no value stands before this )"),
    (UNTYPED_COLUMN, "%", 0, "no value stands before this %"),
    (UNTYPED_COLUMN, '> "a"', 2, 'only numbers are less or more; write "a" or not("a")'),
    (UNTYPED_COLUMN, "<= true", 3, "only numbers are less or more"),
    (UNTYPED_COLUMN, "> null", 2, "write null or not(null)"),
    (UNTYPED_COLUMN, '["a".."b"]', 1, "only numbers are less or more"),
    (
        UNTYPED_COLUMN,
        "[2.2..1.8]",
        1,
        "2.2..1.8 is upside down; write the lower end first: 1.8..2.2",
    ),
    (UNTYPED_COLUMN, "1..3", 0, "an interval needs brackets; write [1..3]"),
    (UNTYPED_COLUMN, "1..", 0, "an interval needs brackets; write [1..2]"),
    (TIME, "22:00..23:30", 0, "an interval needs brackets; write [22:00..23:30]"),
    (TIME, "22:00..24:00", 0, "an interval needs brackets; write [22:00..24:00)"),
    (UNTYPED_COLUMN, "..2", 0, "an interval needs brackets and two ends"),
    (UNTYPED_COLUMN, "[1..]", 4, "no upper end; write >="),
    (UNTYPED_COLUMN, "[..2]", 1, "no lower end; write <="),
    (UNTYPED_COLUMN, "[1..2", 5, "never closed; end it with ]"),
    (UNTYPED_COLUMN, "[1 2..3]", 3, "2 follows without a comma"),
    (UNTYPED_COLUMN, "[1, 2]", 0, "no .. follows; write [1..2], or (1, 2) for a list"),
    (UNTYPED_COLUMN, "]1", 0, "this ] closes nothing"),
    (UNTYPED_COLUMN, "1)", 1, "this ) closes nothing"),
    (UNTYPED_COLUMN, "(1", 0, "this ( is never closed"),
    (UNTYPED_COLUMN, "(1 [2..3]", 3, "[ follows without a comma"),
    (UNTYPED_COLUMN, "not 1", 4, "not wants its tests in brackets"),
    (UNTYPED_COLUMN, "not(not(1))", 4, "cancels out; write the inner test alone"),
    (UNTYPED_COLUMN, "1, -", 3, "- accepts anything, so it stands alone"),
    (UNTYPED_COLUMN, "not(-)", 4, "- accepts anything, so it stands alone"),
    (UNTYPED_COLUMN, "(" * 9 + "1" + ")" * 9, 8, "too many brackets"),
    (UNTYPED_COLUMN, "2-5", 1, "a range is written [2..5]"),
    (UNTYPED_COLUMN, "16/9", 2, "work it out"),
    (UNTYPED_COLUMN, "5.", 1, "a digit must follow the point"),
    (UNTYPED_COLUMN, "1e5", 0, "write the number out in full"),
    (UNTYPED_COLUMN, "4x3", 0, "4x3 is neither a number nor a word; put text in double quotes"),
    (UNTYPED_COLUMN, "1" * 31, 0, "too long; write at most 30 digits"),
    (UNTYPED_COLUMN, "NaN", 0, "numbers are finite"),
    (UNTYPED_COLUMN, "< -inf", 3, "numbers are finite"),
    (UNTYPED_COLUMN, "22:00", 0, "22:00 is no number"),
    (UNTYPED_COLUMN, "5 %", 0, "take the % off"),
    (UNTYPED_COLUMN, "[2,30..2,50]", 1, "write 2.30, or a list with a space after the comma"),
    (RATIO, "2,30", 0, "write 2.30, or a list with a space after the comma"),
    (RATIO, "2, 30", 3, "30.00 is too much for aspect; the most is 4.00"),
    (RATIO, "< -1", 2, "-1.00 is too little for aspect; the least is 1.00"),
    (RATIO, "2.39001", 0, "too fine; write at most 4 decimals"),
    (RATIO, "16:9", 0, "write the ratio as one number: 1.7778"),
    (RATIO, "2.35:1", 0, "write the ratio as one number: 2.35"),
    (RATIO, "1:0", 0, "aspect takes ratios such as 2.39"),
    (RATIO, "skope", 0, "did you mean scope?"),
    (RATIO, "menu", 0, "it takes scope, nearly, ratios such as 2.39"),
    (RATIO, ">= scope", 3, "scope is a whole test; write it without >="),
    (RATIO, '"2.39"', 0, "take the quotes off"),
    (RATIO, '"wide?"', 0, "write one of these"),
    (SOURCE, "not(disk)", 4, "did you mean disc?"),
    (SOURCE, '"Streamer"', 0, "did you mean streamer?"),
    (SOURCE, "very low", 0, 'did you mean "very low"?'),
    (SOURCE, "tape", 0, 'it takes disc, streamer, blu-grey, "very low", "2x"'),
    (SOURCE, "5", 0, "5 means nothing in source; it takes disc"),
    (SOURCE, "> disc", 2, "only numbers are less or more; write disc or not(disc)"),
    (SOURCE, "Null", 0, "did you mean null?"),
    (VARIES, "on", 0, "it takes yes and no"),
    (VARIES, "Yes", 0, "did you mean yes?"),
    (VARIES, '"yes"', 0, "take the quotes off"),
    (VARIES, "> yes", 2, "only numbers are less or more"),
    (TIME, "1320", 0, "write hours and minutes: 22:00"),
    (TIME, "22.00", 0, "write hours and minutes: 22:00"),
    (TIME, "-1:00", 1, "write hours and minutes: 22:00"),
    (TIME, "25:00", 0, "write a time from 00:00 to 23:59"),
    (TIME, "22:75", 0, "write a time from 00:00 to 23:59"),
    (TIME, "24:00", 0, "only as an end left out"),
    (TIME, "<= 24:00", 3, "only as an end left out"),
    (TIME, "[22:00..24:00]", 8, "only as an end left out"),
    (TIME, "[22:00..02:00)", 1, "past midnight takes two tests: >= 22:00, < 02:00"),
    (TIME, "late", 0, "it takes times such as 22:00"),
    (LIFT, "5", 0, "write 5 %"),
    (LIFT, "0.001 %", 0, "too fine; write at most 2 decimals"),
    (LIFT, "60 %", 0, "60 % is too much for lift; the most is 50 %"),
]


@pytest.mark.parametrize(("column", "text", "offset", "words"), MISTAKES)
def test_a_mistake_says_where_it_is_and_what_to_write_instead(
    column: Column, text: str, offset: int, words: str
) -> None:
    with pytest.raises(CellError) as caught:
        parse_test(text, column, SHAPES if column is RATIO else NO_SHAPES)
    assert words in str(caught.value)
    assert str(caught.value).startswith(f"character {offset + 1}: ")
    assert caught.value.offset == offset
    assert caught.value.text == text


@pytest.mark.parametrize("column", [SOURCE, VARIES])
def test_shapes_are_not_looked_for_among_names_and_truths(column: Column) -> None:
    with pytest.raises(CellError, match="scope means nothing in"):
        parse_test("scope", column, SHAPES)


def test_a_long_vocabulary_is_not_listed_whole() -> None:
    column = Column("preset", Kind.NAME, tuple(f"w{n:02}" for n in range(30)))
    with pytest.raises(CellError, match=r"it takes w00, .*, w07, \.\.\.$"):
        parse_test("nonsense", column)


def test_a_vocabulary_without_words_says_so() -> None:
    with pytest.raises(CellError, match="it takes no words so far"):
        parse_test("broad", Column("preset", Kind.NAME))


PIECES = st.sampled_from(
    [
        *("..", ">=", "<=", "!=", "not", "null", "true", "yes", "and", "disc", "scope", "e5"),
        *("2", "2.39", ".5", "22:00", "24:00", "16:9", '"a"', "\u00e9", "\n"),
        *"'()[],-=<>!%.\":|/\\ ",
    ]
)


@given(
    st.lists(PIECES, max_size=14).map("".join) | st.text(max_size=30),
    st.sampled_from([UNTYPED_COLUMN, RATIO, SOURCE, VARIES, TIME, LIFT, COUNT]),
)
def test_any_text_is_a_test_or_a_mistake_with_a_place(text: str, column: Column) -> None:
    try:
        test = parse_test(text, column, SHAPES)
    except CellError as mistake:
        error = mistake
    else:
        assert test.matches(None) in {True, False}
        return
    assert 0 <= error.offset <= len(text)
    assert error.problem
    assert error.advice


def test_the_longest_cells_are_read() -> None:
    numbers = ", ".join(str(number) for number in range(200))
    assert len(numbers) <= MOST_CELL_CHARACTERS
    assert accepts(numbers, 0, 199, 200, Decimal("7.5")) == [True, True, False, False]
