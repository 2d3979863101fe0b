"""What the proof folds together is what listing every environment one by one comes to.

The listing asks the engine's own facts and look-up of each environment (`tests.simulator.listing`);
the fold goes by masks of rows. Both must come to the same shows, duties and promises.
"""

from __future__ import annotations

from functools import cache
from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.facts import HELPER_OF
from engine.room import Room
from engine.state import first_state
from rules.room.load import load
from simulator.proof.environments import Environment, entered
from simulator.proof.equivalence import EquivalenceClass, EquivalenceClasses
from simulator.shipped import ROOMS
from tests.engine.meetings import evenings
from tests.engine.test_step import steps
from tests.simulator.evenings import Move, every_look, lived, moves
from tests.simulator.listing import Judge, Listed, Outcome, every_environment
from tests.simulator.random_rooms import drawn_room
from tests.simulator.small import TEXTS, room_of
from tests.soak import TIMES, sample

(CELLAR,) = [path for path in ROOMS if path.stem == "cellar"]
SEEDS = tuple(range(40)) if TIMES else (1, 6)
"""The everyday ones have short listings."""
DRAWN = tuple(f"drawn {seed}" for seed in SEEDS)
LONGEST = sample(80_000, 300_000)
"""Listings are cut off here; of those that are, only what was listed is compared."""
WHOLE = ("parts", "silent", "told")
"""Every day these listings are compared whole, and of the others every eleventh environment."""
PART = 1 if TIMES else 11
LISTED = (*TEXTS, "cellar", *DRAWN)
LIVED = (*TEXTS, "hayloft", *DRAWN[:2])


class Fold:
    """The classes of a room, by what the engine says that their own environments come to."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.judge = Judge(room)
        self.classes = EquivalenceClasses(room)
        self.promises: dict[Outcome, set[int]] = {}
        for group in self.classes.by_rules:
            outcome, _ = self.judge.judge(self.listed(group))
            self.promises.setdefault(outcome, set()).update(group.promises)

    def listed(self, group: EquivalenceClass) -> Listed:
        return self.entered(group.environment)

    def entered(self, environment: Environment) -> Listed:
        return Listed(entered(first_state(self.room).core, environment), environment.settling)


@cache
def fold_of(name: str) -> Fold:
    if name.startswith("drawn"):
        return Fold(drawn_room(int(name.split()[1])))
    if name == "cellar":
        return Fold(load(CELLAR.read_text("utf-8"), CELLAR.name))
    return Fold(room_of(name))


@pytest.mark.parametrize("name", LISTED)
def test_every_listed_environment_is_in_a_class_and_every_class_is_listed(name: str) -> None:
    """Same shows in every situation, same duties, same pictures possible; no promise is lost."""
    fold = fold_of(name)
    listed: dict[Outcome, set[int]] = {}
    part = 1 if name in WHOLE else PART
    every = every_environment(fold.room, part)
    for environment in islice(every, LONGEST // part):
        outcome, promises = fold.judge.judge(environment)
        listed.setdefault(outcome, set()).update(promises)
    if part == 1 and next(every, None) is None:
        assert listed == fold.promises
    for outcome, passed in listed.items():
        assert outcome in fold.promises
        assert passed <= fold.promises[outcome]


@pytest.mark.parametrize("name", LISTED)
def test_a_class_says_of_its_own_environment_what_the_engine_says(name: str) -> None:
    """Row by row and duty by duty, in every situation, untested parts of it included."""
    fold = fold_of(name)
    for group in fold.classes.by_rules:
        outcome, _ = fold.judge.judge(fold.listed(group))
        duties = group.duties
        assert outcome[:5] == (
            *(duties.inert, duties.past_first_minutes, duties.nothing_plays),
            *(duties.pausing, duties.may_be_menu),
        )
        for (preset, panels, helper), show in zip(
            fold.judge.situations, outcome.shows, strict=True
        ):
            core = first_state(fold.room).core
            core.preset, core.arrangement, core.panels = preset, panels, helper
            situation = fold.classes.situation(core)
            assert group.shows[situation] == show, (preset, panels, HELPER_OF[helper])


@pytest.mark.parametrize("name", LISTED)
def test_the_environment_shown_for_a_promise_is_of_the_class_and_passes_its_tests(
    name: str,
) -> None:
    fold = fold_of(name)
    for group in fold.classes.by_rules:
        of_class, _ = fold.judge.judge(fold.listed(group))
        for index, environment in group.promises.items():
            outcome, promises = fold.judge.judge(fold.entered(environment))
            assert outcome == of_class
            assert index in promises


def assert_covered(fold: Fold, listed: Listed) -> None:
    outcome, promises = fold.judge.judge(listed)
    assert outcome in fold.promises
    assert promises <= fold.promises[outcome]


@pytest.mark.parametrize("name", LIVED)
@settings(max_examples=sample(15, 500))
@given(data=st.data())
def test_wherever_an_evening_leads_its_environment_is_in_a_class(
    name: str, data: st.DataObject
) -> None:
    """Any value that any event may carry, heard in any order: nothing here is from a list."""
    fold = fold_of(name)
    for _, _, after in steps(fold.room, data.draw(evenings(fold.room))):
        assert_covered(fold, Listed(after.core, after.settling))


@pytest.mark.parametrize("name", LIVED)
@settings(max_examples=sample(15, 500))
@given(todo=moves)
def test_wherever_an_evening_of_mishaps_leads_its_environment_is_in_a_class(
    name: str, todo: list[Move]
) -> None:
    fold = fold_of(name)
    for state in lived(fold.room, first_state(fold.room), todo, every_look(fold.room)):
        assert_covered(fold, Listed(state.core, state.settling))
