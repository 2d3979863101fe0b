"""The sections about equipment: screen, projector, presets, pictures, panels."""

from __future__ import annotations

from functools import partial
from typing import Annotated

from pydantic import model_validator

from rules.room.fields import (
    DIGITS,
    LUMINANCE_UNITS,
    RASTER_LIMITS,
    RATIO_DIGITS,
    FieldKind,
    field_fault,
    length_field,
    number_field,
    part_of_one,
    ratio_field,
    share_field,
    text_schema,
    time_field,
)
from rules.room.openings import OPENING_FIELD, FreeWidth
from rules.room.section import (
    Aspect,
    CornerPlace,
    Part,
    Sentence,
    Text,
    Truth,
    field,
    option,
    section,
)
from rules.room.single_values import one_of, read_contrast
from rules.text import quantity


class ScreenPart(Part):
    """The screen, flat, with its black border."""

    width: Annotated[int, length_field("300 mm", "30 m", "3.4 m")] | None = option(
        "Width of the white area; or give the diagonal."
    )
    diagonal: Annotated[int, length_field("300 mm", "35 m", "150 in")] | None = option(
        "Diagonal of the white area; or give the width."
    )
    aspect: Aspect = field("Width over height of the white area.")
    gain: Annotated[float, number_field(0.1, 5, 1.1)] = field("Gain of the cloth.", "1.0")
    border: Annotated[int, length_field("0 mm", "1 m", "80 mm")] = field(
        "Width of the black border round the white area.", "60 mm"
    )
    overfill: Annotated[int, share_field("0 %", "10 %", "2 %")] = field(
        "By how much a picture may pass the edge and be lost in the border.", "2 %"
    )


class ReadingPart(Part):
    """A meter's reading of full white in the middle of the screen."""

    reads: Annotated[
        float,
        FieldKind(
            lambda text: quantity.read_measured_number(text, LUMINANCE_UNITS, 1, 2_000, "52 cd/m2"),
            text_schema(rf"{DIGITS}\s*(?:cd/m2|fL)", "52 cd/m2", "15 fL"),
        ),
    ] = field("What the meter showed.")
    preset: Text = field("The preset at which it was read.", example="broad")


class LightPart(Part):
    """What leaves the lens."""

    lumens: Annotated[float, number_field(50, 200_000, 2200)] = field(
        "Lumens at the lens's short end, the light source new."
    )
    remaining: Annotated[float, part_of_one("5 %", "85 %")] = field(
        "Share of them that is left today.", "100 %"
    )
    contrast: Annotated[
        float,
        FieldKind(
            read_contrast, text_schema(rf"{DIGITS}(?:\s*:\s*1)?", "2000:1", number=(100, 1_000_000))
        ),
    ] = field("Native contrast, full on against full off.", "2000:1")
    measured: ReadingPart | None = option("A meter's reading, which overrides the computed one.")


class ShiftPart(Part):
    """How far the lens can shift the picture, each way from the middle."""

    up: Annotated[int, share_field("0 %", "200 %", "50 %")] = field(
        "Up or down, of the raster's height.", "0 %"
    )
    across: Annotated[int, share_field("0 %", "200 %", "20 %")] = field(
        "Left or right, of the raster's width.", "0 %"
    )


class OffsetPart(Part):
    """How far the lens stands off the screen's middle; below and left are negative."""

    up: Annotated[int, length_field("-10 m", "10 m", "40 cm")] = field("Above the middle.", "0 m")
    across: Annotated[int, length_field("-10 m", "10 m", "10 cm")] = field(
        "To the right of the middle, seen from the seats.", "0 m"
    )


class ThrowPart(Part):
    """Where the projector stands and what its lens reaches."""

    distance: Annotated[int, length_field("300 mm", "60 m", "5.2 m")] = field(
        "From lens to screen."
    )
    ratio: Annotated[
        tuple[int, int],
        FieldKind(
            partial(quantity.read_ratio_range, least=2_000, most=150_000),
            text_schema(
                rf"{RATIO_DIGITS}(?:\s+to\s+{RATIO_DIGITS})?", "1.35 to 2.70", number=(0.2, 15)
            ),
        ),
    ] = field("Throw ratios of the lens, distance over raster width, from short to long.")
    shift: ShiftPart = section("Lens shift.")
    offset: OffsetPart = section("Where the lens stands off the screen's middle.")


class LensPart(Part):
    """How the zoom moves."""

    travel: Annotated[int, time_field("1 s", "3 min", "18 s")] = field(
        "The longest travel from one preset to another.", "20 s"
    )
    reports: Truth = field("Whether the projector says where its lens stands.", "no")
    transmission_at_long_end: Annotated[float, part_of_one("10 %", "72 %")] = field(
        "Share of the light that is left at the long end of the zoom.", "100 %"
    )


class ProjectorPart(Part):
    """The projector."""

    raster: Annotated[
        tuple[int, int],
        FieldKind(
            partial(quantity.read_raster, least=RASTER_LIMITS[0], most=RASTER_LIMITS[1]),
            text_schema(r"[0-9]+\s*[xX\u00d7]\s*[0-9]+", "4096 x 2160"),
        ),
    ] = field("Its pixels, columns x rows.")
    light: LightPart | None = option("Its light, where brightness shall be planned.")
    throw: ThrowPart | None = option("Its place and lens, where they shall be checked.")
    lens: LensPart = section("How the zoom moves.")


class MiddlesPart(Part):
    """The middles of the screen's edges, read like its corners: only they can show a bow."""

    top: CornerPlace = field("Columns x rows.")
    right: CornerPlace = field("Columns x rows.")
    bottom: CornerPlace = field("Columns x rows.")
    left: CornerPlace = field("Columns x rows.")


class CornersPart(Part):
    """The screen's corners as read off the test card, from the raster's top left."""

    top_left: CornerPlace = field("Columns x rows, such as 128.5 x 96.")
    top_right: CornerPlace = field("Columns x rows.")
    bottom_right: CornerPlace = field("Columns x rows.")
    bottom_left: CornerPlace = field("Columns x rows.")
    middles: MiddlesPart | None = option("The middles of its edges, where bows are looked for.")


class PresetPart(Part):
    """One stored place of the zoom lens."""

    fits: Aspect = field("The ratio whose plain picture just fills the screen here.")
    measured: CornersPart | None = option("The screen's corners as they were read off.")


class StretchPart(Part):
    """A non-linear stretch to the sides, stated by what it may cost."""

    fill: Annotated[int, share_field("1 %", "100 %", "100 %")] = field(
        "Share of the unlit width that shall be filled.", "100 %"
    )
    edge_circle: Annotated[int, ratio_field("1.00", "2.00", "1.30")] = field(
        "How wide a circle may become at the edges.", "1.30"
    )
    middle_circle: Annotated[int, ratio_field("1.00", "1.50", "1.03")] = field(
        "How wide a circle may become in the middle.", "1.03"
    )
    even_middle: Annotated[int, share_field("0 %", "90 %", "30 %")] = field(
        "Share of the width that is stretched evenly.", "30 %"
    )
    rows_lost: Annotated[int, share_field("0 %", "25 %", "3 %")] = field(
        "Share of the rows that may be lost at the top and bottom.", "0 %"
    )

    @model_validator(mode="after")
    def _rising(self) -> StretchPart:
        if self.middle_circle > self.edge_circle:
            wide = quantity.show_ratio(self.edge_circle)
            raise field_fault(
                "contradiction",
                "circles would become wider in the middle than at the edges",
                f"Write a middle_circle of at most {wide}, which is the edge_circle.",
                "middle_circle",
            )
        return self


class CropPart(Part):
    """An even enlargement that loses rows."""

    rows_lost: Annotated[int, share_field("0.1 %", "40 %", "8 %")] = field(
        "Share of the rows that is lost at the top and bottom."
    )


class PicturePart(Part):
    """One way to show the picture: a stretch, a crop, or with room below it for lines."""

    stretch: StretchPart | None = option("Stretch it to the sides.")
    crop: CropPart | None = option("Enlarge it evenly and lose rows.")
    room_below: Annotated[int, share_field("1 %", "50 %", "11 %")] | None = option(
        "Leave this share of its height free below it, so that lines and heads are both seen."
    )


class PanelsPart(Part):
    """One arrangement of the masking panels."""

    opening: Annotated[int | FreeWidth, OPENING_FIELD] | None = option(
        "Ratio of what is left free, as high (or as wide) as the screen, or the width between "
        "panels at the sides; none: all is free."
    )
    moved: Annotated[
        str,
        FieldKind(
            partial(one_of, known=("by hand",)), {"enum": ["by hand"], "examples": ["by hand"]}
        ),
    ] = field("Who moves them.", "by hand")
    words: Sentence | None = option(
        "What people are asked to do for it; one text, or one for each language."
    )
