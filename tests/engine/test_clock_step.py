"""A clock that is set changes when things are, never what happens."""

from __future__ import annotations

import dataclasses
import json
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine import RoomEngine
from engine.clock_step import with_clock_set, with_time_passed
from engine.decisions import Decision, Order, Prompt
from engine.events import (
    Answer,
    BarsSeen,
    Event,
    LensReport,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    Resumed,
    SourceChosen,
    moment_of,
)
from engine.room import Room
from engine.snapshot import decode, encode
from engine.state import DAY, OpenCue, State, Tally
from rules.room.load import load
from simulator.shipped import DEMO_ROOM, ROOMS
from tests.engine.meetings import START, evenings
from tests.engine.moments import asked, ordered, prompted, travelling
from tests.engine.story import UNANSWERED, Story, shape
from tests.soak import sample

SHIPPED = [load(path.read_text("utf-8"), path.name) for path in ROOMS]
HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
HOUR = 3_600_000


def undated(event: Event) -> Event:
    """Take the moments out of an event: whoever names one means that one."""
    if isinstance(event, Override) and not isinstance(event.until, str):
        event = dataclasses.replace(event, until="session")
    return dataclasses.replace(event, at=None)


def moved(decision: Decision, by: int) -> Decision:
    if isinstance(decision, Order | Prompt):
        return dataclasses.replace(decision, at=decision.at + by, ends=decision.ends + by)
    return dataclasses.replace(decision, at=decision.at + by)


def decided(room: Room, state: State, evening: list[tuple[int, Event]], now: int) -> list[Decision]:
    """Give what comes of the rest of an evening, and of the hour after it."""
    engine = RoomEngine(room, state)
    decisions: list[Decision] = []
    for wait, event in evening:
        now += wait
        decisions += engine.receive(undated(event), now).decisions
    return [*decisions, *engine.receive(None, now + HOUR).decisions]


@settings(max_examples=sample(25, 500), deadline=None)
@given(st.data())
def test_the_same_evening_goes_on_at_other_times(data: st.DataObject) -> None:
    """By whole days, for a night turns at noon: to the byte, but for its dates.

    A new memory that is a moment fails here until `engine.clock_step` moves it along.
    """
    room = data.draw(st.sampled_from(SHIPPED), "room")
    evening = data.draw(evenings(room), "evening")
    at = data.draw(st.integers(0, len(evening)), "set before")
    by = data.draw(st.sampled_from([-40 * DAY, -DAY, DAY, 3_000 * DAY]), "by")
    engine, now = RoomEngine(room), START
    for wait, event in evening[:at]:
        now += wait
        engine.receive(undated(event), now)
    after = with_clock_set(engine.state, by, now + by)
    expected = [moved(one, by) for one in decided(room, engine.state, evening[at:], now)]
    assert decided(room, after, evening[at:], now + by) == expected


@pytest.mark.parametrize("by", [-3 * HOUR, 5 * HOUR])
def test_a_wish_up_to_a_moment_ends_at_the_moment_that_was_named(by: int) -> None:
    """Whoever said "until eleven" means eleven, though the clock was wrong when they said it."""
    ends = START + 7 * HOUR
    wish = Override(
        taken=True, until=moment_of(ends), look=OverrideLook(picture="whole", cues={"lamps": "low"})
    )
    engine = RoomEngine(HAYLOFT)
    playing = Playback(state="playing")
    for event in (ProjectorReport(state="lit"), SourceChosen(source="disc"), playing, wish):
        engine.receive(event, START)
    after = RoomEngine(HAYLOFT, with_clock_set(engine.state, by, START + by))
    stood = []
    for now in (ends - 1, ends):
        after.receive(None, now)
        core = after.state.core
        stood.append((core.override, [one.value for one in core.cue_overrides]))
    assert stood == [("person", ["low"]), ("rules", [])]


def test_reports_dated_by_a_clock_that_was_fast_make_no_later_ones_old() -> None:
    engine = RoomEngine(HAYLOFT)
    fast = START + 3 * HOUR
    engine.receive(ProjectorReport(state="lit", at=moment_of(fast)), fast)
    after = RoomEngine(HAYLOFT, with_clock_set(engine.state, -3 * HOUR, START))
    later = ProjectorReport(state="off", at=moment_of(START) + timedelta(seconds=1))
    assert after.receive(later, START + 2_000).refusal is None


@pytest.mark.parametrize("by", [-3 * HOUR, 5 * HOUR])
def test_of_reports_dated_by_a_clock_that_was_right_the_older_one_stays_old(by: int) -> None:
    """The hub's clock was right all the time; roomcue's own was wrong and is set."""
    right = START
    engine = RoomEngine(HAYLOFT)
    engine.receive(ProjectorReport(state="lit", at=moment_of(right)), right - by)
    after = RoomEngine(HAYLOFT, with_clock_set(engine.state, by, right))
    older = ProjectorReport(state="off", at=moment_of(right) - timedelta(hours=6))
    refused = after.receive(older, right + 1).refusal
    assert refused is not None
    assert refused.code == "stale"


def test_what_may_be_undone_moved_as_long_ago_as_before() -> None:
    """The proof and the decisions never see it; a person reads it beside the word to undo it."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, Override(taken=True, look=OverrideLook(preset="tall")))
    assert story.engine.state.tally.moved == START + 60_000
    after = with_clock_set(story.engine.state, -3 * HOUR, START + 60_000 - 3 * HOUR)
    assert after.tally.moved == START + 60_000 - 3 * HOUR


def test_whoever_is_at_the_screen_has_as_much_time_left_as_before() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    before, now = story.core.asked, START + 40_000
    after = with_clock_set(story.engine.state, DAY, now + DAY).core.asked
    assert before is not None
    assert after == before._replace(latest=before.latest + DAY)


def test_a_hub_whose_clock_was_as_fast_as_ours_may_tell_everything_again() -> None:
    """Ours is put right, its own is not: some of its dates lie ahead now, and some came since."""
    source = SourceChosen(source="disc", at=moment_of(START))
    playback = Playback(state="stopped", at=moment_of(START + 60_000))
    before = RoomEngine(HAYLOFT)
    before.receive(ProjectorReport(state="lit"), START)
    assert before.receive(source, START + 1_000).refusal is None
    now = START + 30_000 - HOUR
    after = RoomEngine(HAYLOFT, with_clock_set(before.state, -HOUR, now))
    assert after.receive(playback, now + 30_000).refusal is None
    for again in (source, playback):
        assert after.receive(again, now + 60_000).refusal is None


@pytest.mark.parametrize("by", [-3 * HOUR, 5 * HOUR])
def test_a_report_dated_ahead_is_as_old_as_before(by: int) -> None:
    """Told again after the clock was set, it is still older than what somebody else said since."""
    ahead = moment_of(START + DAY)
    engine = RoomEngine(HAYLOFT)
    engine.receive(ProjectorReport(state="off", at=ahead), START)
    engine.receive(ProjectorReport(state="lit", at=moment_of(START + 1_000)), START + 1_000)
    now = START + 2_000 + by
    after = RoomEngine(HAYLOFT, with_clock_set(engine.state, by, now))
    refused = after.receive(ProjectorReport(state="off", at=ahead), now).refusal
    assert refused is not None
    assert refused.code == "stale"


@pytest.mark.parametrize(("by", "back", "varies"), [(5 * HOUR, 610, False), (-3 * HOUR, 700, True)])
def test_a_film_in_another_raster_has_a_minute_to_come_back_whatever_the_clock_says(
    by: int, back: int, *, varies: bool
) -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(600, BarsSeen(top=0, bottom=0, left=0, right=0, columns=1_920, rows=1_080))
    story.at(605, None)
    now = START + 605_000 + by
    after = RoomEngine(UNANSWERED, with_clock_set(story.engine.state, by, now))
    after.receive(shape(2.39), START + 1_000 * back + by)
    after.receive(None, START + 1_000 * back + 30_000 + by)
    assert after.state.core.varies is varies


def test_a_clock_that_goes_to_and_fro_gathers_no_dates_that_lie_ahead() -> None:
    """They would be kept for ever; one that came before it was set and one since are enough."""
    engine, now = RoomEngine(HAYLOFT), START
    for _ in range(5):
        engine.receive(ProjectorReport(state="lit", at=moment_of(now + 1_000)), now + 2_000)
        now += 60_000 - HOUR
        engine = RoomEngine(HAYLOFT, with_clock_set(engine.state, -HOUR, now))
        assert 1 <= len(engine.state.tally.ahead) <= 2
        assert all(one.heard <= now for one in engine.state.tally.ahead)
        now += 2 * HOUR
        engine = RoomEngine(HAYLOFT, with_clock_set(engine.state, 2 * HOUR, now))


def test_a_state_from_before_it_was_remembered_by_whose_clock_a_moment_is_is_read() -> None:
    """What was dated ahead counts by the room's clock all the same."""
    engine, earlier = RoomEngine(HAYLOFT), START - 3 * HOUR
    engine.receive(ProjectorReport(state="lit", at=moment_of(START + HOUR)), START)
    version, (core, settling, tally, due) = json.loads(encode(engine.state))
    heard = Tally._fields.index("heard")
    tally[heard] = [[subject, when] for subject, when, _ in tally[heard]]
    before = decode(json.dumps([version, [core, settling, tally, due]]))
    assert before != engine.state
    after = with_clock_set(before, -3 * HOUR, earlier)
    assert after == with_clock_set(engine.state, -3 * HOUR, earlier)
    assert after.tally.heard_of("projector") == earlier


# ------------------------------------------------------- a clock that tells of time that has passed


def test_a_cue_of_before_and_one_that_has_come_since_end_as_late_as_they_were_to() -> None:
    """The timer of both is that of the older one."""
    before = ordered().engine.state
    (lamps,) = before.core.open_cues
    core = before.core.copy()
    core.open_cues = (lamps, OpenCue(lamps.id + 1, "curtain", "open", lamps.ends + 1_000))
    after = with_time_passed(before._replace(core=core), before, HOUR, 0, START + HOUR).core
    assert after.timers.cue == min(cue.ends for cue in after.open_cues) == lamps.ends + HOUR


def test_a_lens_that_was_heard_to_set_off_since_is_known_by_its_echo_as_long_as_before() -> None:
    story = travelling()
    before = story.engine.state
    story.at(26, Resumed())
    story.at(27, LensReport(moving=True, preset="tall"))
    state, was = story.engine.state, before.core.timers.echo
    assert state.core.timers.echo == was is not None
    after = with_time_passed(state, before, HOUR, 0, START + 27_000 + HOUR)
    assert after.core.timers.echo == was + HOUR


def test_whoever_was_asked_before_and_has_come_since_has_as_much_time_left_as_before() -> None:
    story = prompted()
    before = story.engine.state
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    state, now = story.engine.state, START + 40_000 + HOUR
    after, moved = with_time_passed(state, before, HOUR, 0, now), with_clock_set(state, HOUR, now)
    for name in ("remind", "give_up"):
        assert getattr(after.core.timers, name) == getattr(moved.core.timers, name) is not None
    assert after.core.asked == moved.core.asked
