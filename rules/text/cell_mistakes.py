"""What can be wrong with a cell, and what to write instead.

`CellText` holds the tokens of one cell. Its methods make the errors that the reader in `unary`
raises, so that all sentences about cells stand in one place.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from typing import Final

from engine.refusal import nearest_name
from engine.table import Column
from engine.value_set import Kind, Number, ValueSet, show_value
from rules.text.cell_tokens import CellError, CellToken, tokens_of

MOST_CELL_CHARACTERS: Final = 1_000
"""A longer cell is refused."""
UNTYPED_COLUMN: Final = Column("value")
"""A column that accepts values of every kind: plain S-FEEL without any extension."""
ACCEPTED_VALUES: Final = {
    Kind.ANY: 'numbers, "text" in double quotes, true, false and null',
    Kind.TRUTH: "yes and no",
    Kind.RATIO: "ratios such as 2.39",
    Kind.MINUTE: "times such as 22:00",
    Kind.SHARE: "shares such as 5 %",
    Kind.NUMBER: "numbers",
}
"""What each kind of column accepts, in the words of a sentence."""
_INTENDED_SIGNS: Final = {
    "==": "=", "=>": ">=", "=<": "<=", "<>": "!=", ">=": ">=", "<=": "<=", "!==": "!=",
}  # fmt: skip
"""Signs that people write in other languages, and the S-FEEL sign for each."""
_LIST_ADVICE: Final = "put commas between alternatives; a range is [1..2]"
_MISPLACED_MARKS: Final = {
    "-": ("- accepts anything, so it stands alone", "write nothing beside it"),
    "..": ("an interval needs brackets and two ends", "write [1..2], or >= 1"),
}
_MOST_WORDS_LISTED: Final = 8
"""A sentence lists no more words of a vocabulary than this, then writes "..."."""


STEPS_PER_UNIT: Final = {Kind.RATIO: 10_000, Kind.SHARE: 100}
"""How many whole steps make 1 (of a ratio) or 1 % (of a share), as columns count them."""
TRUTHS: Final[Mapping[str, bool]] = {"yes": True, "no": False, "true": True, "false": False}
"""How a truth is written, in a cell as in a field."""


class CellText:
    """A cell's tokens, read from left to right, and the errors for what makes no sense there."""

    def __init__(self, text: str, column: Column, shapes: Mapping[str, ValueSet]) -> None:
        if len(text) > MOST_CELL_CHARACTERS:
            raise CellError(
                text,
                MOST_CELL_CHARACTERS,
                f"a cell of {len(text)} characters is too long",
                f"write at most {MOST_CELL_CHARACTERS}, or spread it over several rows",
            )
        self._text = text
        self._column = column
        self._shapes = {} if column.kind in {Kind.NAME, Kind.TRUTH} else shapes
        self._tokens = list(tokens_of(text))
        self._at = 0

    def _peek(self, ahead: int = 0) -> CellToken:
        return self._tokens[min(self._at + ahead, len(self._tokens) - 1)]

    def _next(self) -> CellToken:
        token = self._peek()
        self._at += 1
        return token

    def _is_decimal_comma(self, ahead: int = 0) -> bool:
        """Tell whether a comma is a decimal comma, as in 2,39, and does not separate a list."""
        before, comma, after = (self._peek(ahead + step) for step in (-1, 0, 1))
        glued = before.end == comma.offset and comma.end == after.offset
        whole = before.text.isdecimal() and after.text.isdecimal()
        return comma.text == "," and glued and whole

    def _where(self) -> str:
        return "a cell" if self._column.name == UNTYPED_COLUMN.name else self._column.name

    def _wrong(self, problem: str, advice: str, token: CellToken | None = None) -> CellError:
        return CellError(self._text, (token or self._peek()).offset, problem, advice)

    def _at_midnight(self, token: CellToken) -> CellError:
        return self._wrong(
            "24:00 is the end of the day, not a time of it",
            "write it only as an end left out: < 24:00 or [22:00..24:00)",
            token,
        )

    def _colon_ratio(self, token: CellToken) -> CellError:
        wide, high = (Fraction(part) for part in token.text.split(":"))
        advice = f"{self._where()} takes {ACCEPTED_VALUES[self._column.kind]}"
        if self._column.kind is Kind.RATIO and high:
            ratio = show_value(round(wide / high * STEPS_PER_UNIT[Kind.RATIO]), Kind.RATIO)
            advice = f"write the ratio as one number: {ratio}"
        return self._wrong(f"{token.text} is no number", advice, token)

    def _unknown(self, token: CellToken, name: str) -> CellError:
        problem = f"{token.text} means nothing in {self._where()}"
        if nearest := self._nearest(name):
            return self._wrong(problem, f"did you mean {nearest}?", token)
        if name in {"and", "or"}:
            return self._wrong(problem, _LIST_ADVICE, token)
        if name.casefold() in {"nan", "inf", "infinity"}:
            return self._wrong(problem, "numbers are finite; >= 2 has no upper end", token)
        if self._column.kind is Kind.ANY:
            wanted = "write true or false" if name in TRUTHS else "put text in double quotes"
            return self._wrong(problem, wanted, token)
        return self._wrong(problem, f"it takes {self._takes()}", token)

    def _nearest(self, name: str) -> str | None:
        kind = self._column.kind
        known = [*self._column.words] if kind is Kind.NAME else [*self._shapes]
        known += ["yes", "no"] if kind is Kind.TRUTH else []
        written = {word.casefold(): word for word in known}
        if near := nearest_name(name.casefold(), written):
            return _as_written(written[near])
        reserved = {"true", "false", "null"} if kind is Kind.ANY else {"null"}
        return name.casefold() if name.casefold() in reserved else None

    def _takes(self) -> str:
        """Say what may stand in the column; of a long vocabulary, the first words."""
        kind = self._column.kind
        words = self._column.words if kind is Kind.NAME else tuple(self._shapes)
        listed = [_as_written(word) for word in words[:_MOST_WORDS_LISTED]]
        listed += ["..."] if len(words) > _MOST_WORDS_LISTED else []
        listed += [ACCEPTED_VALUES[kind]] if kind in ACCEPTED_VALUES else []
        return ", ".join(listed) or "no words so far"

    def _number_missing(self, after: str) -> CellError:
        """Make the error for a missing number; after "=" any value may be missing."""
        token = self._peek()
        if token.text == "-" and self._peek(1).sort == "word":
            token = self._peek(1)
        if token.text in self._shapes:
            return self._wrong(f"{token.text} is a whole test", f"write it without {after}")
        truths = TRUTHS if self._column.kind is Kind.TRUTH else ("true", "false")
        if token.sort == "string" or token.text in {"null", *truths, *self._column.words}:
            wanted = f"write {token.text} or not({token.text})"
            return self._wrong("only numbers are less or more", wanted, token)
        if token.sort == "word":
            return self._unknown(token, token.text)
        if token.text in _MISPLACED_MARKS:
            return self._wrong(*_MISPLACED_MARKS[token.text])
        if token.text in {",", ""} or after != "=":
            return self._wrong("a value is missing here", "write one, or take out what wants one")
        return self._wrong(f"no value stands before this {token.text}", "write one, or take it out")

    def _as_interval(self, low: CellToken, high: CellToken) -> str:
        """Write two ends as an interval; where the second is no end, an example."""
        ends = {low.sort, high.sort} <= {"number", "colon"}
        closing = ")" if high.text == "24:00" else "]"
        return f"[{low.text}..{high.text}{closing}" if ends else "[1..2]"

    def _left_over(self) -> CellError:
        before, token = self._peek(-1), self._peek()
        if token.text == "..":
            advice = f"write {self._as_interval(before, self._peek(1))}"
            return self._wrong("an interval needs brackets", advice, before)
        if token.text in {")", "]"}:
            return self._wrong(f"this {token.text} closes nothing", "take it out")
        if token.text == "-" and before.sort == "number":
            advice = f"a range is written {self._as_interval(before, self._peek(1))}"
            return self._wrong("nothing is subtracted in a test", advice)
        if before.end == token.offset and {before.sort, token.sort} == {"number", "word"}:
            power = re.fullmatch(r"[eE][0-9]*", token.text)
            return self._wrong(
                f"{before.text}{token.text} is neither a number nor a word",
                "write the number out in full" if power else "put text in double quotes",
                before,
            )
        return self._wrong(f"{token.text} follows without a comma", _LIST_ADVICE)

    def _in_range(self, token: CellToken, number: int | Fraction) -> int | Fraction:
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

    def _no_interval(self, opening: CellToken) -> CellError:
        if self._is_decimal_comma(1) and self._peek(3).text == "..":
            return self._decimal_comma(1)
        if opening.text == "]":
            return self._wrong("this ] closes nothing", "take it out", opening)
        wanted = "write [1..2], or (1, 2) for a list"
        return self._wrong("[ begins an interval, but no .. follows", wanted, opening)

    def _two_signs(self, sign: CellToken) -> CellError:
        after = self._peek()
        meant = _INTENDED_SIGNS.get(sign.text + after.text, sign.text)
        written = self._text[sign.offset : after.end]
        return self._wrong(f"{written} is no comparison", f"write {meant} and then a value", sign)

    def _upside_down(self, first: CellToken, low: Number, high: Number) -> CellError:
        kind = self._column.kind
        above, below = show_value(low, kind), show_value(high, kind)
        wanted = f"write the lower end first: {below}..{above}"
        if kind is Kind.MINUTE:
            wanted = f"past midnight takes two tests: >= {above}, < {below}"
        return self._wrong(f"{above}..{below} is upside down", wanted, first)


def _as_written(word: str) -> str:
    """Write a word as it stands in a cell: bare, or quoted where it has to be."""
    bare = re.fullmatch(r"[^\W\d]\w*(?:-\w+)*", word) and word not in {"null", "not"}
    return word if bare else show_value(word)
