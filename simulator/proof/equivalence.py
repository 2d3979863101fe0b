"""Equivalence classes: environments that the engine treats alike, so that one stands for many.

Two environments are equivalent if, wherever lens, panels and people stand, the same rows win,
the same orders are forbidden, and the same promises may break. A room has far fewer classes than
environments.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from engine.aspect import WIDE_FRAME
from engine.choosing import pausing
from engine.facts import (
    HANDS,
    HANDS_OF,
    Facts,
    HandsFact,
    aspect_of,
    facts_of,
    in_title,
    may_be_menu,
)
from engine.room import PLAIN, WHOLE, Room, Show
from engine.state import Core, first_state
from engine.table import RuleTable, choose
from engine.transition_table import nothing_plays
from engine.value_set import ANYTHING, ValueSet
from simulator.proof.alphabet import hand_looks
from simulator.proof.environments import (
    Environment,
    enter,
    environments,
    lookups_by_fact,
    promise_tests_passed,
)

STANDING: Final = ("preset", "panels", "hands", "picture", "lift", "travelling", "hand")
"""Facts of rules and promises that belong to the equipment and not to the environment."""
MOST_ENVIRONMENTS: Final = 500_000
NOTHING_SHOWN: Final = Show()

Situation = tuple[str | None, str | None, HandsFact]
"""Preset, panels and hands, as facts."""


class EquivalenceClass(NamedTuple):
    """One environment that stands for its class, and what decides in it."""

    environment: Environment
    rows: dict[Situation, int]
    """The row that wins in each situation; -1 is the default."""
    shows: dict[Situation, Show]
    """What that row shows, without its cues."""
    cues: dict[Situation, tuple[tuple[str, str], ...]]
    shape: int | None
    """The picture's ratio in 1/10,000, where it is known."""
    inert: bool
    """Nothing is ordered: no light, a technician at work, or no source known yet."""
    past_opening: bool
    """Something plays, and its first minutes are over."""
    nothing_plays: bool
    pausing: bool
    may_be_menu: bool
    promises: dict[int, Environment]
    """Promises, by index, whose tests of the environment pass, each with an environment in which
    they do. Whether such a promise breaks depends on the equipment."""

    @property
    def orders(self) -> tuple[object, ...]:
        """What decides on orders in this class, besides the chosen rows."""
        return (
            self.environment.service,
            self.shape,
            self.inert,
            self.past_opening,
            self.nothing_plays,
            self.pausing,
            self.may_be_menu,
        )


class EquivalenceClasses:
    """All equivalence classes of a room's environments."""

    def __init__(self, room: Room) -> None:
        self.room = room
        tests = lookups_by_fact(room)
        self._preset_tested = "preset" in tests
        self._panels_tested = "panels" in tests
        self._hands_tested = "hands" in tests
        self.situations = tuple(
            (preset, panels, hands)
            for preset in ((None, *room.presets) if self._preset_tested else (None,))
            for panels in ((None, *room.panels) if self._panels_tested else (None,))
            for hands in (HANDS if self._hands_tested else HANDS[:1])
        )
        """Every situation that rules can tell from others."""
        self.environment_count = 0
        self.complete = True
        """False: the room has more environments than `MOST_ENVIRONMENTS`."""
        self._tests = [_environment_tests(promise.never) for promise in room.promises]
        self.unmet = {
            (index, name)
            for index, cells in enumerate(self._tests)
            for name, _ in cells
            if name in tests
        }
        """Tests of promises that no environment has passed yet: promise's index and fact."""
        self._core = first_state(room).core
        """Enters one environment after the other while they are classified."""
        wishes = tuple(_wishes(room))
        by_rules, without_rows = self._classified(wishes)
        self.by_rules = tuple(by_rules.values())
        """Classes in which the rules choose the look."""
        self.by_hand = tuple(
            tuple(_with_wish(group, wish) for group in without_rows.values()) for wish in wishes
        )
        """Classes in which a person chooses the look, for each look that they may want."""
        self.carries_over = self._leave_parts_standing()
        """Whether a row leaves a picture or lift as another row has asked for it before."""
        shown = {show.picture for group in self.by_rules for show in group.shows.values()}
        self.named = tuple(name for name in room.pictures if name in shown)
        """Named pictures that rows show: a pause may hold one of them."""

    def __len__(self) -> int:
        return len(self.by_rules) + sum(map(len, self.by_hand))

    def _leave_parts_standing(self) -> bool:
        raised = any(show.lift for group in self.by_rules for show in group.shows.values())
        return any(
            show.picture is None or (show.lift is None and raised)
            for group in self.by_rules
            if not group.pausing and not group.inert
            for show in group.shows.values()
        )

    def situation(self, core: Core) -> Situation:
        """Return what rules see of where the equipment stands."""
        return (
            core.preset if self._preset_tested else None,
            core.arrangement if self._panels_tested else None,
            HANDS_OF[core.panels] if self._hands_tested else HANDS[0],
        )

    def rows(self, situations: Iterable[Situation]) -> frozenset[int]:
        """Return the rows that are chosen in any of these situations; -1 is the default."""
        return frozenset(
            group.rows[situation] for situation in situations for group in self.by_rules
        )

    def _classified(
        self, wishes: tuple[Show, ...]
    ) -> tuple[dict[object, EquivalenceClass], dict[object, EquivalenceClass]]:
        """Classify every environment: with the rows that win in it, and without them.

        Where a person chooses the look, rows do not matter.
        """
        whole_wished = any(wish.picture == WHOLE for wish in wishes)
        with_rows: dict[object, EquivalenceClass] = {}
        without_rows: dict[object, EquivalenceClass] = {}
        alike: dict[Environment, tuple[EquivalenceClass, ...]] = {}
        for environment in environments(self.room):
            if self.environment_count == MOST_ENVIRONMENTS:
                self.complete = False
                break
            self.environment_count += 1
            for one in self._classes_of(environment, alike):
                looks = [(show.picture, show.lift) for show in one.shows.values()]
                chosen = looks if one.inert else one.rows.values()
                whole = one.pausing or any(picture in {WHOLE, None} for picture, _ in looks)
                key = (*chosen, one.orders, _frame_that_matters(one, whole=whole))
                merge_class(with_rows, key, one)
                frame = _frame_that_matters(one, whole=whole_wished)
                merge_class(without_rows, (one.orders, frame), one)
        return with_rows, without_rows

    def _classes_of(
        self, environment: Environment, alike: dict[Environment, tuple[EquivalenceClass, ...]]
    ) -> tuple[EquivalenceClass, ...]:
        """Return an environment's own class, and those without light and in service.

        The coded frame matters for few sources, and never without light. Environments that
        differ in it alone are classified once (`alike`) and have no inert classes of their own.
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
        """Cross off the promises' tests that pass in this environment."""
        if not self.unmet:
            return
        for index, cells in enumerate(self._tests):
            for name, cell in cells:
                if cell.accepts(facts[name]):
                    self.unmet.discard((index, name))


def merge_class(
    classes: dict[object, EquivalenceClass], key: object, new: EquivalenceClass
) -> bool:
    """Add a class; if its key is there already, give its promises to the class that has it.

    Returns whether anything was added.
    """
    first = classes.get(key)
    if first is None:
        classes[key] = new._replace(promises=dict(new.promises))
        return True
    known = len(first.promises)
    for index, environment in new.promises.items():
        first.promises.setdefault(index, environment)
    return len(first.promises) > known


def _with_wish(group: EquivalenceClass, wish: Show) -> EquivalenceClass:
    """Return a class in which a person has taken over and wants a look."""
    promises = {
        index: environment._replace(hand="person", wish=wish)
        for index, environment in group.promises.items()
    }
    environment = group.environment._replace(hand="person", wish=wish)
    return group._replace(environment=environment, promises=promises)


def _with_inert(group: EquivalenceClass) -> Iterator[EquivalenceClass]:
    """Yield a class, and the same without light and in service, where nothing is ordered."""
    inert = group._replace(
        shape=None, inert=True, past_opening=False, nothing_plays=False, may_be_menu=False
    )
    if group.environment.source is None:
        yield inert
        return
    yield group
    for environment in (
        group.environment._replace(projector="off", service=False),
        group.environment._replace(projector="lit", service=True),
    ):
        promises = dict.fromkeys(group.promises, environment)
        yield inert._replace(environment=environment, promises=promises)


def _frame_that_matters(group: EquivalenceClass, *, whole: bool) -> int | None:
    """Return the coded frame if it matters: for the whole picture, or for an unknown shape."""
    if group.inert or not (whole or group.shape is None):
        return None
    return group.environment.frame


def _wishes(room: Room) -> Iterator[Show]:
    """List what a person may want, as looks that hold only the wish."""
    for look in hand_looks(room):
        yield NOTHING_SHOWN if look is None else Show(look.picture, None, look.preset, look.panels)
    for name in _distinguished_pictures(room):
        yield Show(name)


def _distinguished_pictures(room: Room) -> Iterator[str]:
    """Name the pictures that need a wish of their own.

    In a person's wishes plain stands for whole, and the first named picture for the others. That
    does not do where a promise tells them apart, or where a row leaves the picture as it stands.
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


def _environment_tests(never: RuleTable[bool]) -> list[tuple[str, ValueSet]]:
    """Return a promise's tests of the environment, by fact; always true ones are left out."""
    return [
        (column.name, cell)
        for column, cell in zip(never.columns, never.rows[0].cells, strict=True)
        if column.name not in STANDING and cell != ANYTHING
    ]
