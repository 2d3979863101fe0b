"""After a standstill of roomcue the hub is asked, whatever else went wrong meanwhile."""

from __future__ import annotations

import asyncio
import io
from pathlib import Path
from unittest.mock import patch

import pytest

from adapters.live import live_room
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.live_room import Errand, LiveRoom
from adapters.live.log import decision_log
from engine.events import (
    LensReport,
    Outcome,
    OutcomeWord,
    Override,
    OverrideLook,
    PanelReport,
)
from tests.adapters.hayloft import HAYLOFT, LIT
from tests.adapters.staging import Stage, staged, turns
from tests.adapters.test_late_orders import answer_all
from tests.golden.evenings import BEGINS

HOUR = 3_600_000


def is_asked(stage: Stage) -> bool:
    """Tell whether the question how everything stands waits for the broker."""
    return any(one.message.slot == "question" for one in stage.durable.record.waiting())


def test_a_standstill_after_the_clock_was_set_back_is_no_one_that_was_caught_up_with(
    tmp_path: Path,
) -> None:
    """The moment of the one before lies ahead then, but for following the clock."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        due = stage.durable.deadline
        assert due is not None
        stage.clock.time = due + HOUR
        stage.durable.stood_still()
        assert is_asked(stage)
        stage.all_taken()
        stage.durable.stood_still()
        assert not is_asked(stage)  # it is one standstill, noticed twice
        stage.pass_to(stage.clock.time + HOUR)
        stage.clock.set(-4 * HOUR)
        stage.durable.pass_time()
        stage.all_taken()
        stage.clock.time += 3_000
        later = stage.durable.deadline
        assert later is None or later > stage.clock.time  # so nothing but the stop is noticed
        stage.durable.stood_still()
        assert is_asked(stage)


@pytest.mark.parametrize("outcome", ["no answer", None])
def test_a_hub_that_has_lost_sight_of_the_lens_is_asked_where_it_rests(
    tmp_path: Path, outcome: OutcomeWord | None
) -> None:
    """To a hub that tells only what changes nothing has: the lens may rest where it did."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, LensReport(moving=False, preset="tall"), PanelReport(panels="open"))
        answer_all(stage)
        stage.hear(Override(taken=True, until="session", look=OverrideLook(preset="broad")))
        answer_all(stage)
        recall = stage.durable.engine.state.core.recall
        assert recall is not None
        stage.all_taken()
        if outcome is not None:
            stage.hear(Outcome(order=recall, outcome=outcome))
        else:
            stage.pass_to(BEGINS + 120_000)
        assert stage.durable.engine.state.core.lens == "unknown"
        assert is_asked(stage)


async def test_a_question_that_could_not_be_kept_is_asked_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A machine that was short of everything stands still, and its disk may be full as well."""
    monkeypatch.setattr(live_room, "RETRY_AFTER", 0.0)
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        stage.all_taken()
        room = LiveRoom(stage.durable, decision_log(io.BytesIO(), "hayloft"))
        stage.clock.time += 1_000
        with patch.object(Journal, "commit", side_effect=JournalError("the disk is full")):
            room.stood_still()
            room.stood_still()
            waiting = stage.durable.record.outbox.waiting
            assert not any(one.message.slot == "question" for one in waiting)
        await turns(20)
        assert is_asked(stage)
        room.end()


async def test_what_failed_twice_before_its_time_is_tried_again_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two errands of one kind may stand in line, and the disk may be full for both."""
    monkeypatch.setattr(live_room, "RETRY_AFTER", 0.0)
    faults: list[object] = []
    asyncio.get_running_loop().set_exception_handler(lambda _, fault: faults.append(fault))
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        room = LiveRoom(stage.durable, decision_log(io.BytesIO(), "hayloft"))
        line: list[Errand] = []
        room.in_turn = line.append
        room.look_at_clock()
        room.look_at_clock()
        for errand in line[:]:
            errand.fail(JournalError("the disk is full"))
        await turns(20)
        assert (len(line), faults) == (3, [])
        room.end()
