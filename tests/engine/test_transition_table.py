"""Each row of the transition table is a change that may happen; nothing else is."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Final, get_args

import pytest

from engine.events import (
    PlaybackState,
)
from engine.transition_table import (
    MACHINES,
    TABLE,
    LensState,
    MachineName,
    MachineState,
    OverrideState,
    PanelsState,
    TransitionRow,
    Trigger,
    build_machine,
    fire,
    lens_is_silent,
    nothing_plays,
)
from tests.engine.story import SILENT, UNANSWERED


@dataclass
class Model:
    """The three machines with nothing round them."""

    lens: LensState = "unknown"
    panels: PanelsState = "still"
    override: OverrideState = "rules"
    playback: PlaybackState = "stopped"
    pause_over: bool = False


def standing(machine: MachineName, state: MachineState) -> Model:
    """Let one machine stand so, and the others as in a new room."""
    model = Model()
    setattr(model, machine, state)
    return model


EVERY: Final = [
    (machine, trigger, state)
    for machine, states in MACHINES.items()
    for trigger, state in product(get_args(Trigger), states)
]
ROWS: Final = {(row.machine, row.trigger, row.source): row for row in TABLE}


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row.trigger}-{row.source}")
def test_a_row_of_the_table_is_a_change_that_may_happen(row: TransitionRow) -> None:
    model = standing(row.machine, row.source)
    assert fire(model, SILENT, row.machine, row.trigger)
    assert model == standing(row.machine, row.target)


@pytest.mark.parametrize(
    ("machine", "trigger", "state"), [each for each in EVERY if each not in ROWS]
)
def test_what_stands_in_no_row_does_not_happen(
    machine: MachineName, trigger: Trigger, state: MachineState
) -> None:
    model = standing(machine, state)
    assert not fire(model, SILENT, machine, trigger)
    assert model == standing(machine, state)


def test_no_two_rows_say_where_one_trigger_leads() -> None:
    assert len(ROWS) == len(TABLE)


@pytest.mark.parametrize("name", MACHINES)
def test_each_machine_is_built_from_its_own_rows_and_no_others(name: MachineName) -> None:
    machine = build_machine(name)
    assert [*machine.states] == [*MACHINES[name]]
    assert machine.initial == MACHINES[name][0]
    assert machine.model_attribute == name
    built = {
        (trigger, source, one.dest, tuple(condition.func for condition in one.conditions))
        for trigger, event in machine.events.items()
        for source, ways in event.transitions.items()
        for one in ways
    }
    assert built == {
        (row.trigger, row.source, row.target, (row.guard,) if row.guard else ())
        for row in TABLE
        if row.machine == name
    }


@pytest.mark.parametrize(
    ("playback", "pause_over", "still"),
    [
        ("stopped", False, True),
        ("paused", False, False),
        ("paused", True, True),
        ("playing", False, False),
        ("unknown", False, False),
    ],
)
def test_a_lens_of_unknown_place_is_sent_off_only_where_nothing_plays(
    playback: PlaybackState, pause_over: bool, still: bool
) -> None:
    model = Model(playback=playback, pause_over=pause_over)
    assert nothing_plays(model, SILENT) is still
    assert fire(model, SILENT, "lens", "recall") is still
    assert model.lens == ("travelling" if still else "unknown")


def test_the_clock_brings_only_a_silent_lens_to_rest() -> None:
    model = Model(lens="travelling")
    assert not lens_is_silent(model, UNANSWERED)
    assert not fire(model, UNANSWERED, "lens", "time_is_over")
    assert model == Model(lens="travelling")
    assert lens_is_silent(model, SILENT)
    assert fire(model, SILENT, "lens", "time_is_over")
    assert model == Model(lens="resting")
