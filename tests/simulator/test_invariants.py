"""An engine that does not do what it was told is caught, whoever looks on."""

from __future__ import annotations

import pytest
from hypothesis import given

from engine import reconcile
from engine.events import (
    Answer,
    Event,
    LensReport,
    Outcome,
    Override,
    PanelReport,
    ProjectorReport,
    Resumed,
    Service,
)
from engine.handlers import apply_event
from engine.optics import larger_preset
from engine.refusal import Refused
from engine.room import NO_PICTURE_ON_PANELS, Room
from engine.state import Core, PendingPrompt, first_state
from engine.transaction import Transaction
from rules.room.load import load
from simulator.proof import invariants
from simulator.proof.invariants import event_violations, timer_violations
from simulator.proof.reachability import Explorer
from tests.engine.meetings import START, evenings
from tests.engine.story import HAYLOFT
from tests.engine.test_step import Evening, steps
from tests.simulator.proofs import WITH_PANELS, study
from tests.simulator.small import changed, explore


def under_way() -> Core:
    """Give a moment at which the lens travels for us and somebody is asked for panels."""
    core = first_state(HAYLOFT).core.copy()
    core.projector, core.source, core.arrangement = "lit", "disc", "open"
    core.lens, core.preset, core.origin, core.recall = "travelling", "tall", "broad", 7
    core.panels, core.asked, core.picture = "asked", PendingPrompt(8, "sides"), 9
    core.timers = core.timers._replace(travel=START + 1, remind=START + 2, give_up=START + 3)
    return core


DEAF = (
    LensReport(moving=False, preset="tall"),
    LensReport(moving=False, preset=None),
    LensReport(moving=True, preset="broad"),
    PanelReport(panels="sides"),
    PanelReport(panels=None),
    Answer(prompt=8, answer="ready"),
    Answer(prompt=8, answer="done"),
    Answer(prompt=8, answer="no"),
    Answer(prompt=5, answer="no"),
    Override(taken=True),
    Outcome(order=7, outcome="done"),
    Outcome(order=7, outcome="refused"),
    Outcome(order=7, outcome="no answer"),
    Resumed(),
    Service(begun=True),
    ProjectorReport(state="off"),
)
"""What cannot be heard at that moment without anything changing."""


@pytest.mark.parametrize("event", DEAF, ids=lambda event: f"{event.kind}")
def test_an_engine_that_hears_nothing_is_caught(event: Event) -> None:
    core = under_way()
    assert [*event_violations(HAYLOFT, core, event, core.copy())]


@pytest.mark.parametrize("timer", ["travel", "give_up", "remind"])
@pytest.mark.parametrize("stopped", [True, False])
def test_an_engine_that_lets_a_time_pass_is_caught(timer: str, *, stopped: bool) -> None:
    core = under_way()
    after = core.copy()
    if stopped:
        after.timers = after.timers._replace(**{timer: None})
    assert [*timer_violations(HAYLOFT, core, timer, after)]


@given(evening=evenings(HAYLOFT))
def test_the_engine_itself_hears_whatever_it_takes(evening: Evening) -> None:
    """Any event, wherever an evening has got to."""
    for (_, event), (before, _, _) in zip(evening, steps(HAYLOFT, evening), strict=False):
        turn = Transaction(HAYLOFT, before, START)
        try:
            apply_event(turn, event)
        except Refused:
            continue
        assert [*event_violations(HAYLOFT, before.core, event, turn.core)] == []


DECLARED = """
room: declared
time_zone: Europe/Lisbon
screen: {width: 3.4 m, aspect: 2.40, border: 180 mm, overfill: 2.5 %}
projector: {raster: 4096 x 2160, lens: {travel: 18 s, reports: yes}}
presets: {broad: {fits: 2.40}, tall: {fits: 1.78}}
panels: {open: {}, sides: {opening: 1.78}}
sources: {disc: {declares: yes}}
pace: {linger: 12 s}
rules:
  policy: first
  rows:
    - case: {playback: playing, declared: "[1.70..1.95)"}
      show: {picture: plain, lift: 0 %, preset: tall, panels: sides}
      because: It is brighter.
  otherwise: {picture: plain, lift: 0 %}
"""


@pytest.mark.parametrize(
    "pairs",
    [(), (('declared: "[1.70..1.95)"', 'varies: "yes"'), ("linger: 12 s", "linger: 0 s"))],
    ids=["a declared film", "nothing lingers"],
)
def test_a_wish_that_counts_at_once_still_does_after_a_travel(
    pairs: tuple[tuple[str, str], ...],
) -> None:
    """Panels are fitted after the travel of the same row: what is left of the wish counts too."""
    found = explore(changed(DECLARED, *pairs), limit=20)
    assert [one.words for one in found.violations if one.promise.startswith("roomcue")] == []


def smaller_preset(room: Room, one: str | None, other: str | None) -> str | None:
    """Mistake the smaller of two rasters for the larger."""
    larger = larger_preset(room, one, other)
    return larger if larger is None else other if larger == one else one


def test_both_ends_of_a_travel_are_looked_at_whichever_the_engine_takes_for_the_larger(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for module in (reconcile, invariants):
        monkeypatch.setattr(module, "larger_preset", smaller_preset, raising=False)
    found = Explorer(load(study(WITH_PANELS), "study.yaml")).run(stop_at_first=True)
    assert NO_PICTURE_ON_PANELS in {one.promise for one in found.violations}


def test_a_cue_that_is_ordered_back_once_somebody_is_asked_is_no_fault_of_ours() -> None:
    """Lights come up, panels are asked for, and rules that look at who is asked want them down."""
    rows = """  rows:
    - name: asked
      case: {helper: asked}
      show: {picture: plain, cues: {lamps: low}}
      because: Whoever goes sees the steps.
    - name: free
      case: {playback: playing, helper: free}
      show: {picture: plain, panels: open, cues: {lamps: full}}
      because: It is bright.
"""
    cues = (
        "sources:\n",
        "cues: {lamps: low or full}\npace: {linger: 0 s, prompts: {wait: 0 s}}\nsources:\n",
    )
    text = study(WITH_PANELS, cues, ("  rows:\n", rows))
    found = Explorer(load(text, "study.yaml")).run()
    assert [one.words for one in found.violations if one.promise.startswith("roomcue")] == []


def test_a_recall_for_which_panels_need_no_longer_come_off_is_no_fault_of_ours() -> None:
    """A person asks for open panels and gives back; rules that name none then send the lens."""
    at_once = ("sources:\n", "pace: {linger: 0 s}\nsources:\n")
    text = study(WITH_PANELS, at_once).replace(", panels: open", "")
    found = Explorer(load(text, "study.yaml")).run()
    assert found.complete
    assert [one.words for one in found.violations if one.promise.startswith("roomcue")] == []
