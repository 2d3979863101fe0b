"""A clock that is set, a machine that sleeps or starts again: what lasts goes on as before."""

from __future__ import annotations

import asyncio
import io
import json
from dataclasses import replace
from pathlib import Path
from unittest.mock import create_autospec, patch

import pytest

from adapters.cli.night_export import export_night
from adapters.live import run_rooms
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.messages import ROOM_FILE_TOPIC, InboundMessage, rfc3339
from adapters.live.redating import with_time_left
from adapters.live.session import Session
from engine.events import (
    Event,
    Helper,
    LensReport,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    SourceChosen,
    moment_of,
)
from tests.adapters.hayloft import HAYLOFT
from tests.adapters.staging import Stage, StagedClock, differences, staged, turns
from tests.adapters.test_live import Heard
from tests.golden.evenings import BEGINS

HOUR = 3_600_000
FAST_BY_3_HOURS, SLOW_BY_5_HOURS = -3 * HOUR, 5 * HOUR
SET = [FAST_BY_3_HOURS, SLOW_BY_5_HOURS]
FILM = (ProjectorReport(state="lit"), SourceChosen(source="disc"), Playback(state="playing"))


def dated(event: Event, at: int) -> Event:
    return replace(event, at=moment_of(at))


@pytest.mark.parametrize("by", SET)
def test_an_order_ends_as_late_as_before_and_is_dated_by_the_clock_as_it_is(
    tmp_path: Path, by: int
) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM)
        due = stage.durable.deadline
        assert due is not None
        stage.clock.set(by)
        stage.note(stage.durable.pass_time())
        assert stage.durable.deadline == due + by
        waiting = [message for message, _ in stage.durable.record.waiting()]
        said = [(one.expires, json.loads(with_time_left(one, stage.clock.time))) for one in waiting]
        assert {data["at"] for _, data in said} == {rfc3339(BEGINS + by)}
        ends = [(expires, data) for expires, data in said if "ends" in data]
        assert ends
        for expires, data in ends:
            assert expires is not None
            assert data["ends"] == rfc3339(expires)
            assert data["ends_in"] == (expires - stage.clock.time) / 1_000 > 0


@pytest.mark.parametrize("lost", [False, True])
@pytest.mark.parametrize("by", SET)
def test_a_broker_that_comes_with_the_right_time_hears_what_waited_dated_by_that(
    tmp_path: Path, by: int, *, lost: bool
) -> None:
    """As on a board that learns the time as soon as there is a network, and with it a broker."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM)
        waited = len(stage.durable.record.waiting())
        stage.clock.set(by)
        said = [message for message, _ in stage.durable.greeting(lost=lost).messages]
        assert len(said) == waited + lost
        assert {json.loads(one.body)["at"] for one in said} == {rfc3339(BEGINS + by)}
        ends = [one.expires - stage.clock.time for one in said if one.expires is not None]
        assert max(ends) <= HAYLOFT.pace.give_up
        assert min(ends) > 0


@pytest.mark.parametrize("by", SET)
def test_dated_reports_are_taken_before_and_after(tmp_path: Path, by: int) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*(dated(event, BEGINS) for event in FILM))
        stage.clock.set(by)
        stage.clock.time += 1_000
        stage.hear(dated(Playback(state="paused"), stage.clock.time))
        assert stage.refusals == []
        assert stage.durable.engine.state.core.playback == "paused"


@pytest.mark.parametrize("by", [*SET, -5_000])
def test_a_hub_whose_clock_is_a_little_ahead_may_tell_everything_again(
    tmp_path: Path, by: int
) -> None:
    """What it told counts as of when it came, and is known since then, however the clock is set."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*(dated(event, BEGINS + 4_000) for event in FILM))
        stage.clock.time += 60_000
        stage.clock.set(by)
        stage.note(stage.durable.pass_time())
        stage.clock.time += 1_000
        stage.hear(*(dated(event, BEGINS + 4_000) for event in FILM))
        assert stage.refusals == []


@pytest.mark.parametrize("by", SET)
def test_a_wish_up_to_a_moment_ends_then(tmp_path: Path, by: int) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        ends = BEGINS + 7 * HOUR
        wish = Override(taken=True, until=moment_of(ends), look=OverrideLook(picture="whole"))
        stage.hear(*FILM, wish)
        stage.clock.set(by)
        stage.pass_to(ends - 1)
        assert stage.durable.engine.state.core.override == "person"
        stage.pass_to(ends)
        stage.clock.time = ends
        stage.note(stage.durable.pass_time())
        assert "override_ended" in [one.code for one in stage.decisions]


@pytest.mark.parametrize("by", SET)
def test_what_was_lived_through_replays_to_the_byte_before_and_after(
    tmp_path: Path, by: int
) -> None:
    """A chapter begins as the clock is set, so that within each of them time only goes on."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM)
        stage.clock.set(by)
        stage.hear(Playback(state="paused"))
        stage.pass_to(stage.clock.time + HOUR)
        before = stage.lines()
        after = export_night(stage.path, None, rfc3339(BEGINS + by), None, without_titles=False)
        for lines in (before, [*after.lines]):
            assert len(lines) > 2
            assert differences(HAYLOFT, lines) == []


@pytest.mark.parametrize("by", SET)
def test_a_clock_that_is_set_while_roomcue_is_stopped_is_found_set(tmp_path: Path, by: int) -> None:
    """The machine has gone on, so it is known how much time has passed: a minute here."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM, Playback(state="paused"))
        pause = stage.durable.engine.state.core.timers.pause
        assert pause is not None
        stage.clock.set(by)
        stage.clock.time += 60_000
        stage.restart()
        assert stage.durable.engine.state.core.timers.pause == pause + by
        assert stage.durable.now() == BEGINS + by + 60_000


def test_after_a_restart_of_the_machine_the_room_goes_on_from_its_last_line(
    tmp_path: Path,
) -> None:
    """Nothing tells how long it was off but the clock, which began to count anew."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM, Playback(state="paused"))
        before = stage.durable.engine.state.core.timers.pause
        stage.clock = StagedClock(BEGINS + 60_000)
        stage.restart()
        assert stage.durable.engine.state.core.timers.pause == before
        stage.pass_to(BEGINS + HAYLOFT.pace.pause)
        stage.note(stage.durable.pass_time())
        assert stage.durable.engine.state.core.pause_over


def test_a_machine_that_starts_with_an_earlier_time_counts_on_from_there(tmp_path: Path) -> None:
    """Its clock was fast before, or has lost its battery: nobody knows how long it was off."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*(dated(event, BEGINS) for event in FILM), Playback(state="paused"))
        before = stage.durable.engine.state.core.timers.pause
        assert before is not None
        stage.clock = StagedClock(BEGINS - 3 * HOUR)
        stage.restart()
        assert stage.durable.engine.state.core.timers.pause == before - 3 * HOUR
        stage.hear(dated(Playback(state="playing"), BEGINS - 3 * HOUR + 1))
        assert stage.refusals == []


def test_a_machine_that_learns_the_time_only_after_its_start_was_off_meanwhile(
    tmp_path: Path,
) -> None:
    """As one without a battery for its clock: it shows when it went off, or less, and is then set.

    What lasted is over, and nobody is ordered about it: it fell due while nobody looked.
    """
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM, Helper(free=False), Playback(state="paused"))
        stage.clock = StagedClock(BEGINS - 20 * 60_000)
        stage.restart()
        stage.clock.time += 5_000
        stage.note(stage.durable.pass_time())
        assert _refused(stage)
        ordered = len(stage.decisions)
        stage.clock.set(20 * HOUR)
        stage.note(stage.durable.pass_time())
        assert not _refused(stage)
        assert not stage.durable.engine.state.core.title
        assert [one for one in stage.decisions[ordered:] if one.kind == "prompt"] == []
        stage.clock.set(HOUR)
        stage.hear(Playback(state="playing"), Playback(state="paused"))
        pause = stage.durable.engine.state.core.timers.pause
        stage.clock.set(HOUR)
        stage.note(stage.durable.pass_time())
        assert pause is not None
        assert stage.durable.engine.state.core.timers.pause == pause + HOUR


@pytest.mark.parametrize("restarts", [False, True], ids=["", "after a restart"])
@pytest.mark.parametrize("steps", [(20 * HOUR,), (-1_100, 20 * HOUR), (62_000, 19 * HOUR, HOUR)])
def test_what_lasted_before_the_machine_started_is_over_however_the_time_is_learnt(
    tmp_path: Path, steps: tuple[int, ...], *, restarts: bool
) -> None:
    """In one step or in more, and though roomcue is started once more before."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM, Helper(free=False), Playback(state="paused"))
        stage.clock = StagedClock(BEGINS - 20 * 60_000)
        stage.restart()
        if restarts:
            stage.clock.time += 1_000
            stage.restart()
        for by in steps:
            stage.clock.set(by)
            stage.note(stage.durable.pass_time())
            stage.clock.time += 1_000
        assert not _refused(stage)
        assert not stage.durable.engine.state.core.title
        assert differences(HAYLOFT, stage.lines()) == []


@pytest.mark.parametrize("by", [1_500, SLOW_BY_5_HOURS])
def test_what_has_begun_since_the_machine_started_goes_on_though_its_clock_was_slow(
    tmp_path: Path, by: int
) -> None:
    """No time has passed for the film, the lens or a person, but for what was there before."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM, Helper(free=False), Playback(state="stopped"))
        stage.clock = StagedClock(BEGINS + 20 * HOUR)
        stage.clock.face = 1_200
        stage.restart()
        stage.hear(*FILM, LensReport(moving=False, preset="tall"), Playback(state="paused"))
        wish = Override(taken=True, until="session", look=OverrideLook(preset="broad"))
        stage.hear(wish, LensReport(moving=True, preset="broad"))
        before = stage.durable.engine.state.core
        waiting = [one for one, _ in stage.durable.record.waiting()]
        decided = len(stage.decisions)
        stage.clock.set(by)
        stage.note(stage.durable.pass_time())
        after = stage.durable.engine.state.core
        assert [one.code for one in stage.decisions[decided:]] == []
        for name in ("title", "override", "lens", "preset", "recall", "shown"):
            assert getattr(after, name) == getattr(before, name)
        for name in ("pause", "travel"):
            moved, was = getattr(after.timers, name), getattr(before.timers, name)
            assert moved == was + by
        later = [one.expires for one, _ in stage.durable.record.waiting()]
        assert later == [(one.expires or 0) + by for one in waiting]


def test_a_clock_that_nobody_has_set_for_a_day_was_right(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM, Helper(free=False), Playback(state="paused"))
        stage.clock = StagedClock(BEGINS - 20 * 60_000)
        stage.restart()
        stage.clock.time += 25 * HOUR
        pause = stage.durable.engine.state.core.timers.pause
        stage.clock.set(20 * HOUR)
        before = stage.durable.engine.state
        assert pause is not None
        state, _ = stage.durable.record.follow_clock(HAYLOFT, before)
        assert state.core.timers.pause == pause + 20 * HOUR


async def test_until_a_room_follows_the_clock_nothing_seems_late(tmp_path: Path) -> None:
    """What waits for the broker is neither dropped nor cut short, though the clock was set."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM)
        waiting = stage.durable.record.waiting()
        assert waiting
        stage.clock.set(SLOW_BY_5_HOURS)
        assert stage.durable.record.waiting() == waiting
        assert stage.durable.now() == BEGINS


def test_a_clock_whose_setting_cannot_be_written_down_is_followed_once_it_can(
    tmp_path: Path,
) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM)
        due = stage.durable.deadline
        assert due is not None
        stage.clock.set(SLOW_BY_5_HOURS)
        with (
            patch.object(Journal, "begin", side_effect=JournalError("full")),
            pytest.raises(JournalError),
        ):
            stage.durable.pass_time()
        assert stage.durable.deadline == due
        stage.durable.pass_time()
        assert stage.durable.deadline == due + SLOW_BY_5_HOURS


def test_a_room_file_that_waits_to_be_checked_waits_on(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.durable.take([InboundMessage(ROOM_FILE_TOPIC, b"room: hayloft")])
        stage.clock.set(SLOW_BY_5_HOURS)
        stage.durable.pass_time()
        assert stage.durable.record.proposal() == "room: hayloft"


def test_nights_that_a_wrong_clock_has_dated_are_dropped_in_their_order(tmp_path: Path) -> None:
    """The oldest go, not those with the earliest dates."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM)
        stage.clock.set(-300 * 24 * HOUR)
        stage.hear(Playback(state="paused"))
        stage.clock.set(300 * 24 * HOUR)
        stage.hear(Playback(state="playing"))
        stage.durable.record.drop_nights(2)
        words = export_night(stage.path, None, "2000-01-01", None, without_titles=False).words
        assert "2 lines" not in " ".join(words)
        assert "1 lines" in " ".join(words)


def _refused(stage: Stage) -> bool:
    """Tell whether nobody is to be asked for panels."""
    return stage.durable.engine.state.core.panels == "refused"


# ---------------------------------------------------------------------------- on the event loop


def _living(stage: Stage) -> tuple[LiveRoom, Heard, io.BytesIO]:
    log, outlet = io.BytesIO(), Heard()
    return LiveRoom(stage.durable, decision_log(log, "hayloft"), outlet), outlet, log


async def test_everybody_hears_the_dates_anew(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        room, outlet, log = _living(stage)
        room.begin()
        stage.clock.set(FAST_BY_3_HOURS)
        room.look_at_clock()
        said = [json.loads(one.body) for one, _ in outlet.said if one.subtopic == "alive"]
        assert said[-1]["since"] == rfc3339(BEGINS + FAST_BY_3_HOURS)
        assert outlet.followed == [FAST_BY_3_HOURS]
        assert "standing" in [one.subtopic for one, _ in outlet.said]
        assert b"set back by 10800 s" in log.getvalue()
        room.end()


async def test_what_fell_due_while_the_machine_slept_is_done_as_soon_as_it_wakes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The event loop's own clock stood still meanwhile, and the broker has given the room up."""
    monkeypatch.setattr(run_rooms, "LOOK_AT_CLOCK_EVERY", 0.0)
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        room, _, _ = _living(stage)
        clock = stage.clock
        monkeypatch.setattr(run_rooms, "steady_ms", lambda: clock.time - clock.ahead)
        room.begin()
        room.publish(stage.hear(*FILM, Playback(state="paused")))
        session = create_autospec(Session, instance=True)
        watch = run_rooms._watch_clock([room], [session])  # noqa: SLF001 - a task of its own
        watching = asyncio.create_task(watch)
        await turns()
        stage.clock.set(HOUR)
        await turns()
        session.begin_anew.assert_not_called()
        stage.clock.time += 8 * HOUR
        await turns()
        session.begin_anew.assert_called_once()
        assert not stage.durable.engine.state.core.title
        watching.cancel()
        await asyncio.gather(watching, return_exceptions=True)
        room.end()
