"""No evening of fewer events breaks a promise than the one that is shown, where that is said."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import Final

import pytest

from adapters.render.proof_text import counterexample_text, reported
from engine.events import LensReport, Playback, ProjectorReport, SourceChosen
from engine.room import Room
from rules.room.load import load
from simulator.nights.promises import judge_of
from simulator.proof import counterexample
from simulator.proof.counterexample import find_counterexample
from simulator.proof.fewest_events import Fewest, fewest
from simulator.proof.happenings import happenings
from simulator.proof.reachability import Explorer
from simulator.proof.walk import Walk, Walker, moves_of
from tests.simulator.proofs import promised, proven, study

PLENTY: Final = 10**6
DARK_FILMS: Final = """\
room: small
time_zone: UTC
screen: {width: 3.2 m, aspect: 2.35}
projector: {raster: 4096 x 2160}
sources: {disc: {}}
cues: {lamps: low or full}
rules:
  rows:
    - case: {playback: playing}
      show: {picture: plain, cues: {lamps: low}}
      because: Films.
  otherwise: {picture: plain, cues: {lamps: full}}
promises:
  - name: mine
    never: {playback: playing, cue lamps: full}
    because: Films are dark.
"""
"""Three events break its promise: a source, a projector that goes off, and a film."""
LATE: Final = study(promised("{aspect: scope, first_minutes: no, override: rules}"))
"""Its promise breaks some minutes into a scope film, when nothing is heard any more."""


def walker(room: Room, budget: int = PLENTY) -> Walker:
    return Walker(room, judge_of(room, "mine"), budget)


def dark_films() -> Room:
    return load(DARK_FILMS, "small.yaml")


def evenings(room: Room, events: int) -> Iterator[Walk | None]:
    """Play every evening of so many events one by one, and leave none of them out."""
    search = walker(room)
    for chosen in product(tuple(happenings(room).all()), repeat=events):
        search.found, walk = None, search.start()
        for event in chosen:
            walk = search.tell(walk, event)
        yield search.found


def test_the_fewest_events_that_break_a_promise_are_found() -> None:
    found = fewest(walker(dark_films()), 3)
    assert found.walk is not None
    assert found.tried == 2
    kinds = {type(move.event) for move in moves_of(found.walk)}
    assert kinds == {SourceChosen, ProjectorReport, Playback}


def test_fewer_than_the_fewest_break_it_on_no_evening_at_all() -> None:
    room = dark_films()
    assert fewest(walker(room), 2) == Fewest(None, 2)
    assert not any(evenings(room, 1))
    assert not any(evenings(room, 2))


def test_what_falls_due_after_an_event_is_waited_for() -> None:
    room = load(LATE, "study.yaml")
    found = fewest(walker(room), 3)
    assert found.walk is not None
    assert found.walk.event is None, "it breaks when the first minutes are over"


def test_a_search_that_is_cut_short_says_how_far_it_came() -> None:
    assert fewest(walker(dark_films(), budget=3_000), 2) == Fewest(None, 1)


def heading(text: str) -> str:
    """Say above which words the evening of a room's one broken promise is told."""
    room, proof = proven(text)
    (fault,) = proof.faults
    return next(counterexample_text(room, reported(fault)))


def test_only_what_is_known_to_be_the_shortest_evening_is_called_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert heading(DARK_FILMS) == "The shortest evening on which mine breaks:"
    monkeypatch.setattr(counterexample, "FEWER", 3_000)
    assert heading(f"{DARK_FILMS}# again\n") == "An evening on which mine breaks:"


def test_an_evening_of_fewer_events_takes_the_place_of_a_longer_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A search that only ever finds a long way round shows the short one all the same."""
    room = dark_films()
    explorer = Explorer(room)
    (broken,) = explorer.run().violations
    round_about = walker(room)
    walk = round_about.start()
    for event in (
        SourceChosen(source="disc"),
        LensReport(moving=True, preset=None),
        ProjectorReport(state="off"),
        Playback(state="paused"),
        Playback(state="playing"),
    ):
        walk = round_about.tell(walk, event)
    assert round_about.found is not None
    monkeypatch.setattr(counterexample, "follow_path", lambda *_: walk)
    monkeypatch.setattr(counterexample, "try_luck", lambda *_, **__: None)
    for name in ("shrunk", "polished", "ended_sooner", "bare"):
        monkeypatch.setattr(counterexample, name, lambda *given: _as_moves(given[1]))
    found = find_counterexample(explorer, broken, judge_of(room, "mine"))
    assert found is not None
    assert len(found.events) == 3
    assert found.fewest


def _as_moves(evening: object) -> object:
    return moves_of(evening) if isinstance(evening, Walk) else evening
