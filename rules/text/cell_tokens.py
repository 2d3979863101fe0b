"""The tokens of a cell: numbers, strings, words, signs and marks, each with its place."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NamedTuple


class CellError(ValueError):
    """A cell that cannot be read: where the mistake is, what it is, what to write instead."""

    def __init__(self, text: str, offset: int, problem: str, advice: str) -> None:
        super().__init__(text, offset, problem, advice)
        self.text = text
        self.offset = offset
        """How many characters stand before the mistake, from 0 to the text's length."""
        self.problem = problem
        self.advice = advice

    def __str__(self) -> str:
        return f"character {self.offset + 1}: {self.problem}; {self.advice}"


class CellToken(NamedTuple):
    """One token; its sort is the name of a group in `_TOKENS`, or `end` after the last one."""

    sort: str
    text: str
    offset: int

    @property
    def end(self) -> int:
        """The offset of the first character after the token."""
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
_ADVICE_FOR_CHARACTER: Final = {
    mark: advice for marks, advice in _LOOK_ALIKES.items() for mark in marks
}


def tokens_of(text: str) -> Iterator[CellToken]:
    """Split a cell into tokens; raises CellError at the first character that starts none."""
    at = 0
    while at < len(text):
        found = _TOKENS.match(text, at)
        if found is None:
            raise _meaningless_character(text, at)
        if found.lastgroup != "space":
            yield CellToken(str(found.lastgroup), found.group(), at)
        at = found.end()
    yield CellToken("end", "", at)


def _meaningless_character(text: str, at: int) -> CellError:
    if text[at] == '"':
        return CellError(
            text, at, "this text is never closed", 'end it with " on the same line, or write \\n'
        )
    advice = _ADVICE_FOR_CHARACTER.get(text[at], "leave it out, or put text in double quotes")
    return CellError(text, at, f"{text[at]!r} means nothing in a test", advice)


_ESCAPE: Final = re.compile(
    r"\\(?: u[dD][89abAB][0-9a-fA-F]{2} \\u[dD][c-fC-F][0-9a-fA-F]{2}"
    r"| u[0-9a-fA-F]{4} | U[0-9a-fA-F]{6} | . )",
    re.VERBOSE,
)
_SHORT_ESCAPES: Final = {"n": "\n", "r": "\r", "t": "\t", '"': '"', "'": "'", "\\": "\\"}
_LAST_CODE_POINT: Final = 0x10FFFF


def unescaped(text: str, token: CellToken) -> str:
    """Replace the escapes in a string token by their characters; raises CellError.

    A pair of surrogates counts as the one character that it encodes.
    """

    def character(found: re.Match[str]) -> str:
        escape = found.group()[1:]
        if escape in _SHORT_ESCAPES:
            return _SHORT_ESCAPES[escape]
        codes = [int(code, 16) for code in re.findall(r"[uU]([0-9a-fA-F]{4,6})", found.group())]
        if len(codes) == 2:  # noqa: PLR2004 - a pair of surrogates
            return chr(0x10000 + ((codes[0] & 0x3FF) << 10) + (codes[1] & 0x3FF))
        if codes and codes[0] <= _LAST_CODE_POINT and codes[0] not in range(0xD800, 0xE000):
            return chr(codes[0])
        raise CellError(
            text,
            token.offset + 1 + found.start(),
            f"{found.group()} is no character",
            r'after \ write one of \ " n r t, uXXXX or UXXXXXX',
        )

    return _ESCAPE.sub(character, token.text[1:-1])
