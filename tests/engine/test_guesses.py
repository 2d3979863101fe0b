"""What may be an ident, a still or a glance at a title moves no lens and sends nobody."""

from __future__ import annotations

import pytest

from engine.decisions import Prompt, RecallOrder
from engine.events import (
    BarsSeen,
    BlackSeen,
    LensReport,
    Override,
    OverrideLook,
    Playback,
    RatioSeen,
    Signal,
    SourceChosen,
    Title,
)
from tests.engine.meetings import START
from tests.engine.moments import core_of
from tests.engine.story import Story, changed, shape

PATIENT = changed(
    ("orders: {answered: yes}\n", ""),
    ("linger: 12 s", "linger: 45 s"),
    ("first_minutes: 90 s", "first_minutes: 4 min"),
    ("wait: 12 s", "wait: 60 s"),
)
"""The hayloft at its shipped pace."""


def test_an_ident_that_is_paused_sends_no_lens_and_asks_nobody() -> None:
    """For ten minutes, and then the scope film comes behind it."""
    story = Story(PATIENT, lens="broad", panels="open")
    story.film(10, 1.78)
    story.at(22, Playback(state="paused"))
    story.at(622, Playback(state="playing"))
    story.at(632, shape(2.39))
    story.at(900, None)
    assert story.recalls() == []
    assert story.of(Prompt) == []


@pytest.mark.parametrize(("ratio", "goes"), [(1.78, 253), (1.85, 208)])
def test_a_film_that_is_paused_early_has_its_lens_soon_after_the_pause(
    ratio: float, goes: int
) -> None:
    """One with bars is no ident, so that its wish stands in the pause."""
    story = Story(PATIENT, lens="broad", panels="open")
    story.film(10, ratio)
    story.at(28, Playback(state="paused"))
    story.at(208, Playback(state="playing"))
    story.at(300, None)
    (recall,) = story.of(RecallOrder)
    assert recall.at == START + goes * 1_000


def test_once_a_shape_has_stood_a_pause_is_a_good_moment_to_ask() -> None:
    story = Story(PATIENT, lens="tall", panels="open")
    story.film(10, 1.78)
    story.at(58, Playback(state="paused"))
    story.at(80, None)
    (prompt,) = story.of(Prompt)
    assert prompt.panels == "sides"


def looked_into(story: Story, second: float, name: str, ratio: float = 2.39) -> None:
    """Let a title begin to play."""
    story.at(second, SourceChosen(source="disc"))
    story.at(second, Title(begun=True, name=name))
    story.at(second, Playback(state="playing", source="disc"))
    story.at(second + 0.5, shape(ratio))


def test_a_lens_that_was_chosen_the_last_time_waits_until_the_title_is_watched() -> None:
    """Skipping through a list moves nothing; the picture that was chosen stands at once."""
    story = Story(PATIENT, lens="broad", panels="open")
    for number, name in enumerate(("one", "two", "three")):
        looked_into(story, 10 + number * 100, name)
        look = OverrideLook(picture="whole", preset="tall")
        story.at(30 + number * 100, Override(taken=True, until="title", look=look))
    story.at(400, Title(begun=False))
    story.at(400, Playback(state="stopped"))
    story.at(460, Override(taken=True, until="session", look=OverrideLook(preset="broad")))
    story.at(500, Override(taken=False))
    before = len(story.recalls())
    for number, name in enumerate(("one", "two", "three")):
        looked_into(story, 600 + number * 6, name)
        assert story.core.override_look is not None
        assert story.core.wanted.picture == "whole"
    story.at(621, None)
    assert len(story.recalls()) == before
    story.at(623, None)
    assert story.recalls()[before:] == ["tall"]


def test_a_person_who_asks_meanwhile_waits_for_nothing() -> None:
    story = Story(PATIENT, lens="broad", panels="open")
    look = OverrideLook(preset="tall")
    looked_into(story, 10, "one")
    story.at(30, Override(taken=True, until="title", look=look))
    story.at(100, Title(begun=False))
    story.at(100, Playback(state="stopped"))
    story.at(160, Override(taken=True, until="session", look=OverrideLook(preset="broad")))
    story.at(200, Override(taken=False))
    looked_into(story, 300, "one")
    before = len(story.recalls())
    story.at(303, Override(taken=True, until="title", look=look, who="Ana"))
    assert story.recalls()[before:] == ["tall"]
    assert story.of(RecallOrder)[-1].code == "person_asked"


def test_a_pause_does_not_make_a_lens_wait_longer_that_was_chosen_the_last_time() -> None:
    """What is shown may be an ident, but the choice is for the title."""
    story = Story(PATIENT, lens="tall", panels="open")
    look = OverrideLook(preset="broad")
    looked_into(story, 10, "one", ratio=1.78)
    story.at(30, Override(taken=True, until="title", look=look))
    story.at(50, LensReport(moving=False, preset="broad"))
    story.at(100, Title(begun=False))
    story.at(100, Playback(state="stopped"))
    story.at(160, Override(taken=True, until="session", look=OverrideLook(preset="tall")))
    story.at(180, LensReport(moving=False, preset="tall"))
    story.at(200, Override(taken=False))
    looked_into(story, 300, "one", ratio=1.78)
    before = len(story.recalls())
    story.at(307, Playback(state="paused"))
    story.at(308, Playback(state="playing"))
    story.at(311, None)
    assert story.recalls()[before:] == ["broad"]


def varies(story: Story, second: float) -> bool:
    """Tell whether a title counts as one that changes its shape, at a second."""
    story.at(second, None)
    return story.core.varies


def still(columns: int = 1_920, rows: int = 1_080) -> BarsSeen:
    """Read a bright full frame in another raster."""
    return BarsSeen(top=0, bottom=0, left=0, right=0, columns=columns, rows=rows)


@pytest.mark.parametrize("told", [True, False])
def test_a_still_in_another_raster_does_not_make_a_film_one_that_changes(*, told: bool) -> None:
    """Whether the signal is told, or only the readings show it."""
    story = Story(PATIENT)
    story.film(10, 2.39)
    for second in (600, 900):
        if told:
            story.at(second, Signal(locked=True, columns=1_920, rows=1_080))
        story.at(second + 0.1, still())
        if told:
            story.at(second + 4, Signal(locked=True, columns=3_840, rows=2_160))
        story.at(second + 4.1, shape(2.39))
        story.at(second + 60, None)
    assert not story.core.varies
    assert story.core.wanted.picture == "plain"
    assert story.engine.state.settling.aspect == 23_900


def test_photographs_of_many_shapes_are_soon_shown_whole_though_nobody_has_told_of_them() -> None:
    """Idents and trailers change less often; here everything would jump for four minutes."""
    story = Story(PATIENT)
    story.film(10, 1.78)
    ratios = (1.33, 1.78, 2.00, 1.50)
    for number in range(24):
        story.at(20 + 8 * number, shape(ratios[number % 4]))
        if number == 4:
            assert not story.core.varies
    assert story.core.varies
    assert story.pictures()[-1] == "whole"


def test_a_film_after_many_short_adverts_is_shown_as_itself_once_it_has_stood() -> None:
    """What changed six times in the first minutes was no film, but this one stays as it is."""
    story = Story(PATIENT)
    story.film(10, 1.78)
    for number in range(7):
        story.at(40 + 30 * number, shape((2.39, 1.78)[number % 2]))
    assert varies(story, 230)
    story.at(240, Playback(state="paused"))
    story.at(500, Playback(state="playing"))
    assert varies(story, 550), "a pause is no time in which a shape stands"
    assert not varies(story, 561)
    assert story.core.wanted.picture == "plain"
    story.at(3_000, shape(1.78))
    story.at(3_060, shape(2.39))
    assert varies(story, 3_120), "one that changes its shape later, and back, does vary"


@pytest.mark.parametrize(
    ("half", "card", "changes"),
    [(70, 8, False), (46, 14, False), (44, 8, True), (70, 17, True)],
)
def test_the_card_of_an_intermission_does_not_make_a_film_one_that_changes(
    half: int, card: int, *, changes: bool
) -> None:
    """The second half is shown as the first; a film that changes once more is shown whole.

    In minutes. What changes sooner, or for longer, may be a film in two shapes.
    """
    story = Story(PATIENT)
    story.film(10, 2.39)
    story.at(60 * half, shape(1.78))
    story.at(60 * (half + card), shape(2.39))
    assert varies(story, 60 * (half + card) + 60) is changes
    assert story.core.wanted.picture == ("whole" if changes else "plain")
    story.at(60 * (half + card + 20), shape(1.78))
    assert varies(story, 60 * (half + card + 21))
    assert story.core.wanted.picture == "whole"


def test_the_card_of_an_intermission_is_not_the_tallest_shape_of_its_film_once_it_is_over() -> None:
    """While it stands nobody can tell it from a film; the film itself is 2.35 at its tallest."""
    story = Story(PATIENT)
    story.film(10, 2.35)
    story.at(60 * 70, shape(1.78))
    story.at(60 * 75, None)
    assert core_of(story).tallest == 17_778
    story.at(60 * 78, shape(2.39))
    story.at(60 * 79, None)
    assert core_of(story).tallest == 23_500
    story.at(60 * 100, shape(1.78))
    story.at(60 * 101, None)
    assert core_of(story).tallest == 17_778, "what comes again is a shape of the film"
    story.at(60 * 102, shape(2.39))
    story.at(60 * 103, None)
    assert core_of(story).tallest == 17_778


def test_after_it_has_stood_six_further_changes_make_it_vary_and_five_do_not() -> None:
    story = Story(PATIENT)
    story.film(10, 1.78)
    for number in range(7):
        story.at(20 + 5 * number, shape((2.39, 1.78)[number % 2]))
    assert varies(story, 60)
    assert not varies(story, 120)
    for number in range(5):
        story.at(121 + 5 * number, shape((1.78, 2.39)[number % 2]))
    assert not varies(story, 150)
    story.at(151, shape(2.39))
    assert varies(story, 160)


def with_a_shape_carried_in() -> Story:
    """Let playback begin under a picture that was there before it."""
    story = Story(PATIENT)
    story.at(5, SourceChosen(source="disc"))
    story.at(5, shape(1.78))
    story.at(16, Playback(state="playing"))
    return story


def test_a_shape_that_was_carried_into_a_title_is_not_its_own_while_all_is_black() -> None:
    story = with_a_shape_carried_in()
    story.at(20, BlackSeen())
    story.at(24, None)
    assert story.core.doubt is None, "it is soon, but not yet"
    assert story.core.shapes == ()
    story.at(200, None)
    assert story.core.shapes == ()


def test_a_shape_carried_over_a_moment_of_black_is_the_title_s_own_a_little_later() -> None:
    """It was black just when the shape would have counted, and no reading says anything new."""
    story = with_a_shape_carried_in()
    story.at(21.5, BlackSeen())
    story.at(22.5, shape(1.78))
    story.at(28, None)
    assert story.core.shapes == ()
    story.at(29, None)
    assert core_of(story).shapes == (17_778,)


def test_after_a_short_pause_such_a_film_has_to_stand_anew() -> None:
    story = Story(PATIENT)
    story.film(10, 1.78)
    for number in range(7):
        story.at(40 + 30 * number, shape((2.39, 1.78)[number % 2]))
    story.at(240, Playback(state="paused"))
    story.at(250, Playback(state="playing"))
    assert varies(story, 300)
    assert not varies(story, 311)


def test_stills_in_another_raster_do_not_count_in_a_films_first_minutes() -> None:
    story = Story(PATIENT)
    story.film(10, 2.39)
    for second in range(30, 210, 20):
        story.at(second, still())
        story.at(second + 4, shape(2.39))
    story.at(215, None)
    assert not story.core.varies


def test_a_film_that_goes_on_in_another_raster_is_seen_in_that() -> None:
    """Its shape there stands for longer than any still, so that coming back is a change."""
    story = Story(PATIENT)
    story.film(10, 2.39)
    story.at(600, Signal(locked=True, columns=1_920, rows=1_080))
    story.at(600.1, still())
    story.at(700, Signal(locked=True, columns=3_840, rows=2_160))
    story.at(700.1, shape(2.39))
    story.at(760, None)
    assert story.core.varies


def test_after_a_still_in_another_raster_a_film_has_the_tallest_shape_that_it_had() -> None:
    story = Story(PATIENT)
    story.film(10, 2.39)
    for second, ratio in ((400, 1.78), (430, 2.39)):
        story.at(second, shape(ratio))
    story.at(460, None)
    tallest = story.core.tallest
    assert tallest is not None
    assert tallest < 18_000
    story.at(600, still())
    story.at(610, shape(2.39))
    story.at(640, None)
    assert story.core.tallest == tallest


def test_a_film_is_itself_again_after_screens_in_two_other_rasters() -> None:
    story = Story(PATIENT)
    story.film(10, 2.39)
    story.at(600, still())
    narrow = BarsSeen(top=0, bottom=0, left=160, right=160, columns=1_280, rows=720)
    seen = []
    for second, reading in ((606, narrow), (612, shape(2.39)), (700, None)):
        story.at(second, reading)
        seen.append(story.core.shapes)
    assert seen == [(23_900, 17_778), (23_900, 17_778, 13_333), (23_900,)]
    assert not story.core.varies


def test_a_shape_told_as_a_ratio_is_in_no_raster_that_could_be_left() -> None:
    story = Story(PATIENT)
    story.at(9, SourceChosen(source="disc"))
    story.at(10, Playback(state="playing"))
    story.at(10.5, RatioSeen(ratio=2.39))
    for second, reading in ((600, shape(1.85)), (610, still()), (615, shape(1.85))):
        story.at(second, reading)
    story.at(700, None)
    assert (story.core.shapes, story.core.varies) == ((23_900, 18_500), False)


def test_what_changed_in_another_raster_is_no_part_of_the_film_that_is_back() -> None:
    story = Story(PATIENT)
    story.film(10, 2.39)
    narrow = BarsSeen(top=0, bottom=0, left=240, right=240, columns=1_920, rows=1_080)
    for second, reading in ((600, still()), (604, narrow), (608, still()), (620, shape(2.39))):
        story.at(second, reading)
    assert story.core.varies
    story.at(640, None)
    assert not varies(story, 641)
    assert story.core.tallest == 23_900


def test_a_film_that_is_left_twice_has_a_minute_to_come_back_each_time() -> None:
    story = Story(PATIENT)
    story.film(10, 2.39)
    for second in (600, 655):
        story.at(second, still())
        story.at(second + 6, shape(2.39))
    assert not varies(story, 700)


def test_a_title_has_nothing_of_the_raster_and_the_changes_of_the_one_before() -> None:
    story = Story(PATIENT)
    story.film(10, 2.39)
    for number in range(5):
        story.at(20 + 10 * number, shape((1.78, 2.39)[number % 2]))
    story.at(80, still())
    story.at(85, BarsSeen(top=0, bottom=0, left=240, right=240, columns=1_920, rows=1_080))
    story.at(90, Title(begun=False))
    story.at(91, Title(begun=True))
    story.at(92, shape(1.85))
    for number in range(5):
        story.at(100 + 10 * number, shape((2.39, 1.85)[number % 2]))
    story.at(150, None)
    assert story.core.shapes == (23_900,)
    assert not varies(story, 151)


def test_an_ident_that_plays_on_after_a_short_pause_has_to_stand_anew() -> None:
    story = Story(PATIENT, lens="broad", panels="open")
    story.film(10, 1.78)
    story.at(40, Playback(state="paused"))
    story.at(48, Playback(state="playing"))
    story.at(80, shape(2.39))
    story.at(300, None)
    assert story.recalls() == []
    assert story.of(Prompt) == []


def test_a_lens_that_was_wished_for_before_a_pause_is_not_held_back_after_it() -> None:
    story = Story(PATIENT, lens="broad", panels="open")
    story.film(10, 1.85)
    story.at(40, Playback(state="paused"))
    story.at(48, Playback(state="playing"))
    story.at(75, None)
    assert story.recalls() == ["tall"]


def test_a_film_that_has_truly_changed_its_shape_stays_one_that_changes_however_calm() -> None:
    story = Story(PATIENT)
    story.film(10, 2.39)
    for number in range(7):
        story.at(190 + 9 * number, shape((1.78, 2.39)[number % 2]))
    story.at(260, shape(2.39))
    story.at(270, shape(1.78))
    assert varies(story, 290)
    assert varies(story, 500)


def test_people_are_asked_for_an_early_paused_film_once_it_has_stood_after_the_pause() -> None:
    story = Story(PATIENT, lens="tall", panels="open")
    story.film(10, 1.78)
    story.at(22, Playback(state="paused"))
    story.at(222, Playback(state="playing"))
    story.at(281, None)
    assert story.of(Prompt) == []
    story.at(283, None)
    assert [one.panels for one in story.of(Prompt)][:1] == ["sides"]
