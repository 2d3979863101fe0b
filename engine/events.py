"""What can happen: a strict union of events, told apart by `kind`.

An event states how something is, so hearing one twice changes nothing. Unknown fields, wrong types,
NaN and absurd values are refused here, whether the event is read from JSON or built in Python.
Names that the room does not know are refused later, by `engine.handlers`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import (
    Annotated,
    Any,
    ClassVar,
    Final,
    Literal,
    TypeVar,
    dataclass_transform,
    get_args,
)

from pydantic import (
    ConfigDict,
    Field,
    TypeAdapter,
    ValidationError,
)
from pydantic_core import ArgsKwargs

from engine.event_fields import (
    PRINTABLE,
    Count,
    FourBits,
    Lift,
    Minute,
    Moment,
    Name,
    Pixels,
    Ratio,
    Serial,
    Whole,
)
from engine.malformed import describe_mistakes, no_text
from engine.refusal import Refused

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
STRICT: Final = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)


def milliseconds(moment: datetime) -> int:
    """Turn an aware moment into milliseconds UTC since 1970."""
    return (moment - EPOCH) // timedelta(milliseconds=1)


def moment_of(now: int) -> datetime:
    """Turn milliseconds UTC since 1970 into an aware moment."""
    return EPOCH + timedelta(milliseconds=now)


PlaybackState = Literal["playing", "paused", "stopped", "unknown"]
ProjectorState = Literal["off", "warming", "lit", "cooling"]
LightRange = Literal["standard", "high"]
AnswerWord = Literal["ready", "done", "no", "not_tonight", "more_time", "all_away"]
OutcomeWord = Literal["done", "refused", "no answer"]


Checked = TypeVar("Checked", bound="_Checked")


class _Checked:
    """What is checked when it is built, in the words in which JSON would be refused."""

    __slots__ = ()
    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    def __init__(self, *unnamed: Any, **given: Any) -> None:  # noqa: ANN401 - fields of every type
        if unnamed:
            raise TypeError(_by_name(type(self)))
        validate = adapter_of(type(self)).validator.validate_python
        try:
            validate(ArgsKwargs((), given), self_instance=self)
        except ValidationError as error:
            raise Refused("malformed", describe_mistakes(error)) from None


def _by_name(made: type[_Checked]) -> str:
    """Say that the fields of an event are given by name, and show how."""
    own = [name for name in made.__annotations__ if name != "kind"]
    fields = ", ".join(f"{name}=..." for name in own)
    return f"{made.__name__} takes its fields by name: write {made.__name__}({fields})"


@dataclass_transform(frozen_default=True, kw_only_default=True)
def _checked(made: type[Checked]) -> type[Checked]:
    """Make a frozen dataclass that keeps the checking `__init__`; reading JSON goes round it."""
    return dataclass(frozen=True, slots=True, kw_only=True, init=False)(made)


_ADAPTERS: Final[dict[type[Any], TypeAdapter[Any]]] = {}


def adapter_of(made: type[Checked]) -> TypeAdapter[Checked]:
    """Give what checks, reads and writes one class of events, built when it is first needed.

    `kind` may be left out of what it reads.
    """
    if made not in _ADAPTERS:
        _ADAPTERS[made] = TypeAdapter(made)
    return _ADAPTERS[made]


@_checked
class _Heard(_Checked):
    """What every event may carry."""

    id: Annotated[str | None, Field(max_length=64, min_length=1, pattern=PRINTABLE)] = None
    """With an id an event takes effect once; without, hearing it again is harmless."""
    at: Moment | None = None
    """When it was so (RFC 3339, with a zone); what is older than something newer is stale."""


@_checked
class SourceChosen(_Heard):
    """This source is the one that is shown."""

    kind: Literal["source"] = "source"
    source: Name


@_checked
class Playback(_Heard):
    """What the source's player is doing; `source` names the one meant."""

    kind: Literal["playback"] = "playback"
    state: PlaybackState
    source: Name | None = None


@_checked
class Title(_Heard):
    """A film, episode or match has begun or ended."""

    kind: Literal["title"] = "title"
    begun: bool
    declared: Ratio | None = None
    name: Annotated[str | None, Field(max_length=200, pattern=PRINTABLE)] = None
    series: Annotated[str | None, Field(max_length=200, pattern=PRINTABLE)] = None
    """What it belongs to: its episodes are taken to have one shape."""


@_checked
class Signal(_Heard):
    """The picture signal is locked or lost, and what it carries."""

    kind: Literal["signal"] = "signal"
    locked: bool
    columns: Pixels | None = None
    rows: Pixels | None = None
    range: LightRange | None = None
    three_d: bool | None = None


@_checked
class BarsSeen(_Heard):
    """A reading: so many black lines and columns within the coded raster."""

    kind: Literal["bars"] = "bars"
    top: Count
    bottom: Count
    left: Count
    right: Count
    columns: Pixels
    rows: Pixels


@_checked
class BlackSeen(_Heard):
    """A reading: nothing but black."""

    kind: Literal["black"] = "black"


@_checked
class RatioSeen(_Heard):
    """A reading: a detector that gives the ratio itself."""

    kind: Literal["ratio"] = "ratio"
    ratio: Ratio


@_checked
class FormatCode(_Heard):
    """A reading: an active format code with its coded frame and, where given, bar data.

    Bar data are line or column numbers counted from 1: the last line of the top bar and
    the first of the bottom bar, or the last column of the left and the first of the right.
    """

    kind: Literal["format"] = "format"
    code: FourBits
    frame: Literal["4:3", "16:9"]
    columns: Pixels | None = None
    rows: Pixels | None = None
    top_ends: Count | None = None
    bottom_starts: Count | None = None
    left_ends: Count | None = None
    right_starts: Count | None = None


@_checked
class LensReport(_Heard):
    """The lens rests at a stored preset, or moves towards one; null: at none of them.

    `known` is false where nobody knows whether and where it rests: it then has no preset, and no
    travel is taken to have led there.
    """

    kind: Literal["lens"] = "lens"
    moving: bool
    preset: Name | None
    known: bool = True


@_checked
class PanelReport(_Heard):
    """The masking panels stand in this arrangement; null: nobody knows."""

    kind: Literal["panels"] = "panels"
    panels: Name | None


@_checked
class Answer(_Heard):
    """A person answers a prompt: `ready` (on the way to the screen), `done` or `no`.

    A `no` is for the title, `not_tonight` for the session. `more_time` puts the prompt's end off.
    Whoever says `ready` with their name (`who`) keeps the prompt: nobody else's `done` or `no`
    brings the light back on them. `all_away` is anybody's word that nobody is at the screen.
    """

    kind: Literal["answer"] = "answer"
    prompt: Serial
    answer: AnswerWord
    who: Name | None = None


@_checked
class OverrideLook(_Checked):
    """What a person wants to see; what is left out stays as it stands.

    `cues` are overridden by themselves: the rules go on ordering the others, and, in a look of
    nothing but cues, everything else.
    """

    picture: Name | None = None
    lift: Lift | None = None
    preset: Name | None = None
    panels: Name | None = None
    cues: dict[Name, Name] | None = field(default=None, hash=False)


@_checked
class Override(_Heard):
    """A person takes over, or gives back. `source` names what they were looking at.

    `who` says which person; it is kept in the record of the night.
    """

    kind: Literal["override"] = "override"
    taken: bool
    until: Literal["title", "session"] | Moment = "session"
    look: OverrideLook | None = None
    source: Name | None = None
    who: Name | None = None


@_checked
class Undo(_Heard):
    """A person takes back the last thing that moved: what stood before stands for this title."""

    kind: Literal["undo"] = "undo"
    who: Name | None = None


@_checked
class FindLens(_Heard):
    """A person wants a lens that stands at no preset brought back, to the one wanted or this one.

    The rules go on once it is there.
    """

    kind: Literal["find_lens"] = "find_lens"
    preset: Name | None = None
    who: Name | None = None


@_checked
class Forget(_Heard):
    """A person has forgotten what is remembered of a title or series; null: of all of them.

    `name` is what it is remembered by: the series, or else the title's own name.
    """

    kind: Literal["forget"] = "forget"
    name: Annotated[str, Field(max_length=200, pattern=PRINTABLE)] | None
    who: Name | None = None


@_checked
class Helper(_Heard):
    """Somebody is free to fit panels, whatever was said before; or nobody is, for the session."""

    kind: Literal["helper"] = "helper"
    free: bool
    who: Name | None = None


@_checked
class ToldFact(_Heard):
    """Somebody (`who`) says how a declared fact stands; null: no longer known."""

    kind: Literal["told"] = "told"
    fact: Name
    value: (
        bool
        | Annotated[int, Whole()]
        | Annotated[str, Field(max_length=64, pattern=PRINTABLE)]
        | None
    )
    who: Name | None = None


@_checked
class Outcome(_Heard):
    """What became of an order."""

    kind: Literal["outcome"] = "outcome"
    order: Serial
    outcome: OutcomeWord


@_checked
class ProjectorReport(_Heard):
    """Whether the projector gives light."""

    kind: Literal["projector"] = "projector"
    state: ProjectorState


@_checked
class Service(_Heard):
    """A technician is at work, or has finished: no orders meanwhile."""

    kind: Literal["service"] = "service"
    begun: bool


@_checked
class TimeOfDay(_Heard):
    """The room's local time, in minutes after midnight."""

    kind: Literal["time"] = "time"
    minute: Minute


@_checked
class Mark(_Heard):
    """One tap by which somebody (`who`) says "that was wrong", kept for the technician."""

    kind: Literal["mark"] = "mark"
    words: Annotated[str, Field(max_length=500, pattern=PRINTABLE)] = ""
    who: Name | None = None


@_checked
class Resumed(_Heard):
    """roomcue itself is back after a stop since `at`: what moved meanwhile is not known.

    `minute` is the room's local time in minutes after midnight, where its clock is known.
    `stalled`: it only stood still, and whatever was said meanwhile is still to be heard. `unsent`
    names what the orders were for that could not leave before their end: "picture", "recall", or
    "cue" with the cue's name; and "prompt" where nobody has warned whoever is at the screen yet.
    """

    kind: Literal["resumed"] = "resumed"
    minute: Minute | None = None
    stalled: bool = False
    unsent: tuple[Name, ...] = ()


Reading = BarsSeen | BlackSeen | RatioSeen | FormatCode
READINGS: Final = (BarsSeen, BlackSeen, RatioSeen, FormatCode)
"""The members of `Reading`: `isinstance` takes four times as long over a union."""
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
    | Override
    | Undo
    | FindLens
    | Forget
    | Helper
    | ToldFact
    | Outcome
    | ProjectorReport
    | Service
    | TimeOfDay
    | Mark
    | Resumed
)
EVENT_TYPES: Final[frozenset[type[Event]]] = frozenset(get_args(Event))
"""Every class of events: what is of none of them is no event."""
AnyEvent = Annotated[Event, Field(discriminator="kind")]
WHEN_NEEDED: Final = ConfigDict(defer_build=True)
"""Builds readers and writers when they are first used, so that a start does not wait for them."""
STRICT_WHEN_NEEDED: Final = ConfigDict(**STRICT, **WHEN_NEEDED)
EVENTS: Final[TypeAdapter[Event]] = TypeAdapter(AnyEvent, config=WHEN_NEEDED)
"""Reads one event from JSON bytes or plain data, strictly."""

KINDS: Final[dict[str, type[Event]]] = {
    str(event.__dataclass_fields__["kind"].default): event for event in get_args(Event)
}


def read_event(data: str | bytes) -> Event:
    """Read one event from JSON; raises `Refused` ("malformed"), or TypeError for no text at all."""
    if not isinstance(data, str | bytes | bytearray):
        raise no_text(data)
    try:
        return EVENTS.validate_json(data)
    except ValidationError as error:
        raise Refused("malformed", describe_mistakes(error, inside=1)) from None


def event_json(event: Event) -> bytes:
    """Write an event as JSON on one line, its kind first and what it leaves out left out."""
    if type(event) not in EVENT_TYPES:
        raise TypeError(f"event_json takes an event, not {type(event).__name__}")
    body = adapter_of(type(event)).serializer.to_json(event, exclude_defaults=True)
    separator = b"," if body != b"{}" else b""
    return b'{"kind":"%s"%s%s' % (event.kind.encode(), separator, body[1:])
