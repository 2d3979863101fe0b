"""Orders that fall due while roomcue stands still, or cannot leave in time, are given again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from adapters.live.journal import Journal
from adapters.live.journal_rows import Page
from engine.decisions import PictureOrder, Prompt, PromptOver
from engine.events import (
    Answer,
    Event,
    LensReport,
    Outcome,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    SourceChosen,
)
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.hayloft import AT_BROAD, HAYLOFT, LIT
from tests.adapters.staging import Stage, differences, inbound, staged
from tests.adapters.test_live import living
from tests.golden.evenings import BEGINS


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    """A film plays, and its shape has just been seen."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as one:
        one.hear(*LIT, AT_BROAD, PanelReport(panels="open"))
        answer_all(one)
        one.hear(Playback(state="playing"), RatioSeen(ratio=1.85))
        yield one
        assert differences(HAYLOFT, one.lines()) == []


def answer_all(stage: Stage) -> None:
    core = stage.durable.engine.state.core
    for number in (core.picture, *(one.id for one in core.open_cues)):
        if number is not None:
            stage.hear(Outcome(order=number, outcome="done"))


def sendable(stage: Stage) -> list[dict[str, Any]]:
    """Give the orders that may leave now."""
    waiting = [json.loads(said.body) for said, _ in stage.durable.record.waiting()]
    return [one for one in waiting if one["kind"] in {"picture", "recall", "cue"}]


def stands(stage: Stage) -> dict[str, Any]:
    said = stage.durable.standing(again=True)
    assert said is not None
    told: dict[str, Any] = json.loads(said.body)
    return told


def stop(stage: Stage, ms: int) -> None:
    """Stop the process for so long; then the event loop wakes it, or hands it a message."""
    stage.clock.time += ms
    stage.note(stage.durable.pass_time())


@pytest.mark.parametrize("ms", [10_000, 60_000])
def test_an_order_that_fell_due_while_the_process_was_stopped_can_be_sent(
    stage: Stage, ms: int
) -> None:
    stop(stage, ms)
    (order,) = (one for one in sendable(stage) if one["kind"] == "picture")
    ends = next(one.ends for one in stage.decisions[::-1] if isinstance(one, PictureOrder))
    assert ends == stage.clock.time + HAYLOFT.pace.order
    assert stands(stage)["parts"]["picture"] == {
        "stands": None,
        "ordered": order["picture"],
        "failed": None,
    }


def test_the_first_message_after_a_stop_finds_the_order_given_as_well(stage: Stage) -> None:
    stage.clock.time += 10_000
    stage.hear(RatioSeen(ratio=1.85))
    assert [one["kind"] for one in sendable(stage)].count("picture") == 1


def test_what_was_said_while_the_process_was_stopped_is_heard(stage: Stage) -> None:
    """The hub has answered at once, but its word is read ten seconds later."""
    stage.pass_to(BEGINS + 2_000)
    number = stage.durable.engine.state.core.picture
    assert number is not None
    stage.clock.time += 10_000
    stage.hear(Outcome(order=number, outcome="done"))
    assert stage.refusals == []


@pytest.mark.parametrize("late", [0, 1, 700, 1_999])
def test_what_is_heard_only_as_its_end_is_over_was_said_in_time(stage: Stage, late: int) -> None:
    """A stop that is over just after an end has held the word up: it was there to be read."""
    stage.pass_to(BEGINS + 2_000)
    core = stage.durable.engine.state.core
    assert core.picture is not None
    late_word(stage, core.picture, core.timers.picture, late)
    assert stands(stage)["parts"]["picture"]["stands"]
    stage.hear(Playback(state="stopped"))
    (cue,) = stage.durable.engine.state.core.open_cues
    late_word(stage, cue.id, cue.ends, late)
    assert stands(stage)["parts"]["cues"]["lamps"]["stands"] == "full"
    assert stage.refusals == []


def late_word(stage: Stage, order: int, ends: int | None, late: int) -> None:
    """Hear that an order is done once its end is over by some ms, after a stop since before it."""
    assert ends is not None
    stage.pass_to(ends - 1)
    stage.clock.time = ends + late
    stage.hear(Outcome(order=order, outcome="done"))


def test_a_reading_holds_no_end_up(stage: Stage) -> None:
    """They come many times a second, and none is an answer."""
    stage.pass_to(BEGINS + 2_000)
    ends = stage.durable.engine.state.core.timers.picture
    assert ends is not None
    stage.pass_to(ends - 1)
    stage.clock.time = ends + 100
    stage.hear(RatioSeen(ratio=1.85))
    assert stage.durable.counts.events["resumed"] == 0


def test_after_a_stop_the_hub_is_asked_for_it_may_have_spoken_in_vain(stage: Stage) -> None:
    stop(stage, 10_000)
    waiting = [json.loads(said.body)["kind"] for said, _ in stage.durable.record.waiting()]
    assert waiting.count("question") == 1


def test_a_timer_that_is_noticed_a_moment_late_keeps_its_own_time(stage: Stage) -> None:
    due = stage.durable.engine.deadline
    assert due is not None
    stage.clock.time = due + 900
    stage.note(stage.durable.pass_time())
    assert stage.durable.counts.events["resumed"] == 0


def test_whoever_is_at_the_screen_when_the_process_stops_is_warned_first(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, LensReport(moving=False, preset="tall"), PanelReport(panels="open"))
        stage.hear(Playback(state="playing"), RatioSeen(ratio=1.85))
        stage.pass_to(BEGINS + 60_000)
        asked = stage.durable.engine.state.core.asked
        assert asked is not None
        stage.hear(Answer(prompt=asked.id, answer="ready"))
        ends = stage.durable.engine.state.core.timers.give_up
        assert ends is not None
        stage.pass_to(ends - HAYLOFT.pace.remind - 1_000)
        before = len(stage.decisions)
        stop(stage, HAYLOFT.pace.remind + 60_000)
        assert not [one for one in stage.decisions[before:] if isinstance(one, PromptOver)]
        stage.pass_to(stage.clock.time + 1_000)
        assert [one.stage for one in stage.decisions[before:] if isinstance(one, Prompt)] == [
            "light comes back"
        ]
        stage.all_taken()
        stage.pass_to(stage.clock.time + HAYLOFT.pace.remind)
        assert [one.how for one in stage.decisions if isinstance(one, PromptOver)] == ["expired"]


# ------------------------------------------------------------------------ what could not leave


def test_an_order_that_a_slow_disk_has_held_up_is_given_again(stage: Stage) -> None:
    """Syncing takes six seconds, the order has five."""
    write = Journal.write

    def slowly(journal: Journal, page: Page) -> None:
        write(journal, page)
        stage.clock.time += 6_000

    stage.pass_to(BEGINS + 499)  # half a second after its reading the shape stands
    stage.clock.time += 1
    with patch.object(Journal, "write", slowly):
        stage.note(stage.durable.pass_time())
    assert [one["kind"] for one in sendable(stage)].count("picture") == 0
    stage.note(stage.durable.renew())
    (order,) = (one for one in sendable(stage) if one["kind"] == "picture")
    numbers = [one.id for one in stage.decisions if isinstance(one, PictureOrder)]
    assert numbers[-1] == order["id"] > numbers[-2]
    assert stage.note(stage.durable.renew()).decisions == ()


async def test_the_room_does_so_by_itself(tmp_path: Path) -> None:
    async with living(tmp_path) as one:
        write = Journal.write

        def slowly(journal: Journal, page: Page) -> None:
            write(journal, page)
            one.stage.clock.time += 6_000

        lit = [inbound(ProjectorReport(state="lit")), inbound(SourceChosen(source="disc"))]
        with patch.object(Journal, "write", slowly):
            one.room.publish(one.room.durable.take(lit))
        await one.woken(one.stage.clock.time)
        orders = [
            said
            for said, _ in one.outlet.said
            if said.subtopic == "order" and (said.expires or 0) > one.stage.clock.time
        ]
        assert json.loads(orders[-1].body)["kind"] in {"picture", "cue"}
        assert {json.loads(said.body)["kind"] for said in orders} == {"picture", "cue"}


def test_what_the_broker_was_not_there_to_take_is_ordered_again_once_it_is(stage: Stage) -> None:
    """However long it was away, and though a picture has had all its tries meanwhile."""
    stage.pass_to(BEGINS + 600_000)
    assert sendable(stage) == []
    assert stands(stage)["parts"]["picture"]["failed"]
    stage.note(stage.durable.renew())
    assert {one["kind"] for one in sendable(stage)} >= {"picture"}
    assert stands(stage)["parts"]["picture"]["ordered"]


def test_what_could_not_leave_before_a_power_cut_is_ordered_again_after_it(stage: Stage) -> None:
    stage.pass_to(BEGINS + 600_000)
    stage.durable.record.flush()
    stage.restart()
    stage.note(stage.durable.renew())
    assert "picture" in {one["kind"] for one in sendable(stage)}


def test_with_a_hub_that_says_nothing_of_orders_too(tmp_path: Path) -> None:
    text = DEMO_ROOM.read_text("utf-8").replace("orders: {answered: yes}\n", "")
    with staged(load(text, "unanswered.yaml"), tmp_path / "journal", BEGINS) as stage:
        film: tuple[Event, ...] = (*LIT, AT_BROAD, Playback(state="playing"))
        stage.hear(*film)
        stage.pass_to(BEGINS + 60_000)
        assert sendable(stage) == []
        stage.note(stage.durable.renew())
        assert "picture" in {one["kind"] for one in sendable(stage)}
        assert stands(stage)["parts"]["picture"]["stands"] is None


def test_what_the_broker_has_taken_is_not_ordered_again(stage: Stage) -> None:
    stage.all_taken()
    stage.clock.time += HAYLOFT.pace.order
    stage.clock.time = min(stage.clock.time, (stage.durable.engine.deadline or 0) - 1)
    assert stage.note(stage.durable.renew()).decisions == ()


def test_a_cue_is_given_again_where_its_outcome_may_be_lost(stage: Stage) -> None:
    """With the session the broker has lost what the hub said of it; it is never called failed."""
    stage.hear(Playback(state="stopped"))
    before = stage.durable.engine.state.core.open_cues
    stage.all_taken()
    stage.note(stage.durable.lost())
    (again,) = stage.durable.engine.state.core.open_cues
    assert [one.cue for one in before] == [again.cue]
    assert again.id > before[0].id


@pytest.mark.parametrize("lost", [False, True], ids=["kept", "lost"])
def test_a_cue_whose_end_has_passed_while_the_broker_was_away_is_given_again(
    stage: Stage, *, lost: bool
) -> None:
    """The hub has set it, and says so once the broker is back: that is too late."""
    stage.hear(Playback(state="stopped"))
    (cue,) = stage.durable.engine.state.core.open_cues
    stage.all_taken()
    stage.pass_to(cue.ends + 1_000)
    assert stands(stage)["parts"]["cues"]["lamps"]["failed"] == "full"
    stage.durable.connected()
    stage.note(stage.durable.greeting(lost=lost))
    (again,) = (one for one in sendable(stage) if one["kind"] == "cue")
    stage.hear(Outcome(order=cue.id, outcome="done"))
    assert stage.refusals == ["not_open"]
    stage.hear(Outcome(order=again["id"], outcome="done"))
    assert stands(stage)["parts"]["cues"]["lamps"] == {
        "stands": "full",
        "ordered": None,
        "failed": None,
    }


def test_a_cue_that_has_failed_and_is_ordered_otherwise_since_is_not_given_again(
    stage: Stage,
) -> None:
    """The hub has the order, and its outcome is still to come: the broker has kept all of it."""
    stage.hear(Playback(state="stopped"))
    (failed,) = stage.durable.engine.state.core.open_cues
    stage.all_taken()
    stage.pass_to(failed.ends + 1_000)
    stage.hear(Playback(state="playing"))
    (cue,) = stage.durable.engine.state.core.open_cues
    assert cue.value != failed.value
    stage.all_taken()
    stage.durable.connected()
    stage.note(stage.durable.greeting(lost=False))
    stage.hear(Outcome(order=cue.id, outcome="done"))
    assert stage.refusals == []
    assert stands(stage)["parts"]["cues"]["lamps"]["stands"] == cue.value


@pytest.mark.parametrize("gap", ["lost", "kept", "stood still"])
def test_time_that_passed_by_itself_before_a_gap_has_passed_for_a_restart_as_well(
    stage: Stage, gap: str
) -> None:
    """Nothing was decided as the picture's end passed, so no line tells of that."""
    stop(stage, 3_000)
    assert stage.durable.engine.state.core.picture is not None
    stage.all_taken()
    picture = stage.durable.engine.state.core.timers.picture
    assert picture is not None
    stage.pass_to(picture + 500)
    assert stage.durable.engine.state.core.failed
    stage.clock.time += 60_000 if gap == "stood still" else 1_000
    if gap == "stood still":
        stage.note(stage.durable.pass_time())
    else:
        stage.note(stage.durable.greeting(lost=gap == "lost"))
    stage.hear(Playback(state="paused"))
    before = stage.durable.engine.state
    stage.restart()
    assert stage.durable.engine.state.core.source == before.core.source
    assert stage.durable.engine.state.tally.serial >= before.tally.serial


@pytest.mark.parametrize("restarts", [False, True], ids=["", "after a restart"])
def test_a_cue_that_had_left_is_given_again_where_messages_were_lost_though_nobody_took_it(
    stage: Stage, *, restarts: bool
) -> None:
    """The hub knows its id, and need not say again what has become of it."""
    stage.hear(Playback(state="stopped"))
    (cue,) = stage.durable.engine.state.core.open_cues
    if restarts:
        stage.restart()
    else:
        waiting = stage.durable.record.waiting()
        stage.durable.record.outbox.note_left(max(one.serial or 0 for one in waiting))
    stage.durable.connected()
    stage.note(stage.durable.greeting(lost=True))
    (again,) = (one for one in sendable(stage) if one["kind"] == "cue")
    assert again["id"] > cue.id
    assert again["value"] == cue.value
