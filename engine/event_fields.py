"""The fields of events: names, numbers and moments, each with what it may be."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Annotated, Final, cast

from pydantic import AwareDatetime, BeforeValidator, Field, WithJsonSchema
from pydantic_core import PydanticCustomError

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


_RFC_3339: Final = re.compile(
    r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d:\d\d(?:\.\d+)?(?:[Zz]|[+-]\d\d:\d\d)", re.ASCII
)


def _as_written(value: object) -> object:
    """Let nothing but RFC 3339 be read as a moment: bare digits and missing seconds are slips."""
    written = isinstance(value, str) and _RFC_3339.fullmatch(value)
    if not (written or isinstance(value, datetime)):
        raise PydanticCustomError(
            "moment", "A moment is written as in RFC 3339, such as 2026-11-20T20:00:00+01:00"
        )
    return value


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
Pixels = Annotated[int, Field(ge=1, le=16_384)]
Count = Annotated[int, Field(ge=0, le=16_384)]
