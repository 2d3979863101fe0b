"""Every way in which a title may begin, as far as rules want lens and panels elsewhere for it.

Two beginnings are alike if, wherever lens, panels and people stand and whether or not the first
minutes are over, the same presets and panels are wanted, and so are picture, lift and cues as far
as they matter. All facts are divided exactly, with the boxes of `rules.table`. Each kind of
beginning that a source can have is given as the events by which a hub tells it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from itertools import product
from typing import Final, NamedTuple

from engine import RoomEngine
from engine.aspect import in_hundredths, meant, number_of
from engine.events import (
    Event,
    Playback,
    ProjectorReport,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
)
from engine.facts import CUE, facts_of
from engine.room import Room, Show, Source
from engine.value_set import (
    ANYTHING,
    NOTHING,
    Value,
    ValueSet,
    difference,
    equal_to,
    intersection,
    meets,
)
from rules.table.boundaries import FILM_RATIOS
from rules.table.boxes import Bits, joined_boxes
from rules.table.domains import domain_of, some_value, within_domain
from rules.table.winners import Winners
from simulator.nights.invention import BEGINS, bars_seen
from simulator.proof.stopping import Stop, go_on, never

EQUIPMENT: Final = ("preset", "panels", "helper", "first_minutes")
"""Facts that change while a title's look comes to stand."""
OF_PICTURES: Final = frozenset({"picture", "lift"})
BEGUN: Final = {
    "playback": equal_to("playing"),
    "varies": equal_to(value=False),
    "subtitles": equal_to(value=False),
    "doubtful": equal_to(value=False),
}
"""Facts of every title that has just begun."""
SETTLED: Final = 70_000
"""By then every reading has settled (ms): the longest dwell is a minute."""
ROWS: Final = 1_080
"""Rows of the raster by which a source that is left alone tells the ratio of its frame."""

Destinations = tuple[Show, ...]
"""What is wanted at each place of the equipment that rules tell apart, as far as it matters."""
Values = dict[str, Value]
"""One value for each fact that is told from outside."""


class TitleStart(NamedTuple):
    """One way in which a title begins, as a hub tells it, all in the same second."""

    before: tuple[Event, ...]
    """What holds already."""
    begins: tuple[Event, ...]
    """The title's beginning, and its first reading."""


def title_starts(room: Room, stop: Stop = never) -> Iterator[TitleStart]:
    """List a beginning of each kind for each source that can have it.

    Where promises are excused in some cases, beginnings within and without these count as two.
    Raises `BudgetSpent` where rules tell too many cases apart, and `BrokenOff` once `stop` says so.
    """
    winners = Winners(room.rules.table)
    excused = _excused(room)
    seen: set[object] = set()
    for moves, boxes in _kinds(room, winners, stop).items():
        for box, source in product(boxes, room.sources.values()):
            facts = _outside(room, winners, box)
            for values in _choices(room, facts, excused):
                go_on(stop)
                sides = tuple(cell.accepts(values[name]) for name, cell in excused)
                key = (moves, source.name, sides)
                if key in seen or not facts["source"].accepts(source.name):
                    continue
                start = _telling(room, source, facts, values)
                if start is not None:
                    seen.add(key)
                    yield start


def _kinds(room: Room, winners: Winners, stop: Stop) -> dict[Destinations, list[Bits]]:
    """Divide all beginnings by what is wanted at each place of the equipment.

    Cues matter where a promise is excused by one. Picture and lift do where it is excused by them,
    or where they change while the look comes to stand: each change takes the hub some time.
    """
    tested = _tested(room)
    cues_matter = any(name.startswith(CUE) for name in tested)
    kinds: dict[Destinations, list[Bits]] = {(): [winners.changed(winners.whole, BEGUN)]}
    anywhere = dict.fromkeys(EQUIPMENT, ANYTHING)
    for place in product(*(winners.told_apart(name) for name in EQUIPMENT)):
        stands = dict(zip(EQUIPMENT, place, strict=True))
        finer: dict[Destinations, list[Bits]] = defaultdict(list)
        for moves, boxes in kinds.items():
            for box in boxes:
                go_on(stop)
                for row, part in winners.parted(winners.changed(box, stands)):
                    show = room.rules.show(row)
                    wanted = show if cues_matter else show._replace(cues=(), after=0)
                    finer[(*moves, wanted)].append(winners.changed(part, anywhere))
        kinds = {moves: joined_boxes(boxes) for moves, boxes in finer.items()}
    alike: dict[Destinations, list[Bits]] = defaultdict(list)
    for moves, boxes in kinds.items():
        alike[moves if tested & OF_PICTURES else _what_moves(moves)] += boxes
    return alike


def _what_moves(wanted: Destinations) -> Destinations:
    """Leave out picture and lift where they are the same everywhere: they stand at once."""
    if len({(show.picture, show.lift) for show in wanted}) > 1:
        return wanted
    return tuple(show._replace(picture=None, lift=None) for show in wanted)


def _tested(room: Room) -> frozenset[str]:
    """Name the facts by which promises are excused."""
    return frozenset(
        column.name
        for promise in room.timely
        for row in promise.unless.rows
        for column, cell in zip(promise.unless.columns, row.cells, strict=True)
        if cell != ANYTHING
    )


def _excused(room: Room) -> tuple[tuple[str, ValueSet], ...]:
    """List the tests of facts from outside by which promises are excused."""
    known = {column.name for column in room.rules.table.columns}
    return tuple(
        (column.name, cell)
        for promise in room.timely
        for row in promise.unless.rows
        for column, cell in zip(promise.unless.columns, row.cells, strict=True)
        if column.name in known and column.name not in (*EQUIPMENT, *BEGUN) and cell != ANYTHING
    )


def _outside(room: Room, winners: Winners, box: Bits) -> dict[str, ValueSet]:
    """Give the values in a box of each fact that is told from outside."""
    columns, regions = room.rules.table.columns, winners.regions(box)
    return {
        column.name: region
        for column, region in zip(columns, regions, strict=True)
        if column.name not in (*EQUIPMENT, *BEGUN)
    }


def _choices(
    room: Room, facts: Mapping[str, ValueSet], excused: tuple[tuple[str, ValueSet], ...]
) -> Iterator[Values]:
    """Choose values: one for each fact, and one on either side of what excuses a promise.

    Only values that a hub can tell count: of whole numbers above 4.5 the first is 5.
    """
    domains = {column.name: domain_of(column) for column in room.rules.table.columns}
    parts = {name: [within_domain(region, domains[name])] for name, region in facts.items()}
    # A shape may be read, declared, or not known yet: each is another way to begin.
    for name in ("aspect", "declared", "tallest"):
        parts[name] = [side for one in parts[name] for side in _sides(one, equal_to(None))]
    for name, cell in excused:
        halves = (side for one in parts[name] for side in _sides(one, cell))
        parts[name] = [
            part for half in halves if (part := within_domain(half, domains[name])) != NOTHING
        ]
    for chosen in product(*parts.values()):
        regions = dict(zip(parts, chosen, strict=True))
        regions["aspect"] = _where_shape_comes_from(regions)
        yield {name: _value(room, region, name) for name, region in regions.items()}


def _where_shape_comes_from(regions: Mapping[str, ValueSet]) -> ValueSet:
    """Narrow the shape to what is read, or else to what the title declares."""
    aspect, tallest, declared = (regions[name] for name in ("aspect", "tallest", "declared"))
    origin = declared if tallest.null else tallest
    return intersection(aspect, origin) if meets(aspect, origin) else aspect


def _sides(region: ValueSet, cell: ValueSet) -> Iterator[ValueSet]:
    """Divide a region at a test; parts in which there is nothing are left out."""
    halves = (intersection(region, cell), difference(region, cell))
    yield from (half for half in halves if half != NOTHING)


def _value(room: Room, region: ValueSet, name: str) -> Value:
    """Pick a value of a region: the one that needs no telling, or of shapes a film's."""
    default = room.told[name].default if name in room.told else None
    if region.accepts(default):
        return default
    if name in {"aspect", "declared", "tallest"}:
        films = (in_hundredths(film) for film in FILM_RATIOS)
        found = next((film for film in films if region.accepts(film)), None)
        return some_value(region) if found is None else found
    return some_value(region)


def _telling(
    room: Room, source: Source, facts: Mapping[str, ValueSet], values: Values
) -> TitleStart | None:
    """Tell a beginning by events; None where this source cannot have it."""
    start = TitleStart(_told_before(room, source, values), _told_at_once(source, values))
    engine = RoomEngine(room)
    for event in (*start.before, *start.begins):
        if engine.receive(event, BEGINS).refusal is not None:
            return None
    engine.receive(None, BEGINS + SETTLED)
    known = facts_of(room, engine.state.core, engine.state.settling)
    came_about = all(region.accepts(known[name]) for name, region in facts.items())
    return start if came_about else None


def _told_before(room: Room, source: Source, values: Values) -> tuple[Event, ...]:
    """Give the events that tell how things are before the title begins."""
    told: list[Event] = [
        ToldFact(fact=name, value=value)  # type: ignore[arg-type]
        for name, fact in room.told.items()
        if (value := values[name]) != fact.default
    ]
    if isinstance(minute := values["time"], int):
        told.append(TimeOfDay(minute=minute))
    columns = None
    if source.leave_alone and isinstance(ratio := values["aspect"], int):
        columns = -(-meant(ratio) * ROWS // 10_000)
    signal = (columns, values["range"], values["three_d"])
    if signal != (None, None, None):
        told.append(
            Signal(
                locked=True,
                columns=columns,
                rows=None if columns is None else ROWS,
                range=values["range"],  # type: ignore[arg-type]
                three_d=values["three_d"],  # type: ignore[arg-type]
            )
        )
    return (*told, ProjectorReport(state="lit"))


def _told_at_once(source: Source, values: Values) -> tuple[Event, ...]:
    """Give the events with which the title begins."""
    events: list[Event] = [SourceChosen(source=source.name), Playback(state="playing")]
    declared = values["declared"]
    if source.says_titles or isinstance(declared, int):
        ratio = number_of(declared) if isinstance(declared, int) else None
        events.append(Title(begun=True, declared=ratio))
    heeds = source.shape is None and not source.leave_alone
    if heeds and values["tallest"] is not None and isinstance(shape := values["aspect"], int):
        events.append(bars_seen(meant(shape)))
    return tuple(events)
