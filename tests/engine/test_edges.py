"""Evenings that go wrong at the edges: circles, restarts, late words, slips between two events.

Travels and titles have files of their own.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine import RoomEngine
from engine.events import (
    Answer,
    FormatCode,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    RatioSeen,
    Resumed,
    Signal,
    SourceChosen,
    Title,
    moment_of,
)
from tests.engine.invariants import violations
from tests.engine.meetings import START
from tests.engine.shed import shed
from tests.engine.story import HAYLOFT, UNANSWERED, Story, shape


def test_a_row_that_looks_for_a_free_helper_asks_once_and_not_for_ever() -> None:
    story = Story(shed("case: {helper: free}, show: {panels: sides}"))
    story.film(1, 1.78)
    story.at(6 * 3_600, None)
    assert [stage for _, stage in story.prompts()] == ["asked", "reminded"]


def test_rules_that_chase_the_lens_round_in_a_circle_come_to_rest_with_a_note() -> None:
    room = shed(
        "case: {preset: broad}, show: {preset: tall}",
        "case: {preset: tall}, show: {preset: broad}",
    )
    story = Story(room)
    story.at(1, SourceChosen(source="disc"))
    story.at(2, Playback(state="stopped"))
    story.at(6 * 3_600, None)
    assert story.recalls() == ["tall", "broad"]
    assert "circle" in story.notes()


def test_rules_that_chase_the_panels_come_to_rest_too() -> None:
    room = shed(
        "case: {panels: open}, show: {panels: sides}",
        "case: {panels: sides}, show: {panels: open}",
    )
    story = Story(room)
    story.at(1, SourceChosen(source="disc"))
    story.at(2, Playback(state="stopped"))
    for second in range(30, 3_000, 30):
        if story.core.asked is not None:
            story.at(second, Answer(prompt=story.core.asked.id, answer="done"))
        story.at(second + 15, None)
    assert len(story.prompts()) == 2


def test_an_open_order_for_a_larger_picture_is_taken_back_when_panels_appear() -> None:
    story = Story(HAYLOFT, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.done(11.5)
    story.at(12, PanelReport(panels="open"))
    story.at(12.1, Override(taken=True))
    before = story.engine.state
    made = story.at(12.2, PanelReport(panels="sides"))
    story.at(13, None)
    assert violations(HAYLOFT, before, tuple(made), story.engine.state) == []


@pytest.mark.parametrize(
    ("off", "on"),
    [
        (Playback(state="paused"), Playback(state="playing")),
        (Signal(locked=False), Signal(locked=True)),
    ],
)
def test_nothing_settles_in_a_pause_or_without_a_signal(
    off: Playback | Signal, on: Playback | Signal
) -> None:
    """What had just begun to show settles only when it is seen again."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, None)
    before = len(story.pictures())
    story.at(100, shape(1.9))
    story.at(100.2, off)
    story.at(160, None)
    assert len(story.pictures()) == before
    story.at(200, on)
    story.at(200.6, None)
    assert story.engine.state.settling.aspect == 19_000 or len(story.pictures()) == before + 1
    assert story.core.tallest is not None
    assert story.core.tallest < 20_000


def test_a_reading_heard_in_a_pause_holds_when_it_is_played_on() -> None:
    """A hub that sends changes only: the seek to a 1.78 scene came while it was paused."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(100, Playback(state="paused"))
    story.at(110, shape(1.78))
    story.at(120, Playback(state="playing"))
    story.at(122, None)
    assert story.engine.state.settling.aspect == 17_778


def test_a_frame_that_one_source_told_is_not_the_next_one_s() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, FormatCode(code=8, frame="4:3"))
    assert story.core.frame == 13_333
    story.at(10, SourceChosen(source="console"))
    assert story.core.frame == 17_778
    story.at(11, FormatCode(code=8, frame="4:3"))
    assert story.core.frame == 17_778


def test_in_a_pause_the_film_s_own_shape_stays_whatever_is_heard() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(100, Playback(state="paused"))
    before = len(story.pictures())
    story.at(101, FormatCode(code=8, frame="4:3"))
    story.at(102, Signal(locked=True, columns=1_920, rows=1_080))
    story.at(103, Title(begun=True, declared=1.85))
    story.at(200, None)
    assert len(story.pictures()) == before


def test_after_a_restart_with_an_open_picture_order_the_picture_is_ordered_again() -> None:
    story = Story(HAYLOFT)
    story.at(5, SourceChosen(source="disc"))
    assert story.pictures() == ["whole"]
    story.at(5.5, Resumed())
    assert story.pictures() == ["whole", "whole"]


def test_roomcue_was_awake_up_to_its_return_at_the_latest() -> None:
    """A night that was put together by hand may say otherwise, and no time may pass before its."""
    away, returned = [moment_of(START + after) for after in (36_000_000, 40_000)]
    before = Story(HAYLOFT)
    before.film(10, 2.39)
    one, other = (RoomEngine(HAYLOFT, before.engine.state) for _ in range(2))
    one.receive(Resumed(at=away), START + 40_000)
    other.receive(Resumed(at=returned), START + 40_000)
    assert one.state == other.state


def test_what_fell_due_while_roomcue_was_awake_is_decided_as_ever() -> None:
    """So a replay, which reads the line of the return alone, does as the room did."""
    before = Story(HAYLOFT)
    before.film(10, 2.39)
    live, replayed = (RoomEngine(HAYLOFT, before.engine.state) for _ in range(2))
    due = live.deadline
    assert due is not None
    passed = live.receive(None, due).decisions
    assert passed
    then = live.receive(Resumed(), START + 40_000).decisions
    again = replayed.receive(Resumed(at=moment_of(due)), START + 40_000).decisions
    assert again == (*passed, *then)
    assert replayed.state == live.state


def test_outcomes_are_taken_in_whatever_order_they_come() -> None:
    story = Story(HAYLOFT)
    story.at(5, SourceChosen(source="disc"))
    assert story.core.picture is not None
    cue = story.core.open_cues[0].id
    late, early = (moment_of(START) + timedelta(seconds=s) for s in (5.2, 5.1))
    story.at(5.3, Outcome(order=cue, outcome="done", at=late))
    story.at(5.4, Outcome(order=story.core.picture, outcome="done", at=early))
    assert story.core.picture is None


def test_no_more_than_three_large_changes_of_the_picture_a_second() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.2)
    story.at(20, None)
    begun = len(story.pictures())
    for number in range(20):
        look = OverrideLook(picture=("plain", "gentle")[number % 2])
        story.at(30 + number / 20, Override(taken=True, look=look))
    story.at(31, None)
    assert len(story.pictures()) - begun <= 4
    story.at(40, None)
    assert story.pictures()[-1] == "gentle"


def test_old_timers_give_no_orders_after_a_restart() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    engine = story.engine
    assert not engine.is_due_before(Resumed(), START + 10_000_000)
    made = engine.receive(Resumed(), START + 300_000).decisions
    assert {one.at for one in made if one.kind in ("picture", "recall", "prompt", "cue")} <= {
        START + 300_000
    }


def test_a_tap_is_kept_with_its_words() -> None:
    story = Story(UNANSWERED)
    story.at(5, Mark(words="too dark"))
    assert story.made[-1].reason == "too dark"


def test_learning_that_a_signal_is_flat_is_no_other_signal_and_turning_to_3d_is() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, Signal(locked=True, three_d=False))
    assert story.engine.state.settling.aspect == 23_900
    story.at(70, Signal(locked=True, three_d=True))
    assert story.engine.state.settling.aspect is None


def test_a_frame_that_a_format_code_told_in_a_pause_holds_when_it_is_played_on() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(100, Playback(state="paused"))
    story.at(101, FormatCode(code=8, frame="4:3"))
    story.at(102, RatioSeen(ratio=1.33))
    assert story.core.frame == 17_778
    story.at(110, Playback(state="playing"))
    assert story.core.frame == 13_333


def test_a_picture_goes_by_the_name_that_the_rules_give_it_though_its_order_is_open() -> None:
    """Plain and whole may be one to the hardware: no new order, but another name."""
    story = Story(HAYLOFT)
    story.film(1, 1.78)
    for second, ratio in ((110, 2.39), (120, 1.78), (130, 2.39)):
        story.at(second, shape(ratio))
    story.at(141, Override(taken=True, look=OverrideLook(picture="plain")))
    story.done(142)
    story.at(143, shape(1.78))
    story.at(144.1, Override(taken=False))
    assert story.core.varies
    assert story.core.shown is not None
    assert story.core.shown.picture == "whole"
