"""What a person hears of their word: taken or not, why, what would help, and what happens next."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine import RoomEngine
from engine.decisions import CueOrder, PromptOver, RecallOrder
from engine.events import (
    Answer,
    Event,
    Helper,
    LensReport,
    Mark,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    Service,
    ToldFact,
)
from engine.holds import HOLDS, HoldCode
from engine.replies import (
    OF_LENS,
    OF_PANELS,
    OF_PICTURE,
    PEOPLES_EVENTS,
    PersonReply,
    reply_of_refusal,
    reply_to_person,
)
from engine.upcoming import next_due
from rules.room.load import load
from tests.engine.meetings import START, evenings
from tests.engine.moments import asked, prompted
from tests.engine.story import HAYLOFT, TEXT, UNANSWERED, Story, changed

TALL = Override(taken=True, look=OverrideLook(preset="tall"))
GIVEN_BACK = Override(taken=False)
COMPANY = changed(
    ("orders: {answered: yes}\n", ""),
    (
        "  rows:\n",
        (
            "  rows:\n"
            "    - name: company\n"
            "      case: {guests: yes}\n"
            "      show: {picture: plain, lift: 0 %, cues: {lamps: low}}\n"
            "      because: With guests the lens stays where it is.\n"
        ),
    ),
)
"""The hayloft with a lens that no rule moves while there are guests."""


def reply(story: Story, second: float, event: Event) -> PersonReply:
    """Let a person say something, and give what they hear."""
    story.at(second, None)
    before = story.engine.state
    decisions = story.at(second, event)
    return reply_to_person(story.room, event, before, story.engine.state, decisions)


def following(one: PersonReply) -> list[str]:
    return [each.code for each in one.next]


def test_a_wish_that_is_carried_out_names_the_orders_and_until_when_it_stands() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    said = reply(story, 60, TALL)
    assert said.taken
    assert (said.code, said.hold) == ("person_asked", None)
    assert said.words == "As you wish."
    assert following(said) == ["lens", "until_session"]
    (lens,) = [one for one in said.next if one.code == "lens"]
    (order,) = story.of(RecallOrder)
    assert (lens.number, lens.at) == (order.id, order.ends)


def test_a_wish_that_must_wait_says_what_for_and_what_would_help() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(50, ProjectorReport(state="off"))
    said = reply(story, 60, TALL)
    assert said.taken
    assert (said.code, said.hold) == ("projector", "projector")
    assert said.words == "The projector gives no light: everything waits for it."
    assert said.help == "Switch the projector on, or wait until it is warm."


def test_a_wish_that_is_carried_out_in_part_says_what_the_rest_waits_for() -> None:
    """The picture shrinks first; the lens follows once the hub has said that it did."""
    story = Story(lens="tall")
    story.film(10, 1.78)
    story.done(11)
    look = OverrideLook(preset="broad", picture="cropped")
    said = reply(story, 12, Override(taken=True, look=look))
    assert following(said) == ["picture", "until_session"]
    assert (said.code, said.hold) == ("person_asked", "picture")
    assert said.help == "It goes on by itself in a moment."


def test_panels_that_are_in_the_way_of_a_wish_are_asked_for() -> None:
    story = Story(panels="sides")
    story.film(10, 1.78)
    story.done(11)
    look = OverrideLook(preset="tall", panels="open")
    said = reply(story, 12, Override(taken=True, look=look))
    assert following(said) == ["prompt", "until_session"]
    assert said.hold == "panels"
    assert said.help == "Say how the panels stand, or ask for them to be taken off."


def test_whoever_asks_for_what_stands_hears_that_it_does() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    said = reply(story, 60, GIVEN_BACK)
    assert (said.taken, said.code, following(said)) == (True, "stands", ["nothing"])
    assert said.words == "It is so already."


def test_a_refused_word_says_why_and_that_nothing_happens() -> None:
    story = Story(UNANSWERED)
    refused = story.engine.receive(Answer(prompt=9, answer="no"), START).refusal
    assert refused is not None
    said = reply_of_refusal(story.room, refused)
    assert (said.taken, said.code, following(said)) == (False, "not_asked", ["nothing"])
    assert said.words == (
        "That question is over: nothing has changed. "
        "If you still want the panels, ask for them yourself."
    )


def test_whoever_is_ready_hears_that_it_goes_dark_and_after_it_that_light_comes_back() -> None:
    story = prompted()
    number = asked(story)
    ready = reply(story, 40, Answer(prompt=number, answer="ready"))
    assert following(ready) == ["goes_dark", "to_the_screen"]
    done = reply(story, 80, Answer(prompt=number, answer="done"))
    assert {"prompt_over", "light_back"} <= {*following(done)}
    assert ready.words == "Thank you. Wait until the picture is dark."
    assert done.words == "Thank you. The room goes on from here."
    assert "Somebody has said that it is done." in {one.reason for one in story.made}


def test_what_waits_for_the_picture_before_it_is_said_to_come() -> None:
    """Large changes keep a third of a second between them; the reply does not wait for that."""
    story = Story(panels="sides")
    story.film(10, 2.39)
    story.done(11)
    story.at(30, None)
    number = asked(story)
    story.at(40, Answer(prompt=number, answer="ready", who="first"))
    story.done(40.05)
    done = reply(story, 40.1, Answer(prompt=number, answer="done", who="first"))
    assert story.pictures()[-1] == "dark"
    assert following(done) == ["prompt_over", "light_back"]
    back = done.next[1].at
    assert back is not None
    story.at((back - START) / 1_000, None)
    assert story.pictures()[-1] == "plain"


def test_light_that_waits_is_named_beside_a_lens_that_moves_at_once() -> None:
    """In the dark the lens may go at once; the light waits for a third of a second."""
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.at(100, None)
    number = asked(story)
    reply(story, 110, Answer(prompt=number, answer="ready"))
    done = reply(story, 110.1, Answer(prompt=number, answer="done"))
    assert story.core.holds == ("flash",)
    assert following(done) == ["prompt_over", "lens", "light_back"]
    upcoming = next_due(story.room, story.engine.state)
    assert [one.code for one in upcoming] == ["light_back", "lens_arrives"]


def test_a_wish_for_a_lens_that_somebody_has_put_back_says_so() -> None:
    """The lens is sent for the first film and put back; for the next one it is left."""
    story = Story(COMPANY)
    story.film(10, 1.78)
    story.at(60, LensReport(moving=False, preset="tall"))
    for moving in (True, False):
        story.at(100, LensReport(moving=moving, preset="broad"))
    story.at(200, Playback(state="stopped"))
    story.film(210, 1.78)
    story.at(400, ToldFact(fact="guests", value=True))
    said = reply(story, 410, ToldFact(fact="guests", value=False))
    assert story.core.wanted.preset == "tall"
    assert (said.code, said.hold) == ("put_back", "put_back")
    assert said.help == "Say that the room shall look after the picture again."


@pytest.mark.parametrize("hold", HOLDS)
def test_every_hold_keeps_some_part_of_a_wish_back(hold: HoldCode) -> None:
    """A new one fails here until replies name it to whoever waits for that part."""
    assert hold in OF_PICTURE | OF_PANELS | OF_LENS


def test_a_wish_that_comes_just_after_another_is_said_to_come() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    wishes = [
        Override(taken=True, look=OverrideLook(picture=picture)) for picture in ("whole", "plain")
    ]
    assert following(reply(story, 60, wishes[0])) == ["picture", "until_session"]
    said = reply(story, 60.1, wishes[1])
    assert (said.hold, following(said)) == ("flash", ["picture", "until_session"])


def test_a_mark_and_a_told_fact_that_changes_nothing_are_thanked_for() -> None:
    story = Story(UNANSWERED)
    marked = reply(story, 20, Mark(words="too dark"))
    assert (marked.code, following(marked)) == ("noted", ["nothing"])
    told = reply(story, 21, ToldFact(fact="guests", value=False))
    assert told.code == "known"


def test_a_reply_speaks_the_rooms_language() -> None:
    room = load("language: pt\n" + TEXT, "hayloft.yaml")
    said = reply(Story(room), 20, Mark())
    assert said.words == "Obrigado, fica anotado para quem cuida da sala."
    assert [one.words for one in said.next] == ["Agora não acontece nada."]


@given(st.data())
def test_every_word_of_a_person_gets_a_reply_with_a_reason_and_what_comes_next(
    data: st.DataObject,
) -> None:
    room = HAYLOFT
    engine, now = RoomEngine(room), START
    for wait, event in data.draw(evenings(room)):
        now += wait
        before = engine.state
        came = engine.receive(event, now)
        if not isinstance(event, PEOPLES_EVENTS):
            continue
        if came.refusal is not None:
            said = reply_of_refusal(room, came.refusal)
        else:
            following = came.decisions[came.due :]
            said = reply_to_person(room, event, before, engine.state, following)
        assert said.taken is (came.refusal is None)
        assert said.words
        assert (said.help is None) is (said.hold is None)
        assert said.next


# ------------------------------------------------------------------------- what falls due later


def test_what_comes_next_is_what_time_alone_then_brings() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(12, None)
    (soon,) = next_due(story.room, story.engine.state)
    assert (soon.code, soon.number) == ("lens", None)
    assert soon.at is not None
    second = (soon.at - START) / 1_000
    assert story.at(second - 0.001, None) == []
    assert [type(one) for one in story.at(second, None)] == [RecallOrder]


def test_a_lens_on_its_way_is_what_comes_next() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, TALL)
    (arrival,) = next_due(story.room, story.engine.state)
    (order,) = story.of(RecallOrder)
    assert (arrival.code, arrival.at, arrival.number) == ("lens_arrives", order.ends, order.id)


def test_a_cue_that_is_ordered_already_does_not_come_next_once_more() -> None:
    story = Story(HAYLOFT)
    story.film(10, 2.39)
    story.done(11)
    story.at(60, Playback(state="stopped"))
    *_, order = story.of(CueOrder)
    assert [one.id for one in story.core.open_cues] == [order.id]
    assert [one for one in next_due(story.room, story.engine.state) if one.code == "cue"] == []


def test_the_end_of_an_override_comes_next_where_nothing_else_does() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, Override(taken=True))
    story.at(61, Playback(state="stopped"))
    ends, *_ = next_due(story.room, story.engine.state)
    assert ends.code == "override_ends"
    assert ends.at == START + 61_000 + story.room.pace.session


def test_an_open_question_is_followed_by_its_reminder() -> None:
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.at(30, None)
    (reminder,) = next_due(story.room, story.engine.state)
    assert (reminder.code, reminder.at) == ("reminder", story.core.timers.remind)
    assert not story.of(PromptOver)


def test_whoever_says_that_nobody_is_free_hears_just_that_and_free_again_is_news() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    said = reply(story, 60, Helper(free=False))
    assert (said.code, said.taken) == ("nobody_free", True)
    assert reply(story, 61, Helper(free=False)).code == "stands"
    assert reply(story, 62, Helper(free=True)).code == "known"
    assert reply(story, 63, Helper(free=True)).code == "stands"


def test_more_time_is_answered_with_what_comes_at_its_end_and_sends_nobody_anywhere() -> None:
    """Before anybody goes it is the reminder, or the end; at the screen it is the warning."""
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.at(30, None)
    number = asked(story)
    said = reply(story, 40, Answer(prompt=number, answer="more_time"))
    assert (said.code, said.words) == ("more_time", "There is more time now.")
    assert following(said) == ["reminder"]
    story.at(50, Answer(prompt=number, answer="ready", who="Ana"))
    said = reply(story, 80, Answer(prompt=number, answer="more_time", who="Rui"))
    assert (said.code, following(said)) == ("more_time", ["warning"])


def test_a_late_done_is_told_to_be_known() -> None:
    """The question was taken back meanwhile; how the panels stand is news all the same."""
    story = prompted()
    number = asked(story)
    story.at(60, Playback(state="stopped"))
    before = story.engine.state
    event = Answer(prompt=number, answer="done")
    decisions = story.at(70, event)
    reply = reply_to_person(story.room, event, before, story.engine.state, decisions)
    assert story.core.arrangement != before.core.arrangement
    assert reply.words != story.room.catalogue.say("reply", "stands")


def test_what_holds_the_picture_back_is_no_matter_of_whoever_sets_the_lights() -> None:
    story = prompted()
    story.at(60, Answer(prompt=asked(story), answer="ready", who="Ana"))
    story.at(62, Override(taken=True, look=OverrideLook(picture="whole"), who="Rui"))
    before = story.engine.state
    event = Override(taken=True, look=OverrideLook(cues={"lamps": "full"}), who="Rui")
    decisions = story.at(64, event)
    reply = reply_to_person(story.room, event, before, story.engine.state, decisions)
    assert (reply.hold, reply.help) == (None, None)


@pytest.mark.parametrize("held", ["projector", "service"])
def test_lights_that_wait_for_the_whole_room_are_not_said_to_be_so_already(held: HoldCode) -> None:
    """Nothing of what they asked for has even been ordered."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    gone = ProjectorReport(state="off") if held == "projector" else Service(begun=True)
    story.at(100, gone)
    wish = Override(taken=True, look=OverrideLook(cues={"lamps": "full"}))
    said = reply(story, 110, wish)
    assert (said.code, said.hold) == (held, held)
    assert said.help
