"""What was learnt of a title's shape can be forgotten: one by name, or all of it."""

from __future__ import annotations

import pytest

from engine.events import Forget, LensReport, Override, Playback, SourceChosen, Title
from engine.refusal import Refused
from engine.replies import reply_of_refusal, reply_to_person
from engine.room import Show
from engine.snapshot import encode
from engine.title_records import NO_CHOICE, LastChoice, StoodShape
from tests.engine.meetings import START
from tests.engine.story import SILENT, Story, changed, shape


def watch(story: Story, begins: float, ratio: float, name: str, series: str | None = None) -> None:
    """Play a title for ten minutes in one shape."""
    begin(story, begins, ratio, name, series)
    story.at(begins + 600, Playback(state="stopped"))


def begin(story: Story, begins: float, ratio: float, name: str, series: str | None = None) -> None:
    story.at(begins, SourceChosen(source="disc"))
    story.at(begins, Title(begun=True, name=name, series=series))
    story.at(begins, Playback(state="playing"))
    story.at(begins + 1, shape(ratio))


def learnt() -> Story:
    """Play a film, and an episode of a series."""
    story = Story(SILENT, panels="sides")
    watch(story, 10, 1.78, "film")
    watch(story, 1_000, 2.39, "first", "all of them")
    assert names(story) == ["film", "all of them"]
    return story


def names(story: Story) -> list[str]:
    return [one.name for one in story.core.titles]


def test_a_film_is_forgotten_by_its_name_and_a_series_by_its_own() -> None:
    story = learnt()
    story.at(2_000, Forget(name="film"))
    assert names(story) == ["all of them"]
    story.at(2_001, Forget(name="all of them"))
    assert names(story) == []


def test_all_of_them_are_forgotten_at_once() -> None:
    story = learnt()
    story.at(2_000, Forget(name=None))
    assert names(story) == []


def test_a_film_that_is_forgotten_begins_as_one_that_was_never_seen() -> None:
    story = learnt()
    story.at(2_000, Forget(name="film"))
    begin(story, 2_010, 2.39, "film")
    story.at(2_030, None)
    assert (story.core.remembered, story.core.longest) == (None, 23_900)


def test_a_film_that_is_on_is_learnt_anew_from_what_is_seen() -> None:
    """What it began with counts no more, so its own shape is the one that stands."""
    story = learnt()
    begin(story, 2_010, 2.39, "film")
    story.at(2_060, None)
    assert (story.core.remembered, story.core.longest) == (17_778, 17_778)
    story.at(2_061, Forget(name="film"))
    assert (story.core.remembered, story.core.longest) == (None, 23_900)
    story.at(2_700, Playback(state="stopped"))
    assert [one.aspect for one in story.core.titles if one.name == "film"] == [23_900]


def test_the_shape_that_a_film_has_after_all_is_news_to_rules_that_ran_in_a_circle() -> None:
    wide = "      show: {preset: %s}\n      because: To and fro.\n"
    there = "    - name: there\n      case: {aspect: scope, preset: broad}\n" + wide % "tall"
    back = "    - name: back\n      case: {aspect: scope, preset: tall}\n" + wide % "broad"
    room = changed(
        ("orders: {answered: yes}\n", ""),
        (", reports: yes}", "}"),
        ("per_title: 1,", "per_title: 9,"),
        ("    - name: scope with subtitles\n", f"{there}{back}    - name: scope with subtitles\n"),
    )
    story = Story(room)
    watch(story, 10, 2.39, "film")
    before = len(story.recalls())
    begin(story, 1_000, 1.78, "film")
    story.at(1_070, None)
    assert story.recalls()[before:] == ["tall", "broad"]
    assert "circle" in story.core.holds
    story.at(1_070, Forget(name="film"))
    story.at(1_089, None)
    assert story.recalls()[before:] == ["tall", "broad", "tall"]


def test_a_film_that_is_on_is_left_alone_when_another_one_is_forgotten() -> None:
    story = learnt()
    begin(story, 2_010, 2.39, "film")
    story.at(2_060, Forget(name="all of them"))
    assert (story.core.remembered, story.core.longest) == (17_778, 17_778)


def test_in_a_pause_it_is_forgotten_just_so() -> None:
    story = learnt()
    begin(story, 2_010, 2.39, "film")
    story.at(2_060, Playback(state="paused"))
    story.at(2_070, Forget(name="film"))
    assert (story.core.remembered, story.core.longest) == (None, 23_900)


def test_a_film_that_was_left_for_another_source_goes_on_without_what_is_forgotten() -> None:
    story = learnt()
    begin(story, 2_010, 2.39, "film")
    story.at(2_060, SourceChosen(source="streamer"))
    story.at(2_070, Forget(name="film"))
    story.at(2_080, SourceChosen(source="disc"))
    story.at(2_080, Playback(state="playing"))
    assert story.core.title_name == "film"
    assert (story.core.remembered, story.core.longest) == (None, 23_900)


def test_of_a_film_that_was_left_only_what_was_seen_in_it_is_kept() -> None:
    """Neither how long its shapes have stood, nor what was chosen for it."""
    story = learnt()
    begin(story, 2_010, 2.39, "film")
    story.at(2_050, Override(taken=True, until="title"))
    story.at(2_060, SourceChosen(source="streamer"))
    (left,) = story.core.left
    assert (left.longest, left.choice) == (17_778, LastChoice(Show()))
    story.at(2_070, Forget(name="film"))
    (left,) = story.core.left
    assert (left.stood, left.longest, left.choice) == ((), 23_900, NO_CHOICE)


def test_of_a_film_that_a_long_pause_has_ended_only_what_was_seen_in_it_is_kept() -> None:
    story = learnt()
    begin(story, 2_010, 2.39, "film")
    story.at(2_050, Override(taken=True, until="title"))
    story.at(2_060, Playback(state="paused"))
    story.at(4_000, Forget(name="film"))
    kept = story.core.interrupted
    assert kept is not None
    assert (kept.name, kept.longest, kept.choice) == ("film", 23_900, NO_CHOICE)


def test_the_time_of_what_stands_counts_from_the_moment_at_which_it_is_forgotten() -> None:
    story = learnt()
    begin(story, 2_010, 2.39, "film")
    story.at(2_060, Forget(name="film"))
    assert story.core.stands == StoodShape(23_900, START + 2_060_000)


def test_a_film_of_which_nothing_has_been_seen_yet_is_forgotten_too() -> None:
    story = learnt()
    story.at(2_000, Title(begun=True, name="film"))
    story.at(2_010, Forget(name="film"))
    assert (story.core.remembered, story.core.longest) == (None, None)


def test_a_lens_that_was_moved_by_hand_stays_where_it_is_when_the_film_is_forgotten() -> None:
    """Nothing had been chosen for the film, so there is nothing of it to give back."""
    story = learnt()
    begin(story, 2_010, 1.78, "film")
    story.at(2_060, LensReport(moving=True, preset="broad"))
    assert (story.core.override, story.core.override_until) == ("person", "title")
    story.at(2_070, Forget(name="film"))
    assert story.core.override == "person"


def test_what_was_chosen_for_tonight_stands_when_the_film_s_own_choice_is_forgotten() -> None:
    story = learnt()
    begin(story, 2_010, 2.39, "film")
    story.at(2_050, Override(taken=True, until="title"))
    story.at(2_060, Override(taken=True, until="session"))
    story.at(2_070, Forget(name="film"))
    assert (story.core.override, story.core.override_until) == ("person", "session")


def test_what_is_not_remembered_is_refused_with_its_name_and_changes_nothing() -> None:
    story = learnt()
    story.at(2_000, None)
    before = encode(story.engine.state)
    with pytest.raises(Refused, match="nothing by the name 'other' is remembered") as refused:
        story.at(2_000, Forget(name="other"))
    assert refused.value.code == "not_remembered"
    assert encode(story.engine.state) == before
    said = reply_of_refusal(story.room, refused.value)
    assert said.words == "Nothing is remembered of that: there is nothing to forget."
    with pytest.raises(Refused, match="no title is remembered"):
        Story(SILENT).at(10, Forget(name=None))


def test_whoever_has_it_forgotten_hears_so() -> None:
    story = learnt()
    before, event = story.engine.state, Forget(name="film", who="Ana")
    taken = story.engine.receive(event, START + 2_000_000)
    said = reply_to_person(story.room, event, before, story.engine.state, taken.decisions)
    assert (said.taken, said.code) == (True, "forgotten")
    assert said.words == "That is forgotten: the room learns it anew."


def test_of_an_episode_without_a_name_its_series_is_known_again() -> None:
    story = Story(SILENT)
    for begins in (10, 2_000):
        story.at(begins, SourceChosen(source="disc"))
        story.at(begins, Title(begun=True, series="all of them"))
        story.at(begins, Playback(state="playing"))
        assert (story.core.remembered is not None) is (begins > 10)
        story.at(begins + 0.5, shape(2.20))
        story.at(begins + 1_000, Playback(state="stopped"))


def test_a_title_without_a_name_that_does_not_play_begins_no_evening() -> None:
    story = Story(SILENT)
    story.at(10, Title(begun=True))
    assert story.core.timers.session is None
