"""The room file's sections as models: what may stand where, in which range, and its default.

Every value arrives as the text that was written, and its field decides what it means. Defaults are
text as well, so that they can be shown as one would write them. Each model is one section, and
each field has a description and an example; the JSON Schema is made from them. Checks across
fields, such as names that must exist, stand in `rules.room.names`, `rows` and `checks`.
"""

from __future__ import annotations

from typing import Annotated, Final

from pydantic import Field

from rules.room.equipment_sections import (
    PanelsPart,
    PicturePart,
    PresetPart,
    ProjectorPart,
    ScreenPart,
)
from rules.room.fields import (
    WORDS_FIELD,
    length_field,
)
from rules.room.pace_sections import (
    OrdersPart,
    PacePart,
    SourcePart,
    ToldPart,
    WearPart,
)
from rules.room.rule_sections import (
    PromisePart,
    RulesPart,
    WaivedPart,
)
from rules.room.section import (
    Cell,
    Language,
    NameText,
    OwnName,
    Part,
    SpokenLabel,
    Text,
    field,
    section,
)
from rules.words.fluent_catalogue import DEFAULT_LANGUAGE

VERSION: Final = 2
"""The version of the room file's format; it rises when a section or key changes its meaning."""


class RoomFile(Part):
    """A projection room: its physics, its sources, its rules, its pace and its promises."""

    room: NameText = field("The room's name.", example="hayloft")
    time_zone: Text = field("Its time zone.", example="Europe/Lisbon")
    language: Language = field("The language in which people are spoken to.", DEFAULT_LANGUAGE)
    screen: ScreenPart = field("The screen.", example="{width: 3.4 m, aspect: 2.40}")
    projector: ProjectorPart = field("The projector.", example="{raster: 4096 x 2160}")
    presets: dict[OwnName, PresetPart] = Field(
        default={}, description="Stored places of the zoom; none: one that fits the screen."
    )
    pictures: dict[OwnName, PicturePart] = Field(
        default={}, description="Pictures beside plain, whole and dark, which are built in."
    )
    panels: dict[OwnName, PanelsPart] = Field(
        default={}, description="Arrangements of masking panels; open is always one of them."
    )
    seats: dict[NameText, Annotated[int, length_field("500 mm", "60 m", "4.2 m")]] = Field(
        default={}, description="How far rows of seats are from the screen."
    )
    sources: dict[NameText, SourcePart] = field("What sends pictures.", example="{disc: {}}")
    told: dict[NameText, ToldPart] = Field(default={}, description="Facts that somebody tells.")
    cues: dict[NameText, Annotated[tuple[str, ...], WORDS_FIELD]] = Field(
        default={}, description="What others do for the room, each with its closed words."
    )
    shapes: dict[NameText, Cell] = Field(
        default={}, description="Tests of a ratio under a name, for use in cells."
    )
    labels: dict[Text, SpokenLabel] = Field(
        default={},
        description="What people call a name of this file, or a value after its cue or fact.",
        examples=["{lamps: {en: Lamps, pt: Luzes}, lamps low: Dim}"],
    )
    pace: PacePart = section("How fast things may happen.")
    wear: WearPart = section("When somebody is told to look at the lens.")
    orders: OrdersPart = section("How orders come back.")
    rules: RulesPart = section("Which look for which facts.")
    promises: list[PromisePart] = Field(default=[], description="What must never be.")
    waived: list[WaivedPart] = Field(
        default=[], description="Built-in promises that are switched off; none: all are kept."
    )
