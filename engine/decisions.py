"""What the engine answers: orders to the hardware, prompts to people, notes for both.

Every decision says when, by which rule, on which facts and why. Orders and prompts carry
a number that is never used again in the room's life and the moment at which they end.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Final, Literal, TypedDict

from pydantic import ConfigDict, Field, TypeAdapter
from pydantic_core import to_json

from engine.events import STRICT, WHEN_NEEDED

FactValue = bool | int | float | str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Decided:
    """What every decision says of itself."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    at: int
    """Milliseconds UTC since 1970."""
    rule: str
    """The row that asked for it, or the engine's own principle."""
    code: str
    """Which sentence of the catalogue `reason` is: a `ReasonCode`; a note has codes of its own."""
    reason: str
    """Why, for people, in the room's language."""
    facts: dict[str, FactValue]


class DecisionHead(TypedDict):
    """The fields of `_Decided`, to make a decision with: `Withdrawn(**head, order=12)`."""

    at: int
    rule: str
    code: str
    reason: str
    facts: dict[str, FactValue]


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """A rectangle of the raster in whole pixels from its top left."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureOrder(_Decided):
    """Show the picture so: this part of the raster is lit, all else is black."""

    kind: Literal["picture"] = "picture"
    id: int
    ends: int
    picture: str
    aspect: float
    """The shape of the source's picture that shall fill the region."""
    lift: float
    """How far it is raised, as a share of the screen's height."""
    region: Region


@dataclass(frozen=True, slots=True, kw_only=True)
class RecallOrder(_Decided):
    """Recall a stored zoom preset."""

    kind: Literal["recall"] = "recall"
    id: int
    ends: int
    preset: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CueOrder(_Decided):
    """Set one of the room file's cues."""

    kind: Literal["cue"] = "cue"
    id: int
    ends: int
    cue: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn(_Decided):
    """An open order is no longer wanted: whoever has not begun it shall not."""

    kind: Literal["withdrawn"] = "withdrawn"
    order: int


ReasonCode = Literal[
    "row",
    "all_away",
    "answered_done",
    "answered_late",
    "answered_no",
    "at_screen",
    "chosen_last",
    "inside_panels",
    "light_back",
    "menu",
    "newer_picture",
    "newer_setting",
    "no_light",
    "nobody_free",
    "not_answered",
    "not_tonight",
    "not_wanted",
    "panels_reported",
    "person_asked",
    "session_over",
    "technician",
]
"""Why something is decided: `row`, where the room file says it, or a reason of the engine's own."""
NoteCode = Literal[
    "contradicts",
    "cue_failed",
    "lens_elsewhere",
    "lens_lost",
    "look_at_lens",
    "many_travels",
    "marked",
    "nobody_free",
    "override_begun",
    "override_ended",
    "picture_failed",
    "recall_refused",
    "rules_circle",
    "rules_overlap",
    "title_remembered",
    "travel_repeated",
]
"""What a note may tell beside the holds, whose codes stand in `engine.holds`."""
OverrideStart = Literal["person", "lens_moved", "undo", "find_lens", "last_time"]
OverrideEnd = Literal["given_back", "time", "title", "session", "found", "not_found", "forgotten"]
PromptEnd = Literal["done", "declined", "withdrawn", "expired"]
Stage = Literal["asked", "reminded", "at the screen", "light comes back"]
ScreenLight = Literal["dark", "told", "lit"]
"""What is known of the picture while somebody is at the screen: `told` is told to go dark."""
CautionCode = Literal[
    "beam",
    "done_or_no",
    "done_when_away",
    "light_returns",
    "no_if_busy",
    "ready_first",
    "room_light",
    "two_people",
]
"""What whoever fits panels is to take care of."""
_BEFORE: Final = ("ready_first", "room_light", "no_if_busy")
CAUTIONS: Final[dict[Stage, tuple[CautionCode, ...]]] = {
    "asked": _BEFORE,
    "reminded": _BEFORE,
    "at the screen": ("beam", "two_people", "done_when_away"),
    "light comes back": ("done_or_no", "light_returns"),
}
"""What each stage of a prompt says about safety; rules/README.md says it in full."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prompt(_Decided):
    """Ask a person to fit or take off masking panels."""

    kind: Literal["prompt"] = "prompt"
    id: int
    ends: int
    stage: Stage
    panels: str
    light: ScreenLight
    words: str
    """What is asked for, in the room's language; stage, panels and light say it to programs."""
    cautions: dict[CautionCode, str]
    """What to take care of: a sentence for each code, in the order in which to say them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PromptOver(_Decided):
    """A prompt has ended."""

    kind: Literal["prompt over"] = "prompt over"
    prompt: int
    how: PromptEnd


@dataclass(frozen=True, slots=True, kw_only=True)
class Note(_Decided):
    """Something worth knowing that moves nothing."""

    kind: Literal["note"] = "note"
    parameters: dict[str, str | int]
    """What the note is about, by name; its sentence may tell less."""


Order = PictureOrder | RecallOrder | CueOrder
Decision = PictureOrder | RecallOrder | CueOrder | Withdrawn | Prompt | PromptOver | Note
AnyDecision = Annotated[Decision, Field(discriminator="kind")]
DECISIONS: Final[TypeAdapter[Decision]] = TypeAdapter(AnyDecision, config=WHEN_NEEDED)
"""Reads and writes one decision as JSON."""


def decision_json(decision: Decision) -> bytes:
    """Write a decision as JSON on one line; raises TypeError for what is none."""
    if not isinstance(decision, _Decided):
        raise TypeError(f"decision_json takes a decision, not {type(decision).__name__}")
    return to_json(decision)  # as DECISIONS would, in less than half the time
