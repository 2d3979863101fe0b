"""Cells: the unary tests of S-FEEL (OMG DMN 1.4), from text to a set of values.

    -                       anything at all, null included
    2.39  "menu"  true      equal to it; also = 2.39
    != 2.39                 any other number; likewise for strings and booleans
    < 2  <= 2  > 2  >= 2    numbers only: strings and booleans have no order
    [1..2]  (1..2)  [1..2)  closed and open ends; ]1..2[ is (1..2)
    1, 2, [5..6]            any of these; brackets round a list change nothing
    not("menu", "game")     none of these
    null                    not known

The standard leaves three questions open. They are decided here:

- Null passes only `-`, `null` and lists that contain null. So not("menu") and != "menu" refuse
  it, and not(null) means "known". To accept null as well, write: null, not("menu").
- A test accepts only values of its own sort (number, string, boolean): not("menu") accepts other
  strings and no numbers. Negating a list of several sorts negates each sort on its own.
- An empty interval such as (2..2) may be written and accepts nothing. An interval that is upside
  down, such as [3..2], is an error.

Extensions to the standard's simple tests are =, !=, null, a list in brackets, and not(...) as an
item of a list (but not inside another not). The `Column` decides what else may stand in its cells:
bare words of a closed vocabulary, yes and no, times, percentages, ratios, named shapes.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Final, NamedTuple

from engine.table import Column
from engine.value_set import (
    ANYTHING,
    BOOLEANS,
    NOTHING,
    NULL,
    NUMBERS,
    SOMETHING,
    STRINGS,
    Kind,
    Value,
    ValueSet,
    difference,
    equal_to,
    exact,
    interval,
    meets,
    union,
)
from rules.text.cell_mistakes import (
    ACCEPTED_VALUES,
    STEPS_PER_UNIT,
    TRUTHS,
    UNTYPED_COLUMN,
    CellText,
)
from rules.text.cell_tokens import CellToken, unescaped

MOST_NUMBER_CHARACTERS: Final = 30
"""A longer number is refused."""
MOST_NESTED_BRACKETS: Final = 8
"""Lists in brackets nest no deeper than this."""
NO_SHAPES: Final[Mapping[str, ValueSet]] = MappingProxyType({})
_MINUTES_IN_A_DAY: Final = 24 * 60


class UnaryTest(NamedTuple):
    """A cell that was read: its text, and the values that pass it."""

    text: str
    region: ValueSet

    def matches(self, value: Value | float) -> bool:
        """Tell whether a value passes the test.

        Numbers count in the steps of the column's kind. A float stands for its shortest decimal,
        so that 2.39 is 2.39 exactly. Raises TypeError for another type than those of values, and
        ValueError for a number that is not finite.
        """
        return self.region.accepts(Decimal(repr(value)) if isinstance(value, float) else value)


def parse_test(
    text: str, column: Column = UNTYPED_COLUMN, shapes: Mapping[str, ValueSet] = NO_SHAPES
) -> UnaryTest:
    """Read a cell of a column; raises CellError.

    `shapes` are named sets of values that a bare word may stand for, in the column's own steps.
    They are ignored in columns of names and of truths.
    """
    return UnaryTest(text, _CellReader(text, column, shapes).read())


# ---------------------------------------------------------------------------------- reading


class _PartialTest(NamedTuple):
    """What a part of a cell accepts, and all values of the sorts (numbers, ...) it mentions."""

    region: ValueSet
    universe: ValueSet

    def denied(self) -> _PartialTest:
        universe = SOMETHING if self.universe == NOTHING else self.universe
        return _PartialTest(difference(universe, self.region), universe)


class _CellReader(CellText):
    """Parses one cell by recursive descent."""

    def __init__(self, text: str, column: Column, shapes: Mapping[str, ValueSet]) -> None:
        super().__init__(text, column, shapes)
        self._depth = 0
        self._denying = False

    def read(self) -> ValueSet:
        if self._peek().sort == "end":
            raise self._wrong("an empty cell says nothing", "write - to accept anything")
        if [token.text for token in self._tokens] == ["-", ""]:
            return ANYTHING
        region = self._list().region
        if self._peek().sort != "end":
            raise self._left_over()
        return region

    def _list(self) -> _PartialTest:
        parts = [self._item()]
        while self._peek().text == ",":
            if self._column.kind is Kind.RATIO and self._is_decimal_comma():
                raise self._decimal_comma()
            self._next()
            parts.append(self._item())
        return _PartialTest(
            union(*(part.region for part in parts)), union(*(part.universe for part in parts))
        )

    def _item(self) -> _PartialTest:
        token = self._peek()
        if token.text == "not":
            return self._negation()
        if token.sort == "sign":
            return self._comparison()
        if token.text in {"(", "[", "]"}:
            return self._interval() if self._interval_ahead() else self._group()
        return self._operand()

    def _negation(self) -> _PartialTest:
        if self._denying:
            raise self._wrong("not(...) within not(...) cancels out", "write the inner test alone")
        self._next()
        if self._peek().text != "(":
            raise self._wrong("not wants its tests in brackets", 'write not("menu"), for example')
        self._denying = True
        part = self._group().denied()
        self._denying = False
        return part

    def _group(self) -> _PartialTest:
        opening = self._next()
        if opening.text != "(":
            raise self._no_interval(opening)
        self._depth += 1
        if self._depth > MOST_NESTED_BRACKETS:
            raise self._wrong("too many brackets", "take out those that change nothing", opening)
        part = self._list()
        if self._peek().sort == "end":
            raise self._wrong("this ( is never closed", "end it with )", opening)
        if self._peek().text != ")":
            raise self._left_over()
        self._next()
        self._depth -= 1
        return part

    def _comparison(self) -> _PartialTest:
        sign = self._next()
        if self._peek().sort == "sign":
            raise self._two_signs(sign)
        if sign.text in {"=", "!="}:
            part = self._operand()
            return part if sign.text == "=" else part.denied()
        number = self._number(sign.text, until=sign.text == "<")
        if sign.text.startswith("<"):
            region = interval(None, self._end(number), high_open=sign.text == "<")
        else:
            region = interval(number, None, low_open=sign.text == ">")
        return _PartialTest(region, NUMBERS)

    def _interval_ahead(self) -> bool:
        """Tell whether the opening bracket starts an interval: .. precedes a comma or bracket."""
        for token in self._tokens[self._at + 1 :]:
            if token.text in {",", "(", ")", "[", "]", ""}:
                return False
            if token.text == "..":
                return True
        return False

    def _interval(self) -> _PartialTest:
        opening = self._next()
        if self._peek().text == "..":
            raise self._wrong("this interval has no lower end", "write <= or < and the upper end")
        first = self._peek()
        low = self._number("..")
        if self._peek().text != "..":
            raise self._left_over()
        self._next()
        if self._peek().text in {")", "]", "[", ""}:
            raise self._wrong("this interval has no upper end", "write >= or > and the lower end")
        last = self._peek()
        high = self._number("..", until=True)
        closing = self._next()
        if closing.text not in {")", "]", "["}:
            wanted = "end it with ], or with ) to leave its end out"
            raise self._wrong("this interval is never closed", wanted, closing)
        if self._end(high) is None and closing.text == "]":
            raise self._at_midnight(last)
        if low > high:
            raise self._upside_down(first, low, high)
        region = interval(
            low, self._end(high), low_open=opening.text != "[", high_open=closing.text != "]"
        )
        return _PartialTest(region, NUMBERS)

    def _end(self, number: int | Fraction) -> int | Fraction | None:
        """Give an interval's upper end; None for 24:00, since no time of day comes after it."""
        return None if self._column.kind is Kind.MINUTE and number == _MINUTES_IN_A_DAY else number

    # ------------------------------------------------------------------------------ values

    def _operand(self) -> _PartialTest:
        token = self._peek()
        if token.sort == "word":
            return self._word(self._next())
        if token.sort == "string":
            return self._string(self._next())
        return _PartialTest(equal_to(self._number("=")), NUMBERS)

    def _word(self, token: CellToken) -> _PartialTest:
        name, column = token.text, self._column
        if name == "null":
            return _PartialTest(NULL, NOTHING)
        if column.kind is Kind.NAME and name in column.words:
            return _PartialTest(equal_to(name), STRINGS)
        if column.kind is Kind.TRUTH and name in TRUTHS:
            return _PartialTest(equal_to(TRUTHS[name]), BOOLEANS)
        if column.kind is Kind.ANY and name in {"true", "false"}:
            return _PartialTest(equal_to(TRUTHS[name]), BOOLEANS)
        if name in self._shapes:
            shape = self._shapes[name]
            sorts = [sort for sort in (BOOLEANS, STRINGS, NUMBERS) if meets(shape, sort)]
            return _PartialTest(shape, union(*sorts))
        raise self._unknown(token, name)

    def _string(self, token: CellToken) -> _PartialTest:
        text, column = unescaped(self._text, token), self._column
        if column.kind is Kind.ANY or (column.kind is Kind.NAME and text in column.words):
            return _PartialTest(equal_to(text), STRINGS)
        if column.kind is Kind.NAME:
            raise self._unknown(token, text)
        raise self._wrong(
            f"{token.text} is text, and {self._where()} takes {ACCEPTED_VALUES[column.kind]}",
            "take the quotes off" if re.fullmatch(r"[\w.:% -]+", text) else "write one of these",
            token,
        )

    def _number(self, after: str, *, until: bool = False) -> int | Fraction:
        """Read a number in the column's steps.

        `after` is the sign before it, for error messages. `until` allows 24:00, which may only
        be the excluded upper end of an interval.
        """
        start = self._peek()
        negative = start.text == "-" and self._peek(1).sort in {"number", "colon"}
        if negative:
            self._next()
        token = self._peek()
        if token.sort not in {"number", "colon"}:
            raise self._number_missing(after)
        if self._column.kind in {Kind.NAME, Kind.TRUTH}:
            raise self._unknown(token, token.text)
        self._next()
        if self._column.kind is Kind.MINUTE:
            return self._minutes(start, token, until=until)
        number = self._scaled(token)
        return self._in_range(start, -number if negative else number)

    def _minutes(self, start: CellToken, token: CellToken, *, until: bool) -> int:
        if start != token or not re.fullmatch(r"[0-9]{1,2}:[0-9]{2}", token.text):
            raise self._wrong(
                f"{token.text} is no time of day", "write hours and minutes: 22:00", token
            )
        hours, minutes = (int(part) for part in token.text.split(":"))
        if hours * 60 + minutes == _MINUTES_IN_A_DAY and not until:
            raise self._at_midnight(token)
        if hours * 60 + minutes > _MINUTES_IN_A_DAY or minutes >= 60:  # noqa: PLR2004 - an hour's minutes
            raise self._wrong(f"no day has {token.text}", "write a time from 00:00 to 23:59", token)
        return hours * 60 + minutes

    def _scaled(self, token: CellToken) -> int | Fraction:
        kind = self._column.kind
        if token.sort == "colon":
            raise self._colon_ratio(token)
        if len(token.text) > MOST_NUMBER_CHARACTERS:
            raise self._wrong(
                "this number is too long", f"write at most {MOST_NUMBER_CHARACTERS} digits", token
            )
        percent = self._peek().text == "%"
        if percent != (kind is Kind.SHARE):
            advice = "take the % off" if percent else f"write {token.text} %"
            raise self._wrong(f"{self._where()} takes {ACCEPTED_VALUES[kind]}", advice, token)
        if percent:
            self._next()
        number = exact(Fraction(token.text) * STEPS_PER_UNIT.get(kind, 1))
        if kind in STEPS_PER_UNIT and not isinstance(number, int):
            places = len(str(STEPS_PER_UNIT[kind])) - 1
            raise self._wrong(
                f"{token.text} is too fine", f"write at most {places} decimals", token
            )
        return number
