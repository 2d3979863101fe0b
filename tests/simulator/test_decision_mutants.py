"""A mistake in the code that decides is found by the proof of a shipped room."""

from __future__ import annotations

import random

import pytest

from engine.decisions import Prompt
from engine.events import Answer
from simulator.proof.reachability import Explorer
from tests.engine.story import HAYLOFT, Story
from tests.simulator.decision_mutants import (
    MUTANTS,
    NOT_CAUGHT,
    DecisionMutant,
    caught,
    compiled,
    mutant_of,
    running,
)
from tests.simulator.small import room_of
from tests.soak import sample

ENOUGH = 0.9
CHOSEN = random.Random(16).sample(MUTANTS, min(len(MUTANTS), sample(9, len(MUTANTS))))


@pytest.mark.parametrize("mutant", CHOSEN, ids=lambda mutant: mutant.name)
def test_a_mutant_is_caught_in_the_hayloft_unless_it_is_said_why_not(
    mutant: DecisionMutant,
) -> None:
    if mutant.name not in NOT_CAUGHT:
        assert caught(mutant, HAYLOFT)


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.name)
def test_what_a_mutant_changes_stands_in_the_code(mutant: DecisionMutant) -> None:
    assert compiled(mutant).__name__ == mutant.function


def test_nine_of_ten_mutants_are_to_be_caught() -> None:
    names = [mutant.name for mutant in MUTANTS]
    assert len(set(names)) == len(names)
    assert NOT_CAUGHT.keys() <= set(names)
    assert len(names) - len(NOT_CAUGHT) >= ENOUGH * len(names)


@pytest.mark.parametrize("until", ["next title", "next night", "end of a pause"])
def test_a_wish_of_a_person_that_waits_for_what_only_rules_wait_for_is_caught(until: str) -> None:
    mutant = mutant_of(f"a person's preset waits for the {until}")
    assert caught(mutant, room_of("talking")).startswith("roomcue: orders")


def test_a_mutant_is_gone_afterwards() -> None:
    room = room_of("talking")
    assert caught(mutant_of("recalls of a night are not counted"), room)
    assert not Explorer(room).run().violations


def at_the_screen() -> Story:
    """Begin a flat film, and let somebody say that they are ready to fit the panels."""
    story = Story(lens="tall")
    story.film(0, 1.78)
    story.done(1)
    story.done(20)
    story.at(21, Answer(prompt=story.of(Prompt)[0].id, answer="ready"))
    return story


def test_light_before_the_dark_is_confirmed_is_seen_on_a_plain_evening() -> None:
    assert ("sides", "at the screen") not in at_the_screen().prompts()
    with running(mutant_of("light before the dark is confirmed")):
        assert ("sides", "at the screen") in at_the_screen().prompts()
