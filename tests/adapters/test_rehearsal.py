"""The time in which a rehearsal is played: staged, or shortened where a room keeps its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from adapters.cli import rehearsal
from adapters.cli.rehearsal import StagedTime, longest_gap, shortened, tellable
from adapters.live.clock import RehearsalClock
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from engine.events import Mark, Resumed, SourceChosen, TimeOfDay
from rules.room.load import load
from simulator.nights.stand_in_hub import Hub, Person, TimedEvent
from simulator.shipped import CELLAR
from tests.adapters.hayloft import HAYLOFT
from tests.adapters.staging import Stage

START = 1_000_000
A_SECOND = 1_000
FAST = 1_000.0
"""So fast that one tick is more than the seconds of these stories."""


def test_gaps_longer_than_the_pace_needs_are_shortened_and_short_ones_stay() -> None:
    script = [TimedEvent(at, Mark()) for at in (50, 60, 10_060, 10_070)]
    assert [one.now for one in shortened(script, 900, 500)] == [900, 910, 1_410, 1_420]


def test_the_pace_counts_what_a_room_can_do() -> None:
    """Nothing travels in the cellar and nobody is asked; absent people take no time either."""
    cellar = load(CELLAR.read_text("utf-8"), "cellar")
    pace, lens = HAYLOFT.pace, HAYLOFT.projector.lens
    moves = max(pace.settle) + pace.order + pace.linger + lens.travel + pace.linger_people
    assert longest_gap(Hub(cellar)) == max(cellar.pace.settle) + cellar.pace.order
    assert longest_gap(Hub(HAYLOFT, Person(answer=None))) == moves
    assert longest_gap(Hub(HAYLOFT, Person(answer=7_000))) == moves + 7_000


def test_a_live_room_tells_the_time_and_its_restarts_itself() -> None:
    events = (TimeOfDay(minute=3), SourceChosen(source="disc"), Resumed(minute=3))
    script = [TimedEvent(START, event) for event in events]
    assert [one.event.kind for one in tellable(script)] == ["source"]


@pytest.fixture(name="room")
def _room(tmp_path: Path) -> LiveRoom:
    stage = Stage(HAYLOFT, tmp_path / "journal", START)
    with (tmp_path / "log").open("wb") as log:
        return LiveRoom(stage.durable, decision_log(log, "hayloft"))


async def test_the_staged_time_stops_at_the_next_event(room: LiveRoom) -> None:
    time = StagedTime(RehearsalClock(START, FAST), room)
    await time.go_on(0, 0, START + A_SECOND)
    assert time.now() == START + A_SECOND
    await time.go_on(0, 0, START + A_SECOND)
    assert time.now() == START + A_SECOND


async def test_the_staged_time_stands_still_while_a_message_is_under_way(room: LiveRoom) -> None:
    """Either the room has not heard it, or the hub has not heard what the room decided."""
    time = StagedTime(RehearsalClock(START, FAST), room)
    await time.go_on(1, 0, None)
    assert time.now() == START
    room.durable.counts.note_lag(0.0, 1)
    room.durable.counts.decisions["picture"] += 1
    await time.go_on(1, 0, None)
    assert time.now() == START
    await time.go_on(1, 1, None)
    assert time.now() > START


async def test_a_message_that_never_comes_is_waited_for_once(
    room: LiveRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    time = StagedTime(RehearsalClock(START, FAST), room)
    room.durable.counts.refusals["malformed"] += 1
    monkeypatch.setattr(rehearsal, "LONGEST_HOLD", 0.0)
    await time.go_on(0, 0, START + A_SECOND)
    assert time.now() == START + A_SECOND
    monkeypatch.undo()
    await time.go_on(0, 0, START + 2 * A_SECOND)
    assert time.now() == START + 2 * A_SECOND
