"""Quantities as people write them: text in, whole numbers of a small unit out.

| quantity | written | kept as |
|---|---|---|
| length | 3.4 m, 340 cm, 80 mm, 134 in, 11 ft 2 in | micrometres |
| time | 500 ms, 4 s, 20 min, 2 h, 1 min 30 s | milliseconds |
| share | 2 %, or a plain number from 0 to 1: 0.85 | 1/10,000 |
| ratio | 2.40, 16:9, 2.39:1 | 1/10,000 |
| throw | 1.35 to 2.70, or one ratio for a lens without zoom | 1/10,000, twice |
| raster | 4096 x 2160 | pixels, twice |
| count | 12 | itself |
| number | 2200, 0.85 | a float; only for light and gain, on which no decision depends |

The arithmetic is decimal and exact. What is finer than the small unit is rounded once, half to
even. A minus sign is allowed only where the quantity may be negative. Plus signs, exponents,
decimal commas and digits of other scripts are refused.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_EVEN, Decimal
from itertools import pairwise
from typing import TYPE_CHECKING, Final, NamedTuple

from rules.text.findings import listed, nearest

if TYPE_CHECKING:
    from collections.abc import Mapping

SCALE: Final = 10_000
"""Shares and ratios are whole numbers of 1/10,000."""
MOST_QUANTITY_CHARACTERS: Final = 60
"""A longer text is refused as a quantity."""

LENGTHS: Final[Mapping[str, int]] = {
    "m": 1_000_000,
    "cm": 10_000,
    "mm": 1_000,
    "ft": 304_800,
    "in": 25_400,
}
TIMES: Final[Mapping[str, int]] = {"h": 3_600_000, "min": 60_000, "s": 1_000, "ms": 1}

_IMPERIAL_UNITS: Final = frozenset({"ft", "in"})
_IMPERIAL: Final = re.compile(r"(?:ft|in)\b")
_OTHER_NAMES: Final[Mapping[str, str]] = {
    **dict.fromkeys(("metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("foot", "feet", "'", "\u2032", "\u2019"), "ft"),
    **dict.fromkeys(("inch", "inches", '"', "\u2033", "\u201d"), "in"),
    **dict.fromkeys(("hour", "hours", "hr", "hrs"), "h"),
    **dict.fromkeys(("minute", "minutes", "mins", "m"), "min"),
    **dict.fromkeys(("second", "seconds", "sec", "secs"), "s"),
    **dict.fromkeys(("millisecond", "milliseconds", "msec"), "ms"),
}

_NUMBER: Final = r"[0-9]+(?:\.[0-9]+)?"
_PLAIN_NUMBER: Final = re.compile(rf"-?{_NUMBER}")
_NUMBER_AND_UNIT: Final = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>[^\s0-9.]*)\s*")
PARTS_OF_AN_INCH: Final = "2|4|8|16|32|64"
"""By what a tape divides an inch, as alternatives of a pattern."""
_BY_ITSELF: Final = r"(?<![0-9.])(?<![0-9][ -])"
"""No fraction goes with a number that has a decimal point."""
_INCHES_IN_PARTS: Final = re.compile(
    rf"{_BY_ITSELF}(?:(?P<whole>[0-9]+)[ -]+)?(?P<top>[0-9]+)/(?P<below>{PARTS_OF_AN_INCH})"
    r"(?=\s*(?:in|[\"\u2033\u201d]))"
)
_FRACTION: Final = re.compile(
    rf"{_BY_ITSELF}(?:(?P<whole>[0-9]+)[ -]+)?(?P<top>[0-9]+)/(?P<below>[0-9]+)"
)
_RATIO_PAIR: Final = re.compile(rf"(?P<wide>{_NUMBER})\s*:\s*(?P<high>{_NUMBER})")
_RASTER: Final = re.compile(r"(?P<columns>[0-9]+)\s*[xX\u00d7]\s*(?P<rows>[0-9]+)")
_DECIMAL_COMMA: Final = re.compile(r"[0-9],[0-9]")
_NOT_FINITE: Final = re.compile(r"[-+]?\.?(?:nan|inf|infinity)\b", re.IGNORECASE)
_EXPONENT: Final = re.compile(r"[0-9][eE][-+]?[0-9]")


class QuantityError(ValueError):
    """A text that is not the expected quantity, or is out of range.

    `code` is the finding's code, `message` a sentence without its full stop, and `suggestion`
    says what to write instead.
    """

    def __init__(self, code: str, message: str, suggestion: str = "") -> None:
        super().__init__(f"{message}. {suggestion}".rstrip())
        self.code = code
        self.message = message
        self.suggestion = suggestion


class _Measure(NamedTuple):
    """A kind of quantity with units: its name, the size of each unit, and an example."""

    name: str
    units: Mapping[str, int]
    example: str


_LENGTH: Final = _Measure("length", LENGTHS, "3.4 m")
_TIME: Final = _Measure("time", TIMES, "4 s")


def read_length(text: str, least: int, most: int) -> int:
    """Read a length as micrometres; raises QuantityError outside `least` to `most`."""
    return _read_measure(text, _LENGTH, least, most)


def read_duration(text: str, least: int, most: int) -> int:
    """Read a time as milliseconds; raises QuantityError outside `least` to `most`."""
    return _read_measure(text, _TIME, least, most)


def read_share(text: str, least: int, most: int) -> int:
    """Read a share in 1/10,000: "2 %", or a number from 0 to 1 without a % sign.

    Raises QuantityError outside `least` to `most`, and for a number above 1 without a % sign.
    """
    body = _stripped(text, "share", "2 %")
    percent = body.endswith("%")
    number = _read_decimal(body.removesuffix("%").rstrip(), "share", "2 % or 0.02")
    if not percent and abs(number) > 1:
        raise QuantityError(
            "unit-missing",
            f"{body} is no share: without a % sign it goes from 0 to 1",
            f"Did you mean {body} %?",
        )
    value = _rounded(number * (SCALE // 100 if percent else SCALE))
    if least <= value <= most:
        return value
    hint = f" Did you mean {body} %?" if not percent and least <= value // 100 <= most else ""
    raise QuantityError(
        "out-of-range",
        f"{body} is out of range",
        f"Write {show_share(least)} to {show_share(most)}.{hint}",
    )


def read_ratio(text: str, least: int, most: int) -> int:
    """Read width over height as 1/10,000: "2.40", "16:9", "2.39:1"; raises QuantityError."""
    body = _stripped(text, "ratio", "2.40 or 16:9")
    pair = _RATIO_PAIR.fullmatch(body)
    if pair:
        wide, high = Decimal(pair["wide"]), Decimal(pair["high"])
        number = wide / high if high else Decimal(0)
    else:
        number = _read_decimal(body, "ratio", "2.40 or 16:9")
    value = _rounded(number * SCALE)
    if least <= value <= most:
        return value
    upside_down = number and least <= _rounded(SCALE / number) <= most
    raise QuantityError(
        "out-of-range",
        f"{body} is out of range",
        f"Write {show_ratio(least)} to {show_ratio(most)}."
        + (" A ratio is the width over the height." if upside_down else ""),
    )


def read_ratio_range(text: str, least: int, most: int) -> tuple[int, int]:
    """Read "1.35 to 2.70" as two rising ratios in 1/10,000; raises QuantityError.

    A single ratio counts as a range from itself to itself.
    """
    body = _stripped(text, "range of ratios", "1.35 to 2.70")
    low, joint, high = body.partition(" to ")
    if not joint and re.search(r"[0-9]\s*(?:-|\u2013|\.\.)\s*[0-9]", body):
        ends = re.split(r"\s*(?:-|\u2013|\.\.)\s*", body)
        raise QuantityError("bad-value", f"{body} is no range", f"Write {ends[0]} to {ends[-1]}.")
    first = read_ratio(low, least, most)
    second = read_ratio(high, least, most) if joint else first
    if first > second:
        raise QuantityError(
            "bad-value",
            f"{body} runs downwards",
            f"Write {high.strip()} to {low.strip()}. The first is the smaller, and both lie "
            f"within {show_ratio(least)} to {show_ratio(most)}.",
        )
    return first, second


def read_raster(text: str, least: tuple[int, int], most: tuple[int, int]) -> tuple[int, int]:
    """Read "4096 x 2160" as columns and rows; raises QuantityError outside `least` to `most`."""
    body = _stripped(text, "raster", "4096 x 2160")
    pair = _RASTER.fullmatch(body)
    if not pair:
        raise QuantityError(
            "bad-value", f"{body} is no raster", "Write columns x rows, such as 4096 x 2160."
        )
    size = int(pair["columns"]), int(pair["rows"])
    if size[0] < size[1] and least[0] <= size[1] <= most[0] and least[1] <= size[0] <= most[1]:
        raise QuantityError(
            "out-of-range",
            f"a raster of {body} is higher than wide",
            f"Columns come first: write {size[1]} x {size[0]}.",
        )
    if least[0] <= size[0] <= most[0] and least[1] <= size[1] <= most[1]:
        return size
    raise QuantityError(
        "out-of-range",
        f"a raster of {body} is out of range",
        f"Write {least[0]} x {least[1]} to {most[0]} x {most[1]}.",
    )


def read_count(text: str, least: int, most: int) -> int:
    """Read a whole number without a unit; raises QuantityError outside `least` to `most`."""
    body = _stripped(text, "count", str(least))
    if not re.fullmatch(r"-?[0-9]+", body):
        _refuse_near_numbers(body, "whole number")
        raise QuantityError(
            "bad-value", f"{body} is no whole number", f"Write {least} to {most}, without a unit."
        )
    if least <= int(body) <= most:
        return int(body)
    raise QuantityError("out-of-range", f"{body} is out of range", f"Write {least} to {most}.")


def read_number(text: str, least: float, most: float) -> float:
    """Read a plain number as a float; raises QuantityError outside `least` to `most`."""
    body = _stripped(text, "number", f"{least:g}")
    span = f"Write {least:.10g} to {most:.10g}"
    if not _PLAIN_NUMBER.fullmatch(body):
        _refuse_near_numbers(body, "number")
        raise QuantityError("bad-value", f"{body} is no number", f"{span}, without a unit.")
    value = float(body)
    if least <= value <= most:
        return value
    raise QuantityError("out-of-range", f"{body} is out of range", f"{span}.")


def read_measured_number(
    text: str, units: Mapping[str, float], least: float, most: float, example: str
) -> float:
    """Read a number with one of the units and multiply it by the unit's factor.

    Raises QuantityError for another unit, or outside `least` to `most` of the first unit.
    """
    body = _stripped(text, "quantity", example)
    unit = next((one for one in units if body.endswith(one)), None)
    if unit is None:
        raise QuantityError(
            "unit-missing",
            f"{body} has none of the units {listed(units)}",
            f"Write it like {example}.",
        )
    value = float(_read_decimal(body.removesuffix(unit).rstrip(), "number", example)) * units[unit]
    if least <= value <= most:
        return value
    first = next(iter(units))
    raise QuantityError(
        "out-of-range", f"{body} is out of range", f"Write {least:g} to {most:g} {first}."
    )


def show_length(micrometres: int, like: str = "") -> str:
    """Write a length (micrometres) exactly, in metres or millimetres: 3.4 m, 80 mm.

    Where what it is `like` has feet or inches, it is written in inches, to a tenth.
    """
    if _IMPERIAL.search(like):
        return f"{micrometres / LENGTHS['in']:.1f} in"
    unit = "m" if abs(micrometres) >= LENGTHS["m"] else "mm"
    return f"{_in_unit(micrometres, LENGTHS[unit])} {unit}"


def show_length_range(least: int, most: int, like: str) -> str:
    """Write a range of lengths within it, in inches where what it is `like` has feet or inches."""
    if not _IMPERIAL.search(like):
        return f"{show_length(least)} to {show_length(most)}"
    tenth = LENGTHS["in"] // 10
    return f"{-(-least // tenth) / 10:.10g} in to {most // tenth / 10:.10g} in"


def show_duration(milliseconds: int) -> str:
    """Write a time in the largest unit of which it is a whole number: 4 s, 500 ms, 20 min."""
    unit = next(unit for unit, size in TIMES.items() if milliseconds % size == 0)
    return f"{milliseconds // TIMES[unit]} {unit if milliseconds else 's'}"


def show_share(value: int) -> str:
    """Write a share (1/10,000) in per cent: 2 %."""
    return f"{_in_unit(value, SCALE // 100)} %"


def show_ratio(value: int) -> str:
    """Write a ratio (1/10,000) with two decimals, or with as many as it needs: 2.40."""
    short = f"{Decimal(value) / SCALE:.2f}"
    return short if Decimal(short) * SCALE == value else _in_unit(value, SCALE)


def _read_measure(text: str, measure: _Measure, least: int, most: int) -> int:
    body = _INCHES_IN_PARTS.sub(_in_decimals, _stripped(text, measure.name, measure.example))
    minus = body.startswith("-")
    parts = _numbers_with_units(body.removeprefix("-"), measure, body)
    exact = sum((size * measure.units[unit] for size, unit in parts), Decimal(0))
    value = _rounded(-exact if minus else exact)
    if least <= value <= most:
        return value
    span = f"{show_duration(least)} to {show_duration(most)}"
    raise QuantityError(
        "out-of-range",
        f"{body} is out of range",
        f"Write {show_length_range(least, most, body) if measure is _LENGTH else span}."
        + (_other_unit(parts, measure, least, most) if len(parts) == 1 and not minus else ""),
    )


def _with_point(body: str) -> str:
    """Write what has a fraction with a decimal point, to a hundredth; "" if that cannot be."""
    found = _FRACTION.search(body)
    if found is None or not int(found["below"]):
        return ""
    number = int(found["whole"] or 0) + Decimal(found["top"]) / int(found["below"])
    said = f"{number:.2f}".rstrip("0").removesuffix(".")
    return f": {body[: found.start()]}{said}{body[found.end() :]}"


def _in_decimals(inches: re.Match[str]) -> str:
    """Write inches as a tape shows them with a decimal point: 118 3/4 is 118.75."""
    top, below = int(inches["top"]), int(inches["below"])
    return f"{int(inches['whole'] or 0) + Decimal(top) / below}" if top < below else inches[0]


def _numbers_with_units(digits: str, measure: _Measure, body: str) -> list[tuple[Decimal, str]]:
    """Split "11 ft 2 in" into numbers with units; each unit must be smaller than the last."""
    parts: list[tuple[Decimal, str]] = []
    at = 0
    while at < len(digits):
        part = _NUMBER_AND_UNIT.match(digits, at)
        if not part:
            _refuse_near_numbers(body, measure.name)
            raise QuantityError(
                "bad-value", f"{body} is no {measure.name}", f"Write it like {measure.example}."
            )
        parts.append((Decimal(part["number"]), _unit(part["unit"], part["number"], measure, body)))
        at = part.end()
    sizes = [measure.units[unit] for _, unit in parts]
    if not parts or any(low >= high for high, low in pairwise(sizes)):
        raise QuantityError(
            "bad-value",
            f"{body} is no {measure.name}",
            f"Write one number and its unit, or several from the largest unit to the smallest, "
            f"such as {'11 ft 2 in' if measure is _LENGTH else '1 min 30 s'}.",
        )
    return parts


def _unit(unit: str, digits: str, measure: _Measure, body: str) -> str:
    if unit in measure.units:
        return unit
    _refuse_near_numbers(body, measure.name)
    if "/" in body and measure is _LENGTH:
        raise QuantityError(
            "bad-value",
            f"{body} has a fraction that is not read",
            f"Write a decimal point{_with_point(body)}. Inches may have halves to sixty-fourths, "
            "such as 118 3/4 in.",
        )
    if not unit:
        raise QuantityError(
            "unit-missing",
            f"{body} has no unit",
            f"A {measure.name} takes {listed(measure.units)}, such as {measure.example}.",
        )
    meant = _short_name(unit, measure)
    if meant not in measure.units:
        meant = nearest(unit, tuple(measure.units)) or ""
    whole = _in_known_units(body, measure) or f"{digits} {meant}"
    raise QuantityError(
        "unit-unknown",
        f"{'' if unit.isalpha() else 'the mark '}{unit} is no unit of {measure.name}",
        f"Write {whole}." if meant else f"The units are {listed(measure.units)}.",
    )


def _short_name(unit: str, measure: _Measure) -> str:
    """Give a unit's short name, if it has another one: m is a length, and else means minutes."""
    lower = unit.lower()
    return lower if lower in measure.units else _OTHER_NAMES.get(lower, lower)


def _in_known_units(body: str, measure: _Measure) -> str:
    """Write a quantity with its units' short names; "" where one of them is not known."""
    parts = [(part["number"], part["unit"]) for part in _NUMBER_AND_UNIT.finditer(body)]
    named = [(number, _short_name(unit, measure)) for number, unit in parts]
    if any(unit not in measure.units for _, unit in named):
        return ""
    return " ".join(f"{number} {unit}" for number, unit in named)


def _other_unit(parts: list[tuple[Decimal, str]], measure: _Measure, least: int, most: int) -> str:
    """Suggest the unit in which the same number would be in range, or "" if there is none."""
    digits, written = parts[0]
    kin = sorted(
        measure.units, key=lambda unit: (unit in _IMPERIAL_UNITS) != (written in _IMPERIAL_UNITS)
    )
    for unit in kin:
        if unit != written and least <= digits * measure.units[unit] <= most:
            return f" Did you mean {digits} {unit}?"
    return ""


def _stripped(text: str, name: str, example: str) -> str:
    body = text.strip()
    if not body:
        raise QuantityError("missing", f"a {name} is missing here", f"Write it like {example}.")
    if len(body) > MOST_QUANTITY_CHARACTERS:
        raise QuantityError("bad-value", f"this is no {name}", f"Write it like {example}.")
    return body


def _read_decimal(body: str, name: str, example: str) -> Decimal:
    if not _PLAIN_NUMBER.fullmatch(body):
        _refuse_near_numbers(body, name)
        raise QuantityError(
            "bad-value", f"{body or 'nothing'} is no {name}", f"Write it like {example}."
        )
    return Decimal(body)


def _refuse_near_numbers(body: str, name: str) -> None:
    """Raise QuantityError for what is nearly a number, with what was probably meant."""
    if _NOT_FINITE.match(body):
        raise QuantityError("not-finite", f"{body} is no {name}", "Write a finite number.")
    if _EXPONENT.search(body):
        raise QuantityError("bad-value", f"{body} has an exponent", "Write the number in full.")
    if _DECIMAL_COMMA.search(body):
        with_point = _DECIMAL_COMMA.sub(lambda hit: hit[0].replace(",", "."), body)
        raise QuantityError(
            "bad-value",
            f"{body} has a comma",
            f"Write a decimal point: {with_point}.",
        )
    if body.startswith("+"):
        raise QuantityError("bad-value", f"{body} has a sign", f"Write {body[1:].strip()}.")


def _rounded(value: Decimal) -> int:
    return int(value.to_integral_value(ROUND_HALF_EVEN))


def _in_unit(value: int, unit: int) -> str:
    """Write a whole number of small units in a larger unit, without trailing zeros."""
    text = f"{Decimal(value) / unit:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
