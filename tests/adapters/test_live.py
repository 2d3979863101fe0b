"""A live room on the event loop: what falls due is done, what is said is carried, in that order."""

from __future__ import annotations

import asyncio
import io
import json
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from unittest.mock import patch
from zoneinfo import ZoneInfo

import pytest

from adapters.live import live_room as live
from adapters.live.clock import STEADY_CLOCK, WallClock
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.live_room import LiveRoom
from adapters.live.log import TolerantStream, decision_log
from adapters.live.messages import OutgoingMessage, rfc3339
from engine.decisions import CueOrder, PictureOrder
from engine.events import (
    LensReport,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    RatioSeen,
    SourceChosen,
    Title,
    ToldFact,
)
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import Stage, inbound, staged, turns
from tests.brisk_hayloft import brisk_hayloft
from tests.golden.evenings import BEGINS

HAYLOFT = load(brisk_hayloft(), DEMO_ROOM.name)
LIT = (ProjectorReport(state="lit"), SourceChosen(source="disc"))


class Heard:
    """An outlet that remembers."""

    last_sent = 0

    def __init__(self, *, may_explain_later: bool = False) -> None:
        self.may_explain_later = may_explain_later
        self.said: list[tuple[OutgoingMessage, int | None]] = []
        self.writes = 0
        self.followed: list[int] = []

    def say(self, said: OutgoingMessage, serial: int | None) -> None:
        self.said.append((said, serial))

    def write(self) -> None:
        self.writes += 1

    def follow_clock(self, by: int) -> None:
        self.followed.append(by)

    def kinds(self, subtopic: str) -> list[str]:
        return [
            json.loads(said.body).get("kind", "")
            for said, _ in self.said
            if said.subtopic == subtopic
        ]

    def stood(self) -> dict[str, object]:
        """Give how the room stands by its latest word."""
        words = [said.body for said, _ in self.said if said.subtopic == "standing"]
        return dict(json.loads(words[-1]))


class Live:
    """A live room with its stage, its outlet and its log."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self.log = io.BytesIO()
        self.outlet = Heard()
        self.room = LiveRoom(stage.durable, decision_log(self.log, "hayloft"), self.outlet)

    async def woken(self, now: int) -> None:
        """Move the clock on, through every deadline, and let the event loop see it."""
        while (due := self.room.durable.deadline) is not None and due < now:
            await self._at(max(due, self.stage.clock.time))
        await self._at(now)

    async def _at(self, now: int) -> None:
        self.stage.clock.time = now
        self.room.arm(anew=True)
        await turns()

    def put_off(self) -> None:
        """Let what explains an order leave a moment after it, and listen from here on."""
        self.outlet = self.room.outlet = Heard(may_explain_later=True)

    def lines(self) -> list[dict[str, object]]:
        return [json.loads(line) for line in self.log.getvalue().splitlines()]


@asynccontextmanager
async def living(tmp_path: Path) -> AsyncIterator[Live]:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        one = Live(stage)
        one.room.begin()
        try:
            yield one
        finally:
            one.room.end()


async def test_what_falls_due_is_done_without_any_event(tmp_path: Path) -> None:
    """The engine's own deadline wakes the room: a picture order that nobody answered is noted."""
    async with living(tmp_path) as one:
        events = (ProjectorReport(state="lit"), SourceChosen(source="disc"))
        one.room.publish(one.room.durable.take([inbound(event) for event in events]))
        assert "picture" in one.outlet.kinds("order")
        before = len(one.outlet.said)
        await one.woken(BEGINS + HAYLOFT.pace.order)
        assert "note" in [json.loads(said.body).get("kind") for said, _ in one.outlet.said[before:]]


async def test_what_time_alone_has_settled_is_said_though_nothing_is_ordered_yet(
    tmp_path: Path,
) -> None:
    """The shape is known now, and the lens will follow it in a moment: a phone shows both."""
    async with living(tmp_path) as one:
        guests, rests = (
            ToldFact(fact="guests", value=True),
            LensReport(moving=False, preset="broad"),
        )
        one.stage.hear(ProjectorReport(state="lit"), SourceChosen(source="streamer"), rests, guests)
        one.stage.hear(Title(begun=True), Playback(state="playing"))
        for order in [*one.stage.decisions]:
            if isinstance(order, PictureOrder | CueOrder):
                one.stage.hear(Outcome(order=order.id, outcome="done"))
        one.room.publish(one.room.durable.take([inbound(RatioSeen(ratio=1.78))]))
        assert (one.outlet.stood()["aspect"], one.outlet.stood()["holds"]) == (None, [])
        await one.woken(BEGINS + HAYLOFT.pace.settle.taller)
        assert (one.outlet.stood()["aspect"], one.outlet.stood()["holds"]) == (1.7778, ["linger"])
        assert one.outlet.kinds("reason") == []


async def test_orders_go_out_with_their_number_in_the_outbox_and_reasons_without(
    tmp_path: Path,
) -> None:
    async with living(tmp_path) as one:
        events = (ProjectorReport(state="lit"), SourceChosen(source="disc"))
        one.room.publish(one.room.durable.take([inbound(event) for event in events]))
        numbered = {said.subtopic: serial is not None for said, serial in one.outlet.said}
        assert numbered == {"order": True, "reason": False, "standing": False, "alive": False}


async def test_what_explains_an_order_is_said_in_a_moment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The broker and the hub have the processor first."""
    monkeypatch.setattr(live, "EXPLAIN_AFTER", 0.0)
    async with living(tmp_path) as one:
        one.put_off()
        one.room.publish(one.room.durable.take([inbound(event) for event in LIT]))
        assert {said.subtopic for said, _ in one.outlet.said} == {"order"}
        await turns()
        assert {said.subtopic for said, _ in one.outlet.said} == {"order", "reason", "standing"}


async def test_whoever_causes_an_order_hears_of_it_once_it_has_left(tmp_path: Path) -> None:
    """A reply may come a moment later; where it is all there is to say, it comes at once."""
    async with living(tmp_path) as one:
        one.put_off()
        wish = Override(taken=True, look=OverrideLook(picture="cropped"))
        one.room.publish(one.room.durable.take([inbound(event) for event in (*LIT, wish)]))
        assert {said.subtopic for said, _ in one.outlet.said} == {"order"}
        one.room.end()
        later = [(said.subtopic, serial is not None) for said, serial in one.outlet.said]
        assert ("reply", True) in later


@pytest.mark.parametrize(
    ("at_latest", "most", "said"),
    [
        (1e9, 9, {"order"}),  # beyond the event loop's own clock
        (0.0, 9, {"order", "reason", "standing"}),
        (1e9, 1, {"order", "reason", "standing"}),
    ],
    ids=["not in between", "but not for long", "nor for too many"],
)
async def test_where_events_follow_each_other_closely_what_explains_them_waits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at_latest: float, most: int, said: set[str]
) -> None:
    """The next order would pay for it."""
    monkeypatch.setattr(live, "EXPLAIN_AFTER", 1e9)
    monkeypatch.setattr(live, "EXPLAIN_AT_LATEST", at_latest)
    monkeypatch.setattr(live, "MOST_UNEXPLAINED", most)
    async with living(tmp_path) as one:
        one.put_off()
        for event in LIT:
            one.room.publish(one.room.durable.take([inbound(event)]))
        await turns()
        assert {message.subtopic for message, _ in one.outlet.said} == said


async def test_what_is_due_to_be_explained_is_not_put_off_by_what_follows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The event loop comes to a socket before it comes to a timer."""
    monkeypatch.setattr(live, "EXPLAIN_AT_LATEST", 0.0)
    async with living(tmp_path) as one:
        one.put_off()
        for _ in range(4):
            one.room.publish(one.room.durable.take([inbound(Mark(words="wrong"))]))
            await asyncio.sleep(0)
        assert one.outlet.kinds("reason")[:2] == ["note", "note"]


async def test_what_was_put_off_is_said_and_logged_before_a_room_ends(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with living(tmp_path) as one:
        monkeypatch.setattr(live, "EXPLAIN_AFTER", 1.0)
        one.put_off()
        one.room.publish(one.room.durable.take([inbound(Mark(words="wrong"))]))
        assert [said.subtopic for said, _ in one.outlet.said] == ["reply"]
        one.room.end()
        assert one.outlet.kinds("reason") == ["note"]
        assert [line["reason"] for line in one.lines()] == ["wrong"]


async def test_a_decision_is_one_line_in_the_log_and_a_refusal_says_when_and_its_topic(
    tmp_path: Path,
) -> None:
    async with living(tmp_path) as one:
        one.room.publish(one.room.durable.take([inbound(Mark(words="wrong"))]))
        one.room.publish(one.room.durable.take([inbound(SourceChosen(source="dics"))]))
        note, refused = one.lines()
        assert (note["event"], note["reason"], note["room"]) == ("note", "wrong", "hayloft")
        assert (refused["event"], refused["topic"], refused["level"]) == (
            "refused",
            "in/source",
            "warning",
        )
        assert refused["at"] == note["at"] == rfc3339(BEGINS)
        assert "did you mean 'disc'" in str(refused["words"])


async def test_a_journal_that_cannot_be_written_is_said_and_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with living(tmp_path) as one:
        events = (ProjectorReport(state="lit"), SourceChosen(source="disc"))
        one.room.publish(one.room.durable.take([inbound(event) for event in events]))
        monkeypatch.setattr(live, "RETRY_AFTER", 0.0)
        await one.woken(BEGINS + HAYLOFT.pace.order - 1)
        before = one.stage.durable.engine.state
        with patch.object(Journal, "write", side_effect=JournalError("the disk is full")):
            await one.woken(BEGINS + HAYLOFT.pace.order)
            assert one.stage.durable.engine.state is before
        await turns(20)
        assert "the disk is full" in [line.get("why") for line in one.lines()]
        assert one.stage.durable.engine.state is not before


async def test_a_log_that_cannot_be_written_stops_nothing(tmp_path: Path) -> None:
    class Full(io.BytesIO):
        def write(self, _data: object) -> int:
            raise OSError("no space left on device")

    async with living(tmp_path) as one:
        one.room.log = decision_log(TolerantStream(Full()), "hayloft")
        events = (ProjectorReport(state="lit"), SourceChosen(source="disc"), Mark(words="wrong"))
        one.room.publish(one.room.durable.take([inbound(event) for event in events]))
        await one.woken(BEGINS + HAYLOFT.pace.order)
        assert one.stage.durable.engine.state.core.failed


async def test_a_room_says_that_it_is_alive_with_its_figures(tmp_path: Path) -> None:
    async with living(tmp_path) as one:
        said = one.room.alive()
        data = json.loads(said.body)
        assert said.retained
        assert data["alive"] is True
        assert 'roomcue_outbox_depth{room="hayloft"} 0.0' in data["metrics"]


class Machine:
    """A machine whose wall clock may be set, and which may sleep; in ms."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.wall, self.since_boot = BEGINS, 1_000_000
        monkeypatch.setattr("adapters.live.clock.time.time_ns", lambda: self.wall * 1_000_000)
        monkeypatch.setattr(
            "adapters.live.clock.time.clock_gettime_ns", lambda _: self.since_boot * 1_000_000
        )

    def pass_time(self, ms: int) -> None:
        self.wall += ms
        self.since_boot += ms


def test_the_wall_clock_never_goes_back_and_begins_after_what_was_written(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Where that is just ahead of it: a clock that is far behind was set, and rooms follow it."""
    machine = Machine(monkeypatch)
    clock = WallClock()
    later = WallClock(BEGINS + 900)
    assert (later.ahead - clock.ahead, later.now()) == (900, BEGINS + 900)
    machine.pass_time(7_000)
    assert later.now() == BEGINS + 7_900
    assert clock.next_minute() == BEGINS + 60_000
    assert WallClock(BEGINS + 3_600_000).ahead == clock.ahead


@pytest.mark.parametrize("by", [-3 * 3_600_000, 5 * 3_600_000])
def test_a_clock_that_is_set_is_followed_and_says_by_how_much(
    monkeypatch: pytest.MonkeyPatch, by: int
) -> None:
    machine = Machine(monkeypatch)
    clock = WallClock()
    ahead = clock.ahead
    machine.pass_time(7_000)
    assert (clock.now(), clock.ahead) == (BEGINS + 7_000, ahead)
    machine.wall += by
    assert (clock.now(), clock.ahead) == (BEGINS + 7_000 + by, ahead + by)


def test_time_goes_on_while_the_machine_sleeps_and_nothing_was_set(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The clock that goes on is the one that is read, where there is one (Linux has it)."""
    machine = Machine(monkeypatch)
    clock = WallClock()
    ahead = clock.ahead
    machine.pass_time(8 * 3_600_000)
    assert (clock.now(), clock.ahead) == (BEGINS + 8 * 3_600_000, ahead)
    assert getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC) == STEADY_CLOCK


def test_a_clock_that_runs_a_little_otherwise_was_not_set(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor does time go back by it."""
    machine = Machine(monkeypatch)
    clock = WallClock()
    ahead = clock.ahead
    machine.wall -= 900
    assert (clock.now(), clock.ahead) == (BEGINS, ahead)


def test_the_wall_clock_reads_the_time_of_day_where_the_room_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Summer time began in Lisbon on 2026-03-29 at 01:00 UTC (computed from the zone data)."""
    clock = WallClock()
    lisbon = ZoneInfo("Europe/Lisbon")
    monkeypatch.setattr("adapters.live.clock.time.time", lambda: 1_774_745_940.0)
    assert clock.minute(lisbon) == 59
    monkeypatch.setattr("adapters.live.clock.time.time", lambda: 1_774_746_000.0)
    assert clock.minute(lisbon) == 120


@pytest.mark.parametrize("lost", [False, True])
async def test_the_hub_is_asked_for_readings_after_every_gap(tmp_path: Path, *, lost: bool) -> None:
    """They come at quality of service 0: they are lost even where the broker kept the session."""
    async with living(tmp_path) as one:
        one.room.greet(one.room.durable.greeting(lost=lost), lost=lost)
        (question,) = (
            json.loads(said.body)
            for said, _ in one.outlet.said
            if said.subtopic == "ask" and b'"question"' in said.body
        )
        assert {"bars", "black", "ratio", "format", "source"} <= {*question["about"]}
