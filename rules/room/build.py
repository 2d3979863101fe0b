"""Compile a room file that has no errors into a Room."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple, TypeVar, cast

from engine import settle
from engine.aspect import SCALE
from engine.facts import CUE, columns, standing_columns, told_column
from engine.optics import raster_size
from engine.planning.placement import screen_by_diagonal
from engine.room import (
    BUILT_IN_PICTURES,
    Corner,
    Corners,
    Crop,
    Lens,
    Light,
    Middles,
    Pace,
    Panels,
    Preset,
    Projector,
    Promise,
    Room,
    RoomBelow,
    RowNote,
    Rules,
    Screen,
    Show,
    Source,
    Stretch,
    Throw,
    TimelyPromise,
    Told,
    Wear,
)
from engine.table import Policy, Row, compile_table
from engine.value_set import ANYTHING
from rules.room.fields import ANY_LANGUAGE
from rules.room.openings import free_ratio
from rules.room.rows import RANKED_PARTS, RowCells, rank
from rules.words.fluent_catalogue import catalogue_in

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from engine.room import Reporter
    from engine.table import Column, RuleTable
    from rules.room.equipment_sections import (
        CornersPart,
        LightPart,
        PicturePart,
        PresetPart,
        ProjectorPart,
        ScreenPart,
        ThrowPart,
    )
    from rules.room.pace_sections import (
        PacePart,
        SourcePart,
        ToldPart,
    )
    from rules.room.rule_sections import (
        PromisePart,
        ShowPart,
    )
    from rules.room.schema import RoomFile

Cast = TypeVar("Cast")


class TableCells(NamedTuple):
    """The cells of every row and promise, as read from the nodes, and the lines they stand on."""

    rows: tuple[RowCells, ...]
    otherwise: int
    """The line of the default look, 0 if the file has none."""
    promises: tuple[RowCells, ...]


def build(text: str, file: RoomFile, lines: TableCells) -> Room:
    """Compile a room from the file's models and its cells; the file must have no errors.

    `text` is the room file, which the room carries with it.
    """
    screen = _screen(file.screen)
    told = {name: _told(name, fact) for name, fact in file.told.items()}
    facts = columns(
        tuple(file.sources),
        tuple(file.presets),
        tuple(file.panels),
        map(told_column, told.values()),
    )
    return Room(
        name=file.room,
        time_zone=file.time_zone,
        screen=screen,
        projector=_projector(file.projector),
        presets=_presets(file, screen),
        pictures=_frozen({name: _picture(one) for name, one in file.pictures.items()}),
        panels=_panels(file, screen),
        sources=_frozen({name: _source(name, one) for name, one in file.sources.items()}),
        told=_frozen(told),
        cues=_frozen(file.cues),
        pace=_pace(file.pace),
        answers=file.orders.answered,
        rules=_rules(file, lines, facts),
        promises=_promises(file, lines.promises, facts),
        timely=_timely(file, lines.promises, facts),
        text=text,
        catalogue=catalogue_in(file.language),
        seats=_frozen(file.seats),
        wear=Wear(file.wear.travels, file.wear.a_night, file.wear.strip),
        waived=_frozen({one.promise: _spoken(file, one.because) for one in file.waived}),
        labels=_frozen({" ".join(k.split()): _spoken(file, v) for k, v in file.labels.items()}),
    )


def _spoken(file: RoomFile, sentence: Mapping[str, str]) -> str:
    """Give a sentence in the room's language; what is not said in that, in the first that is."""
    own = sentence.get(file.language) or sentence.get(ANY_LANGUAGE)
    return own or next(iter(sentence.values()))


def _screen(part: ScreenPart) -> Screen:
    width = part.width
    if width is None:
        width, _ = screen_by_diagonal(part.diagonal or 0, part.aspect)
    # Rounded up, so that a picture of the screen's own ratio is never narrower than the screen.
    height = -(-width * SCALE // part.aspect)
    return Screen(width, height, part.border, part.overfill, part.gain)


def _presets(file: RoomFile, screen: Screen) -> Mapping[str, Preset]:
    raster = file.projector.raster
    return _frozen(
        {name: _preset(name, part, screen, raster) for name, part in file.presets.items()}
    )


def _panels(file: RoomFile, screen: Screen) -> Mapping[str, Panels]:
    """Compile the arrangements of panels, each with what people are asked to do for it."""
    catalogue = catalogue_in(file.language)
    found = {}
    for name, part in file.panels.items():
        own = part.words or {}
        words = own.get(catalogue.language) or own.get(ANY_LANGUAGE)
        opening = free_ratio(part.opening, screen)
        words = words or catalogue.say("task", _task(opening, screen))
        found[name] = Panels(name, opening, words)
    return _frozen(found)


def _task(opening: int | None, screen: Screen) -> str:
    """Say what is to be done for panels that leave a ratio free, as far as the ratio tells it."""
    if opening is None:
        return "take_off"
    return "sides" if opening < screen.aspect else "top_and_bottom"


def _projector(part: ProjectorPart) -> Projector:
    lens = Lens(part.lens.travel, part.lens.reports, part.lens.transmission_at_long_end)
    return Projector(*part.raster, _light(part.light), _throw(part.throw), lens)


def _light(part: LightPart | None) -> Light | None:
    if part is None:
        return None
    reads, preset = (part.measured.reads, part.measured.preset) if part.measured else (None, None)
    return Light(part.lumens, part.remaining, reads, preset, part.contrast)


def _throw(part: ThrowPart | None) -> Throw | None:
    if part is None:
        return None
    return Throw(
        part.distance,
        *part.ratio,
        part.shift.up,
        part.shift.across,
        part.offset.up,
        part.offset.across,
    )


def _preset(name: str, part: PresetPart, screen: Screen, raster: tuple[int, int]) -> Preset:
    size = raster_size(screen, *raster, part.fits)
    return Preset(name, part.fits, *size, _corners(part.measured), _middles(part.measured))


def _corners(part: CornersPart | None) -> Corners | None:
    if part is None:
        return None
    places = (part.top_left, part.top_right, part.bottom_right, part.bottom_left)
    return Corners(*(Corner(*place) for place in places))


def _middles(part: CornersPart | None) -> Middles | None:
    if part is None or part.middles is None:
        return None
    one = part.middles
    return Middles(*(Corner(*place) for place in (one.top, one.right, one.bottom, one.left)))


def _picture(part: PicturePart) -> Stretch | Crop | RoomBelow:
    if part.room_below is not None:
        return RoomBelow(part.room_below)
    if part.crop is not None:
        return Crop(part.crop.rows_lost)
    one = part.stretch
    assert one is not None  # noqa: S101 - `checks` refuses a picture that has none
    return Stretch(one.fill, one.edge_circle, one.middle_circle, one.even_middle, one.rows_lost)


def _source(name: str, part: SourcePart) -> Source:
    return Source(
        name,
        part.shape,
        part.menu_shape,
        part.leave_alone,
        part.declares,
        part.titles,
        part.bar_pairs == "both",
        cast("Reporter", part.first_word),
    )


def _told(name: str, part: ToldPart) -> Told:
    return Told(name, part.values.values, part.values.least, part.values.most, part.first())


def _pace(part: PacePart) -> Pace:
    return Pace(
        settle=settle.DwellTimes(part.settle.taller, part.settle.wider, part.settle.odd),
        first_minutes=part.recalls.first_minutes,
        per_title=part.recalls.per_title,
        per_night=part.recalls.per_night,
        pause=part.pause,
        linger=part.linger,
        linger_people=part.prompts.wait,
        lines=part.lines,
        remind=part.prompts.remind,
        give_up=part.prompts.give_up,
        session=part.session,
        order=part.order,
    )


def _rules(file: RoomFile, lines: TableCells, facts: tuple[Column, ...]) -> Rules:
    part = file.rules
    order = {name: tuple(getattr(part.order, name, ())) for name in RANKED_PARTS}
    rows, notes = [], []
    for number, (row, line) in enumerate(zip(part.rows, lines.rows, strict=True), start=1):
        label = row.name or f"row {number}"
        shown = {name: getattr(row.show, name) for name in RANKED_PARTS}
        rows.append(Row(line.cells, _show(row.show), rank(shown, order), label))
        notes.append(RowNote(label, _spoken(file, row.because), line.line))
    table = compile_table(Policy(part.policy), facts, rows, _show(part.otherwise))
    because = _spoken(file, part.otherwise.because)
    otherwise = RowNote("otherwise", because, lines.otherwise)
    return Rules(table, tuple(notes), otherwise)


def _show(part: ShowPart) -> Show:
    cues = tuple(sorted(part.cues.items()))
    return Show(part.picture, part.lift, part.preset, part.panels, cues, part.after or 0)


def _promises(
    file: RoomFile, lines: tuple[RowCells, ...], facts: tuple[Column, ...]
) -> tuple[Promise, ...]:
    """Compile each promise to a table of one row, which matches where the promise is broken."""
    return tuple(
        Promise(label, _spoken(file, part.because), line.line, _one_row(file, facts, line, label))
        for label, part, line in _labelled(file, lines)
        if part.never is not None
    )


def _timely(
    file: RoomFile, lines: tuple[RowCells, ...], facts: tuple[Column, ...]
) -> tuple[TimelyPromise, ...]:
    """Compile each promise of how soon a look stands; its table matches where it need not."""
    return tuple(
        TimelyPromise(
            label,
            _spoken(file, part.because),
            line.line,
            part.within,
            _one_row(file, facts, line if part.unless else None, label),
        )
        for label, part, line in _labelled(file, lines)
        if part.within is not None
    )


def _labelled(
    file: RoomFile, lines: tuple[RowCells, ...]
) -> Iterator[tuple[str, PromisePart, RowCells]]:
    """Name each promise; one without a name is called by its number, or else by its line."""
    named = {part.name for part in file.promises}
    for number, (part, line) in enumerate(zip(file.promises, lines, strict=True), start=1):
        label = part.name or f"promise {number}"
        if part.name is None and label in named:
            label = f"promise at line {line.line}"  # or a verdict could mean either
        yield label, part, line


def _one_row(
    file: RoomFile, facts: tuple[Column, ...], line: RowCells | None, label: str
) -> RuleTable[bool]:
    """Compile a table that gives True where one row matches; without a row it never does."""
    every = (*facts, *standing_columns((*BUILT_IN_PICTURES, *file.pictures), file.cues))
    cells = (ANYTHING,) * len(every) if line is None else line.cells
    # Cues have a column only where they are tested: hardly any promise speaks of them.
    tested = [
        (column, cell)
        for column, cell in zip(every, cells, strict=True)
        if cell != ANYTHING or not column.name.startswith(CUE)
    ]
    row = Row(tuple(cell for _, cell in tested), output=True, label=label)
    columns = tuple(column for column, _ in tested)
    return compile_table(Policy.FIRST, columns, [] if line is None else [row], default=False)


def _frozen(values: Mapping[str, Cast]) -> Mapping[str, Cast]:
    return MappingProxyType(dict(values))
