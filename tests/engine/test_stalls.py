"""roomcue stood still, or an order could not leave: the order is given once it can be.

After a stall whatever was said meanwhile is still to be heard. So nothing counts as moved, and
whatever waits for a word waits a little longer.
"""

from __future__ import annotations

from engine import RoomEngine
from engine.decisions import CueOrder, Decision, PictureOrder, Prompt, PromptOver, RecallOrder
from engine.events import (
    Answer,
    LensReport,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Resumed,
)
from engine.room import Room
from engine.step import STILL_TO_HEAR
from tests.engine.meetings import START
from tests.engine.moments import asked, core_of, prompted
from tests.engine.story import (
    HAYLOFT,
    SILENT,
    UNANSWERED,
    UNLIMITED,
    WITH_A_BLIND,
    Story,
    changed,
    shape,
)

STALLED = Resumed(stalled=True)
WITHOUT_PANELS = changed(("orders: {answered: yes}\n", ""), ("tall, panels: sides", "tall"))
"""A hayloft in which nobody is asked for anything."""


def unsent(*what: str) -> Resumed:
    return Resumed(stalled=True, unsent=what)


def stalled(story: Story, second: float, event: Resumed = STALLED) -> list[Decision]:
    """Let nothing happen up to a second, at which roomcue finds that it stood still."""
    reply = story.engine.receive(event, START + round(second * 1_000))
    assert reply.refusal is None
    story.made += reply.decisions
    return [*reply.decisions]


def pictures(made: list[Decision]) -> list[PictureOrder]:
    return [one for one in made if isinstance(one, PictureOrder)]


def film(room: Room = HAYLOFT) -> Story:
    """A film plays, and its shape is about to settle at second 14.5."""
    story = Story(room)
    story.film(10, 2.39)
    story.done(10.6)
    story.at(12, shape(1.78))
    return story


def test_an_order_that_fell_due_in_a_stall_ends_as_long_after_it_as_ever() -> None:
    story = film()
    due = story.engine.deadline
    assert due is not None
    made = stalled(story, 24)
    (order,) = pictures(made)
    assert order.at == START + 24_000
    assert order.ends == order.at + HAYLOFT.pace.order


def test_what_was_answered_in_time_is_heard_after_a_stall() -> None:
    """The hub has said done while roomcue stood still, and people have too."""
    story = Story()
    story.film(10, 2.39)
    story.at(12, None)
    number = story.core.picture
    assert number is not None
    stalled(story, 30)
    story.at(30, Outcome(order=number, outcome="done"))
    assert (story.core.picture, story.core.failed) == (None, False)


def test_what_nobody_answers_after_a_stall_fails_a_little_later() -> None:
    story = Story()
    story.film(10, 2.39)
    stalled(story, 30)
    cues = [one.cue for one in story.core.open_cues]
    assert cues
    story.at(30 + STILL_TO_HEAR / 1_000, None)
    assert story.core.failed
    assert story.core.open_cues == ()
    assert [*story.engine.state.tally.failed_cues] == cues


def test_of_two_cues_only_the_one_whose_time_was_over_gets_more() -> None:
    """What falls due at the very moment after the stall may have been answered, too."""
    story = Story(changed(WITH_A_BLIND))
    story.film(10, 2.39)
    (lamps,) = story.core.open_cues
    later = (lamps.ends - START) / 1_000 - 1
    story.at(later, Override(taken=True, look=OverrideLook(cues={"blind": "down"})))
    ends = {one.cue: one.ends for one in story.core.open_cues}
    stalled(story, later + 1)
    assert {one.cue: one.ends for one in story.core.open_cues} == {
        "lamps": lamps.ends + STILL_TO_HEAR,
        "blind": ends["blind"],
    }
    assert story.core.timers.cue == min(lamps.ends + STILL_TO_HEAR, ends["blind"])


def two_cues_open(second: float) -> Story:
    """Two cues are open, and the projector warms up anew: nothing is ordered meanwhile.

    The lamps were ordered with the film at second 10; the blind is, at a `second`.
    """
    story = Story(changed(WITH_A_BLIND))
    story.film(10, 2.39)
    story.at(second, Override(taken=True, look=OverrideLook(cues={"blind": "down"})))
    story.at(second + 0.5, ProjectorReport(state="warming"))
    assert [one.cue for one in story.core.open_cues] == ["blind", "lamps"]
    return story


def ends_of(story: Story) -> dict[str, int]:
    return {one.cue: one.ends for one in story.core.open_cues}


def test_while_the_projector_warms_up_each_cue_is_waited_for_up_to_its_own_end() -> None:
    answered, unsent_one, slept = (two_cues_open(12) for _ in range(3))
    (blind, lamps) = answered.core.open_cues
    answered.at(13, Outcome(order=lamps.id, outcome="done"))
    assert answered.core.timers.cue == blind.ends
    stalled(unsent_one, 13, unsent("cue lamps"))
    assert unsent_one.core.timers.cue == blind.ends
    ends = ends_of(slept)
    stalled(slept, (ends["lamps"] - START) / 1_000)
    assert ends_of(slept) == {"blind": ends["blind"], "lamps": ends["lamps"] + STILL_TO_HEAR}
    assert slept.core.timers.cue == min(ends_of(slept).values())


def test_a_picture_that_falls_due_as_a_stall_ends_may_have_been_answered() -> None:
    story = Story()
    story.film(10, 2.39)
    story.at(12, None)
    due = story.core.timers.picture
    assert due is not None
    stalled(story, (due - START) / 1_000)
    assert story.core.timers.picture == due + STILL_TO_HEAR
    assert not story.core.failed


def test_after_a_stop_a_picture_that_was_set_in_time_is_left_alone() -> None:
    story = Story()
    story.film(10, 2.39)
    story.at(12, None)
    number, (lamps,) = story.core.picture, story.core.open_cues
    assert number is not None
    story.at(13, Outcome(order=number, outcome="done"))
    made = stalled(story, (lamps.ends - START) / 1_000, Resumed())
    assert [one.kind for one in made] == ["cue"]


def test_after_a_stop_the_picture_is_ordered_anew_and_a_cue_once_its_end_is_there() -> None:
    """What ended unseen may have been done, and its outcome lost: it has not failed."""
    story = Story()
    story.film(10, 2.39)
    story.at(12, None)
    (lamps,) = story.core.open_cues
    (again,) = stalled(story, 12.5, Resumed())
    assert isinstance(again, PictureOrder)
    assert story.core.open_cues == (lamps,)
    made = stalled(story, (lamps.ends - START) / 1_000, Resumed())
    assert [one.kind for one in made] == ["picture", "cue"]
    due = story.core.timers.picture
    assert due is not None
    made = stalled(story, (due - START) / 1_000, Resumed())
    assert [one.kind for one in made] == ["picture", "cue"]
    assert (story.core.failed, story.core.tries) == (False, 0)
    assert story.engine.state.tally.failed_cues == ()


def test_a_lens_that_arrived_in_a_stall_has_arrived() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, LensReport(moving=True, preset="tall"))
    stalled(story, 80)
    assert story.core.lens == "travelling"
    story.at(80, LensReport(moving=False, preset="tall"))
    assert (story.core.lens, story.core.preset) == ("resting", "tall")
    assert story.travels() == {"tall": (1, 0, 0)}


def test_a_silent_lens_arrives_in_a_stall_by_the_clock() -> None:
    story = Story(SILENT)
    story.film(10, 1.78)
    story.at(25, None)
    stalled(story, 80)
    assert (story.core.lens, story.core.preset) == ("resting", "tall")


def at_screen() -> tuple[Story, int]:
    """Somebody is at the screen from second 40 on; without a stall it is dark up to 640."""
    story = prompted()
    number = asked(story)
    story.at(40, Answer(prompt=number, answer="ready"))
    return story, number


def test_whoever_is_at_the_screen_is_warned_after_a_stall_before_the_light_comes_back() -> None:
    story, _ = at_screen()
    stalled(story, 700)
    made = story.at(701, None)
    assert [one.stage for one in made if isinstance(one, Prompt)] == ["light comes back"]
    assert story.core.asked is not None
    made = story.at(700.002 + UNANSWERED.pace.remind / 1_000, None)
    assert [one.how for one in made if isinstance(one, PromptOver)] == ["expired"]


def test_an_answer_that_was_given_in_a_stall_is_in_time() -> None:
    story = prompted()
    number = asked(story)
    stalled(story, 30 + UNANSWERED.pace.give_up / 1_000 + 10)
    ends = story.core.timers.give_up
    assert ends == START + 40_000 + UNANSWERED.pace.give_up + STILL_TO_HEAR
    story.at(41 + UNANSWERED.pace.give_up / 1_000, Answer(prompt=number, answer="done"))
    assert story.core.arrangement == "open"


# ------------------------------------------------------------------------ what could not leave


def test_a_picture_that_could_not_leave_is_ordered_again_at_once() -> None:
    for room in (HAYLOFT, UNANSWERED):
        story = Story(room)
        story.film(10, 2.39)
        (again,) = pictures(stalled(story, 12, unsent("picture")))
        assert again.ends == START + 12_000 + room.pace.order
        assert again.id > max(one.id for one in story.of(PictureOrder)[:-1])


def test_a_picture_that_has_failed_because_it_could_not_leave_has_all_its_tries_again() -> None:
    story = Story()
    story.film(10, 2.39)
    story.at(200, None)
    assert (story.core.failed, story.core.tries) == (True, 2)
    (again,) = pictures(stalled(story, 201, unsent("picture")))
    assert (story.core.picture, story.core.tries) == (again.id, 0)


def test_a_cue_that_could_not_leave_is_ordered_again_open_or_not() -> None:
    for room in (HAYLOFT, UNANSWERED):
        story = Story(room)
        story.film(10, 2.39)
        before = {one.cue: one.value for one in story.of(CueOrder)}
        made = stalled(story, 11, unsent("cue lamps"))
        assert {one.cue: one.value for one in made if isinstance(one, CueOrder)} == before


def test_a_recall_that_could_not_leave_is_given_again_and_was_no_travel() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, None)
    assert story.core.recall is not None
    made = stalled(story, 30, unsent("recall"))
    assert (story.core.lens, story.core.preset, story.core.unreached) == ("resting", "broad", None)
    assert core_of(story).recall is None
    assert story.travels() == {}
    made += story.at(60, None)
    assert [one.preset for one in made if isinstance(one, RecallOrder)] == ["tall"]


def test_a_recall_that_could_not_leave_in_time_is_given_again_once_the_lens_is_known() -> None:
    story = Story(WITHOUT_PANELS)
    story.film(10, 1.78)
    story.at(60, None)
    assert (story.core.lens, story.core.unreached) == ("unknown", "tall")
    stalled(story, 61, unsent("recall"))
    story.at(62, LensReport(moving=False, preset="broad"))
    story.at(90, None)
    assert story.recalls() == ["tall", "tall"]


def test_a_silent_lens_has_not_arrived_by_an_order_that_never_left() -> None:
    story = Story(SILENT)
    story.film(10, 1.78)
    story.at(60, None)
    assert (story.core.lens, story.core.preset) == ("resting", "tall")
    stalled(story, 61, unsent("recall"))
    assert story.core.lens == "unknown"


def test_a_lens_that_was_heard_since_has_got_its_order() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, LensReport(moving=True, preset="tall"))
    stalled(story, 26, unsent("recall"))
    assert (story.core.lens, story.core.preset) == ("travelling", "tall")


def test_what_is_no_order_of_this_room_leaves_it_as_it_is() -> None:
    story = Story()
    story.film(10, 2.39)
    before = story.engine.state
    stalled(story, 10.5, unsent("cue nonesuch", "nonesuch"))
    assert story.engine.state.core == before.core


def test_a_stall_in_which_nothing_fell_due_changes_nothing() -> None:
    engine = RoomEngine(HAYLOFT)
    for event in (PanelReport(panels="open"), Playback(state="playing")):
        engine.receive(event, START)
    before = engine.state
    assert engine.receive(STALLED, START + 1).decisions == ()
    assert engine.state.core.copy() == before.core


def test_a_recall_that_never_left_gives_the_title_one_recall_back_and_no_more() -> None:
    story = Story(UNLIMITED)
    story.film(10, 1.78)
    story.at(25, None)
    sent_once = story.core.left_title
    story.at(60, LensReport(moving=False, preset="tall"))
    story.at(100, Override(taken=True, look=OverrideLook(preset="broad")))
    assert story.core.left_title == sent_once - 1
    stalled(story, 101, unsent("recall"))
    assert story.recalls() == ["tall", "broad", "broad"]
    assert story.core.left_title == sent_once - 1


def test_a_lens_whose_order_was_refused_is_where_it_was_though_the_order_never_left() -> None:
    story = Story(WITHOUT_PANELS)
    story.film(10, 1.78)
    story.at(25, None)
    assert story.core.recall is not None
    story.at(26, Outcome(order=story.core.recall, outcome="refused"))
    stalled(story, 27, unsent("recall"))
    assert (story.core.lens, story.core.preset) == ("resting", "broad")
