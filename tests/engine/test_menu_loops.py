"""A disc's menu that plays its previews round and round does not wear the lens out."""

from __future__ import annotations

from engine.events import LensReport, Playback, SourceChosen, Title
from tests.engine.story import UNANSWERED, Story, shape

ROUND = 150
"""Two previews of 60 s, each behind 15 s of the menu itself."""


def played_round(story: Story, times: int) -> int:
    """Let a menu play a preview at 1.78 and one at 2.39, again and again; give when it is over."""
    story.at(10, SourceChosen(source="disc"))
    for second in range(10, 10 + times * ROUND, ROUND):
        for begins, ratio in ((second, 1.78), (second + 75, 2.39)):
            story.at(begins, Playback(state="playing"))
            story.at(begins + 0.5, shape(ratio))
            story.at(begins + 30, None)
            if story.core.lens == "travelling":
                story.at(begins + 30, LensReport(moving=False, preset=story.core.preset))
            story.at(begins + 60, Playback(state="stopped"))
    return 10 + times * ROUND


def test_a_menu_that_plays_its_previews_all_night_costs_two_travels() -> None:
    story = Story(UNANSWERED)
    played_round(story, 60)
    assert story.recalls() == ["tall", "broad"]


def test_a_film_behind_such_a_menu_is_sent_for_within_its_first_minutes() -> None:
    story = Story(UNANSWERED)
    begins = played_round(story, 10)
    before = story.recalls()
    ratio, preset = (1.78, "tall") if story.core.preset == "broad" else (2.39, "broad")
    story.at(begins, Playback(state="playing"))
    story.at(begins + 0.5, shape(ratio))
    story.at(begins + 60, None)
    assert story.recalls() == before
    story.at(begins + 90, None)
    assert story.recalls() == [*before, preset]


def test_after_a_whole_film_a_wish_stands_as_long_as_ever() -> None:
    story = Story(UNANSWERED)
    begins = played_round(story, 10)
    story.at(begins, Playback(state="playing"))
    story.at(begins + 0.5, shape(2.39))
    story.at(begins + 5_000, Playback(state="stopped"))
    assert story.core.sent_in_vain == 0
    before = story.recalls()
    story.at(begins + 5_100, Playback(state="playing"))
    story.at(begins + 5_100.5, shape(1.78))
    story.at(begins + 5_130, None)
    assert story.recalls()[len(before) :] == ["tall"]


def test_a_title_that_is_named_is_no_menu_s_preview() -> None:
    story = Story(UNANSWERED)
    begins = played_round(story, 10)
    before = story.recalls()
    ratio = 1.78 if story.core.preset == "broad" else 2.39
    story.at(begins, Title(begun=True, name="a film"))
    story.at(begins, Playback(state="playing"))
    story.at(begins + 0.5, shape(ratio))
    story.at(begins + 30, None)
    assert len(story.recalls()) == len(before) + 1


def test_the_session_s_end_forgets_such_a_menu() -> None:
    story = Story(UNANSWERED)
    begins = played_round(story, 10)
    assert story.core.sent_in_vain == 2
    story.at(begins + 4 * 3_600, None)
    assert story.core.sent_in_vain == 0
