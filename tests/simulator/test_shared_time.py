"""Whoever has little time for a proof gets something of all of it: states, and evenings."""

from __future__ import annotations

from typing import Any

import pytest

from adapters.cli.breaking_off import BreakOff
from rules.room.load import load
from simulator.proof import faults
from simulator.proof import proof as proofs
from simulator.proof.proof import Proof, prove
from simulator.proof.stopping import Stop, never, share_of
from tests.simulator.proofs import promised, study

BROKEN = study(promised("{override: rules}"), ("promises:\n", "promises:\n" + """\
  - name: yours
    never: {playback: playing}
    because: It is so.
"""))  # fmt: skip
"""Two promises that break in the first state."""


class Questions:
    """Time that passes by one with each question whether it is over, once exploring has begun."""

    def __init__(self, ends: int) -> None:
        self.now, self.ends, self.begun = 0, ends, False

    def __call__(self) -> bool:
        self.now += self.begun
        return self.now >= self.ends

    def share(self, parts: int) -> Stop:
        self.begun = True  # The first to share it out is whoever has told environments apart.
        ends = self.now + (self.ends - self.now) // parts
        return lambda: self() or self.now >= ends


class Endless:
    """Looks for evenings for as long as anybody lets it, and notes how long that was."""

    def __init__(self, time: Questions) -> None:
        self.time, self.took = time, list[int]()

    def __call__(self, _explorer: object, _violation: object, _judge: object, stop: Stop) -> None:
        begins = self.time.now
        while not stop():
            pass
        self.took.append(self.time.now - begins)


@pytest.fixture
def needed(monkeypatch: pytest.MonkeyPatch) -> int:
    """How often a whole exploration without evenings asks whether its time is over."""
    time = Questions(10**9)
    with monkeypatch.context() as patched:
        patched.setattr(faults, "find_counterexample", lambda *_all: None)
        patched.setattr(proofs, "check_convergence", lambda *_all, **_named: proofs.NOT_RUN)
        assert prove(load(BROKEN, "study.yaml"), stop=time).exploration.complete
    return time.now


def proven_in(ends: int, monkeypatch: pytest.MonkeyPatch) -> tuple[Proof, list[int]]:
    """Prove a room of two broken promises within so much time, with a search that never ends."""
    time = Questions(ends)
    search = Endless(time)
    monkeypatch.setattr(faults, "find_counterexample", search)
    return prove(load(BROKEN, "study.yaml"), stop=time), search.took


def test_where_there_is_time_to_explore_all_an_endless_search_does_not_keep_it_from_that(
    needed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    proof, took = proven_in(4 * needed, monkeypatch)
    assert proof.exploration.complete
    assert {one.status for one in proof.verdicts} == {"proven", "broken"}
    assert len(took) == 2
    assert min(took) >= needed


def test_where_there_is_not_half_of_it_goes_to_states_and_each_evening_has_its_share(
    needed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    proof, took = proven_in(needed, monkeypatch)
    assert not proof.exploration.complete
    assert 0 < proof.done < proof.known
    assert len(took) == 2
    assert min(took) >= needed // 8
    assert sum(took) <= needed // 2


def test_a_fault_of_a_large_room_is_told_before_all_is_explored(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    far: list[int] = []
    monkeypatch.setattr(proofs, "HEAD_START", 1)
    seen: dict[str, Any] = {}

    def announced(fault: faults.Fault) -> None:
        seen.setdefault(fault.promise, far[-1])

    proof = prove(
        load(BROKEN, "study.yaml"), progress=lambda done, _: far.append(done), announce=announced
    )
    assert seen["mine"] < proof.done
    assert seen["yours"] < proof.done


def test_only_what_knows_its_end_can_be_shared() -> None:
    assert share_of(never, 3) is never
    forever = BreakOff()
    assert share_of(forever, 3) is forever
    over = BreakOff(0)
    assert share_of(over, 3)()
    assert over.said
    later = BreakOff(86_400)
    assert not share_of(later, 3)()
    assert not later.said
