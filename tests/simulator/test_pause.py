"""A pause moves nothing: an engine that lets it move lens, people or picture is found out.

That the right engine moves nothing is seen in `test_reachability`, where the rooms are explored.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from types import ModuleType

import pytest

import engine.choosing
import engine.reconcile
import tests.engine.story
from engine.events import PanelReport, Playback
from engine.room import Room
from tests.engine.invariants import violations
from tests.engine.story import Story
from tests.simulator.small import TALKING, changed, explore

HOLD = r'"paused"'
"""The line of a hold that the mutants below lack."""


def without_line(module: ModuleType, function: str, line: str) -> Callable[..., object]:
    """Compile a function of a module without the one line that matches."""
    source = inspect.getsource(getattr(module, function))
    lines = source.splitlines(keepends=True)
    kept = [one for one in lines if not re.search(line, one)]
    assert len(kept) == len(lines) - 1, f"{function} has no one line {line}"
    space = dict(vars(module))
    exec(compile("from __future__ import annotations\n" + "".join(kept), function, "exec"), space)  # noqa: S102 - a mutant
    made: Callable[..., object] = space[function]
    return made


def broken(room: Room) -> str:
    """Say what an exploration finds that the engine itself does not keep."""
    found = explore(room, limit=400).violations
    return "; ".join(one.words for one in found if one.promise.startswith("roomcue: "))


def test_a_travel_hold_without_the_pause_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    wrong = without_line(engine.reconcile, "travel_hold", HOLD)
    monkeypatch.setattr(engine.reconcile, "travel_hold", wrong)
    assert re.search("a recall of (broad|tall) in a pause", broken(changed(TALKING)))


def never(*_: object) -> bool:
    """Take no pause for one."""
    return False


def test_rules_that_choose_another_picture_in_a_pause_are_found_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(engine.choosing, "pausing", never)
    assert "in a pause" in broken(changed(TALKING))


# ------------------------------------------------------------------ the same on the real clock


def paused_while_a_wish_ripens(lens: str, ratio: float) -> Story:
    """Pause a film before its wish for a travel or a panel has stood for long enough."""
    story = Story(lens=lens)
    story.film(0, ratio)
    story.at(5, Playback(state="paused"))
    story.at(60, None)
    return story


def test_a_wish_that_ripens_in_a_pause_is_not_carried_out() -> None:
    story = paused_while_a_wish_ripens("tall", 2.39)
    assert story.recalls() == []
    story.at(70, Playback(state="playing"))
    story.at(85, None)
    assert story.recalls() == ["broad"]


def test_panels_that_were_wanted_before_a_pause_are_asked_for_in_it() -> None:
    """It is a good moment: the picture may go dark, and nobody misses anything."""
    story = paused_while_a_wish_ripens("tall", 1.85)
    assert story.prompts() == [("sides", "asked")]


def test_what_may_be_a_paused_ident_asks_for_no_panels() -> None:
    """It fills the coded frame and nobody has said what the title is."""
    story = paused_while_a_wish_ripens("tall", 1.78)
    assert story.prompts() == []


def test_asking_for_other_panels_than_were_wanted_before_a_pause_is_found_out() -> None:
    story = Story(lens="tall")
    story.film(0, 1.85)
    story.at(5, Playback(state="paused"))
    before = story.engine.state
    made = tuple(story.at(60, None))
    assert violations(story.room, before, made, story.engine.state) == []
    core = before.core.copy()
    core.wanted = core.wanted._replace(panels="open")
    found = violations(story.room, before._replace(core=core), made, story.engine.state)
    assert "somebody is asked for panels sides in a pause that holds others" in found


def test_every_step_of_a_night_is_held_against_it(monkeypatch: pytest.MonkeyPatch) -> None:
    found: list[str] = []

    def noted(*step: object) -> list[str]:
        found.extend(violations(*step))  # type: ignore[arg-type]
        return []

    wrong = without_line(engine.reconcile, "travel_hold", HOLD)
    monkeypatch.setattr(engine.reconcile, "travel_hold", wrong)
    monkeypatch.setattr(tests.engine.story, "violations", noted)
    paused_while_a_wish_ripens("tall", 2.39)
    assert [one for one in found if re.match("a recall of broad.* in a pause", one)]


def test_safety_may_move_the_picture_in_a_pause() -> None:
    """Panels that are reported meanwhile shrink it, and it keeps its shape."""
    story = Story(panels="open")
    story.film(0, 2.39)
    story.done(1)
    story.at(5, Playback(state="paused"))
    before = len(story.pictures())
    story.at(10, PanelReport(panels="sides"))
    assert len(story.pictures()) == before + 1
