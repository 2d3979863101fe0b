"""What need not be looked at twice is left out of a proof, and nothing else is."""

from __future__ import annotations

import pickle
import random
from dataclasses import fields
from typing import Final
from unittest.mock import patch

import pytest

from engine.room import Room
from engine.state import Core, first_state
from simulator.proof import demands
from simulator.proof.demands import Demand
from simulator.proof.event_steps import Share
from simulator.proof.footprints import Footprint, Footprints, WatchedCore, differ
from simulator.proof.reachability import Explorer
from simulator.proof.successors import Successors
from tests.simulator.small import SMALL, room_of
from tests.soak import sample
from tests.soundness.random_rooms import random_room

MOST_STATES: Final = 300
"""Of a random room no more states than these are explored: without savings each takes long."""
SEEDS: Final = random.Random(7).sample(range(100_000), sample(0, 60))
ROOMS: Final = [
    *(room_of(name) for name in (SMALL if SEEDS else ("talking", "parts"))),
    *(random_room(seed).room for seed in SEEDS),
]


@pytest.mark.parametrize("room", ROOMS, ids=lambda room: str(room.name))
def test_a_half_step_that_is_looked_up_is_the_one_that_would_be_taken(room: Room) -> None:
    explorer = Explorer(room, MOST_STATES)
    found = explorer.run()
    with patch.object(Footprint, "changes", return_value=None):
        anew = Explorer(room, MOST_STATES)
        assert anew.run() == found
    assert anew.index_of == explorer.index_of
    assert anew.ways_into == explorer.ways_into


@pytest.mark.parametrize("room", ROOMS, ids=lambda room: str(room.name))
def test_where_nothing_can_set_off_every_wish_leads_where_one_of_them_leads(room: Room) -> None:
    known = demands._effect  # noqa: SLF001 - what is held here

    def apart(core: Core, demand: Demand) -> object:
        """Tell demands apart also by the preset and the panels that they ask for."""
        return known(core, demand), demand.show.preset, demand.show.panels

    found = Explorer(room, MOST_STATES).run()
    with patch.object(demands, "_effect", apart):
        each = Explorer(room, MOST_STATES).run()
    assert (each.states, each.rows, each.unmet) == (found.states, found.rows, found.unmet)
    assert {one.promise for one in each.violations} == {one.promise for one in found.violations}


@pytest.mark.parametrize("number", [2, 3, 5])
def test_shares_of_what_may_happen_are_together_all_of_it_in_its_order(number: int) -> None:
    room = room_of("talking")
    core = first_state(room).core
    whole = Successors(room).after_events(0, core)
    parts = [Successors(room).after_events(0, core, Share(at, number)) for at in range(number)]
    assert sum(part.steps for part in parts) == whole.steps
    assert all(part.steps < whole.steps for part in parts)
    found = {one.key: one for part in reversed(parts) for one in reversed(part.successors)}
    assert found == {one.key: one for one in whole.successors}
    first_met = dict.fromkeys(one.key for part in parts for one in part.successors)
    assert [*first_met] == [one.key for one in whole.successors]


def test_what_half_steps_lead_to_is_the_same_in_another_process() -> None:
    room = room_of("talking")
    expansion = Successors(room).after_events(0, first_state(room).core)
    assert expansion.successors
    assert pickle.loads(pickle.dumps(expansion)) == expansion  # noqa: S301 - our own


def test_what_is_looked_at_is_noted_and_what_was_set_before_is_not() -> None:
    looked_at: set[str] = set()
    core = WatchedCore(first_state(room_of("talking")).core, looked_at)
    core.title = True
    assert core.title
    assert core.lens == "unknown"
    assert looked_at == {"lens"}


def test_setting_a_field_to_what_it_was_is_a_change_unless_it_was_looked_at() -> None:
    core = WatchedCore(first_state(room_of("talking")).core, set())
    core.lens = "unknown"
    assert core.changes() == (("lens", "unknown"),)
    core = WatchedCore(first_state(room_of("talking")).core, set())
    core.preset = core.preset
    assert not core.changes()


def test_a_step_is_known_only_where_all_that_it_looked_at_is_the_same() -> None:
    core, kept = first_state(room_of("talking")).core, Footprints()
    kept.of("step").keep(core, {"lens", "preset"}, (("title", True),))
    other = core.copy()
    other.panels = "refused"
    assert kept.of("step").changes(other) == (("title", True),)
    assert kept.of("another step").changes(other) is None
    other.lens = "resting"
    assert kept.of("step").changes(other) is None


def test_fields_that_were_not_set_are_not_looked_at_to_see_that_they_are_the_same() -> None:
    before, looked_at = first_state(room_of("talking")).core, set[str]()
    after = WatchedCore(before, looked_at)
    assert not differ(before, after, *(field.name for field in fields(Core)))
    assert not looked_at
    after.lens = "resting"
    assert differ(before, after, "preset", "lens")
