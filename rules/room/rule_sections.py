"""The sections about rules and promises."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Self

from pydantic import Field, model_validator

from engine.room import BUILT_IN_PROMISES
from rules.room.fields import FieldKind, field_fault, share_field, time_field
from rules.room.section import (
    Because,
    Case,
    Label,
    Part,
    Text,
    ValueText,
    field,
    option,
)
from rules.room.single_values import one_of


class ShowPart(Part):
    """How things shall stand; a part that is left out stays as it is."""

    picture: Text | None = option("plain, whole, or one of the pictures.", "plain")
    lift: Annotated[int, share_field("0 %", "50 %", "5 %")] | None = option(
        "How far the picture is raised, of the screen's height."
    )
    preset: Text | None = option("One of the presets.")
    panels: Text | None = option("One of the arrangements of panels.", "open")
    cues: dict[Text, ValueText] = Field(default={}, description="Cues and what they are set to.")
    after: Annotated[int, time_field("0 s", "10 min", "20 s")] | None = option(
        "How long the wish for these cues must have stood before they are ordered."
    )

    @model_validator(mode="after")
    def _cues_to_wait(self) -> Self:
        """Refuse a time to wait where nothing waits: a picture never does."""
        if self.after is not None and not self.cues:
            message = "after says how long cues wait, and there are none beside it"
            raise field_fault("contradiction", message, "Add cues, or leave after out.", "after")
        return self


class OtherwisePart(ShowPart):
    """What to show where no row matches."""

    because: Because = field("Why, for people.", "No row says otherwise.")


class RowPart(Part):
    """One rule: in this case show that, because."""

    name: Label | None = option("What the row is called in nights and findings.")
    case: Case = field(
        "Facts with the tests they must pass; what is left out may be anything.",
        example="{playback: stopped}",
    )
    show: ShowPart = field("How things shall stand then.", example="{picture: plain}")
    because: Because = field("Why, for people.")


class OrderPart(Part):
    """Which looks go before which, the highest first; for the policy `priority`."""

    picture: list[Text] = Field(default=[], description="Pictures, the highest first.")
    preset: list[Text] = Field(default=[], description="Presets, the highest first.")
    panels: list[Text] = Field(default=[], description="Arrangements, the highest first.")


class GapsAcceptedPart(Part):
    """That cases without a row are meant to be: they get the built-in look, which is plain."""

    because: Because = field("Why, for people.", example="Nobody watches anything else here.")


class RulesPart(Part):
    """The rule table."""

    policy: Annotated[
        str,
        FieldKind(
            partial(one_of, known=("unique", "any", "priority", "first")),
            {"enum": ["unique", "any", "priority", "first"], "examples": ["unique"]},
        ),
    ] = field("Which row wins where several match.", "unique")
    order: OrderPart | None = option("What goes first under the policy priority.")
    rows: list[RowPart] = Field(default=[], description="The rules.")
    otherwise: OtherwisePart = Field(
        default={"picture": "plain"},
        validate_default=True,
        description="What to show where no row matches.",
    )
    gaps_accepted: GapsAcceptedPart | None = option(
        "That some cases may have no row, though no otherwise is written."
    )


class PromisePart(Part):
    """Something that must never be, or how soon a title's look must stand."""

    name: Label | None = option("What the promise is called.")
    never: Case | None = Field(
        default=None,
        description="Facts and standing with tests that must never all pass at once.",
        examples=["{playback: stopped, picture: gentle}"],
    )
    within: Annotated[int, time_field("1 s", "1 h", "40 s")] | None = option(
        "From a title's beginning its look stands within so long."
    )
    unless: Case | None = Field(
        default=None,
        description="Facts and standing with which it need not stand then; goes with within.",
        examples=["{helper: asked}"],
    )
    because: Because = field("Why, for people.")


class WaivedPart(Part):
    """A built-in promise that this room does not make."""

    promise: Annotated[
        str,
        FieldKind(
            partial(one_of, known=tuple(BUILT_IN_PROMISES)),
            {"enum": [*BUILT_IN_PROMISES], "examples": [*BUILT_IN_PROMISES]},
        ),
    ] = field(
        " ".join(["Which one.", *(f"{name}: {what}" for name, what in BUILT_IN_PROMISES.items())])
    )
    because: Because = field(
        "Why, for people.", example='The set-top box says "stopped" all evening.'
    )
