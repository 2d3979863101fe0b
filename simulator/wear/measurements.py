"""The book of measurements: one JSON line for each, only ever added to.

A line is never changed. A correction is a line of its own that names the line it corrects, so the
old value can still be read; whoever reads the book goes by the latest.

Edges are read with the test card: how far each edge of the picture has moved since the last
alignment, to the right for `left` and `right`, downwards for `top` and `bottom`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar, Final, Literal, NamedTuple

from pydantic import ConfigDict, Field, TypeAdapter, ValidationError

from engine.aspect import SCALE
from engine.event_fields import Moment, Name
from engine.events import STRICT, milliseconds
from engine.malformed import describe_mistakes
from engine.plane import raster_seen
from engine.room import Room
from simulator.wear.repeatability import ISO_9283_CYCLES

WARM: Final = 30
"""Minutes after lighting until a lens no longer moves from warming up (common practice)."""
A_SLIP: Final = 30
"""An offset of more than the screen's width divided by this is probably a slip."""
ODD: Final = 2.5
"""Edges that miss each other by more than so many errors of reading are told: three standard
deviations of how far the growth by two edges may miss that by the other two."""
FURTHEST: Final = 100_000
Offset = Annotated[float, Field(ge=-FURTHEST, le=FURTHEST)]
"""Pixels or millimetres: no screen is larger."""
Unit = Literal["px", "mm"]
ApproachSide = Literal["shorter", "longer"]
"""From which side the lens came: from a shorter or a longer focal length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Written:
    """What every line has."""

    __pydantic_config__: ClassVar[ConfigDict] = STRICT

    id: Annotated[int, Field(ge=1)]
    at: Moment
    preset: Name


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(_Written):
    """One reading of a preset's edges."""

    kind: Literal["measured"] = "measured"
    left: Offset
    top: Offset
    right: Offset
    bottom: Offset
    unit: Unit
    error: Annotated[float, Field(gt=0, le=FURTHEST)]
    """How far each edge may be misread, as a standard deviation, in the same unit."""
    lit: Annotated[float, Field(ge=0, le=10_000)]
    """Minutes since the lamp was lit."""
    side: ApproachSide | None = None
    aligned: bool = False
    """Whether it was read right after a realignment."""
    focus: float | None = None
    """How far the focus has gone, in the unit that the technician reads."""
    corrects: Annotated[int | None, Field(ge=1)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeated(_Written):
    """A session of travels to one preset, the middle of the picture read after each."""

    kind: Literal["repeated"] = "repeated"
    shorter: tuple[tuple[Offset, Offset], ...] = ()
    """Places, right and down, after travels from a shorter focal length."""
    longer: tuple[tuple[Offset, Offset], ...] = ()
    unit: Unit
    error: Annotated[float, Field(gt=0, le=FURTHEST)]
    lit: Annotated[float, Field(ge=0, le=10_000)]
    corrects: Annotated[int | None, Field(ge=1)] = None


Measurement = Measured | Repeated
ENTRIES: Final[TypeAdapter[Measurement]] = TypeAdapter(
    Annotated[Measurement, Field(discriminator="kind")]
)


class Offsets(NamedTuple):
    """What four edges amount to, in millimetres on the screen."""

    across: float
    """How far the picture has moved to the right."""
    down: float
    scale: float
    """How far each side edge has moved outwards."""
    error: float
    """The standard deviation of each of these."""
    left: float
    """`left` to `bottom` are the edges as they were read."""
    top: float
    right: float
    bottom: float
    edge_error: float


def line_of(entry: Measurement) -> bytes:
    """Write a measurement as a line."""
    return ENTRIES.dump_json(entry)


class BadEntry(NamedTuple):
    """A line of a book that cannot be read."""

    line: int
    """Its number, from 1."""
    reason: str


def read_book(lines: Iterable[bytes]) -> tuple[list[Measurement], list[BadEntry]]:
    """Read a whole book, corrected lines too; lines that cannot be read are passed over.

    A number that an earlier line has already is taken for damage as well: a correction could not
    say which of the two it means.
    """
    entries: list[Measurement] = []
    bad: list[BadEntry] = []
    taken: set[int] = set()
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            entry = ENTRIES.validate_json(line)
        except ValidationError as error:
            bad.append(BadEntry(number, describe_mistakes(error)))
            continue
        if entry.id in taken:
            bad.append(BadEntry(number, f"its number, {entry.id}, is that of an earlier line"))
            continue
        taken.add(entry.id)
        entries.append(entry)
    return entries, bad


def in_force(entries: Sequence[Measurement]) -> list[Measurement]:
    """Return the measurements that nothing has corrected, in the order of their times."""
    corrected = {one.corrects for one in entries if one.corrects is not None}
    return sorted(
        (one for one in entries if one.id not in corrected), key=lambda one: (one.at, one.id)
    )


def covered(book: Sequence[Measurement], begins: int) -> tuple[list[Measurement], int]:
    """Return the measurements in force since a time (ms UTC), and how many are older."""
    valid = in_force(book)
    since = [one for one in valid if measured_at(one) >= begins]
    return since, len(valid) - len(since)


def millimetres_a_pixel(room: Room, preset: str) -> float:
    """Return the width of a raster's pixel on the screen at a preset."""
    width, _ = raster_seen(room, room.presets[preset])
    return width / room.projector.columns / 1_000


def offsets(room: Room, one: Measured) -> Offsets:
    """Tell shift from scale: both side edges move one way, or apart."""
    size = 1.0 if one.unit == "mm" else millimetres_a_pixel(room, one.preset)
    across, down = (one.left + one.right) / 2, (one.top + one.bottom) / 2
    scale = (one.right - one.left) / 2
    return Offsets(
        across=across * size,
        down=down * size,
        scale=scale * size,
        error=one.error * size / 2**0.5,
        left=one.left * size,
        top=one.top * size,
        right=one.right * size,
        bottom=one.bottom * size,
        edge_error=one.error * size,
    )


def objections(room: Room, entries: Sequence[Measurement], new: Measurement) -> list[str]:
    """List the objections to a new line; it must not be added while there is any."""
    found = []
    if new.preset not in room.presets:
        found.append(f"this room has no preset '{new.preset}': it has {', '.join(room.presets)}")
        return found
    if new.corrects is not None:
        corrected = [one for one in entries if one.id == new.corrects]
        if not corrected:
            found.append(f"there is no line {new.corrects} to correct")
        elif any(one.corrects == new.corrects for one in entries):
            latest = next(one.id for one in entries if one.corrects == new.corrects)
            found.append(f"line {new.corrects} was corrected by line {latest}: correct that one")
        elif corrected[0].preset != new.preset:
            found.append(f"line {new.corrects} is about {corrected[0].preset}, not {new.preset}")
    furthest = largest_offset(room, new)
    if not furthest < room.screen.width / 1_000:
        found.append(
            f"an offset of {furthest:.0f} mm is larger than the screen: is the unit right?"
        )
    if isinstance(new, Measured):
        aligned = [one for one in in_force(entries) if isinstance(one, Measured) and one.aligned]
        later = [one for one in aligned if one.preset == new.preset and one.at > new.at]
        if later and new.corrects is None:
            found.append(
                f"it is older than the realignment of {later[-1].at:%Y-%m-%d %H:%M}: it says "
                "nothing of how the preset stands since"
            )
    elif len(new.shorter) + len(new.longer) < 2:  # noqa: PLR2004 - a spread needs two
        found.append("a session has at least two travels; ISO 9283 asks for 30")
    return found


def largest_offset(room: Room, one: Measurement) -> float:
    """Return the largest offset of a line, mm on the screen; NaN if one of them is not a number."""
    size = 1.0 if one.unit == "mm" else millimetres_a_pixel(room, one.preset)
    if isinstance(one, Measured):
        offsets_ = [one.left, one.top, one.right, one.bottom]
    else:
        offsets_ = [value for place in (*one.shorter, *one.longer) for value in place]
    return max((abs(offset) * size for offset in offsets_), default=0.0)


def remarks(room: Room, new: Measurement, now: int) -> list[str]:
    """List what to bear in mind about a line that is added at `now` (ms UTC)."""
    said = []
    if measured_at(new) > now:
        said.append("it lies in the future: is the date right? --corrects mends it")
    largest, most = largest_offset(room, new), room.screen.width / 1_000 / A_SLIP
    if largest > most:
        said.append(
            f"an offset of {largest:.0f} mm is more than a {A_SLIP}th of the screen's width "
            f"({most:.0f} mm): is it a slip? --corrects mends it"
        )
    if isinstance(new, Measured):
        said += _odd_edge(room, new)
    if new.lit < WARM:
        said.append(
            f"read {new.lit:g} minutes after lighting: a lens moves until it is warm, so measure "
            f"again after {WARM} minutes"
        )
    if isinstance(new, Repeated) and max(len(new.shorter), len(new.longer)) < ISO_9283_CYCLES:
        said.append(f"ISO 9283 asks for {ISO_9283_CYCLES} travels from either side")
    return said


def _odd_edge(room: Room, new: Measured) -> list[str]:
    """Say that edges do not fit together: a picture that grows does so upwards as well.

    How much, goes by the shape of what was read: the picture that the preset fits, or the whole
    raster.
    """
    apart, upright = (new.right - new.left) / 2, (new.bottom - new.top) / 2
    shapes = room.presets[new.preset].fits / SCALE, room.projector.columns / room.projector.rows
    least, most = sorted(apart / shape for shape in shapes)
    if least - ODD * new.error <= upright <= most + ODD * new.error:
        return []
    return [
        (
            "the top and bottom edges tell of another growth than the side edges: is an edge or a "
            "sign wrong? --corrects mends it; if they stand, the projector has turned, so read the "
            "corners again"
        )
    ]


def measured_at(one: Measurement) -> int:
    """Return the time of a measurement, in ms UTC."""
    return milliseconds(one.at)
