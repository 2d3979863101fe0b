"""Values of facts in classes: those that no rule and no promise tells apart are one class.

Classes are derived from the cells and from the pictures' places, never listed: a value that an
event may carry always belongs to one of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cached_property
from itertools import pairwise
from typing import Any, Final, NamedTuple

from engine.aspect import NARROWEST, UPRIGHT, WIDE_FRAME, WIDEST, in_hundredths, meant
from engine.choosing import OURS
from engine.facts import CUE, room_columns
from engine.lookup import Lookup
from engine.optics import can_show, field_of
from engine.room import Room
from engine.table import Column, Policy, RuleTable
from engine.value_set import ANYTHING, Value, ValueSet
from rules.table.domains import RATIO_STEP, domain_of, reached
from simulator.proof.stopping import go_on, never

STANDING: Final = ("preset", "panels", "helper", "picture", "lift", "travelling", "override")
"""Facts of rules and promises that belong to the equipment and not to the environment."""

Pattern = tuple[bool, ...]
"""Which named pictures can be shown at a ratio, at each place."""


class Mask(NamedTuple):
    """Rows and promises that accept something, as bits."""

    rows: int
    """By their places in the compiled table."""
    promises: int
    """By their index; only their tests of the environment count."""
    of_title: int
    """Rows, as bits, that accept it where preset and panels are looked up by the title's shape.

    One bit above all rows: whether they are looked up at all.
    """
    asking: int
    """The same rows, whatever our own orders and the clock make of theirs: people may have been
    asked for what they want. Nothing where people are never asked."""

    def both(self, other: Mask) -> Mask:
        """Return what is in both."""
        return Mask(
            self.rows & other.rows,
            self.promises & other.promises,
            self.of_title & other.of_title,
            self.asking & other.asking,
        )


def lookups_by_fact(room: Room) -> dict[str, list[Lookup]]:
    """Return for each fact the lookups of rules and promises that test it.

    Facts that none of them tests are left out.
    """
    tables: list[RuleTable[object]] = [room.rules.table]  # type: ignore[list-item]
    tables += [promise.never for promise in room.promises]  # type: ignore[misc]
    found: dict[str, list[Lookup]] = {}
    for table in tables:
        for column, lookup in zip(table.columns, table.lookups, strict=True):
            kinds = {lookup.null, lookup.true, lookup.false, lookup.other_strings, *lookup.spans}
            if lookup.strings or len(kinds) > 1:
                found.setdefault(column.name, []).append(lookup)
    return found


def representatives(column: Column, lookups: Iterable[Lookup]) -> tuple[Value, ...]:
    """Pick one value out of each set that these lookups tell apart; a null of its own comes first.

    A number is picked from the middle of its range, on the steps that facts come in.
    """
    domain = domain_of(column)
    found: list[Value] = [None] if domain.region.null else []
    if domain.region.true:
        return (*found, False, True)
    if domain.region.strings:
        return (*found, *column.words)
    step = domain.step or 1
    least, most = column.least or 0, column.most or 0
    edges = {least, most + step}
    for lookup in lookups:
        edges |= {first for cut in lookup.cuts if least < (first := reached(cut, step)) <= most}
    for one, other in pairwise(sorted(edges)):
        last = other - step
        found.append(one + (last - one) // step // 2 * step)
    return tuple(found)


class FactTests:
    """Which rows and which promises accept a value of a fact."""

    def __init__(self, room: Room) -> None:
        self.room = room
        table = room.rules.table
        rows = (1 << len(table.rows)) - 1
        self.looked_up = 1 << len(table.rows)
        asking = rows if len(room.panels) > 1 else 0
        self.every = Mask(rows, (1 << len(room.promises)) - 1, rows | self.looked_up, asking)
        self.lookups = lookups_by_fact(room)
        self.columns = {column.name: column for column in room_columns(room)}
        self._rows = {
            column.name: lookup
            for column, lookup in zip(table.columns, table.lookups, strict=True)
            if column.name in self.lookups
        }
        self._cells: dict[str, list[tuple[int, ValueSet]]] = {}
        for index, promise in enumerate(room.promises):
            for name, cell in environment_tests(promise.never):
                self._cells.setdefault(name, []).append((index, cell))
        self.cues = {
            index: tests
            for index, promise in enumerate(room.promises)
            if (tests := cue_tests(promise.never))
        }
        """For each promise that tests cues, by index: the cues and the values that pass."""
        self._may_conflict = table.policy in {Policy.UNIQUE, Policy.ANY}
        self.unmet = {
            (index, name)
            for name, cells in self._cells.items()
            for index, _ in cells
            if name in self.lookups
        }
        """Tests of promises that no value has passed yet: promise's index and fact."""
        self._known: dict[tuple[str, type, Value], Mask] = {}

    def tested(self, name: str) -> bool:
        """Tell whether any row or promise tests a fact."""
        return name in self.lookups

    def mask(self, name: str, value: Value) -> Mask:
        """Return the rows and promises that accept this value of a fact."""
        key = (name, type(value), value)
        found = self._known.get(key)
        if found is None:
            lookup = self._rows.get(name)
            rows = self.every.rows if lookup is None else lookup.rows(value)
            promises = self.every.promises
            for index, cell in self._cells.get(name, ()):
                if cell.accepts(value):
                    self.unmet.discard((index, name))
                else:
                    promises &= ~(1 << index)
            asking = self.every.asking & (self.every.rows if name in OURS else rows)
            found = self._known[key] = Mask(rows, promises, rows | self.looked_up, asking)
        return found

    def values(self, name: str) -> tuple[Any, ...]:
        """Return one value of each class of a fact; only null where nothing tests it."""
        if name not in self.lookups:
            return (None,)
        picked: dict[Mask, Value] = {}
        for value in representatives(self.columns[name], self.lookups[name]):
            picked.setdefault(self.mask(name, value), value)
        return tuple(picked.values())

    def fold(
        self, start: Mask, facts: Iterable[tuple[str, Iterable[Value]]]
    ) -> dict[Mask, dict[str, Value]]:
        """Return what rows and promises can make of some facts, each with values that lead to it.

        `start` has the rows and promises that other facts have left. Facts are taken one by one,
        and after each what nothing tells apart any more is merged. So there are never more
        entries than different outcomes, however many facts there are.
        """
        found: dict[Mask, dict[str, Value]] = {start: {}}
        columns = [
            (name, [(one, self.mask(name, one)) for one in values]) for name, values in facts
        ]
        for at, (name, masks) in enumerate(columns):
            later = {other for other, _ in columns[at + 1 :]} | {*STANDING}
            decided = self._untested(later), self._untested(later | OURS)
            merged: dict[Mask, dict[str, Value]] = {}
            for before, told in found.items():
                for value, mask in masks:
                    both = self._without_beaten(before.both(mask), decided)
                    if both not in merged:
                        merged[both] = {**told, name: value}
            found = merged
        return found

    def _untested(self, facts: set[str]) -> int:
        """Return the rows that test none of these facts."""
        found = self.every.rows
        for name in facts & self._rows.keys():
            lookup = self._rows[name]
            found &= lookup.null & lookup.true & lookup.false & lookup.other_strings
            for rows in (*lookup.strings.values(), *lookup.spans):
                found &= rows
        return found

    def _without_beaten(self, mask: Mask, decided: tuple[int, int]) -> Mask:
        """Leave out rows that cannot win any more, because one before them is sure to match.

        `decided` are the rows that no further fact can rule out, first of those that win, then of
        those by which people may have been asked.
        """
        if self._may_conflict:
            return mask
        winning, asking = decided
        return mask._replace(
            rows=_from_sure(mask.rows, winning),
            of_title=_from_sure(mask.of_title, winning),
            asking=_from_sure(mask.asking, asking),
        )

    def panels_asked(self, asking: int) -> frozenset[str]:
        """Return the panels for which people may have been asked by any of these rows."""
        table = self.room.rules.table
        shows = [
            table.rows[index].output
            for place, index in enumerate(table.order)
            if asking >> place & 1
        ]
        if not asking & self._untested({*OURS}) and table.default is not None:
            shows.append(table.default)
        return frozenset(one.panels for one in shows if one.panels is not None)


def _from_sure(rows: int, decided: int) -> int:
    """Leave out the rows that are beaten by the first one that is sure to match, if any is."""
    sure = rows & decided
    if not sure:
        return rows
    top = sure.bit_length() - 1
    return rows >> top << top


def environment_tests(never: RuleTable[bool]) -> list[tuple[str, ValueSet]]:
    """Return a promise's tests of the environment, by fact; always true ones are left out."""
    return [
        (column.name, cell)
        for column, cell in zip(never.columns, never.rows[0].cells, strict=True)
        if column.name not in STANDING and cell != ANYTHING and not column.name.startswith(CUE)
    ]


def cue_tests(never: RuleTable[bool]) -> list[tuple[str, ValueSet]]:
    """Return a promise's tests of cues, by the cue's name."""
    return [
        (column.name.removeprefix(CUE), cell)
        for column, cell in zip(never.columns, never.rows[0].cells, strict=True)
        if column.name.startswith(CUE) and cell != ANYTHING
    ]


FILMS: Final = (17_778, 18_500, 23_900, 13_333, 20_000, 22_000, 16_600, 27_600)
"""Shapes of real titles in 1/10,000, the commonest first: they make a counterexample plausible."""


NARROWER_FRAMES: Final = range(1, NARROWEST)
"""Ratios of odd coded frames, such as upright ones."""
WIDER_FRAMES: Final = (WIDEST + 1, 2 * WIDEST, 6 * WIDEST)
"""Beyond the widest ratio every picture is as wide as any window, so a few stand for all."""


class RatioClasses:
    """Ratios in classes: of one class all pass the same tests and can be shown the same ways.

    Facts hold ratios in hundredths, but pictures are placed by 1/10,000. Where a row asks for a
    named picture, every ratio that the row accepts is therefore looked at by itself.
    """

    def __init__(self, room: Room, tests: FactTests, stop: Callable[[], bool] = never) -> None:
        """Prepare; whatever is asked raises `BrokenOff` once `stop` says so."""
        self.room = room
        self._tests = tests
        self._stop = stop
        self._patterns: dict[tuple[tuple[str, ...], int], Pattern] = {}
        table = room.rules.table
        default = table.default
        self._by_default = {default.picture} if default is not None else set()
        self._rows_asking = {name: self._rows_showing(name) for name in room.pictures}
        """For each named picture the rows that ask for it, as bits of their places."""
        menus = tests.mask("playback", "stopped").rows | tests.mask("playback", "unknown").rows
        self._rows_leaving = self._rows_showing(None) & menus
        """The rows that may be chosen in a menu and leave the picture as it stands, which may be
        any that a person has asked for before."""

    def of(self, *facts: str, placed: bool = True) -> tuple[int, ...]:
        """Return one ratio of each class that the tests of these facts tell apart.

        With `placed`, what can be shown of a ratio counts too.
        """
        classes: dict[object, list[int]] = {}
        for hundredth in range(NARROWEST, WIDEST + 1, RATIO_STEP):
            go_on(self._stop)
            passed = tuple(self._tests.mask(name, hundredth) for name in facts)
            names = self._asked_for(hundredth) if placed else ()
            if names:
                for ratio in _rounded_to(hundredth):
                    classes.setdefault((passed, self._pattern(names, ratio)), []).append(ratio)
            else:
                classes.setdefault((passed, None), []).append(meant(hundredth))
        return tuple(_best(ratios) for ratios in classes.values())

    def frames(self) -> tuple[int, ...]:
        """Return one coded frame of each class that matters while no shape is known."""
        names = self._asked_for(None)
        if not names:
            return (WIDE_FRAME,)
        classes: dict[object, list[int]] = {}
        for ratio in (*range(NARROWEST, WIDEST + 1), *NARROWER_FRAMES, *WIDER_FRAMES):
            if ratio % RATIO_STEP == 0:
                go_on(self._stop)
            classes.setdefault(self._pattern(names, ratio), []).append(ratio)
        return tuple(_best(ratios) for ratios in classes.values())

    def settled(self) -> tuple[int, ...]:
        """Return one ratio of each class that readings settle on; upright ones count as 1.00."""
        shapes = self.of("aspect")
        if not self._asked_for(NARROWEST):
            return shapes
        classes = {self._told_apart(ratio): ratio for ratio in reversed((*shapes, *UPRIGHT))}
        return (*shapes, *(ratio for ratio in UPRIGHT if ratio in classes.values()))

    def frames_that_are_shapes(self) -> tuple[int, ...]:
        """Return one coded frame of each class, where the frame is the picture's shape.

        As a fact, a frame outside the ratios that are taken anywhere counts as the nearest.
        """
        classes = {self._told_apart(ratio): ratio for ratio in reversed(self.of("aspect"))}
        for beyond, nearest in ((NARROWER_FRAMES, NARROWEST), (WIDER_FRAMES, WIDEST)):
            if self._asked_for(nearest):
                for ratio in beyond:
                    classes.setdefault(self._told_apart(ratio), ratio)
        return tuple(classes.values())

    def _told_apart(self, ratio: int) -> tuple[Mask, Pattern]:
        aspect = in_hundredths(ratio)
        return self._tests.mask("aspect", aspect), self.pattern(aspect, ratio)

    def pattern(self, aspect: int | None, shape: int) -> Pattern:
        """Return what can be shown of a shape (1/10,000), of the pictures that rows ask for there.

        `aspect` is the fact: hundredths, or None while no shape is known.
        """
        return self._pattern(self._asked_for(aspect), shape)

    def _pattern(self, names: tuple[str, ...], ratio: int) -> Pattern:
        found = self._patterns.get((names, ratio))
        if found is None:
            found = self._patterns[names, ratio] = tuple(
                can_show.__wrapped__(self.room, name, ratio, preset, panels)
                for name in names
                for preset, panels in self._places
            )
        return found

    @cached_property
    def _places(self) -> tuple[tuple[str | None, str | None], ...]:
        """Every place of lens and panels; of those with the same room for a picture only one."""
        found: dict[object, tuple[str | None, str | None]] = {}
        for preset in (None, *self.room.presets):
            for panels in (None, *self.room.panels):
                found.setdefault(field_of(self.room, preset, panels), (preset, panels))
        return tuple(found.values())

    def _rows_showing(self, picture: str | None) -> int:
        """Return the rows that show a picture, or leave it out, as bits of their places."""
        table = self.room.rules.table
        return sum(
            1 << place
            for place, index in enumerate(table.order)
            if table.rows[index].output.picture == picture
        )

    def _asked_for(self, aspect: int | None) -> tuple[str, ...]:
        """Return the named pictures that rows ask for at a ratio, or while none is known.

        Where a row leaves a menu's picture as it stands, these are all of them.
        """
        accepted = self._tests.mask("aspect", aspect).rows
        if accepted & self._rows_leaving or None in self._by_default:
            return tuple(self.room.pictures)
        found = {name for name, rows in self._rows_asking.items() if accepted & rows}
        return tuple(name for name in self.room.pictures if name in found | self._by_default)


def _rounded_to(hundredth: int) -> Iterator[int]:
    """List the ratios that facts round to this hundredth."""
    half = RATIO_STEP // 2
    return iter(range(max(NARROWEST, hundredth - half), min(WIDEST, hundredth + half - 1) + 1))


def _best(ratios: list[int]) -> int:
    return next((film for film in FILMS if film in ratios), ratios[len(ratios) // 2])
