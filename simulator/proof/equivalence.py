"""Worlds put together by what they make of a room's equipment, so that one can stand for many.

What the engine makes of a world depends on where lens and panels stand and on what a person
wants: the situation. Two worlds that ask there for the same look, put pictures of one kind in
the same place, forbid the same and touch the same promises are one claim.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from engine.aspect import WIDE_FRAME
from engine.choosing import pausing
from engine.facts import HANDS, HANDS_OF, Facts, aspect_of, facts_of, in_title, may_be_menu
from engine.optics import can_show, fit, larger_preset, on_panel
from engine.reconcile import standing_place
from engine.room import DARK, PLAIN, WHOLE, Room, Show
from engine.state import Core, OrderedPicture, first_state
from engine.table import RuleTable, choose
from engine.transition_table import nothing_plays
from engine.value_set import ANYTHING, ValueSet
from simulator.proof.alphabet import hand_looks
from simulator.proof.environments import (
    Environment,
    PictureKind,
    enter,
    environments,
    lookups_by_fact,
    picture_kind,
    promise_tests_passed,
)

STANDING: Final = ("preset", "panels", "hands", "picture", "lift", "travelling", "hand")
"""What rules and promises may look at that is the equipment's own state, not the world's."""
MOST_ENVIRONMENTS: Final = 500_000
NOTHING_SHOWN: Final = Show()

Situation = tuple[str | None, str | None, str]
"""Preset, panels and hands, as facts."""


class EquivalenceClass(NamedTuple):
    """A world with what decides in it."""

    environment: Environment
    rows: dict[Situation, int]
    """The row that wins where lens, panels and hands stand so; -1 is the default."""
    shows: dict[Situation, Show]
    cues: dict[Situation, tuple[tuple[str, str], ...]]
    shape: int | None
    """The picture's ratio, where it is known."""
    inert: bool
    """Nothing is ordered here: no light, somebody at work, or no source known yet."""
    past_opening: bool
    """Something plays, and its first minutes are over."""
    nothing_plays: bool
    """Nothing plays."""
    pausing: bool
    may_be_menu: bool
    promises: dict[int, Environment]
    """Promises whose tests of the world pass, and a world in which; the equipment's part is still
    to be seen."""


class SituationClasses(NamedTuple):
    """What claims come to in one situation."""

    unconditional: tuple[EquivalenceClass, ...]
    by_picture: tuple[tuple[EquivalenceClass, ...], ...]
    """Those in which a person leaves the picture as it stands: where it is a named one, where it
    has to be another, and where it can stay."""


class EquivalenceClasses:
    """All the claims that can be made in a room."""

    def __init__(self, room: Room) -> None:
        self.room = room
        tests = lookups_by_fact(room)
        self.situations = tuple(
            (preset, panels, hands)
            for preset in ((None, *room.presets) if "preset" in tests else (None,))
            for panels in ((None, *room.panels) if "panels" in tests else (None,))
            for hands in (HANDS if "hands" in tests else HANDS[:1])
        )
        self._tested = ("preset" in tests, "panels" in tests, "hands" in tests)
        self.environment_count = 0
        self.complete = True
        """Whether no world was left out."""
        self._tests = [_environment_tests(promise.never) for promise in room.promises]
        self.unmet = {
            (index, name)
            for index, cells in enumerate(self._tests)
            for name, _ in cells
            if name in tests
        }
        """Tests of promises, by the promise's index and the fact, that no world has passed yet."""
        self._core = first_state(room).core
        """Enters one world after the other, to be looked at there."""
        wishes = tuple(_wishes(room))
        wished = any(wish.picture == WHOLE for wish in wishes)
        by_rules: dict[object, EquivalenceClass] = {}
        bare: dict[object, EquivalenceClass] = {}
        alike: dict[Environment, tuple[EquivalenceClass, ...]] = {}
        for environment in environments(room):
            if self.environment_count == MOST_ENVIRONMENTS:
                self.complete = False
                break
            self.environment_count += 1
            for one in self._classes_of(environment, alike):
                effect = (one.environment.service, *one[4:-1])
                looks = [show[:2] for show in one.shows.values()]
                chosen = looks if one.inert else one.rows.values()
                whole = one.pausing or any(picture in {WHOLE, None} for picture, _ in looks)
                _merge(by_rules, (*chosen, effect, _frame_of(one, whole=whole)), one)
                _merge(bare, (effect, _frame_of(one, whole=wished)), one)
        self.by_rules = tuple(by_rules.values())
        raised = any(show.lift for group in self.by_rules for show in group.shows.values())
        self.carries_over = any(
            show.picture is None or (show.lift is None and raised)
            for group in self.by_rules
            if not group.pausing and not group.inert
            for show in group.shows.values()
        )
        """Whether a row leaves out what another may have asked for before."""
        self.by_hand = tuple(
            tuple(
                group._replace(
                    environment=group.environment._replace(hand="person", wish=wish),
                    promises={
                        index: environment._replace(hand="person", wish=wish)
                        for index, environment in group.promises.items()
                    },
                )
                for group in bare.values()
            )
            for wish in wishes
        )
        shown = {show.picture for group in self.by_rules for show in group.shows.values()}
        self.named = tuple(name for name in room.pictures if name in shown)
        """Named pictures that rows show: one of them may be held in a pause."""
        self._groups: dict[object, SituationClasses] = {}
        self._kind: dict[object, tuple[str, int]] = {}
        self._numbers: dict[tuple[str, PictureKind], int] = {}
        """Kinds of pictures by the picture asked for, numbered: numbers are soon compared."""

    def __len__(self) -> int:
        return len(self.by_rules) + sum(map(len, self.by_hand))

    def situation(self, core: Core) -> Situation:
        """Say what rules see of where the equipment stands."""
        preset, panels, hands = self._tested
        return (
            core.preset if preset else None,
            core.arrangement if panels else None,
            HANDS_OF[core.panels] if hands else HANDS[0],
        )

    def _classes_of(
        self, environment: Environment, alike: dict[Environment, tuple[EquivalenceClass, ...]]
    ) -> tuple[EquivalenceClass, ...]:
        """Give a world's claims, without those of worlds alike that have none of their own.

        The coded frame is looked at for few sources, and for none without light: elsewhere worlds
        that differ in it alone come to the same.
        """
        source = self.room.sources.get(environment.source or "")
        framed = source is not None and source.leave_alone
        like = environment if framed else environment._replace(frame=WIDE_FRAME)
        found = alike.get(like)
        if found is None:
            found = alike[like] = tuple(_with_inert(self._classify(environment)))
            return found
        return tuple(
            one._replace(environment=environment, promises=dict.fromkeys(one.promises, environment))
            for one in found
            if not one.inert
        )

    def _classify(self, environment: Environment) -> EquivalenceClass:
        room, core = self.room, self._core
        enter(core, environment)
        facts = facts_of(room, core, environment.settling)
        table, source = room.rules.table, room.sources.get(environment.source or "")
        self._note_passed_tests(facts)
        rows, shows, cues = {}, {}, {}
        for situation in self.situations:
            facts["preset"], facts["panels"], facts["hands"] = situation
            choice = choose(table, facts)
            rows[situation] = -1 if choice.row is None else choice.row
            show = choice.output or NOTHING_SHOWN
            shows[situation], cues[situation] = show._replace(cues=()), show.cues
        playback = facts["playback"]
        return EquivalenceClass(
            environment=environment,
            rows=rows,
            shows=shows,
            cues=cues,
            shape=aspect_of(source, core, environment.settling),
            inert=False,
            past_opening=in_title(playback, title=environment.title) and not environment.opening,
            nothing_plays=nothing_plays(core, room),
            pausing=pausing(core),
            may_be_menu=may_be_menu(source, playback),
            promises={
                index: environment
                for index, cells in enumerate(self._tests)
                if all(cell.accepts(facts[name]) for name, cell in cells)
            },
        )

    def _note_passed_tests(self, facts: Facts) -> None:
        """Cross off the promises' tests that pass here."""
        if not self.unmet:
            return
        for index, cells in enumerate(self._tests):
            for name, cell in cells:
                if cell.accepts(facts[name]):
                    self.unmet.discard((index, name))

    def rows(self, situations: Iterable[Situation]) -> frozenset[int]:
        """Say which rows are chosen somewhere, if the equipment gets into these places."""
        return frozenset(
            group.rows[situation] for situation in situations for group in self.by_rules
        )

    def relevant_to(self, core: Core) -> tuple[EquivalenceClass, ...]:
        """Give one claim for each effect that a world can have on equipment that stands so."""
        where = standing_place(self.room, core)
        key = (
            self.situation(core),
            core.preset,
            core.lens == "unknown",
            where,
            core.arrangement,
            core.wanted[:2] if self.carries_over else None,
            None if core.asked is None else core.asked.panels,
        )
        found = self._groups.get(key)
        if found is None:
            found = self._groups[key] = self._grouped(core, where)
        shown = core.shown
        if shown is not None and shown.picture in self.room.pictures:
            return (*found.unconditional, *found.by_picture[0])
        if shown is None or shown.picture == DARK or self._unsafe(shown, where, core.arrangement):
            return (*found.unconditional, *found.by_picture[1])
        return (*found.unconditional, *found.by_picture[2])

    def _unsafe(self, shown: OrderedPicture, where: str | None, panels: str | None) -> bool:
        """Tell whether a picture may fall on panels on some way from here."""
        return any(
            on_panel(self.room, shown.region, preset, panels)
            for preset in (where, *self.room.presets, None)
        )

    def _grouped(self, core: Core, where: str | None) -> SituationClasses:
        unconditional: dict[object, EquivalenceClass] = {}
        by_picture: tuple[dict[object, EquivalenceClass], ...] = ({}, {}, {})
        situation = self.situation(core)
        for group in self.by_rules:
            _merge(unconditional, self._effect(core, where, group, group.shows[situation]), group)
        for classes in self.by_hand:
            for group in classes:
                wish = group.environment.wish or NOTHING_SHOWN
                effect = self._effect(core, where, group, wish)
                if wish.picture is not None or group.inert:
                    _merge(unconditional, effect if group.inert else (wish, effect), group)
                    continue
                travel, menu_, kinds = effect[:-4], effect[-4], effect[-3:]
                # What adds nothing where all of it matters adds nothing where less does.
                if _merge(by_picture[0], (travel, menu_, kinds), group):
                    _merge(by_picture[1], (travel, kinds), group)
                    _merge(by_picture[2], travel, group)
        return SituationClasses(
            tuple(unconditional.values()), tuple(tuple(one.values()) for one in by_picture)
        )

    def _effect(
        self, core: Core, where: str | None, group: EquivalenceClass, show: Show
    ) -> tuple[object, ...]:
        """Say all that matters of a claim to equipment that stands so."""
        environment = group.environment
        picture = show.picture or core.wanted.picture
        lift = core.wanted.lift if show.lift is None else show.lift
        if group.inert:
            look = (
                core.wanted[:2]
                if group.pausing and environment.hand == "rules"
                else (picture, lift)
            )
            return environment.service, environment.hand, look if self.carries_over else None
        if environment.hand == "person" and (group.may_be_menu or show.picture is None):
            picture = PLAIN
        if group.pausing and environment.hand == "rules":
            held = (PLAIN, *self.named)
            return "pause", *(self._kinds(one, 0, group, where, core.arrangement) for one in held)
        kind = self._kinds(picture, lift, group, where, core.arrangement)
        travels = show.preset is not None and show.preset != core.preset
        asks = show.panels is not None and show.panels != core.arrangement
        going = larger_preset(self.room, where, show.preset) if travels else where
        return (
            show.preset,
            show.panels,
            group.past_opening and (travels or asks or core.lens == "unknown"),
            group.nothing_plays and core.lens == "unknown",
            group.may_be_menu and (environment.hand == "person" or kind[0] in self.room.pictures),
            lift,
            kind,
            kind if going == where else self._kinds(picture, lift, group, going, core.arrangement),
        )

    def _kinds(
        self,
        picture: str,
        lift: int,
        group: EquivalenceClass,
        where: str | None,
        panels: str | None,
    ) -> tuple[str, int]:
        """Say what is shown there, and number what was asked for with its kind there."""
        frame = group.environment.frame
        shape = frame if group.shape is None or picture == WHOLE else group.shape
        key = (picture, lift, shape, where, panels)
        found = self._kind.get(key)
        if found is None:
            room = self.room
            shown = picture if can_show(room, picture, shape, where, panels) else PLAIN
            region = fit(room, shown, lift, shape, where, panels)
            kind = picture_kind(room, OrderedPicture(shown, shape, lift, region))
            number = self._numbers.setdefault((picture, kind), len(self._numbers))
            found = self._kind[key] = kind[0], number
        return found


def _with_inert(group: EquivalenceClass) -> Iterator[EquivalenceClass]:
    """Give a claim, and the same without light and in service, where nothing is ordered."""
    inert = group._replace(
        shape=None, inert=True, past_opening=False, nothing_plays=False, may_be_menu=False
    )
    if group.environment.source is None:
        yield inert
        return
    yield group
    for projector, service in (("off", False), ("lit", True)):
        environment = group.environment._replace(projector=projector, service=service)
        yield inert._replace(
            environment=environment, promises=dict.fromkeys(group.promises, environment)
        )


def _frame_of(group: EquivalenceClass, *, whole: bool) -> int | None:
    """Give the coded frame where it matters: for the whole picture, and for an unknown shape."""
    if group.inert or not (whole or group.shape is None):
        return None
    return group.environment.frame


def _wishes(room: Room) -> Iterator[Show]:
    """List what a person may want, as looks that hold no more than the wish."""
    for look in hand_looks(room):
        yield Show(*((look.picture, None, look.preset, look.panels) if look else ()))
    for name in _distinguished_pictures(room):
        yield Show(name)


def _distinguished_pictures(room: Room) -> Iterator[str]:
    """Name the pictures that something tells from those which a person's wishes else stand for.

    A promise does, or a row that leaves the picture as the person has had it.
    """
    table = room.rules.table
    shows = [*(row.output for row in table.rows), table.default or NOTHING_SHOWN]
    left = any(show.picture is None for show in shows)
    lifts = {0, *(show.lift or 0 for show in shows)}
    first, *others = room.pictures or (PLAIN,)
    for name, other in ((WHOLE, PLAIN), *((name, first) for name in others)):
        if left or any(
            promise_tests_passed(room, name, lift) != promise_tests_passed(room, other, lift)
            for lift in lifts
        ):
            yield name


def _merge(groups: dict[object, EquivalenceClass], effect: object, group: EquivalenceClass) -> bool:
    """Let a claim stand for another of the same effect, and for the promises that it touches.

    Tells whether this one has added anything.
    """
    first = groups.get(effect)
    if first is None:
        groups[effect] = group._replace(promises=dict(group.promises))
        return True
    known = len(first.promises)
    for index, environment in group.promises.items():
        first.promises.setdefault(index, environment)
    return len(first.promises) > known


def _environment_tests(never: RuleTable[bool]) -> list[tuple[str, ValueSet]]:
    """Give a promise's tests of the world, by the fact, without those that everything passes."""
    return [
        (column.name, cell)
        for column, cell in zip(never.columns, never.rows[0].cells, strict=True)
        if column.name not in STANDING and cell != ANYTHING
    ]
