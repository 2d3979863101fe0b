"""What the page shows is what stands, and it offers nothing that must not be said."""

from __future__ import annotations

import re

import pytest

from adapters.page.page_templates import PARTS, part_html
from adapters.page.room_view import RoomView
from adapters.page.wall_seen import sight_of
from engine.events import Answer, LensReport, ProjectorReport, SourceChosen, Title, Undo
from engine.optics import Rect, fit
from engine.planning.placement import outline
from tests.adapters.page_scenes import (
    asked_for_panels,
    at_screen,
    film,
    said_of,
    seen_of,
    stopped,
    unknown_panels,
)
from tests.engine.story import HAYLOFT, UNANSWERED, Story, changed, shape


def answers(view: RoomView) -> list[str]:
    """Give the answers that are offered."""
    return [one.fields["answer"] for one in view.offers.values() if one.subtopic == "answer"]


def test_whoever_is_at_the_screen_may_say_done_cannot_and_more_time() -> None:
    view = seen_of(at_screen(), 45, own=True)
    assert view.at_screen is not None
    assert answers(view) == ["done", "no", "more_time"]
    assert [one.label for one in view.at_screen.buttons] == [
        "Done",
        "It cannot be done",
        "More time",
    ]
    assert "dark now" in view.at_screen.words
    assert re.fullmatch(r"\d+:\d\d", view.at_screen.left)


def test_whoever_is_ready_is_told_to_wait_for_the_dark() -> None:
    story, number = asked_for_panels()
    story.at(40, Answer(prompt=number, answer="ready", who="Ana"))
    view = seen_of(story, 40, own=True)
    assert view.at_screen is not None
    assert view.at_screen.heading == "Wait here until the picture is dark."


def test_others_are_offered_nothing_that_brings_light() -> None:
    """Only more time, facts and a mark; the picture, the lens and the lights stay as they are."""
    view = seen_of(at_screen(), 45)
    assert view.at_screen is not None
    assert view.at_screen.heading == "Ana is at the screen."
    assert answers(view) == ["more_time"]
    kinds = {one.subtopic.partition("/")[0] for one in view.offers.values()}
    assert kinds == {"answer", "told", "mark"}


def test_who_is_there_without_a_name_may_be_anybody() -> None:
    """So that they are not left in the dark; the page says that it must be them."""
    view = seen_of(at_screen(None), 45)
    assert view.at_screen is not None
    assert answers(view) == ["done", "more_time"]
    assert view.at_screen.foot == "Press Done only if it is you."


def test_an_open_question_has_its_words_and_choices() -> None:
    story, number = asked_for_panels()
    view = seen_of(story, 32)
    assert view.asked is not None
    assert view.asked.words == "Please take the two side panels off."
    assert answers(view) == ["ready", "done", "no", "not_tonight", "more_time"]
    assert view.offers[f"answer.{number}.ready"].fields == {"prompt": number, "answer": "ready"}


def test_nothing_can_be_pressed_while_roomcue_does_not_answer() -> None:
    view = seen_of(film(), gone=True)
    assert view.offers == {}
    assert view.gone is not None
    html = "".join(part_html(name, view, HAYLOFT) for name in PARTS)
    assert html.count("<button") == html.count(" disabled>")


def test_the_drawing_has_the_place_that_the_engine_orders() -> None:
    story = film(2.20)
    seen = sight_of(HAYLOFT, said_of(story)).wall.picture
    assert seen is not None
    assert (seen.preset, seen.certainty) == ("broad", "stands")
    assert seen.rect == fit(HAYLOFT, "gentle", 0, 22_000, "broad", "open")
    drawn = re.search(r'<polygon points="([^"]+)"', seen_of(story).now.drawing)
    assert drawn is not None
    xs = [float(pair.split(",")[0]) for pair in drawn[1].split()]
    corners = outline(HAYLOFT, "broad", seen.rect)
    share = (xs[1] - xs[0]) / (320 / (1 + 0.03 + 2 * 0.18 / 3.4))
    assert share == pytest.approx((corners[1][0] - corners[0][0]) / 3_400_000, abs=0.001)


def test_a_picture_that_is_only_ordered_is_drawn_as_that() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    sight = sight_of(UNANSWERED, said_of(story))
    assert sight.code == "seen_ordered"
    assert sight.wall.picture is not None
    assert sight.wall.picture.certainty == "ordered"
    assert "stroke-dasharray" in seen_of(story).now.drawing


def test_no_picture_is_drawn_where_nobody_knows_of_one() -> None:
    story = film()
    story.at(20, LensReport(moving=False, preset=None))
    assert sight_of(HAYLOFT, said_of(story)).wall.picture is None
    assert "polygon" not in seen_of(story).now.drawing
    assert "find_lens" in seen_of(story).offers


def test_panels_of_which_nobody_knows_are_said_to_be_unknown() -> None:
    view = seen_of(unknown_panels())
    assert "Nobody knows how the panels stand." in view.now.seen
    assert "stroke-dasharray" in view.now.drawing


def test_a_picture_with_its_bars_is_drawn_without_them() -> None:
    """What is shown whole is the frame; the family sees the picture in it."""
    story = stopped()
    seen = sight_of(HAYLOFT, said_of(story)).wall.picture
    assert seen is not None
    assert seen.rect.width / seen.rect.height == pytest.approx(seen.aspect, rel=0.01)


def test_what_cannot_be_had_is_greyed_with_one_reason() -> None:
    """A menu is not stretched, not even by hand."""
    greyed = [one for one in seen_of(stopped()).ways if one.button is None]
    assert greyed
    assert {one.words for one in greyed} <= {
        "A menu is not stretched: what you chose counts once something plays.",
        "The picture that was wanted does not fit here: it is shown as it was made.",
    }


def test_the_picture_that_stands_is_marked_among_those_to_choose() -> None:
    marked = {one.label for one in seen_of(film(2.20)).ways if one.button and one.button.pressed}
    assert marked == {"Wider"}


def test_nothing_can_be_had_while_the_projector_is_dark() -> None:
    story = film()
    story.at(20, ProjectorReport(state="off"))
    ways = seen_of(story).ways
    assert ways
    assert all(one.button is None for one in ways)
    assert len({one.words for one in ways}) == 1


def test_a_second_undo_is_another_word() -> None:
    """A press that comes twice finds nothing: what stands to be undone is named in it."""
    story = film(2.20)
    (first,) = (it for it in seen_of(story).offers if it.startswith("undo."))
    story.at(20, Undo())
    story.done(22)
    assert first not in seen_of(story).offers


def test_a_number_that_is_told_is_typed() -> None:
    room = changed(("told:\n", "told:\n  seats_taken: 0 to 9\n"))
    view = seen_of(film(room=room))
    assert view.facts[0].field == "number-seats_taken"
    assert view.offers["told.seats_taken"].number == "number-seats_taken"


def test_a_title_cannot_bring_markup() -> None:
    story = film()
    story.at(20, Title(begun=True, name="<script>alert(1)</script>"))
    html = part_html("now", seen_of(story), HAYLOFT)
    assert "<script" not in html
    assert "&lt;script&gt;" in html


def test_before_anything_is_on_it_says_so() -> None:
    assert seen_of(Story()).now.line == "Nobody has said what is playing."
    story = Story()
    story.at(1, SourceChosen(source="disc"))
    assert seen_of(story).now.line


def test_an_empty_picture_is_drawn_as_nothing() -> None:
    assert Rect(0, 0, 0, 0).empty
    view = seen_of(at_screen(), 45)
    assert "polygon" not in view.now.drawing
    assert "The picture is dark." in view.now.seen


def test_what_the_pace_keeps_back_can_be_had_all_the_same() -> None:
    """A film turns out to be another shape long after its first minutes: the lens waits."""
    story = film(2.39, UNANSWERED)
    story.at(101, shape(1.78))
    story.at(400, None)
    view = seen_of(story, 400)
    assert view.why_not is not None
    assert view.why_not.button is not None
    offer = view.offers[view.why_not.button.value]
    assert offer.fields["look"] == {"preset": "tall"}
    assert view.why_not.button.detail == "The lens moves: 18 seconds."
    assert "well under way" in view.why_not.words[0]
