"""A second reading of cells: the unary tests of OMG S-FEEL, straight from their text to yes or no.

It shares nothing with the engine's own reading: cells become closures here, not sets of values.
Numbers are Fractions, so no bound is ever rounded. A ratio is 239/100, a share 6/100, and a time
of day its minutes after midnight.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Final

Value = Fraction | str | bool | None
Test = Callable[[Value], bool]

_TOKEN: Final = re.compile(
    r"\s*(?:(?P<sign><=|>=|!=|<|>|=)|(?P<dots>\.\.)|(?P<time>\d{1,2}:\d\d)"
    r"|(?P<number>-?\d+(?:\.(?!\.)\d+)?)(?P<percent>\s*%)?|\"(?P<text>[^\"]*)\"|(?P<word>\w+)"
    r"|(?P<mark>[\[\](),-]))"
)
_TRUTHS: Final[Mapping[str, bool]] = {"yes": True, "true": True, "no": False, "false": False}


def reading_of(cell: str, *, truth: bool = False, shapes: Mapping[str, str] | None = None) -> Test:
    """Read a cell; `truth` says that its values are yes and no, `shapes` are named tests."""
    if cell.strip() == "-":
        return lambda _value: True
    reader = _Reader(cell, truth, shapes or {})
    test = reader.list_of_tests()
    assert reader.at_end(), cell
    return test


def numbers_in(cell: str) -> list[Fraction]:
    """Give the numbers that a cell names, in the order of its text."""
    tokens = _TOKEN.finditer(cell)
    return [_number(token) for token in tokens if token["number"] or token["time"]]


def _number(token: re.Match[str]) -> Fraction:
    if token["time"]:
        hours, minutes = token["time"].split(":")
        return Fraction(int(hours) * 60 + int(minutes))
    return Fraction(token["number"]) / (100 if token["percent"] else 1)


class _Reader:
    """Reads one cell by recursive descent."""

    def __init__(self, cell: str, truth: bool, shapes: Mapping[str, str]) -> None:
        self.tokens = [*_TOKEN.finditer(cell)]
        read = "".join(token[0] for token in self.tokens)
        assert read.replace(" ", "") == cell.replace(" ", ""), cell
        self.at, self.truth, self.shapes = 0, truth, shapes

    def at_end(self) -> bool:
        return self.at == len(self.tokens)

    def list_of_tests(self) -> Test:
        tests = [self.test()]
        while not self.at_end() and self.peek() == ",":
            self.next()
            tests.append(self.test())
        return lambda value: any(test(value) for test in tests)

    def peek(self) -> str:
        return self.tokens[self.at][0].strip()

    def next(self) -> re.Match[str]:
        self.at += 1
        return self.tokens[self.at - 1]

    def test(self) -> Test:
        first = self.peek()
        if first == "not":
            return self.negation()
        if first in {"[", "]", "("}:
            return self.interval() if self.interval_ahead() else self.group()
        if self.tokens[self.at]["sign"]:
            return self.comparison()
        return self.operand()

    def negation(self) -> Test:
        """Read not(...): what is known and passes none of these."""
        self.next()
        inner = self.group()
        return lambda value: value is not None and not inner(value)

    def group(self) -> Test:
        assert self.next()[0].strip() == "("
        inner = self.list_of_tests()
        assert self.next()[0].strip() == ")"
        return inner

    def interval_ahead(self) -> bool:
        return self.at + 2 < len(self.tokens) and bool(self.tokens[self.at + 2]["dots"])

    def interval(self) -> Test:
        opening, low = self.next()[0].strip(), _number(self.next())
        self.next()
        high, closing = _number(self.next()), self.next()[0].strip()

        def within(value: Value) -> bool:
            if not isinstance(value, Fraction):
                return False
            above = value >= low if opening == "[" else value > low
            return above and (value <= high if closing == "]" else value < high)

        return within

    def comparison(self) -> Test:
        sign = self.next()["sign"]
        if sign == "=":
            return self.operand()
        if sign == "!=":
            same = self.operand()
            return lambda value: value is not None and not same(value)
        bound = _number(self.next())
        compare: dict[str, Callable[[Fraction], bool]] = {
            "<": lambda value: value < bound,
            "<=": lambda value: value <= bound,
            ">": lambda value: value > bound,
            ">=": lambda value: value >= bound,
        }
        passes = compare[sign]
        return lambda value: isinstance(value, Fraction) and passes(value)

    def operand(self) -> Test:
        token = self.next()
        word = token["word"]
        if word == "null":
            return lambda value: value is None
        if word in self.shapes:
            return reading_of(self.shapes[word], shapes=self.shapes)
        if self.truth:
            return lambda value: value is _TRUTHS[word]
        if word is None and token["text"] is None:
            number = _number(token)
            return lambda value: isinstance(value, Fraction) and value == number
        name = token["text"] if word is None else word
        return lambda value: value == name
