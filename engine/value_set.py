"""Sets of values, as plain data: what one cell of a rule table accepts.

A value is null, a boolean, a string or an exact number. The four never mix: True is not 1, and
"5" is not 5. A `ValueSet` says for each of the four which values belong to it. It holds no floats,
so two sets of the same values are equal as data, and every question has an exact answer.

Numbers are described by cuts. A `Cut` lies just before or just after a number. Going up the number
line, each cut leads into the set or out of it, in turn. [1..2) is a cut before 1 and a cut before
2; the single number 5 lies between the cut before it and the cut after it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from operator import and_, or_
from typing import Final, NamedTuple, TypeAlias

Number: TypeAlias = int | Fraction | Decimal
"""An exact number. Sets keep it as an int, or as a Fraction where it is not whole."""
Value: TypeAlias = bool | int | Fraction | Decimal | str | None


class Kind(Enum):
    """How a column's values are written in a room file, and what its numbers mean in the engine."""

    ANY = "any"
    """Values of every kind, numbers as they are: for tables that are no room file's."""
    NAME = "name"
    """One word of a closed list."""
    TRUTH = "yes or no"
    RATIO = "ratio"
    """An aspect ratio: 2.39 in the file, 23900 (1/10,000) in the engine."""
    MINUTE = "time of day"
    """A local time: 22:00 in the file, 1320 (minutes from 0 to 1439) in the engine."""
    SHARE = "share"
    """A share: 5 % in the file, 500 (1/10,000) in the engine."""
    NUMBER = "number"
    """A plain number."""


class Cut(NamedTuple):
    """A place between numbers: just before `value`, or just after it."""

    value: Number
    after: bool


class ValueSet(NamedTuple):
    """The values that a cell accepts.

    Make one with the functions below: they keep sets of the same values equal.
    """

    null: bool = False
    true: bool = False
    false: bool = False
    strings: tuple[str, ...] = ()
    """The strings accepted, sorted. With `other_strings`, the only strings that are not."""
    other_strings: bool = False
    cuts: tuple[Cut, ...] = ()
    """Where the accepted numbers begin and end, in turn, in rising order."""
    below: bool = False
    """Whether the numbers below the first cut are accepted."""

    def accepts(self, value: Value) -> bool:
        """Tell whether a value belongs to the set.

        Raises TypeError for a float and ValueError for a number that is not finite: handing these
        in is a mistake of the program.
        """
        if value is None:
            return self.null
        if isinstance(value, bool):
            return self.true if value else self.false
        if isinstance(value, str):
            return (value in self.strings) != self.other_strings
        return self.beyond(place_of(value))

    def beyond(self, cut: Cut) -> bool:
        """Tell whether the numbers from this cut on belong, up to the set's next cut."""
        return self.below != bool(cuts_passed(self.cuts, cut) % 2)


NOTHING: Final = ValueSet()
NULL: Final = ValueSet(null=True)
BOOLEANS: Final = ValueSet(true=True, false=True)
STRINGS: Final = ValueSet(other_strings=True)
NUMBERS: Final = ValueSet(below=True)
SOMETHING: Final = ValueSet(true=True, false=True, other_strings=True, below=True)
"""Every value but null."""
ANYTHING: Final = SOMETHING._replace(null=True)
"""What `-` accepts."""


def place_of(number: Number) -> Cut:
    """Say where a number stands among the cuts. Raises like `ValueSet.accepts`."""
    return Cut(_number(number), after=False)


def cuts_passed(cuts: Sequence[Cut], place: Cut) -> int:
    """Count the cuts at or below a place."""
    return bisect_right(cuts, place)


def exact(number: Number) -> int | Fraction:
    """Give a number the form that sets keep. Raises like `ValueSet.accepts`."""
    fraction = Fraction(_number(number))
    return fraction.numerator if fraction.denominator == 1 else fraction


def equal_to(value: Value) -> ValueSet:
    """Accept one value and nothing else."""
    if value is None:
        return NULL
    if isinstance(value, bool):
        return ValueSet(true=value, false=not value)
    if isinstance(value, str):
        return ValueSet(strings=(value,))
    return interval(value, value)


def interval(
    low: Number | None, high: Number | None, *, low_open: bool = False, high_open: bool = False
) -> ValueSet:
    """Accept the numbers from `low` to `high`, None being no end; none if `low` is above `high`."""
    start = None if low is None else Cut(exact(low), low_open)
    end = None if high is None else Cut(exact(high), not high_open)
    if start is not None and end is not None and start >= end:
        return NOTHING
    return ValueSet(below=start is None, cuts=tuple(cut for cut in (start, end) if cut is not None))


def union(*sets: ValueSet) -> ValueSet:
    """Accept what at least one of the sets accepts."""
    rest = list(sets) or [NOTHING]
    while len(rest) > 1:  # In pairs, so that a long list costs little.
        unpaired = rest[-1:] if len(rest) % 2 else []
        pairs = zip(rest[::2], rest[1::2], strict=False)
        rest = [_combined(one, other, or_) for one, other in pairs] + unpaired
    return rest[0]


def intersection(one: ValueSet, other: ValueSet) -> ValueSet:
    """Accept what both sets accept."""
    return _combined(one, other, and_)


def difference(one: ValueSet, other: ValueSet) -> ValueSet:
    """Accept what the first set accepts and the second does not."""
    return _combined(one, other, lambda first, second: first and not second)


def meets(one: ValueSet, other: ValueSet) -> bool:
    """Tell whether some value belongs to both sets."""
    return intersection(one, other) != NOTHING


def intervals(values: ValueSet) -> Iterator[tuple[Cut | None, Cut | None]]:
    """List the accepted numbers as intervals, each from cut to cut; None is no end."""
    edges: list[Cut | None] = [None, *values.cuts] if values.below else [*values.cuts]
    if len(edges) % 2:
        edges.append(None)
    yield from zip(edges[::2], edges[1::2], strict=True)


def show(values: ValueSet, kind: Kind = Kind.ANY) -> str:
    """Write a set as a unary test that reads back as the same set in a column of this kind.

    Two texts do not always read back. The empty set is written as an empty interval, which columns
    of names and of yes or no refuse. A number without a decimal form is written as a fraction, 1/3.
    """
    if values == ANYTHING:
        return "-"
    if values == SOMETHING:
        return "not(null)"
    parts = ["null"] if values.null else []
    parts += _string_tests(values)
    parts += [show_value(truth, kind) for truth in (True, False) if values.accepts(truth)]
    for start, end in intervals(values):
        parts += _number_tests(start, end, kind)
    return ", ".join(parts) or f"({show_value(0, kind)}..{show_value(0, kind)})"


def show_value(value: Value, kind: Kind = Kind.ANY) -> str:
    """Write one value as a column of this kind has it: null, "disc", yes, 2.39, 22:00, 5 %."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        words = ("yes", "no") if kind is Kind.TRUTH else ("true", "false")
        return words[0] if value else words[1]
    return _quoted(value) if isinstance(value, str) else _number_text(exact(value), kind)


def _number_text(number: int | Fraction, kind: Kind) -> str:
    if kind is Kind.RATIO:
        return _decimal(Fraction(number, 10_000), 2)
    if kind is Kind.SHARE:
        return _decimal(Fraction(number, 100)) + " %"
    if kind is Kind.MINUTE and isinstance(number, int) and number in range(24 * 60 + 1):
        return f"{number // 60:02}:{number % 60:02}"
    return _decimal(Fraction(number))


def _number(value: object) -> Number:
    if isinstance(value, bool) or not isinstance(value, int | Fraction | Decimal):
        raise TypeError(
            f"{value!r} is no value of a rule table: it takes None, bool, str and exact numbers "
            "(int, Fraction, Decimal), no floats"
        )
    if isinstance(value, Decimal) and not value.is_finite():
        raise ValueError(f"{value} is not a finite number")
    return value


def _combined(one: ValueSet, other: ValueSet, keep: Callable[[bool, bool], bool]) -> ValueSet:
    """Keep each value for which `keep` is true, given whether it is in the one and in the other."""
    rest = keep(one.other_strings, other.other_strings)
    inside = below = keep(one.below, other.below)
    cuts = []
    for cut in sorted({*one.cuts, *other.cuts}):
        if keep(one.beyond(cut), other.beyond(cut)) != inside:
            inside = not inside
            cuts.append(cut)
    return ValueSet(
        null=keep(one.null, other.null),
        true=keep(one.true, other.true),
        false=keep(one.false, other.false),
        strings=tuple(
            text
            for text in sorted({*one.strings, *other.strings})
            if keep(one.accepts(text), other.accepts(text)) != rest
        ),
        other_strings=rest,
        cuts=tuple(cuts),
        below=below,
    )


def _string_tests(values: ValueSet) -> list[str]:
    listed = [_quoted(text) for text in values.strings]
    if not values.other_strings:
        return listed
    return [f"not({', '.join(listed)})"] if listed else ['""', 'not("")']


def _number_tests(start: Cut | None, end: Cut | None, kind: Kind) -> list[str]:
    match start, end:
        case None, Cut(high, after):
            return [f"{'<=' if after else '<'} {show_value(high, kind)}"]
        case Cut(low, after), None:
            return [f"{'>' if after else '>='} {show_value(low, kind)}"]
        case Cut(low, low_open), Cut(high, high_closed) if low == high:
            return [show_value(low, kind)]
        case Cut(low, low_open), Cut(high, high_closed):
            ends = f"{show_value(low, kind)}..{show_value(high, kind)}"
            return [f"{'(' if low_open else '['}{ends}{']' if high_closed else ')'}"]
    zero = show_value(0, kind)
    return [f"< {zero}", f">= {zero}"]


def _decimal(number: Fraction, places: int = 0) -> str:
    """Write a number in full, with at least so many decimal places."""
    while 10**places % number.denominator:
        if places > number.denominator.bit_length():
            return str(number)  # It has no decimal form: no power of ten is a multiple.
        places += 1
    digits = str(abs(number.numerator) * 10**places // number.denominator).rjust(places + 1, "0")
    whole, part = (digits[:-places], digits[-places:]) if places else (digits, "")
    return f"{'-' if number < 0 else ''}{whole}{'.' if part else ''}{part}"


_LAST_SHORT_ESCAPE: Final = 0xFFFF
_ESCAPES: Final = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}


def _quoted(text: str) -> str:
    return f'"{"".join(_ESCAPES.get(character) or _shown(character) for character in text)}"'


def _shown(character: str) -> str:
    if character.isprintable():
        return character
    code = ord(character)
    return f"\\u{code:04X}" if code <= _LAST_SHORT_ESCAPE else f"\\U{code:06X}"
