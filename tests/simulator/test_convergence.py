"""Rules that come to rest are let pass, and those that lead round in a circle are found."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from engine.decisions import Prompt, RecallOrder
from engine.room import Room
from rules.room.load import load
from simulator.proof.convergence import Convergence, check_convergence
from simulator.proof.equivalence import EquivalenceClasses
from simulator.proof.faults import circle
from simulator.shipped import ROOMS
from tests.simulator.small import SILENT, TALKING, changed, room_of

ROWS = """
    - name: here
      case: {{playback: playing, {one}}}
      show: {{{then}}}
      because: It is so.
    - name: there
      case: {{playback: playing, {other}}}
      show: {{{back}}}
      because: It is so."""


def convergence(room: Room) -> Convergence:
    return check_convergence(room, EquivalenceClasses(room))


def with_rows(text: str, one: str, then: str, other: str, back: str) -> Room:
    """Put two rows before a small room's own."""
    rows = ROWS.format(one=one, then=then, other=other, back=back)
    return changed(text, ("  policy: first\n  rows:", f"  policy: first\n  rows:{rows}"))


@pytest.mark.parametrize("path", ROOMS, ids=lambda path: path.stem)
def test_a_shipped_room_comes_to_rest(path: Path) -> None:
    room = load(path.read_text("utf-8"), path.name)
    found = convergence(room)
    assert found.cycles == ()
    moves = len(room.presets) > 1 or len(room.panels) > 1
    assert (found.runs > 0) == moves


def test_rows_that_send_the_lens_to_and_fro_are_found() -> None:
    room = with_rows(TALKING, "preset: broad", "preset: tall", "preset: tall", "preset: broad")
    cycle = convergence(room).cycles[0]
    recalled = [one.preset for one in cycle.decisions if isinstance(one, RecallOrder)]
    assert len(recalled) >= 2
    assert set(recalled) == {"broad", "tall"}
    assert {one.rule for one in cycle.decisions} == {"here", "there"}


def test_rows_that_have_panels_fitted_and_taken_off_again_are_found() -> None:
    room = with_rows(SILENT, "panels: open", "panels: sides", "panels: sides", "panels: open")
    cycle = convergence(room).cycles[0]
    asked = [one.panels for one in cycle.decisions if isinstance(one, Prompt)]
    assert set(asked) == {"open", "sides"}
    assert {one.rule for one in cycle.decisions} == {"here", "there"}
    assert cycle.start.group.environment.playback == "playing"


def test_a_row_that_asks_for_what_it_looks_at_comes_to_rest() -> None:
    """There it stays: that is no circle."""
    room = with_rows(TALKING, "preset: tall", "preset: broad", "preset: broad", "preset: broad")
    assert convergence(room).cycles == ()


def test_a_row_that_takes_its_request_back_as_soon_as_it_is_made_is_found() -> None:
    """Whoever is asked is not free any more, and then another row wants them to go."""
    room = with_rows(SILENT, "helper: free", "panels: sides", "helper: asked", "panels: open")
    cycle = convergence(room).cycles[0]
    stages = [one.stage for one in cycle.decisions if isinstance(one, Prompt)]
    assert stages.count("asked") >= 2
    assert {one.rule for one in cycle.decisions} == {"here"}


def test_the_row_that_takes_a_request_back_is_named_beside_the_one_that_makes_it() -> None:
    room = with_rows(SILENT, "helper: free", "panels: sides", "helper: asked", "panels: open")
    fault = circle(room, convergence(room).cycles[0])
    assert fault.message.startswith("these rules lead round in a circle")
    assert re.search(r": here \(line \d+\) and there \(line \d+\)$", fault.message)


def test_somebody_who_always_says_no_is_not_asked_for_ever() -> None:
    """The row that asks for other panels once somebody has refused asks nobody."""
    rows = ("helper: not(refused)", "panels: sides", "helper: refused", "panels: open")
    assert convergence(with_rows(SILENT, *rows)).cycles == ()


STOPPED = """
    - name: here
      case: {{playback: stopped, {one}}}
      show: {{{then}}}
      because: It is so.
    - name: there
      case: {{playback: stopped{other}}}
      show: {{{back}}}
      because: It is so."""
PANELLED = TALKING.replace("sources: {disc", "panels: {sides: {opening: 1.78}}\nsources: {disc")


def stopped(text: str, one: str, then: str, other: str, back: str) -> Room:
    """Put two rows for when nothing plays before a small room's own."""
    rows = STOPPED.format(one=one, then=then, other=other, back=back)
    return changed(text, ("  policy: first\n  rows:", f"  policy: first\n  rows:{rows}"))


def test_rows_that_lead_round_only_while_nobody_knows_where_the_lens_is_are_found() -> None:
    panels = ("preset: null, panels: open", "panels: sides")
    back = (", preset: null, panels: sides", "panels: open")
    cycles = convergence(stopped(SILENT, *panels, *back)).cycles
    assert cycles
    assert {cycle.start.preset for cycle in cycles} == {None}


def test_rows_that_begin_anew_with_every_session_are_found() -> None:
    """Somebody says no, the lens goes elsewhere; a session later they are asked once more."""
    refused = ("helper: refused", "preset: broad")
    cycles = convergence(stopped(PANELLED, *refused, "", "preset: tall, panels: sides")).cycles
    assert cycles
    recalled = [one.preset for one in cycles[0].decisions if isinstance(one, RecallOrder)]
    assert set(recalled) == {"broad", "tall"}


def test_somebody_who_never_answers_may_be_asked_in_every_session() -> None:
    """That a menu wants panels which nobody fits is no circle."""
    menus = (
        "show: {picture: whole, lift: 0 %}",
        "show: {picture: whole, lift: 0 %, panels: sides}",
    )
    assert convergence(changed(SILENT, menus)).cycles == ()


def test_the_search_for_circles_can_be_broken_off() -> None:
    room = room_of("silent")
    classes = EquivalenceClasses(room)
    answers = iter([False, False, True])
    assert check_convergence(room, classes, stop=lambda: next(answers)).runs == 2
