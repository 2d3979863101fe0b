"""Nothing is said to stand before somebody has said so."""

from __future__ import annotations

from engine.confirmed import KnownPart, known_panels, known_picture, known_preset
from engine.decisions import RecallOrder
from engine.events import Answer, LensReport, Outcome, PanelReport
from tests.engine.moments import asked, lost, ordered, prompted, travelling
from tests.engine.story import SILENT, UNANSWERED, Story


def picture(story: Story) -> KnownPart:
    return known_picture(story.room, story.core)


def preset(story: Story) -> KnownPart:
    return known_preset(story.room, story.core)


def test_a_picture_is_ordered_until_it_is_answered() -> None:
    assert picture(Story()) == KnownPart()
    story = ordered()
    assert picture(story) == KnownPart(ordered="whole")
    story.at(11, Outcome(order=1, outcome="done"))
    assert picture(story) == KnownPart(stands="whole")


def test_a_refused_picture_has_failed() -> None:
    story = ordered()
    story.at(11, Outcome(order=1, outcome="refused"))
    assert picture(story) == KnownPart(failed="whole")


def test_where_nobody_answers_a_picture_is_never_more_than_ordered() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, None)
    assert picture(story) == KnownPart(ordered="plain")


def test_a_preset_stands_once_the_lens_reports_it_and_is_ordered_while_it_travels() -> None:
    assert preset(Story()) == KnownPart(stands="broad")
    story = travelling()
    assert preset(story) == KnownPart(ordered="tall")
    story.at(40, LensReport(moving=False, preset="tall"))
    assert preset(story) == KnownPart(stands="tall")


def test_a_preset_whose_recall_was_refused_has_failed() -> None:
    story = travelling()
    story.at(30, Outcome(order=story.of(RecallOrder)[0].id, outcome="refused"))
    assert preset(story) == KnownPart(stands="broad", failed="tall")


def test_of_a_lens_that_a_hand_moves_or_that_is_lost_nothing_is_known() -> None:
    by_hand = Story()
    by_hand.at(10, LensReport(moving=True, preset="tall"))
    assert preset(by_hand) == preset(lost()) == KnownPart()


def test_of_a_lens_that_never_reports_only_the_order_is_known() -> None:
    assert preset(Story(SILENT)) == KnownPart(ordered="broad")


def test_panels_stand_as_somebody_said_while_others_are_asked_for() -> None:
    story = prompted()
    assert known_panels(story.core) == KnownPart(stands="sides", ordered="open")
    story.at(40, Answer(prompt=asked(story), answer="no"))
    assert known_panels(story.core) == KnownPart(stands="sides", failed="open")
    story.at(50, PanelReport(panels="open"))
    assert known_panels(story.core) == KnownPart(stands="open")
