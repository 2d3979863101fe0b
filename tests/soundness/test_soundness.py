"""What `check` calls proven never breaks: random rooms, real evenings, a judge of its own."""

from __future__ import annotations

from typing import Final

import pytest

from tests.soak import TIMES, sample
from tests.soundness.fuzzing import breaches, proof_of
from tests.soundness.known_rooms import FILES, known_room
from tests.soundness.paired_rooms import EQUIPMENT, SOURCES, paired_room
from tests.soundness.people_judge import OWED
from tests.soundness.random_rooms import random_room
from tests.soundness.seen_rooms import seen_room
from tests.soundness.title_beginnings import late_looks

ROOMS: Final = range(300 * TIMES) if TIMES else (*range(1, 9), 10)
"""The everyday ones are soon proven."""
PAIRED: Final = (0, len(SOURCES)) if not TIMES else range(len(SOURCES) + len(EQUIPMENT))
SEEN: Final = range(300 * TIMES) if TIMES else range(1, 5)
EVENINGS: Final = range(sample(12, 120))


@pytest.mark.parametrize("seed", ROOMS)
def test_what_is_called_proven_never_breaks(seed: int) -> None:
    made = random_room(seed)
    proof = proof_of(made)
    proven = frozenset(promise for promise, _ in proof.proven)
    assert proof.exploration.complete or TIMES, "the everyday rooms are proven to the end"
    assert [*map(str, breaches(made, proven | OWED, EVENINGS))] == []
    assert [*late_looks(made, proven, EVENINGS)] == []


@pytest.mark.parametrize("number", PAIRED)
def test_what_evenings_meet_together_is_never_called_impossible(number: int) -> None:
    made = paired_room(number)
    proof = proof_of(made)
    proven = frozenset(promise for promise, _ in proof.proven)
    assert proof.exploration.complete
    assert len(proven) < len(made.file["promises"]) / 2, "most of these promises are broken"
    assert [*map(str, breaches(made, proven | OWED, range(sample(8, 400))))] == []


@pytest.mark.parametrize("seed", SEEN)
def test_what_was_seen_on_an_evening_is_never_called_impossible(seed: int) -> None:
    made = seen_room(seed)
    proof = proof_of(made)
    assert proof.exploration.complete or TIMES
    proven = {promise for promise, _ in proof.proven}
    assert [one for one in made.file["promises"] if one["name"] in proven] == []
    assert "engine" not in {fault.code for fault in proof.faults}


@pytest.mark.parametrize("why", FILES)
def test_what_a_plain_evening_breaks_is_not_called_proven(why: str) -> None:
    made = known_room(why)
    assert "mine" not in dict(proof_of(made).proven)
