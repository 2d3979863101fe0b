"""Environments of small rooms, listed one by one, and what the engine makes of each.

Nothing here merges or leaves out: a listing is the product of what each fact may be, just below,
at and just above each bound that any cell names. What an environment comes to is asked of the
engine itself. So what the proof folds together can be held against it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from functools import cache
from itertools import pairwise, product
from typing import Any, Final, NamedTuple

from engine import settle
from engine.aspect import NARROWEST, WIDEST
from engine.facts import (
    HELPER_OF,
    PLAYBACKS,
    RANGES,
    Facts,
    aspect_of,
    facts_of,
    facts_of_title,
    in_title,
    may_be_menu,
    pausing,
    room_columns,
)
from engine.optics import can_show
from engine.room import Room, Show, Source
from engine.settle import Settling
from engine.state import NO_TIMERS, Core, first_state
from engine.table import choose
from engine.transition_table import PanelsState, nothing_plays
from engine.value_set import ANYTHING, ValueSet
from tests.soak import TIMES

STANDING: Final = {"preset", "panels", "helper"}
"""Facts that are not the environment's."""
NO_SHOW: Final = Show()
AT_HAND: Final[tuple[PanelsState, ...]] = ("still", "asked", "refused")
"""A state of the panels for each value of the fact `helper`."""

Situation = tuple[str | None, str | None, PanelsState]
"""Where lens, panels and people stand."""


class Outcome(NamedTuple):
    """What an environment comes to."""

    inert: bool
    past_first_minutes: bool
    nothing_plays: bool
    pausing: bool
    may_be_menu: bool
    shows: tuple[Show, ...]
    """What is shown in each situation, without cues."""
    possible: frozenset[tuple[str, str | None, str | None]]
    """The named pictures among these, each with a preset and panels at which it can be shown."""


class Listed(NamedTuple):
    """One environment: a core and the memory of the filter, with light and nobody at work."""

    core: Core
    settling: Settling


class Judge:
    """Asks the engine what environments of one room come to."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.situations: tuple[Situation, ...] = tuple(
            product((None, *room.presets), (None, *room.panels), AT_HAND)
        )
        self._known: dict[object, tuple[Outcome, frozenset[int]]] = {}

    def judge(self, listed: Listed) -> tuple[Outcome, frozenset[int]]:
        """Return what an environment comes to, and the promises whose tests of it pass."""
        core, settling = listed
        facts = facts_of(self.room, core, settling)
        shape = aspect_of(self._source(core), core, settling) or core.frame
        told = tuple(value for name, value in facts.items() if name not in STANDING)
        of_title = facts_of_title(self.room, core, settling, facts)
        own = (of_title is None, (of_title or facts)["aspect"])
        key = (told, shape, own, core.title, pausing(core), core.playback)
        if key not in self._known:
            shows = self.shows(facts, of_title)
            self._known[key] = self._outcome(core, facts, shape, shows), self._promises(facts)
        return self._known[key]

    def shows(self, facts: Facts, of_title: Facts | None) -> tuple[Show, ...]:
        """Return what is shown in each situation, by the engine's own look-up.

        Preset and panels are those of a second look-up, with the facts of the title.
        """
        found = []
        for preset, panels, state in self.situations:
            stands: Facts = {"preset": preset, "panels": panels, "helper": HELPER_OF[state]}
            show = choose(self.room.rules.table, facts | stands).output or NO_SHOW
            slow = NO_SHOW
            if of_title is not None:
                slow = choose(self.room.rules.table, of_title | stands).output or NO_SHOW
            found.append(in_place_of(show, slow))
        return tuple(found)

    def _outcome(self, core: Core, facts: Facts, shape: int, shows: tuple[Show, ...]) -> Outcome:
        source, playback = self._source(core), facts["playback"]
        if source is None:
            return Outcome(True, False, False, pausing(core), False, shows, frozenset())
        named = [name for name in self.room.pictures if any(name == show.picture for show in shows)]
        first_minutes = core.timers.first_minutes is not None
        return Outcome(
            inert=False,
            past_first_minutes=in_title(playback, title=core.title) and not first_minutes,
            nothing_plays=nothing_plays(core, self.room),
            pausing=pausing(core),
            may_be_menu=may_be_menu(source, playback),
            shows=shows,
            possible=frozenset().union(*(possible(self.room, name, shape) for name in named)),
        )

    def _promises(self, facts: Facts) -> frozenset[int]:
        return frozenset(
            index
            for index, promise in enumerate(self.room.promises)
            if all(
                cell.accepts(facts[column.name])
                for column, cell in zip(
                    promise.never.columns, promise.never.rows[0].cells, strict=True
                )
                if column.name in facts and column.name not in STANDING
            )
        )

    def _source(self, core: Core) -> Source | None:
        return None if core.source is None else self.room.sources[core.source]


@cache
def in_place_of(show: Show, slow: Show) -> Show:
    """Return what one look-up shows, without cues, with preset and panels of a second one."""
    return show._replace(preset=slow.preset, panels=slow.panels, cues=(), after=0)


@cache
def possible(room: Room, name: str, shape: int) -> frozenset[tuple[str, str | None, str | None]]:
    """List the places at which a named picture can be shown at a ratio."""
    return frozenset(
        (name, preset, panels)
        for preset in (None, *room.presets)
        for panels in (None, *room.panels)
        if can_show.__wrapped__(room, name, shape, preset, panels)
    )


def every_environment(room: Room, part: int = 1) -> Iterator[Listed]:
    """List every combination of one value beside each bound, for all facts that cells look at.

    With a `part` of n every n-th of them.
    """
    number = 0
    lasting = [
        ("minute", values_of(room, "time")),
        ("range", values_of(room, "range")),
        ("three_d", values_of(room, "three_d")),
        ("doubtful", values_of(room, "doubtful")),
    ]
    told = [(name, values_of(room, name)) for name in room.told]
    shapes = [*_shapes(room)]
    for source, (playback, over) in product((None, *room.sources), _playbacks()):
        for title, first_minutes in ((False, False), (True, True), (True, False)):
            # A stop and a lasting pause end a title: one that begins then has not played yet.
            played = title and playback != "stopped" and not over
            titled = (
                [*product(*(values_of(room, name) for name in TITLED))] if played else [NO_TITLE]
            )
            spec = None if source is None else room.sources[source]
            declares = title and (spec is None or spec.declares)
            for settled, frame, declared, remembered, longest in shapes:
                if declared is not None and not declares:
                    continue
                if not title and (remembered or longest):
                    continue
                for (tallest, varies, subtitles), rest, words in product(
                    titled,
                    product(*(values for _, values in lasting)),
                    product(*(values for _, values in told)),
                ):
                    number += 1
                    if number % part:
                        continue
                    core = first_state(room).core
                    core.projector = "lit"
                    core.source, core.playback, core.pause_over = source, playback, over
                    core.title, core.frame, core.declared = title, frame, declared
                    core.remembered, core.longest = remembered, longest
                    core.tallest, core.varies, core.subtitles = tallest, varies, subtitles
                    core.timers = NO_TIMERS._replace(first_minutes=1 if first_minutes else None)
                    core.minute, core.range, core.three_d, doubtful = rest
                    core.doubt = 0 if doubtful else None
                    core.told = tuple(
                        (name, value)
                        for name, value in sorted(zip(room.told, words, strict=True))
                        if value is not None
                    )
                    yield Listed(core, settle.UNSETTLED._replace(aspect=settled))


TITLED: Final = ("tallest", "varies", "subtitles")
NO_TITLE: Final = (None, False, False)


def _playbacks() -> list[tuple[Any, bool]]:
    return [*((one, False) for one in PLAYBACKS), ("paused", True)]


Shapes = tuple[int | None, int, int | None, int | None, int | None]
"""A settled ratio, a coded frame; of a title what is declared, remembered, has stood longest."""


def _shapes(room: Room) -> Iterator[Shapes]:
    """List what may be known of shapes.

    A frame matters only while nothing else is known, so few of them are combined with the rest. So
    are few declared ratios beside a settled one, if no cell tests what is declared.
    """
    every = sorted(set(ratios_of(room, "aspect")) | set(ratios_of(room, "declared")))
    few = (17_778, every[len(every) // 3])
    beside = {17_778, *(ratio for ratio in ratios_of(room, "declared") if ratio % 100 == 0)}
    seen = {
        *product((None, *every), few[:1], (None, *beside)),
        *product((None, few[1]), every, (None, few[1])),
        *product((None,), few, every),
        *product((None,), odd_frames(room), (None, *every)),
    }
    yield from sorted(((*one, None, None) for one in seen), key=str)
    for settled in (None, *every):
        frames = (17_778, *odd_frames(room)) if settled is None else few[:1]
        for frame in frames:
            for ratio in ratios_of(room, "aspect"):
                if ratio % 100 == 0:
                    yield settled, frame, None, ratio, None
            yield settled, frame, None, None, 13_333
            yield settled, frame, None, None, 23_900


def ratios_of(room: Room, name: str) -> tuple[int, ...]:
    """List the ratios (1/10,000) beside the bounds of a fact and where pictures fit no more."""
    found = {NARROWEST, WIDEST, 17_778}
    for cell in cells_of(room, name):
        for cut in cell.cuts:
            hundredth = int(Fraction(cut.value) // 100) * 100
            found |= {hundredth + off for off in (-100, -51, -50, 0, 49, 50, 100)}
    if name == "aspect":
        found |= set(flips_of(room))
    return tuple(sorted(one for one in found if NARROWEST <= one <= WIDEST))


BEYOND: Final = (40_001, 80_000, 240_000)
"""Odd coded frames, wider than any picture."""


def odd_frames(room: Room) -> tuple[int, ...]:
    """List coded frames outside the ratios that are taken anywhere, such as upright ones."""
    upright = [ratio for ratio in flips_of(room) if ratio < NARROWEST]
    return (1, 5_625, NARROWEST - 1, *upright, *BEYOND)


STRIDE: Final = 1 if TIMES else 10
"""Every day only every tenth ratio is looked at first, and all between two that differ."""


@cache
def flips_of(room: Room) -> tuple[int, ...]:
    """List the ratios on both sides of wherever some picture begins or ceases to be possible."""
    asked = {row.output.picture for row in room.rules.table.rows} & {*room.pictures}

    def at(ratio: int) -> object:
        return [possible.__wrapped__(room, name, ratio) for name in sorted(map(str, asked))]

    found: set[int] = set()
    for low, high in _changes((*range(1, WIDEST, STRIDE), WIDEST, *BEYOND), at):
        if high <= WIDEST:
            found.update(*_changes(range(low, high + 1), at))
        else:
            found |= {high - 1, high}
    return tuple(sorted(found))


def _changes(ratios: Iterable[int], at: Callable[[int], object]) -> list[tuple[int, int]]:
    """List the neighbours between which something changes."""
    seen = [(ratio, at(ratio)) for ratio in ratios]
    return [(one[0], other[0]) for one, other in pairwise(seen) if one[1] != other[1]]


def values_of(room: Room, name: str) -> list[Any]:
    """List what a fact may be: beside each bound, every word, and null where it may be unknown."""
    column = next(one for one in room_columns(room) if one.name == name)
    cells = cells_of(room, name)
    if not cells:
        return [
            None
            if column.unknown
            else False
            if name in {"varies", "subtitles", "doubtful"}
            else None
        ]
    if name == "tallest":
        return [None, *{(ratio + 50) // 100 * 100 for ratio in ratios_of(room, name)}]
    found: list[Any] = [None] if column.unknown else []
    if name == "range":
        return [*found, *RANGES]
    if column.words:
        return [*found, *column.words]
    if column.least is None or column.most is None:
        return [*found, False, True]
    numbers = {column.least, column.most}
    for cut in (cut for cell in cells for cut in cell.cuts):
        below = int(Fraction(cut.value) // 1)
        numbers |= {below - 1, below, below + 1}
    return [*found, *sorted(one for one in numbers if column.least <= one <= column.most)]


@cache
def cells_of(room: Room, name: str) -> tuple[ValueSet, ...]:
    """List the cells of rules and promises that test a fact."""
    tables: Iterable[Any] = (room.rules.table, *(promise.never for promise in room.promises))
    return tuple(
        row.cells[at]
        for table in tables
        for at, column in enumerate(table.columns)
        for row in table.rows
        if column.name == name and row.cells[at] != ANYTHING
    )
