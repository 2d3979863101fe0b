"""From an evening that is shown no event may be left out: without any of them nothing breaks."""

from __future__ import annotations

from typing import Final

import pytest

from rules.room.load import load
from simulator.nights.invention import BEGINS
from simulator.nights.promises import judge_of
from simulator.proof import counterexample
from simulator.proof.counterexample import BUDGET
from simulator.proof.proof import prove
from simulator.proof.shrink import AFTERWARDS
from simulator.proof.walk import Move, Walker, moves_of
from tests.simulator.proofs import promised, study

FAULTS: Final = {
    "of a picture": promised("{playback: playing, override: rules, picture: gentle}"),
    "of a lens": promised("{preset: tall, override: rules, playback: playing, aspect: scope}"),
    "in a person's hand": promised("{override: person, lift: '> 3 %', playback: playing}"),
    "in a pause": promised("{playback: paused, override: rules, picture: gentle}"),
}


@pytest.mark.parametrize("cut_short", [False, True])
@pytest.mark.parametrize("fault", FAULTS)
def test_no_event_of_an_evening_may_be_left_out(
    fault: str, *, cut_short: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not even where there was no time to shrink it in any other way."""
    if cut_short:
        monkeypatch.setattr(counterexample, "shrunk", lambda _walker, found: moves_of(found))
        monkeypatch.setattr(counterexample, "polished", lambda _walker, moves: moves)
    room = load(study(FAULTS[fault]), "study.yaml")
    (told,) = (one for one in prove(room).faults if one.promise == "mine")
    evening = told.counterexample
    assert evening is not None
    judge = judge_of(room, "mine")
    for left_out in range(-1, len(evening.events)):
        kept, last = list[Move](), BEGINS
        for at, (now, event) in enumerate(evening.events):
            if at != left_out:
                kept.append(Move(now - last, event))
                last = now
        rest = Move(evening.ends - last + AFTERWARDS, None)
        broken = Walker(room, judge, BUDGET).play((*kept, rest))
        assert (broken is not None) == (left_out == -1), left_out
