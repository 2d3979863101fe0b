"""The fields of events: names, numbers and moments, each with what it may be."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Annotated, Final, NamedTuple, cast

from pydantic import (
    AwareDatetime,
    BeforeValidator,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    WithJsonSchema,
)
from pydantic_core import CoreSchema, PydanticCustomError, PydanticKnownError, core_schema

from engine.aspect import HIGHEST_LIFT, SCALE, WIDEST, meant


def _plain_ratio(value: object) -> float:
    """Check a plain number such as 2.39, and round it to the engine's steps of 1/10,000."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not 1 <= cast("float", value) <= WIDEST / SCALE:  # NaN fails this too
        raise PydanticCustomError("ratio", "A ratio is a plain number from 1 to 4, such as 2.39")
    return meant(round(cast("float", value) * SCALE)) / SCALE


def _plain_share(value: object) -> float:
    """Check a plain number such as 0.11, and round it to the engine's steps of 1/10,000."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not 0 <= cast("float", value) <= HIGHEST_LIFT / SCALE:  # NaN fails this too
        raise PydanticCustomError(
            "lift", "A lift is a plain number from 0 to 0.5, a share of the screen's height"
        )
    return round(cast("float", value) * SCALE) / SCALE


class Whole(NamedTuple):
    """A whole number in a range, for an annotation: `Annotated[int, Whole(0, 15)]`.

    JSON Schema counts 138.0 as an integer, so it is one here too. Only what is no plain integer
    is looked at once more, because readings are many and hardly any is written so.
    """

    least: int | None = None
    most: int | None = None

    def _from_float(self, value: object) -> int:
        if type(value) is not float or not value.is_integer():
            raise PydanticKnownError("int_type")
        if self.least is not None and value < self.least:
            raise PydanticKnownError("greater_than_equal", {"ge": self.least})
        if self.most is not None and value > self.most:
            raise PydanticKnownError("less_than_equal", {"le": self.most})
        return int(value)

    def __get_pydantic_core_schema__(self, _: object, __: GetCoreSchemaHandler) -> CoreSchema:
        """Tell pydantic how to check a value."""
        plain = core_schema.int_schema(ge=self.least, le=self.most)
        written = core_schema.no_info_plain_validator_function(self._from_float)
        return core_schema.union_schema([plain, written], mode="left_to_right")

    def __get_pydantic_json_schema__(
        self, _: CoreSchema, __: GetJsonSchemaHandler
    ) -> dict[str, object]:
        """Tell pydantic what a schema says of it."""
        bounds = {"minimum": self.least, "maximum": self.most}
        return {"type": "integer"} | {k: v for k, v in bounds.items() if v is not None}


_RFC_3339: Final = re.compile(
    r"(\d{4}-\d\d-\d\d[Tt ])(\d\d:\d\d):(\d\d)(?:\.\d+)?([Zz]|[+-](?:[01]\d|2[0-3]):[0-5]\d)",
    re.ASCII,
)
_LEAP: Final = "60"
"""The second that is put in, now and then, between 23:59:59 UTC and midnight."""


def _as_written(value: object) -> object:
    """Let nothing but RFC 3339 be read as a moment: bare digits and missing seconds are slips.

    A leap second has no place in milliseconds since 1970: it is the midnight that follows it.
    """
    if isinstance(value, datetime):
        return value
    written = _RFC_3339.fullmatch(value) if isinstance(value, str) else None
    if written is not None and written[3] != _LEAP:
        return _parsed(written[0])
    after = None if written is None else _after_leap_second(written)
    if after is None:
        raise PydanticCustomError(
            "moment", "A moment is written as in RFC 3339, such as 2026-11-20T20:00:00+01:00"
        )
    return after


def _parsed(written: str) -> datetime:
    """Parse what has the form of a moment, which may still be none: the 31st of November."""
    try:
        return datetime.fromisoformat(written.upper())
    except ValueError as error:
        raise PydanticCustomError(
            "moment", "There is no such moment: {why}", {"why": str(error)}
        ) from error


def _after_leap_second(written: re.Match[str]) -> datetime | None:
    """Give the midnight after a leap second; None where none can be."""
    day, minute, _, zone = written.groups()
    try:
        last = datetime.fromisoformat(f"{day}{minute}:59{zone}".upper())
        midnight = (last + timedelta(seconds=1)).astimezone(UTC)
    except (ValueError, OverflowError):
        return None
    return midnight if (midnight.hour, midnight.minute) == (0, 0) else None


Moment = Annotated[
    Annotated[AwareDatetime, Field(strict=False)],
    BeforeValidator(_as_written),
    WithJsonSchema({"type": "string", "format": "date-time"}),
]
"""A moment with its zone (RFC 3339)."""

Ratio = Annotated[
    float,
    BeforeValidator(_plain_ratio),
    WithJsonSchema({"type": "number", "minimum": 1.0, "maximum": 4.0, "examples": [2.39]}),
]
"""An aspect ratio, a plain number from 1 to 4; `engine.aspect.ratio_of` turns it into 1/10,000."""

Lift = Annotated[
    float,
    BeforeValidator(_plain_share),
    WithJsonSchema({"type": "number", "minimum": 0.0, "maximum": 0.5, "examples": [0.11]}),
]
"""How far a picture is raised: a share of the screen's height, a plain number from 0 to 0.5."""

PRINTABLE: Final = r"^[^\x00-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]*$"
"""Text without control characters: it will be shown on terminals."""
Name = Annotated[str, Field(min_length=1, max_length=64, pattern=PRINTABLE)]
Pixels = Annotated[int, Whole(1, 16_384)]
Count = Annotated[int, Whole(0, 16_384)]
Minute = Annotated[int, Whole(0, 1_439)]
"""A time of day in minutes after midnight."""
Serial = Annotated[int, Whole(1)]
"""The number of an order or a prompt."""
FourBits = Annotated[int, Whole(0, 15)]
