"""A machine whose clock is found slow some time after its start, with people and films there."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from engine.events import Helper, LensReport, Mark, Override, OverrideLook, Playback
from tests.adapters.at_screen import at_screen, go_to_screen, has_light
from tests.adapters.hayloft import HAYLOFT, LIT
from tests.adapters.staging import Stage, StagedClock, differences, staged
from tests.golden.evenings import BEGINS

HOUR = 3_600_000
REMIND = HAYLOFT.pace.remind
SLOW_BY = [90_000, HOUR, 5 * HOUR]


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    """Ana is at the screen, and the broker has taken all that was said so far."""
    with at_screen(tmp_path) as one:
        yield one


def cut_power(stage: Stage) -> None:
    """Start the machine anew with a clock that shows no later time."""
    face = stage.clock.face
    stage.clock = StagedClock(stage.clock.time - 5_000)
    stage.clock.face = face
    stage.restart()
    stage.all_taken()


def stay_until_warned(stage: Stage) -> None:
    """Pass on to the warning that the light comes back, and let the broker take it."""
    warning = stage.durable.engine.state.core.timers.remind
    assert warning is not None
    stage.pass_to(warning)
    stage.all_taken()
    stage.durable.record.flush()


def learn_time(stage: Stage, by: int, *, stopped: bool = False) -> None:
    """Set the clock forward while roomcue runs, or before it starts once more."""
    stage.clock.set(by)
    if stopped:
        stage.restart()
    else:
        stage.note(stage.durable.pass_time())


def time_to_light(stage: Stage) -> int:
    """Say after how many ms the light comes back."""
    begins = stage.clock.time
    while not any(map(has_light, stage.durable.record.waiting())):
        assert stage.clock.time < begins + HOUR
        stage.all_taken()
        stage.pass_to(stage.clock.time + 1_000)
    return stage.clock.time - begins


@pytest.mark.parametrize("stopped", [False, True], ids=["", "set while stopped"])
@pytest.mark.parametrize("by", SLOW_BY)
def test_whoever_was_warned_since_the_machine_started_has_the_whole_time(
    stage: Stage, by: int, *, stopped: bool
) -> None:
    warning = stage.durable.engine.state.core.timers.remind
    assert warning is not None
    stage.pass_to(warning - 30_000)
    stage.hear(Mark(words="the power is cut"))
    cut_power(stage)
    stay_until_warned(stage)
    learn_time(stage, by, stopped=stopped)
    assert time_to_light(stage) == REMIND


@pytest.mark.parametrize("by", SLOW_BY)
def test_whoever_was_warned_before_the_power_cut_has_what_was_left_of_that_time(
    stage: Stage, by: int
) -> None:
    """Even where the clock was wrong all the time, so that it tells nothing of the cut."""
    stay_until_warned(stage)
    stage.hear(Mark(words="the power is cut"))
    cut_power(stage)
    learn_time(stage, by)
    assert time_to_light(stage) >= REMIND


@pytest.mark.parametrize("stopped", [False, True], ids=["", "set while stopped"])
@pytest.mark.parametrize("by", SLOW_BY)
def test_so_has_whoever_came_to_the_screen_since_though_roomcue_starts_once_more(
    tmp_path: Path, by: int, *, stopped: bool
) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS + 20_000) as stage:
        stage.hear(Mark(words="the room as it was before"))
        stage.clock = StagedClock(BEGINS)
        stage.restart()
        go_to_screen(stage)
        stage.restart()
        stage.all_taken()
        stay_until_warned(stage)
        stage.restart()
        learn_time(stage, by, stopped=stopped)
        assert time_to_light(stage) == REMIND


def film_since_start(stage: Stage) -> None:
    """Let a film pause that has begun since the machine's start, and a person have the room."""
    stage.clock.face = 1_200
    stage.hear(*LIT, Helper(free=False))
    stage.clock = StagedClock(stage.clock.time - 5_000)
    stage.clock.face = 1_200
    stage.restart()
    stage.hear(*LIT, LensReport(moving=False, preset="tall"), Playback(state="playing"))
    wish = Override(taken=True, until="session", look=OverrideLook(preset="broad"))
    stage.hear(wish, Playback(state="paused"))
    stage.clock.time += 60_000


def goes_on(stage: Stage) -> bool:
    core = stage.durable.engine.state.core
    return core.title and core.override == "person" and not core.pause_over


@pytest.mark.parametrize("stopped", [False, True], ids=["", "set while stopped"])
def test_a_film_and_a_wish_of_since_the_start_go_on_though_roomcue_starts_once_more(
    tmp_path: Path, *, stopped: bool
) -> None:
    """What was there before the machine's start is older all the same."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        film_since_start(stage)
        stage.restart()
        stage.clock.time += 1_000
        for by in (62_000, 5 * HOUR):
            learn_time(stage, by, stopped=stopped)
            assert goes_on(stage)
        assert differences(HAYLOFT, stage.lines()) == []


@pytest.mark.parametrize("begun", [None, b"[1, {}]"], ids=["an older journal", "another roomcue"])
def test_where_nobody_knows_what_was_there_at_the_start_everything_goes_on(
    tmp_path: Path, begun: bytes | None
) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        film_since_start(stage)
        with closing(sqlite3.connect(stage.path)) as base, base:
            base.execute("UPDATE rooms SET begun = ?", (begun,))
        stage.restart()
        learn_time(stage, 5 * HOUR)
        assert goes_on(stage)
        assert differences(HAYLOFT, stage.lines()) == []
