"""The time in which a rehearsal is played: staged, or shortened where a room keeps its own."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from rich.console import Console

from adapters.cli import rehearsal
from adapters.cli.rehearsal import (
    TYPED,
    Heard,
    Rehearsal,
    StagedTime,
    longest_gap,
    shortened,
    tellable,
)
from adapters.live.broker import Broker
from adapters.live.clock import RehearsalClock
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.messages import body_of, decision_data
from engine.decisions import CueOrder, Decision, Prompt, PromptOver, Withdrawn
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


DECIDED: dict[str, Any] = {
    "at": START,
    "rule": "a row",
    "code": "row",
    "reason": "It is so.",
    "facts": {},
}
ASKED = Prompt(
    id=5,
    ends=START + 600_000,
    stage="asked",
    panels="sides",
    light="told",
    words="Please.",
    cautions={},
    **DECIDED,
)
LAMPS_LOW = CueOrder(id=6, ends=START + 60_000, cue="lamps", value="low", **DECIDED)
SOON = Person(ready=4_000, answer=8_000)
"""When people answer, ms after they are asked."""


class Staged:
    """A rehearsal in which the room says, and somebody types, what is planned for a second."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, plan: dict[int, Decision | str]) -> None:
        self._now, self._plan = START, plan
        self._says: Callable[[Any], None] | None = None
        self._types: Callable[[Heard], None] | None = None
        self.told: list[dict[str, Any]] = []
        monkeypatch.setattr(rehearsal, "listening_client", self._connected)
        monkeypatch.setattr(rehearsal, "_read_typed", lambda take: setattr(self, "_types", take))

    def now(self) -> int:
        return self._now

    async def go_on(self, told: int, heard: int, up_to: int | None) -> None:  # noqa: ARG002
        await asyncio.sleep(0)
        if self._types is None:
            return
        self._now += A_SECOND
        planned = self._plan.get((self._now - START) // A_SECOND)
        if isinstance(planned, str):
            self._types(Heard(TYPED, planned.encode()))
        elif planned is not None:
            data = decision_data(planned)
            if isinstance(planned, Prompt | CueOrder):
                self._say("ask" if isinstance(planned, Prompt) else "order", data)
            self._say("reason", data)
        await asyncio.sleep(0)

    def _say(self, subtopic: str, data: dict[str, Any]) -> None:
        message = SimpleNamespace(
            topic=f"out/{subtopic}", payload=body_of({**data, "more": 1}), retain=False
        )
        assert self._says is not None
        self._says(message)

    @contextmanager
    def _connected(
        self, _broker: Broker, _room: str, on_message: Callable[[Any], None], _gone: object
    ) -> Iterator[SimpleNamespace]:
        self._says = on_message
        self._say("alive", {"alive": True})
        yield SimpleNamespace(publish=self._publish)

    def _publish(self, _topic: str, payload: bytes, **_options: object) -> None:
        self.told.append(json.loads(payload))

    async def play(self, *script: TimedEvent) -> list[dict[str, Any]]:
        """Play to the end; gives what the room was told."""
        hearing = Rehearsal(Hub(HAYLOFT, SOON), self, Console(file=StringIO()))
        await hearing.play(Broker("nowhere", 1), iter(script))
        return self.told


@pytest.mark.parametrize(
    ("what_comes", "told"),
    [
        ("black", [{}, {"prompt": 5, "answer": "ready"}, {"prompt": 5, "answer": "done"}]),
        ("answer 5 no", [{"prompt": 5, "answer": "no"}]),
        (PromptOver(prompt=5, how="declined", **DECIDED), []),
    ],
)
async def test_nobody_answers_a_prompt_that_is_over_or_was_answered_by_hand(
    monkeypatch: pytest.MonkeyPatch, what_comes: Decision | str, told: list[dict[str, Any]]
) -> None:
    assert await Staged(monkeypatch, {1: ASKED, 2: what_comes}).play() == told


@pytest.mark.parametrize(("withdrawn", "told"), [(7, [{"order": 6, "outcome": "done"}]), (6, [])])
async def test_hardware_says_nothing_of_a_withdrawn_order(
    monkeypatch: pytest.MonkeyPatch, withdrawn: int, told: list[dict[str, Any]]
) -> None:
    monkeypatch.setattr("simulator.nights.stand_in_hub.CUE_DONE", 5 * A_SECOND)
    plan: dict[int, Decision | str] = {1: LAMPS_LOW, 2: Withdrawn(order=withdrawn, **DECIDED)}
    assert await Staged(monkeypatch, plan).play() == told


async def test_a_paused_evening_is_late_by_the_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever types meanwhile is heard at once."""
    staged = Staged(monkeypatch, {1: "pause", 100: "mark x", 101: "go on"})
    script = TimedEvent(START + 5 * A_SECOND, SourceChosen(source="disc"))
    assert await staged.play(script) == [{"words": "x"}, {"source": "disc"}]


async def test_quit_ends_an_evening_before_its_script(monkeypatch: pytest.MonkeyPatch) -> None:
    script = TimedEvent(START + 5 * A_SECOND, SourceChosen(source="disc"))
    assert await Staged(monkeypatch, {2: "quit"}).play(script) == []
