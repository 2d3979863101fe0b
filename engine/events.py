"""What can happen: a strict union of events, told apart by `kind`.

Events state how things are, so hearing one twice changes nothing. Unknown fields, wrong
types, NaN and absurd values are refused here, before anything else sees them; names that
the room does not know are refused by `engine.handlers`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Annotated, ClassVar, Final, Literal, cast, get_args

from pydantic import (
    AwareDatetime,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    TypeAdapter,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError

from engine.aspect import NARROWEST, SCALE, WIDEST, meant

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
STRICT: Final = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)


def milliseconds(moment: datetime) -> int:
    """Turn an aware moment into milliseconds UTC since 1970."""
    return (moment - EPOCH) // timedelta(milliseconds=1)


def moment_of(now: int) -> datetime:
    """Turn milliseconds UTC since 1970 into an aware moment."""
    return EPOCH + timedelta(milliseconds=now)


def _scaled(value: object) -> object:
    """Read a plain number as 1/10,000."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not 1 <= cast("float", value) <= WIDEST / SCALE:  # NaN fails this too
        raise PydanticCustomError("ratio", "A ratio is a plain number from 1 to 4, such as 2.39")
    return meant(round(cast("float", value) * SCALE))


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
    int,
    Field(ge=NARROWEST, le=WIDEST),
    BeforeValidator(_scaled),
    PlainSerializer(lambda ratio: ratio / SCALE, return_type=float),
    WithJsonSchema({"type": "number", "minimum": 1.0, "maximum": 4.0, "examples": [2.39]}),
]
"""An aspect ratio: a plain number from 1 to 4 outside, 1/10,000 inside."""

PRINTABLE: Final = r"^[^\x00-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]*$"
"""Text without control characters: it will be shown on terminals."""
Name = Annotated[str, Field(min_length=1, max_length=64, pattern=PRINTABLE)]
Pixels = Annotated[int, Field(ge=1, le=16_384)]
Count = Annotated[int, Field(ge=0, le=16_384)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Heard:
    """What every event may carry."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    id: Annotated[str | None, Field(max_length=64, min_length=1, pattern=PRINTABLE)] = None
    """With an id an event takes effect once; without, hearing it again is harmless."""
    at: Moment | None = None
    """When it was so (RFC 3339, with a zone); what is older than something newer is stale."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceChosen(_Heard):
    """This source is the one that is shown."""

    kind: Literal["source"] = "source"
    source: Name


@dataclass(frozen=True, slots=True, kw_only=True)
class Playback(_Heard):
    """What the source's player is doing; `source` names the one meant."""

    kind: Literal["playback"] = "playback"
    state: Literal["playing", "paused", "stopped", "unknown"]
    source: Name | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Title(_Heard):
    """A film, episode or match has begun or ended."""

    kind: Literal["title"] = "title"
    begun: bool
    declared: Ratio | None = None
    name: Annotated[str | None, Field(max_length=200, pattern=PRINTABLE)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal(_Heard):
    """The picture signal is locked or lost, and what it carries."""

    kind: Literal["signal"] = "signal"
    locked: bool
    columns: Pixels | None = None
    rows: Pixels | None = None
    range: Literal["ordinary", "high"] | None = None
    stereo: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BarsSeen(_Heard):
    """A reading: so many black lines and columns within the coded raster."""

    kind: Literal["bars"] = "bars"
    top: Count
    bottom: Count
    left: Count
    right: Count
    columns: Pixels
    rows: Pixels


@dataclass(frozen=True, slots=True, kw_only=True)
class BlackSeen(_Heard):
    """A reading: nothing but black."""

    kind: Literal["black"] = "black"


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioSeen(_Heard):
    """A reading: a detector that gives the ratio itself."""

    kind: Literal["ratio"] = "ratio"
    ratio: Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class FormatCode(_Heard):
    """A reading: an active format code with its coded frame and, where given, bar data.

    Bar data are line or column numbers counted from 1: the last line of the top bar and
    the first of the bottom bar, or the last column of the left and the first of the right.
    """

    kind: Literal["format"] = "format"
    code: Annotated[int, Field(ge=0, le=15)]
    frame: Literal["4:3", "16:9"]
    columns: Pixels | None = None
    rows: Pixels | None = None
    top_ends: Count | None = None
    bottom_starts: Count | None = None
    left_ends: Count | None = None
    right_starts: Count | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LensReport(_Heard):
    """The lens rests at a stored preset, or moves towards one; null: at none of them."""

    kind: Literal["lens"] = "lens"
    moving: bool
    preset: Name | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelReport(_Heard):
    """The masking panels stand in this arrangement; null: nobody knows."""

    kind: Literal["panels"] = "panels"
    panels: Name | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer(_Heard):
    """A person answers a prompt: on the way to the screen, done, or no."""

    kind: Literal["answer"] = "answer"
    prompt: Annotated[int, Field(ge=1)]
    answer: Literal["ready", "done", "no"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HandLook:
    """What a person wants to see; what is left out stays as it stands."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    picture: Name | None = None
    preset: Name | None = None
    panels: Name | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand(_Heard):
    """A person takes over, or gives back. `source` names what they were looking at."""

    kind: Literal["hand"] = "hand"
    taken: bool
    until: Literal["title", "session"] | Moment = "session"
    look: HandLook | None = None
    source: Name | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldFact(_Heard):
    """Somebody says how a declared fact stands; null: no longer known."""

    kind: Literal["told"] = "told"
    fact: Name
    value: bool | int | Annotated[str, Field(max_length=64, pattern=PRINTABLE)] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome(_Heard):
    """What became of an order."""

    kind: Literal["outcome"] = "outcome"
    order: Annotated[int, Field(ge=1)]
    outcome: Literal["done", "refused", "no answer"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProjectorReport(_Heard):
    """Whether the projector gives light."""

    kind: Literal["projector"] = "projector"
    state: Literal["off", "warming", "lit", "cooling"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Service(_Heard):
    """A technician is at work, or has finished: no orders meanwhile."""

    kind: Literal["service"] = "service"
    begun: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeOfDay(_Heard):
    """The room's local time, in minutes after midnight."""

    kind: Literal["time"] = "time"
    minute: Annotated[int, Field(ge=0, le=1_439)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark(_Heard):
    """One tap that says "that was wrong", kept for the technician."""

    kind: Literal["mark"] = "mark"
    words: Annotated[str, Field(max_length=500, pattern=PRINTABLE)] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed(_Heard):
    """roomcue itself is back after a stop: what moved meanwhile is not known.

    `minute` is the room's local time in minutes after midnight, where its clock is known.
    """

    kind: Literal["resumed"] = "resumed"
    minute: Annotated[int, Field(ge=0, le=1_439)] | None = None


Reading = BarsSeen | BlackSeen | RatioSeen | FormatCode
Event = (
    SourceChosen
    | Playback
    | Title
    | Signal
    | BarsSeen
    | BlackSeen
    | RatioSeen
    | FormatCode
    | LensReport
    | PanelReport
    | Answer
    | Hand
    | ToldFact
    | Outcome
    | ProjectorReport
    | Service
    | TimeOfDay
    | Mark
    | Resumed
)
AnyEvent = Annotated[Event, Field(discriminator="kind")]
WHEN_NEEDED: Final = ConfigDict(defer_build=True)
"""What reads and writes is made when it is first used: a start waits for none that it leaves."""
EVENTS: Final[TypeAdapter[Event]] = TypeAdapter(AnyEvent, config=WHEN_NEEDED)
"""Reads one event from JSON bytes or plain data, strictly."""


KINDS: Final[dict[str, type[Event]]] = {
    str(event.__dataclass_fields__["kind"].default): event for event in get_args(Event)
}


@cache
def adapter_of(kind: str) -> TypeAdapter[Event]:
    """Give what reads and writes the events of one kind, in which `kind` may be left out."""
    return cast("TypeAdapter[Event]", TypeAdapter(KINDS[kind]))


def event_json(event: Event) -> bytes:
    """Write an event as JSON on one line, its kind first and what it leaves out left out."""
    body = adapter_of(event.kind).dump_json(event, exclude_defaults=True)
    separator = b"," if body != b"{}" else b""
    return b'{"kind":"%s"%s%s' % (event.kind.encode(), separator, body[1:])
