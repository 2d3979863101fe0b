"""The sections about sources and told facts, pace, wear and orders."""

from __future__ import annotations

from functools import partial
from typing import Annotated

from pydantic import model_validator

from rules.room.fields import (
    CHOICES_FIELD,
    FieldKind,
    count_field,
    field_fault,
    length_field,
    time_field,
)
from rules.room.section import (
    Aspect,
    Part,
    Truth,
    ValueText,
    field,
    option,
    section,
)
from rules.room.single_values import Choices, one_of, read_truth
from rules.text import quantity
from rules.text.quantity import QuantityError


class SourcePart(Part):
    """One thing that sends pictures."""

    declares: Truth = field("Whether it may say a title's ratio.", "no")
    titles: Truth = field(
        "Whether it says where titles begin and end; what plays outside one is a preview.", "no"
    )
    shape: Aspect | None = option("Its one and only shape: readings are not needed.")
    menu_shape: Aspect | None = option("The shape of its menus, while no title is on.")
    leave_alone: Truth = field("Games or sport: readings are ignored.", "no")
    first_word: Annotated[
        str,
        FieldKind(
            partial(one_of, known=("detector", "code", "player")),
            {"enum": ["detector", "code", "player"], "examples": ["code"]},
        ),
    ] = field("Who is believed of its shape: a detector, format codes, or its player.", "detector")
    bar_pairs: Annotated[
        str,
        FieldKind(
            partial(one_of, known=("one", "both")), {"enum": ["one", "both"], "examples": ["both"]}
        ),
    ] = field("Whether bar data may tell of one pair of bars at once, or of both.", "one")


class ToldPart(Part):
    """A fact that somebody tells: a switch, a scene, a number of guests."""

    values: Annotated[Choices, CHOICES_FIELD] = field("What it may be.")
    at_first: ValueText | None = option("What it is until it is told; left out, it is not known.")

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: object) -> object:
        """Accept the values alone in place of the whole section."""
        return {"values": value} if isinstance(value, str) and value else value

    @model_validator(mode="after")
    def _known(self) -> ToldPart:
        try:
            self.first()
        except QuantityError as error:
            raise field_fault(error.code, error.message, error.suggestion, "at_first") from None
        return self

    def first(self) -> str | bool | int | None:
        """Read `at_first` as one of the values; raises QuantityError."""
        if self.at_first is None:
            return None
        if not self.values.values:
            return quantity.read_count(self.at_first, self.values.least or 0, self.values.most or 0)
        if isinstance(self.values.values[0], bool):
            return read_truth(self.at_first)
        return one_of(self.at_first, tuple(map(str, self.values.values)))


class SettlePart(Part):
    """How long a new shape must stand before it counts."""

    taller: Annotated[int, time_field("0 s", "10 s", "500 ms")] = field(
        "A taller picture: heads are being cut off.", "500 ms"
    )
    wider: Annotated[int, time_field("0 s", "60 s", "4 s")] = field(
        "A wider picture: it may be a dark scene.", "4 s"
    )
    odd: Annotated[int, time_field("0 s", "60 s", "3300 ms")] = field(
        "A shape that nobody standardised.", "3300 ms"
    )


class RecallsPart(Part):
    """How often the lens may be recalled."""

    first_minutes: Annotated[int, time_field("0 s", "1 h", "4 min")] = field(
        "A title's first minutes of playing time, in which a recall is allowed.", "4 min"
    )
    per_title: Annotated[int, count_field(0, 100, 2)] = field(
        "Recalls for one title; after the first one only back.", "2"
    )
    per_night: Annotated[int, count_field(0, 1_000, 12)] = field("Recalls for one night.", "12")


class PromptsPart(Part):
    """How long people are asked."""

    remind: Annotated[int, time_field("1 s", "1 h", "2 min")] = field(
        "After this long they are reminded, once.", "2 min"
    )
    give_up: Annotated[int, time_field("5 s", "4 h", "15 min")] = field(
        "After this long the room goes on without them.", "15 min"
    )
    wait: Annotated[int, time_field("0 s", "1 h", "60 s")] = field(
        "A wish for panels stands this long before anybody is asked.", "60 s"
    )

    @model_validator(mode="after")
    def _reminded(self) -> PromptsPart:
        """Refuse prompts that are over before anybody is reminded of them."""
        remind, give_up = (quantity.show_duration(one) for one in (self.remind, self.give_up))
        if self.remind < self.give_up:
            return self
        about_remind = "remind" in self.model_fields_set
        raise field_fault(
            "never-reminded",
            f"prompts are given up after {give_up}, but people are reminded after {remind}",
            f"Let remind be shorter than {give_up}."
            if about_remind
            else f"Add remind, shorter than {give_up}; left out, it is {remind}.",
            "remind" if about_remind else "give_up",
        )


class PacePart(Part):
    """How fast things may happen."""

    settle: SettlePart = section("How long a new shape must stand before it counts.")
    recalls: RecallsPart = section("How often the lens may be recalled.")
    pause: Annotated[int, time_field("1 s", "24 h", "20 min")] = field(
        "A pause longer than this counts as stopped.", "20 min"
    )
    linger: Annotated[int, time_field("0 s", "10 min", "45 s")] = field(
        "A wish for a travel stands this long before it is ordered.", "45 s"
    )
    lines: Annotated[int, time_field("10 s", "4 h", "15 min")] = field(
        "With no line in the bar below the picture for this long, its subtitles are over.", "15 min"
    )
    prompts: PromptsPart = section("How long people are asked.")
    session: Annotated[int, time_field("1 min", "24 h", "3 h")] = field(
        "With nothing playing for this long, the session is over.", "3 h"
    )
    order: Annotated[int, time_field("500 ms", "10 min", "5 s")] = field(
        "How long the hub has to carry an order out.", "5 s"
    )


class WearPart(Part):
    """When somebody is told to look at the lens, before anything has been measured."""

    travels: Annotated[int, count_field(1, 1_000_000, 400)] | None = option(
        "After so many travels to a preset, and after as many again."
    )
    a_night: Annotated[int, count_field(1, 10_000, 20)] | None = option(
        "After more travels than this in one night."
    )
    strip: Annotated[int, length_field("0 mm", "100 mm", "5 mm")] = field(
        "A dark strip, or light beyond the border, that is no wider bothers nobody.", "5 mm"
    )


class OrdersPart(Part):
    """How orders come back."""

    answered: Truth = field(
        "Whether the hub says what became of an order; if not, sent counts as done.", "no"
    )
