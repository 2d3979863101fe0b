"""Picture and lift follow what is there now; lens and people follow what the title itself is."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.decisions import CueOrder, PictureOrder, Prompt, RecallOrder
from engine.events import BlackSeen, Playback, SourceChosen, Title
from engine.room import Room
from rules.room.load import load
from simulator.shipped import DEMO_ROOM, LONGROOM
from tests.engine.meetings import START
from tests.engine.story import SILENT, UNANSWERED, Story, changed, shape


def test_a_declared_film_has_its_lens_at_once_though_an_ident_has_another_shape() -> None:
    """The ident's own picture is shown inside the film's raster, and nobody is sent for it."""
    story = Story(UNANSWERED, lens="tall")
    story.at(10, SourceChosen(source="disc"))
    story.at(10, Title(begun=True, declared=2.39))
    story.at(10, Playback(state="playing"))
    story.at(10.5, shape(1.78))
    story.at(38, shape(2.39))
    story.at(300, None)
    assert story.recalls() == ["broad"]
    assert story.prompts() == []
    assert [one.aspect for one in story.made if one.kind == "picture"][-2:] == [1.7778, 2.39]


def test_a_recall_for_the_title_names_the_row_of_the_title_and_its_shape() -> None:
    story = Story(UNANSWERED, lens="tall")
    story.at(10, SourceChosen(source="disc"))
    story.at(10, Title(begun=True, declared=2.39))
    story.at(10, Playback(state="playing"))
    story.at(10.5, shape(1.78))
    story.at(35, None)
    (recall,) = story.of(RecallOrder)
    assert (recall.rule, recall.facts["aspect"]) == ("scope", 2.39)


def test_a_recall_for_a_title_that_declares_itself_in_its_ident_names_the_title_s_shape() -> None:
    story = Story(UNANSWERED, lens="tall")
    story.film(10, 1.78)
    story.at(20, Title(begun=True, declared=2.39))
    (recall,) = story.of(RecallOrder)
    assert (recall.rule, recall.facts["aspect"]) == ("scope", 2.39)
    assert story.of(PictureOrder)[-1].facts["aspect"] == 1.78


def test_of_shapes_that_are_only_seen_the_one_that_has_stood_longest_moves_the_lens() -> None:
    """Idents of 1.78, 2.39 and 1.85 within a minute, then scope to the end."""
    story = Story(UNANSWERED, lens="broad")
    story.film(10, 1.78)
    for second, ratio in ((18, 2.39), (30, 1.85), (38, 2.39)):
        story.at(second, shape(ratio))
    story.at(600, None)
    assert story.recalls() == []
    assert story.of(Prompt) == []


def test_a_shape_that_comes_for_a_while_in_mid_film_is_no_wish_for_the_lens() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(600, shape(1.78))
    story.at(1_000, None)
    assert story.core.wanted.preset == "broad"
    assert "first_minutes" not in story.core.holds
    assert story.core.shown is not None
    assert story.core.shown.aspect == 17_778


def test_the_time_that_a_shape_has_stood_is_kept_over_a_pause_and_over_another_shape() -> None:
    """2.39 for 20 s, a pause, 2.39 for 20 s, 1.78 for 38 s: it has stood longest from then on."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(30.5, Playback(state="paused"))
    story.at(330.5, Playback(state="playing"))
    story.at(331, shape(2.39))
    story.at(350, shape(1.78))
    before = story.core.longest
    story.at(388, None)
    assert (before, story.core.longest) == (23_900, 23_900)
    story.at(392, None)
    assert story.core.longest == 17_778


def test_no_title_has_a_shape_of_its_own_once_it_has_ended() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(30, None)
    assert story.core.longest == 23_900
    story.at(100, Playback(state="stopped"))
    forgotten: tuple[object, ...] = (story.core.longest, story.core.stands, story.core.stood)
    assert forgotten == (None, None, ())
    assert story.core.timers.longest is None


def test_idents_in_the_first_minutes_make_no_film_that_changes_its_shape() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    for second, ratio in ((18, 2.39), (30, 1.85), (38, 2.39)):
        story.at(second, shape(ratio))
    story.at(600, None)
    assert (story.core.varies, story.core.tallest) == (False, 23_900)
    story.at(700, shape(1.78))
    story.at(720, shape(2.39))
    story.at(800, None)
    assert (story.core.varies, story.core.tallest) == (True, 17_778)


def test_a_pause_uses_up_none_of_the_first_minutes() -> None:
    """1.78 paused at 18 s for three minutes: the lens follows once it plays on."""
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(18, Playback(state="paused"))
    assert story.engine.state.core.timers.first_minutes is None
    story.at(198, Playback(state="playing"))
    assert story.core.timers.first_minutes == START + (11 + 90 + 180) * 1_000
    story.at(220, None)
    assert story.recalls() == ["tall"]


def test_first_minutes_begin_anew_when_something_is_known_of_the_shape_at_last() -> None:
    """A hundred seconds of black, then 1.78: the look for 1.78, lens included."""
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, BlackSeen())
    story.at(10, Playback(state="playing"))
    story.at(110, shape(1.78))
    story.at(200, None)
    assert story.recalls() == ["tall"]


def test_in_the_dark_the_shape_of_the_last_film_moves_nothing() -> None:
    story = Story(UNANSWERED, lens="tall")
    story.film(10, 2.39)
    story.at(12, Playback(state="stopped"))
    story.at(13, BlackSeen())
    story.at(14, Playback(state="playing"))
    story.at(100, None)
    assert story.recalls() == []
    story.at(110, shape(2.39))
    story.at(150, None)
    assert story.recalls() == ["broad"]


def test_a_named_film_after_a_menu_that_plays_is_a_film_of_its_own() -> None:
    """Three minutes of a menu at 1.78 that "plays" used up what the film needs."""
    story = Story(SILENT)
    story.film(10, 1.78)
    story.at(190, Title(begun=True, name="film", declared=2.39))
    story.at(191, shape(2.39))
    story.at(300, None)
    assert story.recalls() == ["tall", "broad"]


def test_the_second_recall_of_a_title_only_goes_back() -> None:
    story = Story(three_presets())
    story.film(10, 1.78)
    story.at(60, shape(2.0))
    story.at(150, None)
    assert story.recalls() == ["tall"]
    assert "per_title" in story.core.holds
    story.at(151, shape(2.39))
    story.at(400, None)
    assert story.recalls() == ["tall", "broad"]


def three_presets() -> Room:
    """The hayloft with a preset between the two, no panels, and two recalls in ten minutes."""
    return changed(
        ("orders: {answered: yes}\n", ""),
        (", reports: yes}", "}"),
        ("  tall: {fits: 1.78}\n", "  tall: {fits: 1.78}\n  middle: {fits: 2.00}\n"),
        ("first_minutes: 90 s, per_title: 1", "first_minutes: 10 min, per_title: 2"),
        ("tall, panels: sides", "tall"),
        (
            "    - name: nearly television\n",
            (
                '    - name: between\n      case: {aspect: "[1.95..2.10)"}\n'
                "      show: {picture: plain, lift: 0 %, preset: middle}\n      because: So.\n"
                "    - name: nearly television\n"
            ),
        ),
    )


def test_a_slip_to_another_source_in_mid_film_is_the_same_film_once_it_plays_on() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(600, SourceChosen(source="console"))
    story.at(605, SourceChosen(source="disc"))
    story.at(606, Playback(state="playing"))
    story.at(607, shape(1.78))
    story.at(660, None)
    assert story.core.longest == 23_900
    assert story.recalls() == []


def test_a_match_goes_on_after_a_game_at_half_time_and_is_another_one_after_an_hour() -> None:
    for away, same in ((900, True), (3_600, False)):
        story = Story(UNANSWERED)
        story.at(9, SourceChosen(source="streamer"))
        story.at(10, Title(begun=True, name="match"))
        story.at(10, Playback(state="playing"))
        story.at(11, shape(1.78))
        story.at(600, SourceChosen(source="console"))
        story.at(600 + away, SourceChosen(source="streamer"))
        story.at(601 + away, Playback(state="playing"))
        assert story.core.title is same


def episode(story: Story, begins: float, name: str) -> None:
    """Play an episode of 2.39 for ten minutes, behind an ident of 1.78."""
    story.at(begins, Title(begun=True, name=name, series="all of them"))
    story.at(begins, Playback(state="playing"))
    story.at(begins + 1, shape(1.78))
    story.at(begins + 61, shape(2.39))
    story.at(begins + 600, Playback(state="stopped"))


def test_once_it_is_known_how_a_series_goes_its_idents_move_nothing() -> None:
    story = Story(SILENT, lens="tall", panels="open")
    story.at(5, SourceChosen(source="streamer"))
    episode(story, 10, "first")
    assert story.recalls() == []  # Its first minutes were over before it was known.
    asked = len(story.prompts())
    for number, name in enumerate(("second", "third"), start=1):
        episode(story, 10 + number * 608, name)
    assert story.recalls() == ["broad"]
    assert len(story.prompts()) == asked


@pytest.mark.parametrize("path", [DEMO_ROOM, LONGROOM], ids=lambda path: path.stem)
def test_a_series_of_2_00_behind_idents_keeps_one_size_in_the_rooms_that_come_along(
    path: Path,
) -> None:
    """Episodes of 2.00 behind idents of 1.78 that last for 40 s, five seconds between them."""
    text = path.read_text("utf-8").replace("orders: {answered: yes}\n", "")
    story = Story(load(text, path.name))
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, shape(1.78))
    sizes = len(story.of(PictureOrder))
    for number in range(4):
        begins = 10 + number * 1_405
        story.at(begins, Title(begun=True, name=str(number), series="a series"))
        story.at(begins, Playback(state="playing"))
        story.at(begins + 40, shape(2.0))
        story.at(begins + 1_400, Title(begun=False))
        story.at(begins + 1_400, Playback(state="stopped"))
        story.at(begins + 1_401, shape(1.78))
    assert len(story.of(PictureOrder)) == sizes
    assert story.recalls() == []
    assert story.prompts() == []
    lamps = [one.value for one in story.of(CueOrder) if one.cue == "lamps"]
    assert lamps == ["low"]


def test_what_is_remembered_of_a_film_goes_before_what_is_seen_until_it_is_refuted() -> None:
    story = Story(SILENT, panels="sides")
    for begins, ratio in ((10, 1.78), (1_000, 2.39)):
        story.at(begins, SourceChosen(source="disc"))
        story.at(begins, Title(begun=True, name="film"))
        story.at(begins, Playback(state="playing"))
        story.at(begins + 1, shape(ratio))
        story.at(begins + 60, None)
        assert story.core.remembered == (None if begins == 10 else 17_778)
        story.at(begins + 600, Playback(state="stopped"))
    assert [(one.name, one.aspect) for one in story.core.titles] == [("film", 23_900)]


def test_a_film_of_which_the_shape_is_remembered_has_its_lens_while_an_ident_runs() -> None:
    story = Story(SILENT)
    for begins, name, seen in ((10, "film", 2.39), (1_000, "other", 1.78), (2_000, "film", 1.78)):
        story.at(begins, SourceChosen(source="disc"))
        story.at(begins, Title(begun=True, name=name))
        story.at(begins, Playback(state="playing"))
        story.at(begins + 1, shape(seen))
        story.at(begins + 60, None)
        assert story.core.preset == ("tall" if name == "other" else "broad")
        story.at(begins + 600, Playback(state="stopped"))


def test_a_film_that_was_hardly_begun_is_not_remembered_by_its_ident() -> None:
    story = Story(UNANSWERED)
    story.at(9, SourceChosen(source="disc"))
    story.at(10, Title(begun=True, name="film"))
    story.film(10, 1.78)
    story.at(60, Playback(state="stopped"))
    assert story.core.titles == ()


def test_a_title_that_declares_itself_in_a_pause_asks_for_nothing_of_the_shape_before() -> None:
    """Told anew of the title that is on, or of the next one: either way nobody gets up in vain."""
    for name in (None, "the next one"):
        story = Story(UNANSWERED, lens="tall")
        story.film(10, 1.78)
        story.at(16, Playback(state="paused"))
        story.at(17, Title(begun=True, name=name, declared=2.39))
        story.at(300, None)
        assert story.prompts() == []
        story.at(301, Playback(state="playing"))
        story.at(302, shape(2.39))
        story.at(400, None)
        assert (story.prompts(), story.recalls()) == ([], ["broad"])


def shapes_in_turn(story: Story, *stays: tuple[float, float]) -> float:
    """Show shapes one after the other, each for so many seconds; gives the second of the end."""
    story.film(10, stays[0][0])
    second = 10.5
    for ratio, seconds in stays:
        story.at(second, shape(ratio))
        second += seconds
    story.at(second, None)
    return second


def test_of_five_shapes_the_one_that_stood_shortest_is_forgotten() -> None:
    story = Story(UNANSWERED)
    ends = shapes_in_turn(story, (1.33, 60), (1.60, 30), (1.85, 90), (2.20, 120), (2.39, 45))
    story.at(ends, Playback(state="paused"))
    stood = [round(one.aspect / 10_000, 1) for one in story.core.stood]
    assert stood == [2.2, 1.9, 1.3, 2.4]


def test_a_shape_that_comes_back_has_its_earlier_time_still_when_it_overtakes() -> None:
    """The scope shape has stood for 110 seconds, the other one for 40 of its own: 70 are left."""
    story = Story(UNANSWERED)
    begins = shapes_in_turn(story, (2.39, 100), (1.78, 40), (2.39, 10))
    story.at(begins, shape(1.78))
    story.at(begins + 55, None)
    assert story.core.longest == 23_900
    story.at(begins + 85, None)
    assert story.core.longest != 23_900
