"""The judge of what people are owed: it sees light on somebody at the screen, and lost wishes."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from engine.decisions import PictureOrder, PromptOver
from engine.events import Answer, Event, Mark, Override, OverrideLook, PanelReport
from tests.soundness.independent_judge import Seen
from tests.soundness.people_judge import PEOPLE_AT_SCREEN, WISHES_ANSWERED, PeopleJudge
from tests.soundness.random_evenings import Invented, live
from tests.soundness.random_rooms import random_room
from tests.soundness.test_independent_judge import (
    PANELS,
    PRESETS,
    USUAL,
    changed,
    lived,
    room_with,
)

MADE = room_with({"picture": "cropped"}, panels=PANELS, presets=PRESETS)
PROMPT = 2
"""The number of the prompt: the picture that everything begins with is the first order."""
WISH = Override(taken=True, look=OverrideLook(panels="sides"))
READY = (*USUAL, PanelReport(panels="open"), WISH, Answer(prompt=PROMPT, answer="ready", who="ana"))


def judged(steps: list[Seen]) -> list[str]:
    judge = PeopleJudge()
    return [name for seen in steps for name in judge.see(seen)]


def with_light(seen: Seen) -> Seen:
    """Forge an order that lights the screen."""
    (order,) = (
        one
        for step in lived(MADE, *READY)
        for one in step.decisions
        if isinstance(one, PictureOrder) and one.picture == "dark"
    )
    return seen._replace(decisions=(replace(order, picture="plain"),))


@pytest.mark.parametrize(
    "word",
    [
        Answer(prompt=PROMPT, answer="done", who="ana"),
        Answer(prompt=PROMPT, answer="no", who="ana"),
        Answer(prompt=PROMPT, answer="all_away", who="rui"),
    ],
)
def test_their_own_word_and_that_all_are_away_bring_light_back(word: Event) -> None:
    steps = lived(MADE, *READY, word)
    assert [one for one in steps[-1].decisions if isinstance(one, PromptOver)]
    assert judged(steps) == []


@pytest.mark.parametrize(
    "word",
    [Mark(), Answer(prompt=PROMPT, answer="done", who="rui"), Answer(prompt=PROMPT, answer="no")],
)
def test_light_by_anybody_elses_word_is_seen(word: Event) -> None:
    steps = lived(MADE, *READY)
    assert judged(steps) == []
    lit = with_light(steps[-1])._replace(event=word)
    assert PEOPLE_AT_SCREEN in judged([*steps, lit])


def test_an_end_that_nobody_was_warned_of_is_seen() -> None:
    steps = lived(MADE, *READY)
    assert PEOPLE_AT_SCREEN in judged([*steps, with_light(steps[-1])._replace(event=None)])
    quiet = lived(MADE, *READY, *[Mark()] * 100)
    assert any(isinstance(one, PromptOver) for step in quiet for one in step.decisions)
    assert judged(quiet) == []


def test_a_wish_of_which_nothing_is_said_is_seen() -> None:
    steps = lived(MADE, *READY[:-1])
    assert judged(steps) == []
    assert judged([changed(steps[-1], asked=None)]) == [WISHES_ANSWERED]
    assert judged([changed(steps[-1], asked=None, holds=("helper",))]) == []


def test_random_evenings_bring_people_to_the_screen_and_have_wishes() -> None:
    there = wishes = 0
    rooms = [made for made in map(random_room, range(40)) if len(made.room.panels) > 1]
    for made, evening in product(rooms, range(6)):
        judge = PeopleJudge()
        for seen in live(made.room, Invented(made, evening)):
            assert [*judge.see(seen)] == []
            there += judge.there is not None
            wishes += seen.after.core.override_look is not None
    assert there > 20
    assert wishes > 100
