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
from engine.optics import can_show, fit, larger, on_panel
from engine.reconcile import standing_place
from engine.region import ANYTHING, Region
from engine.room import DARK, PLAIN, WHOLE, Room, Show
from engine.state import Core, OrderedPicture, first_state
from engine.table import RuleTable, choose
from engine.transition_table import nothing_plays
from simulator.proof.alphabet import hand_looks
from simulator.proof.environments import Kind, World, enter, kind_of, seen_by, tested, worlds

STANDING: Final = ("preset", "panels", "hands", "picture", "lift", "travelling", "hand")
"""What rules and promises may look at that is the equipment's own state, not the world's."""
MOST_WORLDS: Final = 500_000
NOTHING_SHOWN: Final = Show()

Place = tuple[str | None, str | None, str]
"""Preset, panels and hands, as facts."""


class Claim(NamedTuple):
    """A world with what decides in it."""

    world: World
    rows: dict[Place, int]
    """The row that wins where lens, panels and hands stand so; -1 is the default."""
    shows: dict[Place, Show]
    cues: dict[Place, tuple[tuple[str, str], ...]]
    shape: int | None
    """The picture's ratio, where it is known."""
    dead: bool
    """Nothing is ordered here: no light, somebody at work, or no source known yet."""
    late: bool
    """Something plays, and its first minutes are over."""
    still: bool
    """Nothing plays."""
    pausing: bool
    menu: bool
    touched: dict[int, World]
    """Promises whose tests of the world pass, and a world in which; the equipment's part is still
    to be seen."""


class Groups(NamedTuple):
    """What claims come to in one situation."""

    every: tuple[Claim, ...]
    alone: tuple[tuple[Claim, ...], ...]
    """Those in which a person leaves the picture as it stands: where it is a named one, where it
    has to be another, and where it can stay."""


class Claims:
    """All the claims that can be made in a room."""

    def __init__(self, room: Room) -> None:
        self.room = room
        tests = tested(room)
        self.places = tuple(
            (preset, panels, hands)
            for preset in ((None, *room.presets) if "preset" in tests else (None,))
            for panels in ((None, *room.panels) if "panels" in tests else (None,))
            for hands in (HANDS if "hands" in tests else HANDS[:1])
        )
        self._by = ("preset" in tests, "panels" in tests, "hands" in tests)
        self.world_count = 0
        self.complete = True
        """Whether no world was left out."""
        self._tests = [_tests_of_world(promise.never) for promise in room.promises]
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
        ruled: dict[object, Claim] = {}
        bare: dict[object, Claim] = {}
        alike: dict[World, tuple[Claim, ...]] = {}
        for world in worlds(room):
            if self.world_count == MOST_WORLDS:
                self.complete = False
                break
            self.world_count += 1
            for one in self._claims(world, alike):
                effect = (one.world.service, *one[4:-1])
                looks = [show[:2] for show in one.shows.values()]
                chosen = looks if one.dead else one.rows.values()
                whole = one.pausing or any(picture in {WHOLE, None} for picture, _ in looks)
                _merge(ruled, (*chosen, effect, _frame_of(one, whole=whole)), one)
                _merge(bare, (effect, _frame_of(one, whole=wished)), one)
        self.ruled = tuple(ruled.values())
        raised = any(show.lift for claim in self.ruled for show in claim.shows.values())
        self.remembers = any(
            show.picture is None or (show.lift is None and raised)
            for claim in self.ruled
            if not claim.pausing and not claim.dead
            for show in claim.shows.values()
        )
        """Whether a row leaves out what another may have asked for before."""
        self.by_hand = tuple(
            tuple(
                claim._replace(
                    world=claim.world._replace(hand="person", wish=wish),
                    touched={
                        index: world._replace(hand="person", wish=wish)
                        for index, world in claim.touched.items()
                    },
                )
                for claim in bare.values()
            )
            for wish in wishes
        )
        shown = {show.picture for claim in self.ruled for show in claim.shows.values()}
        self.named = tuple(name for name in room.pictures if name in shown)
        """Named pictures that rows show: one of them may be held in a pause."""
        self._groups: dict[object, Groups] = {}
        self._kind: dict[object, tuple[str, int]] = {}
        self._numbers: dict[tuple[str, Kind], int] = {}
        """Kinds of pictures by the picture asked for, numbered: numbers are soon compared."""

    def __len__(self) -> int:
        return len(self.ruled) + sum(map(len, self.by_hand))

    def place(self, core: Core) -> Place:
        """Say what rules see of where the equipment stands."""
        preset, panels, hands = self._by
        return (
            core.preset if preset else None,
            core.arrangement if panels else None,
            HANDS_OF[core.panels] if hands else HANDS[0],
        )

    def _claims(self, world: World, alike: dict[World, tuple[Claim, ...]]) -> tuple[Claim, ...]:
        """Give a world's claims, without those of worlds alike that have none of their own.

        The coded frame is looked at for few sources, and for none without light: elsewhere worlds
        that differ in it alone come to the same.
        """
        source = self.room.sources.get(world.source or "")
        framed = source is not None and source.leave_alone
        like = world if framed else world._replace(frame=WIDE_FRAME)
        found = alike.get(like)
        if found is None:
            found = alike[like] = tuple(_with_twins(self._claim(world)))
            return found
        return tuple(
            one._replace(world=world, touched=dict.fromkeys(one.touched, world))
            for one in found
            if not one.dead
        )

    def _claim(self, world: World) -> Claim:
        room, core = self.room, self._core
        enter(core, world)
        facts = facts_of(room, core, world.settling)
        table, source = room.rules.table, room.sources.get(world.source or "")
        self._meet(facts)
        rows, shows, cues = {}, {}, {}
        for place in self.places:
            facts["preset"], facts["panels"], facts["hands"] = place
            choice = choose(table, facts)
            rows[place] = -1 if choice.row is None else choice.row
            show = choice.output or NOTHING_SHOWN
            shows[place], cues[place] = show._replace(cues=()), show.cues
        playback = facts["playback"]
        return Claim(
            world=world,
            rows=rows,
            shows=shows,
            cues=cues,
            shape=aspect_of(source, core, world.settling),
            dead=False,
            late=in_title(playback, title=world.title) and not world.opening,
            still=nothing_plays(core, room),
            pausing=pausing(core),
            menu=may_be_menu(source, playback),
            touched={
                index: world
                for index, cells in enumerate(self._tests)
                if all(cell.accepts(facts[name]) for name, cell in cells)
            },
        )

    def _meet(self, facts: Facts) -> None:
        """Cross off the promises' tests that pass here."""
        if not self.unmet:
            return
        for index, cells in enumerate(self._tests):
            for name, cell in cells:
                if cell.accepts(facts[name]):
                    self.unmet.discard((index, name))

    def rows(self, places: Iterable[Place]) -> frozenset[int]:
        """Say which rows are chosen somewhere, if the equipment gets into these places."""
        return frozenset(claim.rows[place] for place in places for claim in self.ruled)

    def seen_from(self, core: Core) -> tuple[Claim, ...]:
        """Give one claim for each effect that a world can have on equipment that stands so."""
        where = standing_place(self.room, core)
        key = (
            self.place(core),
            core.preset,
            core.lens == "unknown",
            where,
            core.arrangement,
            core.wanted[:2] if self.remembers else None,
            None if core.asked is None else core.asked.panels,
        )
        found = self._groups.get(key)
        if found is None:
            found = self._groups[key] = self._grouped(core, where)
        shown = core.shown
        if shown is not None and shown.picture in self.room.pictures:
            return (*found.every, *found.alone[0])
        if shown is None or shown.picture == DARK or self._unsafe(shown, where, core.arrangement):
            return (*found.every, *found.alone[1])
        return (*found.every, *found.alone[2])

    def _unsafe(self, shown: OrderedPicture, where: str | None, panels: str | None) -> bool:
        """Tell whether a picture may fall on panels on some way from here."""
        return any(
            on_panel(self.room, shown.region, preset, panels)
            for preset in (where, *self.room.presets, None)
        )

    def _grouped(self, core: Core, where: str | None) -> Groups:
        every: dict[object, Claim] = {}
        alone: tuple[dict[object, Claim], ...] = ({}, {}, {})
        place = self.place(core)
        for claim in self.ruled:
            _merge(every, self._effect(core, where, claim, claim.shows[place]), claim)
        for claims in self.by_hand:
            for claim in claims:
                wish = claim.world.wish or NOTHING_SHOWN
                effect = self._effect(core, where, claim, wish)
                if wish.picture is not None or claim.dead:
                    _merge(every, effect if claim.dead else (wish, effect), claim)
                    continue
                travel, menu, kinds = effect[:-4], effect[-4], effect[-3:]
                # What adds nothing where all of it matters adds nothing where less does.
                if _merge(alone[0], (travel, menu, kinds), claim):
                    _merge(alone[1], (travel, kinds), claim)
                    _merge(alone[2], travel, claim)
        return Groups(tuple(every.values()), tuple(tuple(one.values()) for one in alone))

    def _effect(
        self, core: Core, where: str | None, claim: Claim, show: Show
    ) -> tuple[object, ...]:
        """Say all that matters of a claim to equipment that stands so."""
        world = claim.world
        picture = show.picture or core.wanted.picture
        lift = core.wanted.lift if show.lift is None else show.lift
        if claim.dead:
            look = core.wanted[:2] if claim.pausing and world.hand == "rules" else (picture, lift)
            return world.service, world.hand, look if self.remembers else None
        if world.hand == "person" and (claim.menu or show.picture is None):
            picture = PLAIN
        if claim.pausing and world.hand == "rules":
            held = (PLAIN, *self.named)
            return "pause", *(self._kinds(one, 0, claim, where, core.arrangement) for one in held)
        kind = self._kinds(picture, lift, claim, where, core.arrangement)
        travels = show.preset is not None and show.preset != core.preset
        asks = show.panels is not None and show.panels != core.arrangement
        going = larger(self.room, where, show.preset) if travels else where
        return (
            show.preset,
            show.panels,
            claim.late and (travels or asks or core.lens == "unknown"),
            claim.still and core.lens == "unknown",
            claim.menu and (world.hand == "person" or kind[0] in self.room.pictures),
            lift,
            kind,
            kind if going == where else self._kinds(picture, lift, claim, going, core.arrangement),
        )

    def _kinds(
        self, picture: str, lift: int, claim: Claim, where: str | None, panels: str | None
    ) -> tuple[str, int]:
        """Say what is shown there, and number what was asked for with its kind there."""
        frame = claim.world.frame
        shape = frame if claim.shape is None or picture == WHOLE else claim.shape
        key = (picture, lift, shape, where, panels)
        found = self._kind.get(key)
        if found is None:
            room = self.room
            shown = picture if can_show(room, picture, shape, where, panels) else PLAIN
            region = fit(room, shown, lift, shape, where, panels)
            kind = kind_of(room, OrderedPicture(shown, shape, lift, region))
            number = self._numbers.setdefault((picture, kind), len(self._numbers))
            found = self._kind[key] = kind[0], number
        return found


def _with_twins(claim: Claim) -> Iterator[Claim]:
    """Give a claim, and the same without light and in service, where nothing is ordered."""
    dead = claim._replace(shape=None, dead=True, late=False, still=False, menu=False)
    if claim.world.source is None:
        yield dead
        return
    yield claim
    for projector, service in (("off", False), ("lit", True)):
        world = claim.world._replace(projector=projector, service=service)
        yield dead._replace(world=world, touched=dict.fromkeys(claim.touched, world))


def _frame_of(claim: Claim, *, whole: bool) -> int | None:
    """Give the coded frame where it matters: for the whole picture, and for an unknown shape."""
    if claim.dead or not (whole or claim.shape is None):
        return None
    return claim.world.frame


def _wishes(room: Room) -> Iterator[Show]:
    """List what a person may want, as looks that hold no more than the wish."""
    for look in hand_looks(room):
        yield Show(*((look.picture, None, look.preset, look.panels) if look else ()))
    for name in _told_apart(room):
        yield Show(name)


def _told_apart(room: Room) -> Iterator[str]:
    """Name the pictures that something tells from those which a person's wishes else stand for.

    A promise does, or a row that leaves the picture as the person has had it.
    """
    table = room.rules.table
    shows = [*(row.output for row in table.rows), table.default or NOTHING_SHOWN]
    left = any(show.picture is None for show in shows)
    lifts = {0, *(show.lift or 0 for show in shows)}
    first, *others = room.pictures or (PLAIN,)
    for name, other in ((WHOLE, PLAIN), *((name, first) for name in others)):
        if left or any(seen_by(room, name, lift) != seen_by(room, other, lift) for lift in lifts):
            yield name


def _merge(groups: dict[object, Claim], effect: object, claim: Claim) -> bool:
    """Let a claim stand for another of the same effect, and for the promises that it touches.

    Tells whether this one has added anything.
    """
    first = groups.get(effect)
    if first is None:
        groups[effect] = claim._replace(touched=dict(claim.touched))
        return True
    known = len(first.touched)
    for index, world in claim.touched.items():
        first.touched.setdefault(index, world)
    return len(first.touched) > known


def _tests_of_world(never: RuleTable[bool]) -> list[tuple[str, Region]]:
    """Give a promise's tests of the world, by the fact, without those that everything passes."""
    return [
        (column.name, cell)
        for column, cell in zip(never.columns, never.rows[0].cells, strict=True)
        if column.name not in STANDING and cell != ANYTHING
    ]
