"""The room file's sections as models: what may stand where, in which range, and its default.

Every value arrives as the text that was written, and its field decides what it means; a default
is text too and goes the same way, so that it can be shown as one would write it. Each model
stands for one section, each field carries its description and an example, and from both a JSON
Schema can be printed. What one field cannot tell alone (names that must exist, fields that go
together) is looked after by `rules.names` and `rules.cells`.
"""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any, Final, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, model_validator

from engine.room import BUILT_IN_PROMISES
from rules.room.fields import (
    ASPECT_FIELD,
    BECAUSE_FIELD,
    CELL_FIELD,
    CHOICES_FIELD,
    CORNER_FIELD,
    DIGITS,
    LABEL_FIELD,
    LUMINANCES,
    NAME_FIELD,
    OWN_NAME_FIELD,
    RASTERS,
    RATIO_DIGITS,
    TEXT_FIELD,
    TRUTH_FIELD,
    VALUE_FIELD,
    WORDS_FIELD,
    Choices,
    Written,
    count,
    fault,
    length,
    number,
    one_of,
    part_of_one,
    ratio,
    read_contrast,
    schema,
    share,
    time,
    truth,
)
from rules.text import quantity
from rules.text.quantity import QuantityError

Truth: TypeAlias = Annotated[bool, TRUTH_FIELD]
Name: TypeAlias = Annotated[str, NAME_FIELD]
OwnName: TypeAlias = Annotated[str, OWN_NAME_FIELD]
Because: TypeAlias = Annotated[str, BECAUSE_FIELD]
Label: TypeAlias = Annotated[str, LABEL_FIELD]
Text: TypeAlias = Annotated[str, TEXT_FIELD]
Value: TypeAlias = Annotated[str, VALUE_FIELD]
Cell: TypeAlias = Annotated[str, CELL_FIELD]
Aspect: TypeAlias = Annotated[int, ASPECT_FIELD]
Place: TypeAlias = Annotated[tuple[int, int], CORNER_FIELD]
Case: TypeAlias = dict[Text, Cell]

VERSION: Final = 1
"""Goes up whenever a section or key of the room file changes its meaning."""


def _field(description: str, default: str | None = None, example: str | None = None) -> Any:  # noqa: ANN401 - as Field does
    """Make a field with its description, and with its default as one would write it."""
    examples = [example] if example else None
    if default is None:
        return Field(description=description, examples=examples)
    return Field(default=default, validate_default=True, description=description, examples=examples)


def _section(description: str) -> Any:  # noqa: ANN401
    """Make a field for a section that may be left out: then it holds nothing but defaults."""
    return Field(default={}, validate_default=True, description=description)


def _option(description: str) -> Any:  # noqa: ANN401
    """Make a field that may be left out and then says nothing."""
    return Field(default=None, description=description)


# ----------------------------------------------------------------------------------- sections


class Part(BaseModel):
    """One section: no unknown keys, nothing changed afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=False)

    @model_validator(mode="before")
    @classmethod
    def _empty(cls, value: object) -> object:
        """Take a section with nothing in it for one with no entries."""
        return {} if value == "" else value


class ScreenPart(Part):
    """The screen, flat, with its black border."""

    width: Annotated[int, length("300 mm", "30 m", "3.4 m")] | None = _option(
        "Width of the white area; or give the diagonal."
    )
    diagonal: Annotated[int, length("300 mm", "35 m", "150 in")] | None = _option(
        "Diagonal of the white area; or give the width."
    )
    aspect: Aspect = _field("Width over height of the white area.")
    gain: Annotated[float, number(0.1, 5, 1.1)] = _field("Gain of the cloth.", "1.0")
    border: Annotated[int, length("0 mm", "1 m", "80 mm")] = _field(
        "Width of the black border round the white area.", "60 mm"
    )
    overfill: Annotated[int, share("0 %", "10 %", "2 %")] = _field(
        "By how much a picture may pass the edge and be lost in the border.", "2 %"
    )


class ReadingPart(Part):
    """A meter's reading of full white in the middle of the screen."""

    reads: Annotated[
        float,
        Written(
            lambda text: quantity.measured_number(text, LUMINANCES, 1, 2_000, "52 cd/m2"),
            schema(rf"{DIGITS}\s*(?:cd/m2|fL)", "52 cd/m2", "15 fL"),
        ),
    ] = _field("What the meter showed.")
    preset: Text = _field("The preset at which it was read.", example="broad")


class LightPart(Part):
    """What leaves the lens."""

    lumens: Annotated[float, number(50, 200_000, 2200)] = _field(
        "Lumens at the lens's short end, the light source new."
    )
    remaining: Annotated[float, part_of_one("5 %", "85 %")] = _field(
        "Share of them that is left today.", "100 %"
    )
    contrast: Annotated[
        float,
        Written(
            read_contrast, schema(rf"{DIGITS}(?:\s*:\s*1)?", "2000:1", number=(100, 1_000_000))
        ),
    ] = _field("Native contrast, full on against full off.", "2000:1")
    measured: ReadingPart | None = _option("A meter's reading, which overrides the computed one.")


class ShiftPart(Part):
    """How far the lens can shift the picture, each way from the middle."""

    up: Annotated[int, share("0 %", "200 %", "50 %")] = _field(
        "Up or down, of the raster's height.", "0 %"
    )
    across: Annotated[int, share("0 %", "200 %", "20 %")] = _field(
        "Left or right, of the raster's width.", "0 %"
    )


class OffsetPart(Part):
    """How far the lens stands off the screen's middle; below and left are negative."""

    up: Annotated[int, length("-10 m", "10 m", "40 cm")] = _field("Above the middle.", "0 m")
    across: Annotated[int, length("-10 m", "10 m", "10 cm")] = _field(
        "To the right of the middle, seen from the seats.", "0 m"
    )


class ThrowPart(Part):
    """Where the projector stands and what its lens reaches."""

    distance: Annotated[int, length("300 mm", "60 m", "5.2 m")] = _field("From lens to screen.")
    ratio: Annotated[
        tuple[int, int],
        Written(
            partial(quantity.ratio_range, least=2_000, most=150_000),
            schema(rf"{RATIO_DIGITS}(?:\s+to\s+{RATIO_DIGITS})?", "1.35 to 2.70", number=(0.2, 15)),
        ),
    ] = _field("Throw ratios of the lens, distance over raster width, from short to long.")
    shift: ShiftPart = _section("Lens shift.")
    offset: OffsetPart = _section("Where the lens stands off the screen's middle.")


class LensPart(Part):
    """How the zoom moves."""

    travel: Annotated[int, time("1 s", "3 min", "18 s")] = _field(
        "The longest travel from one preset to another.", "20 s"
    )
    reports: Truth = _field("Whether the projector says where its lens stands.", "no")
    transmission_at_long_end: Annotated[float, part_of_one("10 %", "72 %")] = _field(
        "Share of the light that is left at the long end of the zoom.", "100 %"
    )


class ProjectorPart(Part):
    """The projector."""

    raster: Annotated[
        tuple[int, int],
        Written(
            partial(quantity.raster, least=RASTERS[0], most=RASTERS[1]),
            schema(r"[0-9]+\s*[xX\u00d7]\s*[0-9]+", "4096 x 2160"),
        ),
    ] = _field("Its pixels, columns x rows.")
    light: LightPart | None = _option("Its light, where brightness shall be planned.")
    throw: ThrowPart | None = _option("Its place and lens, where they shall be checked.")
    lens: LensPart = _section("How the zoom moves.")


class MiddlesPart(Part):
    """The middles of the screen's edges, read like its corners: only they can show a bow."""

    top: Place = _field("Columns x rows.")
    right: Place = _field("Columns x rows.")
    bottom: Place = _field("Columns x rows.")
    left: Place = _field("Columns x rows.")


class CornersPart(Part):
    """The screen's corners as read off the test card, from the raster's top left."""

    top_left: Place = _field("Columns x rows, such as 128.5 x 96.")
    top_right: Place = _field("Columns x rows.")
    bottom_right: Place = _field("Columns x rows.")
    bottom_left: Place = _field("Columns x rows.")
    middles: MiddlesPart | None = _option("The middles of its edges, where bows are looked for.")


class PresetPart(Part):
    """One stored place of the zoom lens."""

    fits: Aspect = _field("The ratio whose plain picture just fills the screen here.")
    measured: CornersPart | None = _option("The screen's corners as they were read off.")


class StretchPart(Part):
    """A non-linear stretch to the sides, stated by what it may cost."""

    fill: Annotated[int, share("1 %", "100 %", "100 %")] = _field(
        "Share of the unlit width that shall be filled.", "100 %"
    )
    edge_circle: Annotated[int, ratio("1.00", "2.00", "1.30")] = _field(
        "How wide a circle may become at the edges.", "1.30"
    )
    middle_circle: Annotated[int, ratio("1.00", "1.50", "1.03")] = _field(
        "How wide a circle may become in the middle.", "1.03"
    )
    even_middle: Annotated[int, share("0 %", "90 %", "30 %")] = _field(
        "Share of the width that is stretched evenly.", "30 %"
    )
    rows_lost: Annotated[int, share("0 %", "25 %", "3 %")] = _field(
        "Share of the rows that may be lost at the top and bottom.", "0 %"
    )

    @model_validator(mode="after")
    def _rising(self) -> StretchPart:
        if self.middle_circle > self.edge_circle:
            wide = quantity.show_ratio(self.edge_circle)
            raise fault(
                "contradiction",
                "circles would become wider in the middle than at the edges",
                f"Write a middle_circle of at most {wide}, which is the edge_circle.",
                "middle_circle",
            )
        return self


class CropPart(Part):
    """An even enlargement that loses rows."""

    rows_lost: Annotated[int, share("0.1 %", "40 %", "8 %")] = _field(
        "Share of the rows that is lost at the top and bottom."
    )


class PicturePart(Part):
    """One way to show the picture: a stretch or a crop."""

    stretch: StretchPart | None = _option("Stretch it to the sides.")
    crop: CropPart | None = _option("Enlarge it evenly and lose rows.")


class PanelsPart(Part):
    """One arrangement of the masking panels."""

    opening: Aspect | None = _option(
        "Ratio of what is left free, as high (or as wide) as the screen; none: all is free."
    )
    moved: Annotated[
        str,
        Written(
            partial(one_of, known=("by hand",)), {"enum": ["by hand"], "examples": ["by hand"]}
        ),
    ] = _field("Who moves them.", "by hand")


class SourcePart(Part):
    """One thing that sends pictures."""

    declares: Truth = _field("Whether it may say a title's ratio.", "no")
    titles: Truth = _field(
        "Whether it says where titles begin and end; what plays outside one is a preview.", "no"
    )
    shape: Aspect | None = _option("Its one and only shape: readings are not needed.")
    menu_shape: Aspect | None = _option("The shape of its menus, while no title is on.")
    leave_alone: Truth = _field("Games or sport: readings are ignored.", "no")


class ToldPart(Part):
    """A fact that somebody tells: a switch, a scene, a number of guests."""

    values: Annotated[Choices, CHOICES_FIELD] = _field("What it may be.")
    at_first: Value | None = _option("What it is until it is told; left out, it is not known.")

    @model_validator(mode="before")
    @classmethod
    def _short(cls, value: object) -> object:
        """Take the values alone for the whole."""
        return {"values": value} if isinstance(value, str) and value else value

    @model_validator(mode="after")
    def _known(self) -> ToldPart:
        try:
            self.first()
        except QuantityError as error:
            raise fault(error.code, error.message, error.suggestion, "at_first") from None
        return self

    def first(self) -> str | bool | int | None:
        """Read `at_first` as one of the values; raises QuantityError."""
        if self.at_first is None:
            return None
        if not self.values.values:
            return quantity.count(self.at_first, self.values.least or 0, self.values.most or 0)
        if isinstance(self.values.values[0], bool):
            return truth(self.at_first)
        return one_of(self.at_first, tuple(map(str, self.values.values)))


class SettlePart(Part):
    """How long a new shape must stand before it counts."""

    taller: Annotated[int, time("0 s", "10 s", "500 ms")] = _field(
        "A taller picture: heads are being cut off.", "500 ms"
    )
    wider: Annotated[int, time("0 s", "60 s", "4 s")] = _field(
        "A wider picture: it may be a dark scene.", "4 s"
    )
    odd: Annotated[int, time("0 s", "60 s", "3300 ms")] = _field(
        "A shape that nobody standardised.", "3300 ms"
    )


class RecallsPart(Part):
    """How often the lens may be recalled."""

    opening: Annotated[int, time("0 s", "1 h", "90 s")] = _field(
        "A title's first minutes, in which a recall is allowed.", "90 s"
    )
    per_title: Annotated[int, count(0, 100, 1)] = _field("Recalls for one title.", "1")
    per_night: Annotated[int, count(0, 1_000, 12)] = _field("Recalls for one night.", "12")


class PromptsPart(Part):
    """How long people are asked."""

    remind: Annotated[int, time("1 s", "1 h", "2 min")] = _field(
        "After this long they are reminded, once.", "2 min"
    )
    give_up: Annotated[int, time("5 s", "4 h", "10 min")] = _field(
        "After this long the room goes on without them.", "10 min"
    )


class PacePart(Part):
    """How fast things may happen."""

    settle: SettlePart = _section("How long a new shape must stand before it counts.")
    recalls: RecallsPart = _section("How often the lens may be recalled.")
    pause: Annotated[int, time("1 s", "24 h", "20 min")] = _field(
        "A pause longer than this counts as stopped.", "20 min"
    )
    linger: Annotated[int, time("0 s", "10 min", "12 s")] = _field(
        "A wish for a travel or a panel stands this long before anything is ordered.", "12 s"
    )
    prompts: PromptsPart = _section("How long people are asked.")
    session: Annotated[int, time("1 min", "24 h", "3 h")] = _field(
        "With nothing playing for this long, the session is over.", "3 h"
    )
    order: Annotated[int, time("500 ms", "10 min", "5 s")] = _field(
        "How long the hub has to carry an order out.", "5 s"
    )


class WearPart(Part):
    """When somebody is told to look at the lens, before anything has been measured."""

    travels: Annotated[int, count(1, 1_000_000, 400)] | None = _option(
        "After so many travels to a preset, and after as many again."
    )
    a_night: Annotated[int, count(1, 10_000, 20)] | None = _option(
        "After more travels than this in one night."
    )


class OrdersPart(Part):
    """How orders come back."""

    answered: Truth = _field(
        "Whether the hub says what became of an order; if not, sent counts as done.", "no"
    )


class ShowPart(Part):
    """How things shall stand; a part that is left out stays as it is."""

    picture: Text | None = _option("plain, whole, or one of the pictures.")
    lift: Annotated[int, share("0 %", "50 %", "5 %")] | None = _option(
        "How far the picture is raised, of the screen's height."
    )
    preset: Text | None = _option("One of the presets.")
    panels: Text | None = _option("One of the arrangements of panels.")
    cues: dict[Text, Value] = Field(default={}, description="Cues and what they are set to.")


class OtherwisePart(ShowPart):
    """What to show where no row matches."""

    because: Because = _field("Why, for people.", "No row says otherwise.")


class RowPart(Part):
    """One rule: in this case show that, because."""

    name: Label | None = _option("What the row is called in nights and findings.")
    case: Case = _field(
        "Facts with the tests they must pass; what is left out may be anything.",
        example="{playback: stopped}",
    )
    show: ShowPart = _field("How things shall stand then.", example="{picture: plain}")
    because: Because = _field("Why, for people.")


class OrderPart(Part):
    """Which looks go before which, the highest first; for the policy `priority`."""

    picture: list[Text] = Field(default=[], description="Pictures, the highest first.")
    preset: list[Text] = Field(default=[], description="Presets, the highest first.")
    panels: list[Text] = Field(default=[], description="Arrangements, the highest first.")


class RulesPart(Part):
    """The rule table."""

    policy: Annotated[
        str,
        Written(
            partial(one_of, known=("unique", "any", "priority", "first")),
            {"enum": ["unique", "any", "priority", "first"], "examples": ["unique"]},
        ),
    ] = _field("Which row wins where several match.", "unique")
    order: OrderPart | None = _option("What goes first under the policy priority.")
    rows: list[RowPart] = Field(default=[], description="The rules.")
    otherwise: OtherwisePart = Field(
        default={"picture": "plain"},
        validate_default=True,
        description="What to show where no row matches.",
    )


class PromisePart(Part):
    """Something that must never be."""

    name: Label | None = _option("What the promise is called.")
    never: Case = _field(
        "Facts and standing with tests that must never all pass at once.",
        example="{playback: stopped, picture: gentle}",
    )
    because: Because = _field("Why, for people.")


class WaivedPart(Part):
    """A built-in promise that this room does not make."""

    promise: Annotated[
        str,
        Written(
            partial(one_of, known=tuple(BUILT_IN_PROMISES)),
            {"enum": [*BUILT_IN_PROMISES], "examples": [*BUILT_IN_PROMISES]},
        ),
    ] = _field(
        " ".join(["Which one.", *(f"{name}: {what}" for name, what in BUILT_IN_PROMISES.items())])
    )
    because: Because = _field(
        "Why, for people.", example='The set-top box says "stopped" all evening.'
    )


class RoomFile(Part):
    """A projection room: its physics, its sources, its rules, its pace and its promises."""

    room: Name = _field("The room's name.", example="hayloft")
    zone: Text = _field("Its time zone.", example="Europe/Lisbon")
    screen: ScreenPart = _field("The screen.", example="{width: 3.4 m, aspect: 2.40}")
    projector: ProjectorPart = _field("The projector.", example="{raster: 4096 x 2160}")
    presets: dict[OwnName, PresetPart] = Field(
        default={}, description="Stored places of the zoom; none: one that fits the screen."
    )
    pictures: dict[OwnName, PicturePart] = Field(
        default={}, description="Pictures beside plain, whole and dark, which are built in."
    )
    panels: dict[OwnName, PanelsPart] = Field(
        default={}, description="Arrangements of masking panels; open is always one of them."
    )
    seats: dict[Name, Annotated[int, length("500 mm", "60 m", "4.2 m")]] = Field(
        default={}, description="How far rows of seats are from the screen."
    )
    sources: dict[Name, SourcePart] = _field("What sends pictures.", example="{disc: {}}")
    told: dict[Name, ToldPart] = Field(default={}, description="Facts that somebody tells.")
    cues: dict[Name, Annotated[tuple[str, ...], WORDS_FIELD]] = Field(
        default={}, description="What others do for the room, each with its closed words."
    )
    shapes: dict[Name, Cell] = Field(
        default={}, description="Tests of a ratio under a name, for use in cells."
    )
    pace: PacePart = _section("How fast things may happen.")
    wear: WearPart = _section("When somebody is told to look at the lens.")
    orders: OrdersPart = _section("How orders come back.")
    rules: RulesPart = _section("Which look for which facts.")
    promises: list[PromisePart] = Field(default=[], description="What must never be.")
    waived: list[WaivedPart] = Field(
        default=[], description="Built-in promises that are switched off; none: all are kept."
    )
