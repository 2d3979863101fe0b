"""Whoever is at the screen is warned before the light comes back, though the broker is away."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from engine.events import Answer, Playback
from tests.adapters.at_screen import asked, at_screen, has_light
from tests.adapters.hayloft import HAYLOFT
from tests.adapters.staging import Stage
from tests.golden.evenings import BEGINS

REMIND = HAYLOFT.pace.remind


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    """Ana is at the screen, and the broker has taken all that was said so far."""
    with at_screen(tmp_path) as one:
        yield one


def warnings(stage: Stage) -> list[dict[str, Any]]:
    """Give what waits for the broker of the warning that the light comes back."""
    waiting = [json.loads(said.body) for said, _ in stage.durable.record.waiting()]
    return [one for one in waiting if one.get("stage") == "light comes back"]


@pytest.mark.parametrize("away", [HAYLOFT.pace.give_up + 20_000, 3_600_000])
@pytest.mark.parametrize("lost", [False, True])
def test_a_broker_that_was_away_brings_the_warning_first(
    stage: Stage, away: int, *, lost: bool
) -> None:
    prompt = asked(stage)
    stage.pass_to(BEGINS + away)
    stage.durable.connected()
    greeting = stage.note(stage.durable.greeting(lost=lost))
    assert not any(map(has_light, greeting.messages))
    stage.pass_to(stage.clock.time + 1)
    assert [one["id"] for one in warnings(stage)] == [prompt]
    stage.all_taken()
    stage.pass_to(stage.clock.time + REMIND - 1)
    assert not any(map(has_light, stage.durable.record.waiting()))
    stage.pass_to(stage.clock.time + 1)
    assert any(map(has_light, stage.durable.record.waiting()))


def test_so_it_is_after_a_power_cut_while_the_broker_is_away(stage: Stage) -> None:
    ends = stage.durable.engine.state.core.timers.give_up
    assert ends is not None
    stage.pass_to(ends - 1_000)
    stage.clock.time = ends + 60_000
    stage.restart()
    assert not any(map(has_light, stage.durable.record.waiting()))
    stage.pass_to(stage.clock.time + 1)
    assert warnings(stage)


def test_a_broker_that_comes_back_just_before_the_end_leaves_time_to_step_away(
    stage: Stage,
) -> None:
    ends = stage.durable.engine.state.core.timers.give_up
    assert ends is not None
    stage.pass_to(ends - 1_000)
    stage.note(stage.durable.greeting(lost=False))
    later = stage.durable.engine.state.core.timers.give_up
    assert later is not None
    assert later >= ends - 1_000 + REMIND


@pytest.mark.parametrize("taken", [False, True])
def test_words_that_are_read_at_that_moment_bring_no_light_either(
    stage: Stage, *, taken: bool
) -> None:
    """But they do not put off the light of which Ana was warned."""
    ends = stage.durable.engine.state.core.timers.give_up
    assert ends is not None
    stage.pass_to(ends - 1)
    if taken:
        stage.all_taken()
    stage.clock.time = ends + 10
    stage.hear(Playback(state="paused"))
    stage.pass_to(ends + 6_000)
    assert any(map(has_light, stage.durable.record.waiting())) is taken


def test_a_warning_that_the_broker_has_taken_is_not_said_again(stage: Stage) -> None:
    ends = stage.durable.engine.state.core.timers.give_up
    assert ends is not None
    stage.pass_to(ends - REMIND)
    assert warnings(stage)
    stage.all_taken()
    stage.note(stage.durable.greeting(lost=False))
    assert stage.durable.engine.state.core.timers.give_up == ends


@pytest.mark.parametrize("late", [1, 10_000])
@pytest.mark.parametrize("looked_at", ["what waits", "what is over"])
def test_a_warning_that_has_ended_unheard_is_not_forgotten_by_whoever_looks_first(
    stage: Stage, looked_at: str, late: int
) -> None:
    """What waits is looked at by the broker's connection, at any moment, also at the very end."""
    ends = stage.durable.engine.state.core.timers.give_up
    assert ends is not None
    stage.pass_to(ends - 1)
    stage.clock.time = ends + late
    if looked_at == "what waits":
        assert not warnings(stage), "it is over, so nobody is told of it any more"
    else:
        stage.note(stage.durable.renew())
    stage.note(stage.durable.pass_time())
    stage.pass_to(stage.clock.time + REMIND + 60_000)
    assert not any(map(has_light, stage.durable.record.outbox.waiting))


def test_a_prompt_that_has_ended_unheard_waits_no_longer_than_it_is_open(stage: Stage) -> None:
    """Nothing piles up behind a broker that stays away."""
    ends = stage.durable.engine.state.core.timers.give_up
    assert ends is not None
    stage.pass_to(ends + 3_600_000)
    stage.hear(Answer(prompt=asked(stage), answer="no", who="Ana"))
    waiting = [json.loads(one.message.body) for one in stage.durable.record.outbox.waiting]
    assert not [one for one in waiting if "stage" in one]
