"""The compiled room: what a room file means, frozen, with every default filled in.

Lengths are micrometres, ratios and shares 1/10,000, times milliseconds, all integers, so
that a decision never hangs on a rounding of a math library. Quantities of light stay
floats: they are told to people and decide nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from engine.catalogue import NOTHING_NAMED

if TYPE_CHECKING:
    from collections.abc import Mapping

    from engine.catalogue import Catalogue, Parameters
    from engine.settle import DwellTimes
    from engine.table import RuleTable

PLAIN: Final = "plain"
"""The picture undistorted, as large as the window allows at the settled aspect."""
WHOLE: Final = "whole"
"""The coded frame undistorted, bars and all: right for whatever shape comes next."""
DARK: Final = "dark"
"""Nothing lit: ordered while somebody works at the screen, never by a rule."""
BUILT_IN_PICTURES: Final = (PLAIN, WHOLE, DARK)

MENUS_PLAIN: Final = "menus plain"
NO_TRAVEL_IN_MID_TITLE: Final = "no travel in mid-title"
NO_PICTURE_ON_PANELS: Final = "no picture on panels"
BUILT_IN_PROMISES: Final[Mapping[str, str]] = {
    MENUS_PLAIN: "Menus are never stretched or cropped.",
    NO_TRAVEL_IN_MID_TITLE: "Once a title's first minutes are over, no travel is ordered in it.",
    NO_PICTURE_ON_PANELS: "No order puts picture on panels that are fitted, or may be.",
}
"""What every room promises unless its file waives it, each with a sentence for people."""


class Look(NamedTuple):
    """How things shall stand."""

    picture: str
    lift: int
    """How far the picture is raised, in 1/10,000 of the screen's height."""
    preset: str | None
    """None where nobody has asked for one and nobody knows where the lens stands."""
    panels: str | None
    cues: tuple[tuple[str, str], ...] = ()


SlowPart = Literal["preset", "panels"]
"""A part of a look that takes a travel of the lens, or somebody's walk."""
LookPart = Literal["picture", "lift", "preset", "panels"]
"""A part of a look that is no cue."""


class Show(NamedTuple):
    """What one row asks for; a part that is None stays as it stands."""

    picture: str | None = None
    lift: int | None = None
    preset: str | None = None
    panels: str | None = None
    cues: tuple[tuple[str, str], ...] = ()
    after: int = 0
    """How long the wish for these cues must have stood before they are ordered, ms."""


class Screen(NamedTuple):
    """A flat screen: the white area and the black border round it."""

    width: int
    height: int
    border: int
    overfill: int
    """By how much a picture may pass the screen's edge and be lost in the border."""
    gain: float

    @property
    def aspect(self) -> int:
        """The screen's own ratio."""
        return (self.width * 10_000 + self.height // 2) // self.height


class Light(NamedTuple):
    """Lumens that leave the lens at its short end, or a luminance that was measured instead."""

    lumens: float
    remaining: float
    """Share of the rated lumens that is left, 0 to 1."""
    measured: float | None
    """A meter's reading at the screen in cd/m2, which overrides the computed value."""
    measured_preset: str | None
    native_contrast: float


class Throw(NamedTuple):
    """Where the projector stands and what its lens can reach."""

    distance: int
    shortest: int
    """Throw ratios (distance over raster width) in 1/10,000."""
    longest: int
    shift_up: int
    """Lens shift limits in 1/10,000 of the raster's height (up) and width (across)."""
    shift_across: int
    offset_up: int
    """How far the lens stands above (positive) or below the screen's middle, micrometres."""
    offset_across: int


class Lens(NamedTuple):
    """How the zoom moves."""

    travel: int
    """The longest travel between two presets, milliseconds."""
    reports: bool
    """Whether the projector says where its lens is."""
    transmission_at_long_end: float


class Projector(NamedTuple):
    """The projector as far as its rules and its light need it."""

    columns: int
    rows: int
    light: Light | None
    throw: Throw | None
    lens: Lens

    @property
    def aspect(self) -> int:
        """The raster's own ratio."""
        return self.columns * 10_000 // self.rows


class Corner(NamedTuple):
    """A screen corner as read off the test card, in 1/100 of a raster pixel from its top left."""

    x: int
    y: int


class Corners(NamedTuple):
    """The four screen corners at one preset."""

    top_left: Corner
    top_right: Corner
    bottom_right: Corner
    bottom_left: Corner


class Middles(NamedTuple):
    """The middles of the screen's edges, read like its corners; only they can show a bow."""

    top: Corner
    right: Corner
    bottom: Corner
    left: Corner


class Preset(NamedTuple):
    """One stored place of the zoom lens."""

    name: str
    fits: int
    """The ratio whose plain picture just fills the screen here."""
    raster_width: int
    """Width of the whole projected raster on the screen's plane, micrometres."""
    raster_height: int
    measured: Corners | None = None
    middles: Middles | None = None


class Stretch(NamedTuple):
    """A non-linear stretch, stated by what it may cost; shares and ratios in 1/10,000."""

    fill: int
    edge_circle: int
    middle_circle: int
    even_middle: int
    rows_lost: int


class Crop(NamedTuple):
    """An even enlargement that gives up rows at the top and bottom."""

    rows_lost: int


class RoomBelow(NamedTuple):
    """An undistorted picture, small enough that lines of text below it are seen as well."""

    room_below: int
    """How much room it leaves below, as a share of its own height, in 1/10,000."""


class Panels(NamedTuple):
    """One arrangement of the masking panels."""

    name: str
    opening: int | None
    """Ratio of what is left free at the full height (or width); None: nothing is covered."""
    words: str = ""
    """What people are asked to do for it, in the room's language."""


Reporter = Literal["detector", "code", "player"]
"""Who may tell a picture's shape: a detector, the signal's format code, or the title's player."""


class Source(NamedTuple):
    """One thing that sends pictures."""

    name: str
    shape: int | None
    """A fixed shape: readings are not needed."""
    menu_shape: int | None
    """The shape of its menus, while no title is on."""
    leave_alone: bool
    """Games, sport: readings are ignored."""
    declares: bool
    """Whether it may say a title's ratio."""
    says_titles: bool
    """Whether it says where titles begin and end; "playing" outside one is then a preview."""
    both_pairs: bool = False
    """Whether its bar data may tell of bars on all four sides at once."""
    first_word: Reporter = "detector"
    """Who is believed of a picture's shape while others say otherwise."""


ToldValue = str | bool | int
"""What a fact that somebody tells may be."""


class Told(NamedTuple):
    """A fact that the room file declares and somebody tells."""

    name: str
    values: tuple[str | bool, ...]
    """Closed values; empty for a number."""
    least: int | None
    most: int | None
    default: ToldValue | None

    def value_told(self, value: ToldValue | None) -> ToldValue | None:
        """Say what it is told to be: its default where nothing is told (None)."""
        return self.default if value is None else value

    def may_be(self, value: object) -> bool:
        """Tell whether it can have a value; True equals 1 in Python but is no number here."""
        if self.values:
            return any(type(value) is type(good) and value == good for good in self.values)
        return type(value) is int and (self.least or 0) <= value <= (self.most or 0)


class Pace(NamedTuple):
    """How fast things may happen, in milliseconds and counts."""

    settle: DwellTimes
    first_minutes: int
    """A title's first minutes, in which the lens may still be recalled."""
    per_title: int
    per_night: int
    pause: int
    """A pause longer than this counts as stopped."""
    linger: int
    """A wish for a travel stands this long before it is ordered."""
    linger_people: int
    """A wish for panels stands this long before anybody is asked."""
    lines: int
    """With no line in the bar below the picture for this long, its subtitles are over."""
    remind: int
    give_up: int
    session: int
    """With nothing playing for this long, the session is over."""
    order: int
    """How long the hub has to carry an order out."""


class Wear(NamedTuple):
    """When somebody is told to look at the lens."""

    travels: int | None = None
    """Once for every so many travels to a preset."""
    a_night: int | None = None
    """After more travels than this in one night."""
    strip: int = 5_000
    """How wide a dark strip, or light beyond the border, may get before it bothers anybody."""


NO_WEAR: Final = Wear()


class RowNote(NamedTuple):
    """What people are told about a row."""

    label: str
    because: str
    line: int


class Rules(NamedTuple):
    """The rule table, its outputs being `Show`, and the words that go with its rows."""

    table: RuleTable[Show]
    rows: tuple[RowNote, ...]
    otherwise: RowNote

    def note(self, row: int | None) -> RowNote:
        """Give the words of a row; of the default for a negative number, or before any choice."""
        return self.otherwise if row is None or row < 0 else self.rows[row]

    def show(self, row: int | None) -> Show:
        """Give what a row shows, or the default likewise; nothing where there is no default."""
        if row is None or row < 0:
            return self.table.default or Show()
        return self.table.rows[row].output


class Promise(NamedTuple):
    """What must never hold; a one-row table over facts and standing."""

    label: str
    because: str
    line: int
    never: RuleTable[bool]
    """Gives True where the promise is broken."""


class TimelyPromise(NamedTuple):
    """How soon, from a title's beginning, its look must stand."""

    label: str
    because: str
    line: int
    within: int
    """Milliseconds."""
    unless: RuleTable[bool]
    """A table over facts and standing; gives True where the look need not stand."""


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """Everything the engine knows of one room; compared by identity."""

    name: str
    time_zone: str
    screen: Screen
    projector: Projector
    presets: Mapping[str, Preset]
    pictures: Mapping[str, Stretch | Crop | RoomBelow]
    panels: Mapping[str, Panels]
    sources: Mapping[str, Source]
    told: Mapping[str, Told]
    cues: Mapping[str, tuple[str, ...]]
    pace: Pace
    answers: bool
    """Whether the hub says what became of an order; if not, an order counts as done when sent."""
    rules: Rules
    promises: tuple[Promise, ...]
    text: str
    """The room file itself, which goes into every night."""
    catalogue: Catalogue
    """The sentences for people, in the room's language."""
    seats: Mapping[str, int] = field(default_factory=dict)
    """How far each row of seats is from the screen, micrometres."""
    wear: Wear = NO_WEAR
    waived: Mapping[str, str] = field(default_factory=dict)
    """The built-in promises that the file switches off, each with its reason."""
    timely: tuple[TimelyPromise, ...] = ()
    """The promises of the file that say how soon a look stands."""
    labels: Mapping[str, str] = field(default_factory=dict)
    """What people call a name of the file, in the room's language: the name itself, or a value
    after its cue or fact (`lamps low`)."""

    def labelled(self, name: str, of: str = "") -> str | None:
        """Give the label of a name, or of a value `of` a cue or fact; None: the file has none."""
        return self.labels.get(f"{of} {name}" if of else name) or self.labels.get(name)

    def spoken(self, name: str, of: str = "") -> str:
        """Give a name, or a value `of` a cue or fact, as people read it."""
        words = name.replace("_", " ")
        return self.labelled(name, of) or words[:1].upper() + words[1:]

    def spoken_value(self, value: ToldValue, of: str) -> str:
        """Give a value of a told fact as people read it."""
        if not isinstance(value, bool):
            return self.spoken(str(value), of)
        word = "yes" if value else "no"
        return self.labelled(word, of) or self.catalogue.say("label", word)

    def labels_told(self, name: str, value: ToldValue) -> Parameters:
        """Give what a sentence tells of a cue or a fact with a value, if that has a label."""
        if self.labelled(name) is None:
            return NOTHING_NAMED
        value_words = self.spoken_value(value, name)
        return {"named": "yes", "what": self.spoken(name), "value": value_words}
