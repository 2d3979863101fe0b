"""Models of the messages that are no decisions: questions, refusals, how things stand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar, Final, Literal, get_args
from typing import get_type_hints as hints_of

from pydantic import AwareDatetime, ConfigDict, Field, WithJsonSchema

from adapters.live.announcements import OwnFaultCode
from adapters.live.messages import ASKED_OF_HUB, PEOPLES_TOPICS
from adapters.live.standing import ON_THE_WAY
from engine.decisions import Region, Stage
from engine.events import STRICT, Event, LightRange, Playback, ProjectorReport
from engine.holds import HoldCode
from engine.refusal import RefusalCode
from engine.transition_table import MACHINES
from engine.upcoming import NextCode


def _words_of(event: type[Event], name: str, *more: str) -> WithJsonSchema:
    """Allow the words that a field of an event may hold, and `more`."""
    return WithJsonSchema({"enum": [*get_args(hints_of(event)[name]), *more]})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Model:
    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    at: AwareDatetime


@dataclass(frozen=True, slots=True, kw_only=True)
class NothingAsked(_Model):
    """Nobody is asked anything any more: what `ask` has retained is over.

    It is retained for a second, and so leaves nothing behind.
    """

    kind: Literal["nothing asked"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question(_Model):
    """Messages may have been lost, or the source changed: the hub shall tell how this stands.

    Of readings and titles it tells those of the source that is shown. What is older than the source
    is told with the source's `at`, or without one; else it is refused as stale.
    """

    kind: Literal["question"]
    about: tuple[Annotated[str, WithJsonSchema({"enum": [*ASKED_OF_HUB]})], ...]
    otherwise: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal(_Model):
    """Something was not taken: `words` say so to people, in the room's language.

    `details` say what is wrong and what would be right, for whoever sent it. `id` is the event's
    own; null if it had none, or none that could be read.
    """

    kind: Literal["refused"]
    code: Annotated[str, WithJsonSchema({"enum": [*get_args(RefusalCode)]})]
    topic: str
    id: str | None
    words: str
    details: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LensDue(_Model):
    """A preset has crept so far that it is to be looked at: something to tell the owner."""

    kind: Literal["wear"]
    preset: str
    code: Annotated[str, WithJsonSchema({"enum": ["look_at_lens"]})]
    words: str
    """For the owner, in the room's language."""
    details: str
    """For a technician: what the forecast says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomFileTaken(_Model):
    """The room file that came on `in/room` is in force."""

    kind: Literal["taken"]
    words: str
    """For people, in the room's language."""
    details: str
    """For a technician: until when."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ComesNext:
    """Something that comes next: `at` is when, or when it ends if it has begun.

    `number` is the order or the prompt that it is.
    """

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    code: Annotated[str, WithJsonSchema({"enum": [*get_args(NextCode)]})]
    words: str
    at: AwareDatetime | None
    number: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplyToPerson(_Model):
    """What came of a person's word, whose kind is `to`: whether it is taken, why, and what next.

    `code` is stable: a refusal's, a hold's, a reason's, or `row` for the room file's own words.
    `hold` is what keeps back a part of what was asked for, and `help` what would help.
    """

    kind: Literal["reply"]
    to: Annotated[str, WithJsonSchema({"enum": sorted(PEOPLES_TOPICS)})]
    event: str | None
    who: str | None
    taken: bool
    code: str
    words: str
    hold: Annotated[str, WithJsonSchema({"enum": [*get_args(HoldCode)]})] | None
    help: str | None
    next: tuple[ComesNext, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPrompt:
    """A prompt that waits for a person, as somebody who comes late needs it.

    `who` is whose it is, once they have said `ready`; `choices` are the answers, each with its
    label.
    """

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    id: int
    panels: str
    stage: Annotated[str, WithJsonSchema({"enum": [*get_args(Stage), ON_THE_WAY]})]
    ends: AwareDatetime
    ends_in: float
    """Seconds left up to `ends` at the moment `at`."""
    at_screen: bool
    who: str | None
    words: str
    cautions: dict[str, str]
    choices: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class SignalKnown:
    """What the signal was last said to carry; it counts as locked until somebody says otherwise."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    locked: bool
    columns: int | None
    rows: int | None
    range: LightRange | None
    three_d: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LookNamed:
    """A look, as far as it is named; null stays as it stands."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    picture: str | None
    lift: float | None
    preset: str | None
    panels: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenLast:
    """What somebody chose for a title: a look, cues, or both.

    A look that names nothing leaves everything as it stands; null: the rules keep the picture.
    """

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    look: LookNamed | None
    cues: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class TitleRemembered:
    """What is remembered of one title or series; its `name` is what `in/forget` takes.

    `shape` is the shape that stood longest; null: none has stood for long enough.
    """

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    name: str
    shape: float | None
    last_choice: ChosenLast | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LookOffered:
    """Something to choose: by `name`, in an override's look.

    Where it cannot be had now, `hold` and `why` say what keeps it back, and `help` what would help.
    """

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    name: str
    hold: Annotated[str, WithJsonSchema({"enum": [*get_args(HoldCode)]})] | None
    why: str | None
    help: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LooksOffered:
    """What a person may choose of each part, each held against how things stand now."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    picture: tuple[LookOffered, ...]
    preset: tuple[LookOffered, ...]
    panels: tuple[LookOffered, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentTitle:
    """The title that is on, with its own shape and by what that is known.

    `remembered_as` is the name of what is remembered of it, for `in/forget`; null: nothing is.
    `last_choice` is what somebody chose up to its end, and stands again whenever it begins.
    """

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    name: str | None
    shape: float | None
    known_by: Literal["declared", "remembered", "seen"] | None
    remembered_as: str | None
    last_choice: ChosenLast | None
    varies: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PartKnown:
    """What is known of one part: what is reported to stand, what is only ordered, what failed."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    stands: str | None
    ordered: str | None
    failed: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsKnown:
    """What is known of each part of the look."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    picture: PartKnown
    preset: PartKnown
    panels: PartKnown
    cues: dict[str, PartKnown]


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """One sentence for people, with its code."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    code: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing(_Model):
    """How things stand as far as has been reported; null is what nobody knows.

    Before anybody says otherwise the signal counts as locked, service as over, and a told fact has
    its default.

    What is only ordered, or has failed, is told in `parts`. `why` says in one sentence why it
    stands so, `next` what moves next if nothing else is heard, `looks` what a person may choose,
    and `undo` what stood before the last thing that moved.
    """

    source: str | None
    playback: Annotated[str, _words_of(Playback, "state")]
    projector: Annotated[str, _words_of(ProjectorReport, "state", "unknown")]
    signal: SignalKnown
    title: CurrentTitle | None
    aspect: float | None
    """An unusual frame may be higher than wide, so that this is below 1."""
    shape: str
    picture: str | None
    lift: float | None
    region: Region | None
    """Where the picture lies in the raster, in pixels from its top left."""
    lens: Annotated[str, WithJsonSchema({"enum": [*MACHINES["lens"]]})]
    preset: str | None
    panels: str | None
    cues: dict[str, str]
    """The cues that are known to be set."""
    parts: PartsKnown
    override: Annotated[str, WithJsonSchema({"enum": [*MACHINES["override"]]})]
    override_until: str | None
    """A word, or a moment as RFC 3339."""
    override_ends_in: float | None
    """Seconds left up to that moment at the moment `at`."""
    override_look: LookNamed | None
    service: bool
    last_id: int
    """The highest id that an order or prompt has had, or the number before the first one."""
    told: dict[str, bool | int | str]
    prompt: OpenPrompt | None
    holds: tuple[str, ...]
    why: Why
    next: tuple[ComesNext, ...]
    wanted: LookNamed | None
    """The look that rules or a person want; what of it does not stand is ordered or held back."""
    looks: LooksOffered
    undo: LookNamed | None
    undo_words: str | None
    """What `undo` would do, in the room's language."""
    undo_since: AwareDatetime | None
    """When that moved which it would put back."""
    undo_by: Annotated[str, WithJsonSchema({"enum": [*MACHINES["override"]]})] | None
    """Whose doing that was."""
    undo_who: str | None
    """The same person, where they gave a name."""
    room_file: str
    """The hash (SHA-256) of the text of the room file that is in force."""
    remembered: tuple[TitleRemembered, ...] | None
    """All that is remembered of titles, the latest first; only for whoever asks on `in/state`."""
    room_text: str | None
    """The text of the room file that is in force; only for whoever asks on `in/state`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnFault:
    """Something that is wrong with roomcue itself: `words` say so to people.

    `details` say it to a technician.
    """

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    code: Annotated[str, WithJsonSchema({"enum": [*get_args(OwnFaultCode)]})]
    words: str
    details: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Alive(_Model):
    """roomcue is there; `metrics` is what it has counted, in the Prometheus text format.

    `proven` is false where somebody insisted on a room file that is not proven; it is said of the
    file in force, and `file_waits` while another one is being proven or waits until nobody is at
    the screen. `epoch` is what all ids of orders and prompts begin with: another one means that the
    journal is a new one. `run` tells one run of roomcue with a journal from the next, and only
    roomcue looks at it. It holds for `holds_for` seconds; whoever hears nothing newer by then
    knows that roomcue stands still. `faults` says what is wrong with roomcue itself, such as a full
    disk; while its journal cannot be written nothing is taken or ordered, and what was sent at
    QoS 1 waits in the broker.
    """

    alive: Literal[True]
    proven: bool
    file_waits: bool
    epoch: int
    run: int
    holds_for: Annotated[int, Field(ge=1)]
    faults: tuple[OwnFault, ...]
    since: AwareDatetime
    metrics: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Gone:
    """roomcue is not there: it said goodbye, or the broker says so in its place (last will).

    `epoch` and `run` are those of the roomcue that has gone.
    """

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    alive: Literal[False]
    epoch: int
    run: int


OTHERS: Final[Mapping[str, type]] = {
    "out.ask.question": Question,
    "out.ask.nothing_asked": NothingAsked,
    "out.reason.refused": Refusal,
    "out.reason.wear": LensDue,
    "out.reason.taken": RoomFileTaken,
    "out.reply": ReplyToPerson,
    "out.standing": Standing,
    "out.alive": Alive,
    "out.alive.gone": Gone,
}
"""These models by the names of their messages in the document."""
