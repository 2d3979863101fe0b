"""Cells: the unary tests of S-FEEL (OMG DMN 1.4), from text to a region.

    -                       anything at all, null included
    2.39  "menu"  true      equal to it; also = 2.39
    != 2.39                 any other number; strings and booleans likewise
    < 2  <= 2  > 2  >= 2    numbers only: text and booleans are equal or not, never less
    [1..2]  (1..2)  [1..2)  closed and open ends; ]1..2[ is (1..2)
    1, 2, [5..6]            any of these; brackets round a list change nothing
    not("menu", "game")     no one of these
    null                    what is not known

Three corners of the standard, decided here:

- Null passes no test but `-`, `null` and lists with null. So not("menu") refuses it, as does
  != "menu", and not(null) means "known". To let it through, write: null, not("menu").
- A test says something only of values of its own sort: not("menu") accepts other strings, and
  no number. A list that mixes sorts denies each within its own.
- An interval that holds nothing, (2..2), may be written and accepts nothing; one that is upside
  down, [3..2], is a mistake.

Beyond the standard's simple tests stand =, != and null, a bracketed list, and not(...) among the
items of a list, though not inside another. What a column may say further, its `Column` decides:
bare words of a closed vocabulary, yes and no, times, percentages, ratios, named shapes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from difflib import get_close_matches
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
    Number,
    Value,
    ValueSet,
    difference,
    equal_to,
    exact,
    interval,
    meets,
    show_value,
    union,
)

LONGEST_CELL: Final = 1_000
LONGEST_NUMBER: Final = 30
DEEPEST: Final = 8
"""How many brackets may stand in each other."""

FREE: Final = Column("value")
"""A column of which nothing is known: S-FEEL as it stands."""
NO_SHAPES: Final[Mapping[str, ValueSet]] = MappingProxyType({})


class CellError(ValueError):
    """A cell that says nothing: where in its text, what is wrong, what to write instead."""

    def __init__(self, text: str, offset: int, problem: str, advice: str) -> None:
        super().__init__(text, offset, problem, advice)
        self.text = text
        self.offset = offset
        """Characters before the mistake, from 0 to the text's length."""
        self.problem = problem
        self.advice = advice

    def __str__(self) -> str:
        return f"character {self.offset + 1}: {self.problem}; {self.advice}"


class UnaryTest(NamedTuple):
    """A cell that was read."""

    text: str
    region: ValueSet

    def matches(self, value: Value | float) -> bool:
        """Tell whether a value passes, numbers as the column's kind counts them.

        A float stands for its shortest decimal, 2.39 for 2.39. Raises TypeError or ValueError
        for what is no value: another type, a number that is not finite.
        """
        return self.region.accepts(Decimal(repr(value)) if isinstance(value, float) else value)


def parse_test(
    text: str, column: Column = FREE, shapes: Mapping[str, ValueSet] = NO_SHAPES
) -> UnaryTest:
    """Read a cell of a column; `shapes` are regions that a bare word may stand for.

    Shapes count as the column does and are not looked for in columns of names or truths.
    Raises CellError.
    """
    return UnaryTest(text, _Cell(text, column, shapes).read())


# ---------------------------------------------------------------------------------- tokens


class _Token(NamedTuple):
    sort: str
    text: str
    offset: int

    @property
    def end(self) -> int:
        return self.offset + len(self.text)


_TOKENS: Final = re.compile(
    r"""
      (?P<space>  \s+ )
    | (?P<colon>  [0-9]+ (?:\.[0-9]+)? : [0-9]+ (?:\.[0-9]+)? )
    | (?P<number> [0-9]+ (?:\.[0-9]+)? | \.[0-9]+ )
    | (?P<string> " (?: [^"\\\r\n] | \\[^\r\n] )* " )
    | (?P<word>   [^\W\d] \w* (?: -\w+ )* )
    | (?P<sign>   <= | >= | != | < | > | = )
    | (?P<mark>   \.\. | [()\[\],%-] )
    """,
    re.VERBOSE,
)
_LOOK_ALIKES: Final = {
    "\u201c\u201d\u201e'\u2018\u2019": 'write " round text',
    "\u2212\u2013\u2014": "write -",
    "\u2265": "write >=",
    "\u2264": "write <=",
    "\u2260!": "write != or not(...)",
    "\u2026": "write .. between the two ends",
    "|;": "put a comma between alternatives",
    "&": "a range is written [1..2]",
    "/*": "work it out and write the number",
    "+": "write the number without it",
    ".": "a digit must follow the point",
}
_INSTEAD: Final = {mark: advice for marks, advice in _LOOK_ALIKES.items() for mark in marks}


def _tokens(text: str) -> Iterator[_Token]:
    at = 0
    while at < len(text):
        found = _TOKENS.match(text, at)
        if found is None:
            raise _stray(text, at)
        if found.lastgroup != "space":
            yield _Token(str(found.lastgroup), found.group(), at)
        at = found.end()
    yield _Token("end", "", at)


def _stray(text: str, at: int) -> CellError:
    if text[at] == '"':
        return CellError(
            text, at, "this text is never closed", 'end it with " on the same line, or write \\n'
        )
    advice = _INSTEAD.get(text[at], "leave it out, or put text in double quotes")
    return CellError(text, at, f"{text[at]!r} means nothing in a test", advice)


_ESCAPE: Final = re.compile(
    r"\\(?: u[dD][89abAB][0-9a-fA-F]{2} \\u[dD][c-fC-F][0-9a-fA-F]{2}"
    r"| u[0-9a-fA-F]{4} | U[0-9a-fA-F]{6} | . )",
    re.VERBOSE,
)
_SHORT: Final = {"n": "\n", "r": "\r", "t": "\t", '"': '"', "'": "'", "\\": "\\"}
_LAST_CODE: Final = 0x10FFFF


def _unescaped(text: str, token: _Token) -> str:
    """Read a string's escapes, pairs of surrogates included."""

    def character(found: re.Match[str]) -> str:
        escape = found.group()[1:]
        if escape in _SHORT:
            return _SHORT[escape]
        codes = [int(code, 16) for code in re.findall(r"[uU]([0-9a-fA-F]{4,6})", found.group())]
        if len(codes) == 2:  # noqa: PLR2004 - a pair of surrogates
            return chr(0x10000 + ((codes[0] & 0x3FF) << 10) + (codes[1] & 0x3FF))
        if codes and codes[0] <= _LAST_CODE and codes[0] not in range(0xD800, 0xE000):
            return chr(codes[0])
        raise CellError(
            text,
            token.offset + 1 + found.start(),
            f"{found.group()} is no character",
            r'after \ write one of \ " n r t, uXXXX or UXXXXXX',
        )

    return _ESCAPE.sub(character, token.text[1:-1])


# ---------------------------------------------------------------------------------- reading


class _Part(NamedTuple):
    """What a piece of a cell accepts, and every value of the sorts it speaks of."""

    region: ValueSet
    universe: ValueSet

    def denied(self) -> _Part:
        universe = SOMETHING if self.universe == NOTHING else self.universe
        return _Part(difference(universe, self.region), universe)


_TAKES: Final = {
    Kind.ANY: 'numbers, "text" in double quotes, true, false and null',
    Kind.TRUTH: "yes and no",
    Kind.RATIO: "ratios such as 2.39",
    Kind.MINUTE: "times such as 22:00",
    Kind.SHARE: "shares such as 5 %",
    Kind.NUMBER: "numbers",
}
_SCALES: Final = {Kind.RATIO: 10_000, Kind.SHARE: 100}
_TRUTHS: Final = {"yes": True, "no": False, "true": True, "false": False}
_MEANT: Final = {
    "==": "=", "=>": ">=", "=<": "<=", "<>": "!=", ">=": ">=", "<=": "<=", "!==": "!=",
}  # fmt: skip
_ALTERNATIVES: Final = "put commas between alternatives; a range is [1..2]"
_MISPLACED: Final = {
    "-": ("- accepts anything, so it stands alone", "write nothing beside it"),
    "..": ("an interval needs brackets and two ends", "write [1..2], or >= 1"),
}
_MIDNIGHT: Final = 24 * 60
_LISTED_AT_MOST: Final = 8


class _Cell:
    """One cell being read, from left to right."""

    def __init__(self, text: str, column: Column, shapes: Mapping[str, ValueSet]) -> None:
        if len(text) > LONGEST_CELL:
            raise CellError(
                text,
                LONGEST_CELL,
                f"a cell of {len(text)} characters is too long",
                f"write at most {LONGEST_CELL}, or spread it over several rows",
            )
        self._text = text
        self._column = column
        self._shapes = {} if column.kind in {Kind.NAME, Kind.TRUTH} else shapes
        self._tokens = list(_tokens(text))
        self._at = 0
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

    def _list(self) -> _Part:
        parts = [self._item()]
        while self._peek().text == ",":
            if self._column.kind is Kind.RATIO and self._is_decimal_comma():
                raise self._decimal_comma()
            self._next()
            parts.append(self._item())
        return _Part(
            union(*(part.region for part in parts)), union(*(part.universe for part in parts))
        )

    def _item(self) -> _Part:
        token = self._peek()
        if token.text == "not":
            return self._negation()
        if token.sort == "sign":
            return self._comparison()
        if token.text in {"(", "[", "]"}:
            return self._interval() if self._interval_ahead() else self._group()
        return self._operand()

    def _negation(self) -> _Part:
        if self._denying:
            raise self._wrong("not(...) within not(...) cancels out", "write the inner test alone")
        self._next()
        if self._peek().text != "(":
            raise self._wrong("not wants its tests in brackets", 'write not("menu"), for example')
        self._denying = True
        part = self._group().denied()
        self._denying = False
        return part

    def _group(self) -> _Part:
        opening = self._next()
        if opening.text != "(":
            raise self._no_interval(opening)
        self._depth += 1
        if self._depth > DEEPEST:
            raise self._wrong("too many brackets", "take out those that change nothing", opening)
        part = self._list()
        if self._peek().sort == "end":
            raise self._wrong("this ( is never closed", "end it with )", opening)
        if self._peek().text != ")":
            raise self._left_over()
        self._next()
        self._depth -= 1
        return part

    def _comparison(self) -> _Part:
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
        return _Part(region, NUMBERS)

    def _interval_ahead(self) -> bool:
        """Tell whether .. comes before the next comma or bracket."""
        for token in self._tokens[self._at + 1 :]:
            if token.text in {",", "(", ")", "[", "]", ""}:
                return False
            if token.text == "..":
                return True
        return False

    def _interval(self) -> _Part:
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
        return _Part(region, NUMBERS)

    def _end(self, number: int | Fraction) -> int | Fraction | None:
        """Leave the end of the day out: no time of day comes after it."""
        return None if self._column.kind is Kind.MINUTE and number == _MIDNIGHT else number

    # ------------------------------------------------------------------------------ values

    def _operand(self) -> _Part:
        token = self._peek()
        if token.sort == "word":
            return self._word(self._next())
        if token.sort == "string":
            return self._string(self._next())
        return _Part(equal_to(self._number("=")), NUMBERS)

    def _word(self, token: _Token) -> _Part:
        name, column = token.text, self._column
        if name == "null":
            return _Part(NULL, NOTHING)
        if column.kind is Kind.NAME and name in column.words:
            return _Part(equal_to(name), STRINGS)
        if column.kind is Kind.TRUTH and name in _TRUTHS:
            return _Part(equal_to(_TRUTHS[name]), BOOLEANS)
        if column.kind is Kind.ANY and name in {"true", "false"}:
            return _Part(equal_to(_TRUTHS[name]), BOOLEANS)
        if name in self._shapes:
            shape = self._shapes[name]
            sorts = [sort for sort in (BOOLEANS, STRINGS, NUMBERS) if meets(shape, sort)]
            return _Part(shape, union(*sorts))
        raise self._unknown(token, name)

    def _string(self, token: _Token) -> _Part:
        text, column = _unescaped(self._text, token), self._column
        if column.kind is Kind.ANY or (column.kind is Kind.NAME and text in column.words):
            return _Part(equal_to(text), STRINGS)
        if column.kind is Kind.NAME:
            raise self._unknown(token, text)
        raise self._wrong(
            f"{token.text} is text, and {self._where()} takes {_TAKES[column.kind]}",
            "take the quotes off" if re.fullmatch(r"[\w.:% -]+", text) else "write one of these",
            token,
        )

    def _number(self, after: str, *, until: bool = False) -> int | Fraction:
        """Read a number as the column counts it; `until` lets 24:00 pass, an end left out."""
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
        return self._within_reach(start, -number if negative else number)

    def _minutes(self, start: _Token, token: _Token, *, until: bool) -> int:
        if start != token or not re.fullmatch(r"[0-9]{1,2}:[0-9]{2}", token.text):
            raise self._wrong(
                f"{token.text} is no time of day", "write hours and minutes: 22:00", token
            )
        hours, minutes = (int(part) for part in token.text.split(":"))
        if hours * 60 + minutes == _MIDNIGHT and not until:
            raise self._at_midnight(token)
        if hours * 60 + minutes > _MIDNIGHT or minutes >= 60:  # noqa: PLR2004 - an hour's minutes
            raise self._wrong(f"no day has {token.text}", "write a time from 00:00 to 23:59", token)
        return hours * 60 + minutes

    def _scaled(self, token: _Token) -> int | Fraction:
        kind = self._column.kind
        if token.sort == "colon":
            raise self._colon(token)
        if len(token.text) > LONGEST_NUMBER:
            raise self._wrong(
                "this number is too long", f"write at most {LONGEST_NUMBER} digits", token
            )
        percent = self._peek().text == "%"
        if percent != (kind is Kind.SHARE):
            advice = "take the % off" if percent else f"write {token.text} %"
            raise self._wrong(f"{self._where()} takes {_TAKES[kind]}", advice, token)
        if percent:
            self._next()
        number = exact(Fraction(token.text) * _SCALES.get(kind, 1))
        if kind in _SCALES and not isinstance(number, int):
            places = len(str(_SCALES[kind])) - 1
            raise self._wrong(
                f"{token.text} is too fine", f"write at most {places} decimals", token
            )
        return number

    # ---------------------------------------------------------------------------- mistakes

    def _peek(self, ahead: int = 0) -> _Token:
        return self._tokens[min(self._at + ahead, len(self._tokens) - 1)]

    def _next(self) -> _Token:
        token = self._peek()
        self._at += 1
        return token

    def _is_decimal_comma(self, ahead: int = 0) -> bool:
        """Tell whether a comma stands in 2,39 as in a number, where no list is meant."""
        before, comma, after = (self._peek(ahead + step) for step in (-1, 0, 1))
        glued = before.end == comma.offset and comma.end == after.offset
        whole = before.text.isdecimal() and after.text.isdecimal()
        return comma.text == "," and glued and whole

    def _where(self) -> str:
        return "a cell" if self._column.name == FREE.name else self._column.name

    def _wrong(self, problem: str, advice: str, token: _Token | None = None) -> CellError:
        return CellError(self._text, (token or self._peek()).offset, problem, advice)

    def _at_midnight(self, token: _Token) -> CellError:
        return self._wrong(
            "24:00 is the end of the day, not a time of it",
            "write it only as an end left out: < 24:00 or [22:00..24:00)",
            token,
        )

    def _colon(self, token: _Token) -> CellError:
        wide, high = (Fraction(part) for part in token.text.split(":"))
        advice = f"{self._where()} takes {_TAKES[self._column.kind]}"
        if self._column.kind is Kind.RATIO and high:
            ratio = show_value(round(wide / high * _SCALES[Kind.RATIO]), Kind.RATIO)
            advice = f"write the ratio as one number: {ratio}"
        return self._wrong(f"{token.text} is no number", advice, token)

    def _unknown(self, token: _Token, name: str) -> CellError:
        problem = f"{token.text} means nothing in {self._where()}"
        if nearest := self._nearest(name):
            return self._wrong(problem, f"did you mean {nearest}?", token)
        if name in {"and", "or"}:
            return self._wrong(problem, _ALTERNATIVES, token)
        if name.casefold() in {"nan", "inf", "infinity"}:
            return self._wrong(problem, "numbers are finite; >= 2 has no upper end", token)
        if self._column.kind is Kind.ANY:
            wanted = "write true or false" if name in _TRUTHS else "put text in double quotes"
            return self._wrong(problem, wanted, token)
        return self._wrong(problem, f"it takes {self._takes()}", token)

    def _nearest(self, name: str) -> str | None:
        kind = self._column.kind
        known = [*self._column.words] if kind is Kind.NAME else [*self._shapes]
        known += ["yes", "no"] if kind is Kind.TRUTH else []
        written = {word.casefold(): word for word in known}
        if near := get_close_matches(name.casefold(), written, n=1):
            return _written(written[near[0]])
        reserved = {"true", "false", "null"} if kind is Kind.ANY else {"null"}
        return name.casefold() if name.casefold() in reserved else None

    def _takes(self) -> str:
        """Say what may stand in the column, the first few of many words."""
        kind = self._column.kind
        words = self._column.words if kind is Kind.NAME else tuple(self._shapes)
        listed = [_written(word) for word in words[:_LISTED_AT_MOST]]
        listed += ["..."] if len(words) > _LISTED_AT_MOST else []
        listed += [_TAKES[kind]] if kind in _TAKES else []
        return ", ".join(listed) or "no words so far"

    def _number_missing(self, after: str) -> CellError:
        """Say what is wrong where a number ought to be, or for "=" any value."""
        token = self._peek()
        if token.text == "-" and self._peek(1).sort == "word":
            token = self._peek(1)
        if token.text in self._shapes:
            return self._wrong(f"{token.text} is a whole test", f"write it without {after}")
        truths = _TRUTHS if self._column.kind is Kind.TRUTH else ("true", "false")
        if token.sort == "string" or token.text in {"null", *truths, *self._column.words}:
            wanted = f"write {token.text} or not({token.text})"
            return self._wrong("only numbers are less or more", wanted, token)
        if token.sort == "word":
            return self._unknown(token, token.text)
        if token.text in _MISPLACED:
            return self._wrong(*_MISPLACED[token.text])
        if token.text in {",", ""} or after != "=":
            return self._wrong("a value is missing here", "write one, or take out what wants one")
        return self._wrong(f"no value stands before this {token.text}", "write one, or take it out")

    def _left_over(self) -> CellError:
        before, token = self._peek(-1), self._peek()
        if token.text == "..":
            return self._wrong("an interval needs brackets", "write [1..2]", before)
        if token.text in {")", "]"}:
            return self._wrong(f"this {token.text} closes nothing", "take it out")
        if token.text == "-" and before.sort == "number":
            return self._wrong("nothing is subtracted in a test", "a range is written [1..2]")
        if before.end == token.offset and {before.sort, token.sort} == {"number", "word"}:
            power = re.fullmatch(r"[eE][0-9]*", token.text)
            return self._wrong(
                f"{before.text}{token.text} is neither a number nor a word",
                "write the number out in full" if power else "put text in double quotes",
                before,
            )
        return self._wrong(f"{token.text} follows without a comma", _ALTERNATIVES)

    def _within_reach(self, token: _Token, number: int | Fraction) -> int | Fraction:
        column = self._column
        if column.least is not None and number < column.least:
            problem, bound = (
                "is too little",
                f"the least is {show_value(column.least, column.kind)}",
            )
        elif column.most is not None and number > column.most:
            problem, bound = "is too much", f"the most is {show_value(column.most, column.kind)}"
        else:
            return number
        shown = show_value(number, column.kind)
        raise self._wrong(f"{shown} {problem} for {self._where()}", bound, token)

    def _decimal_comma(self, ahead: int = 0) -> CellError:
        before, after = self._peek(ahead - 1), self._peek(ahead + 1)
        return self._wrong(
            f"{before.text},{after.text} is a list of two numbers",
            f"write {before.text}.{after.text}, or a list with a space after the comma",
            before,
        )

    def _no_interval(self, opening: _Token) -> CellError:
        if self._is_decimal_comma(1) and self._peek(3).text == "..":
            return self._decimal_comma(1)
        if opening.text == "]":
            return self._wrong("this ] closes nothing", "take it out", opening)
        wanted = "write [1..2], or (1, 2) for a list"
        return self._wrong("[ begins an interval, but no .. follows", wanted, opening)

    def _two_signs(self, sign: _Token) -> CellError:
        after = self._peek()
        meant = _MEANT.get(sign.text + after.text, sign.text)
        written = self._text[sign.offset : after.end]
        return self._wrong(f"{written} is no comparison", f"write {meant} and then a value", sign)

    def _upside_down(self, first: _Token, low: Number, high: Number) -> CellError:
        kind = self._column.kind
        above, below = show_value(low, kind), show_value(high, kind)
        wanted = f"write the lower end first: {below}..{above}"
        if kind is Kind.MINUTE:
            wanted = f"past midnight takes two tests: >= {above}, < {below}"
        return self._wrong(f"{above}..{below} is upside down", wanted, first)


def _written(word: str) -> str:
    """Write a word of a vocabulary as a cell would."""
    bare = re.fullmatch(r"[^\W\d]\w*(?:-\w+)*", word) and word not in {"null", "not"}
    return word if bare else show_value(word)
