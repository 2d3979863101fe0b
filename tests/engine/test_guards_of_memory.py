"""What is kept from one moment to the next: titles that go on, orders that never left, dates."""

from __future__ import annotations

import pytest

from engine import settle
from engine.answers import answered
from engine.decisions import Note
from engine.events import (
    Answer,
    Helper,
    LensReport,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Resumed,
    SourceChosen,
    Title,
    ToldFact,
    Undo,
)
from engine.facts import shape_is_guess, shape_of_title
from engine.lens import lens_reported
from engine.overrides import give_back, take_over
from engine.reconcile import NOTHING_LIT
from engine.refusal import Refused
from engine.room import PLAIN, Show
from engine.state import Core, PastPrompt, first_state
from engine.transaction import Transaction
from tests.engine.meetings import START
from tests.engine.moments import asked, core_of, prompted
from tests.engine.story import HAYLOFT, UNANSWERED, WITH_A_BLIND, Story, changed, shape
from tests.engine.test_half_time import match
from tests.engine.test_refusals import clock

PAUSE = HAYLOFT.pace.pause / 1_000


# -------------------------------------------------------------------------- titles that go on


def put_off(name: str | None = "film") -> Story:
    """Watch a title that declares its shape, and pause it for so long that it counts as left."""
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, Title(begun=True, name=name, declared=2.39))
    story.at(6, Playback(state="playing"))
    story.at(7, shape(2.39))
    story.at(300, Playback(state="paused"))
    story.at(301 + PAUSE, None)
    assert not story.core.title
    assert story.core.interrupted is not None
    return story


def test_a_title_that_was_put_off_goes_on_with_what_it_declared_when_it_is_named_again() -> None:
    story = put_off()
    story.at(400 + PAUSE, Title(begun=True, name="film"))
    assert (core_of(story).title, core_of(story).declared) == (True, 23_900)
    assert story.core.longest is not None


def test_what_it_declares_now_goes_before_what_it_declared_then() -> None:
    story = put_off()
    story.at(400 + PAUSE, Title(begun=True, name="film", declared=1.85))
    assert (core_of(story).declared, core_of(story).longest) == (18_500, 23_900)


@pytest.mark.parametrize(("was", "name"), [("film", "other"), ("film", None), (None, None)])
def test_a_title_of_another_name_or_of_none_is_another(was: str | None, name: str | None) -> None:
    story = put_off(was)
    story.at(400 + PAUSE, Title(begun=True, name=name))
    assert (core_of(story).title, core_of(story).declared) == (True, None)
    assert story.core.longest is None


def test_a_no_that_is_taken_back_leaves_the_title_that_was_put_off() -> None:
    story = match()
    story.at(120, Playback(state="paused"))
    story.at(121 + PAUSE, None)
    assert story.core.interrupted is not None
    assert story.core.interrupted.refused
    story.at(122 + PAUSE, Helper(free=True))
    assert story.core.interrupted is not None
    assert not story.core.interrupted.refused


@pytest.mark.parametrize(
    ("ratio", "stand", "wish"),
    [(1.78, ("broad", "open"), ("tall", "sides")), (2.39, ("tall", "sides"), ("broad", "open"))],
)
def test_another_title_in_a_pause_leaves_lens_and_panels_as_they_stand(
    ratio: float, stand: tuple[str, str], wish: tuple[str, str]
) -> None:
    """The pause by itself ends a wish only where all that speaks for it is a guess."""
    story = Story(UNANSWERED, lens=stand[0], panels=stand[1])
    story.film(10, ratio)
    story.at(18, None)
    assert (core_of(story).wanted.preset, core_of(story).wanted.panels) == wish
    story.at(19, Playback(state="paused"))
    assert (core_of(story).wanted.preset == wish[0]) == (ratio == 2.39)
    story.at(20, Title(begun=True, name="other"))
    assert (core_of(story).wanted.preset, core_of(story).wanted.panels) == stand


def test_a_room_that_is_given_back_waits_no_more_for_what_was_chosen_the_last_time() -> None:
    state = first_state(HAYLOFT)
    tx = Transaction(HAYLOFT, state, START)
    take_over(tx, "title", None, Show(PLAIN), "last_time")
    tx.set_timers(linger=START + 30_000)
    give_back(tx, "given_back")
    assert tx.core.override == "rules"
    assert tx.core.timers.linger is None


# ------------------------------------------------------------------------------- its own shape


def in_title(**known: int | str) -> Core:
    core = first_state(HAYLOFT).core
    core.title = True
    for name, value in known.items():
        setattr(core, name, value)
    return core


@pytest.mark.parametrize(
    ("known", "own"),
    [
        ({"declared": 23_900, "remembered": 18_500, "longest": 17_778}, 23_900),
        ({"remembered": 18_500, "longest": 17_778}, 18_500),
        ({"remembered": 18_500}, 18_500),
        ({"longest": 17_778}, 17_778),
        ({}, 13_333),
        ({"source": "console", "frame": 18_500}, 17_778),
    ],
)
def test_a_title_s_own_shape_is_told_or_remembered_or_seen_in_this_order(
    known: dict[str, int | str], own: int
) -> None:
    settling = settle.UNSETTLED._replace(aspect=13_333)
    assert shape_of_title(HAYLOFT, in_title(**known), settling) == own


@pytest.mark.parametrize("word", ["declared", "remembered"])
def test_a_shape_that_is_told_is_no_guess(word: str) -> None:
    assert shape_is_guess(in_title(longest=17_778))
    assert not shape_is_guess(in_title(longest=17_778, **{word: 17_778}))


# ----------------------------------------------------------------------------------- people


def test_whoever_said_not_tonight_is_not_told_again_that_nobody_is_free() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="not_tonight"))
    story.at(50, Helper(free=False))
    assert "nobody_free" not in story.notes()


def test_panels_that_stood_nobody_knows_how_are_not_put_back() -> None:
    story = Story(UNANSWERED, lens="tall")
    story.at(1, PanelReport(panels=None))
    story.film(10, 1.78)
    story.at(60, None)
    story.at(61, Answer(prompt=asked(story), answer="done"))
    assert story.core.undo is None
    with pytest.raises(Refused):
        story.at(70, Undo())


def test_a_late_word_of_panels_that_the_room_has_no_more_leaves_them_unknown() -> None:
    tx = Transaction(HAYLOFT, first_state(HAYLOFT), START)
    tx.core.arrangement = "open"
    tx.tally = tx.tally._replace(prompts=(PastPrompt(7, "shutters"),))
    answered(tx, Answer(prompt=7, answer="done"))
    assert tx.core.arrangement is None


def test_a_dark_picture_of_somebody_s_own_sends_nobody_to_the_screen() -> None:
    story = prompted()
    story.at(40, Override(taken=True, look=OverrideLook(picture="plain", panels="open")))
    story.at(60, None)
    assert story.core.asked is not None
    story.engine.state.core.shown = NOTHING_LIT
    story.at(61, ToldFact(fact="guests", value=True))
    assert ("open", "at the screen") not in story.prompts()


def test_a_no_that_is_taken_back_leaves_the_titles_of_other_sources() -> None:
    story = match()
    story.at(120, SourceChosen(source="console"))
    assert [one.refused for one in story.core.left] == [True]
    story.at(121, Helper(free=True))
    assert [one.refused for one in story.core.left] == [False]


def test_a_lens_that_is_moved_while_no_shape_is_known_is_put_back_for_none() -> None:
    story = Story(UNANSWERED)
    story.at(10, SourceChosen(source="disc"))
    story.at(10, Playback(state="playing"))
    story.at(400, LensReport(moving=True, preset="tall"))
    assert (core_of(story).override, core_of(story).put_back) == ("person", ())


def test_a_lens_that_is_put_back_again_for_one_shape_is_remembered_once() -> None:
    tx = Transaction(HAYLOFT, first_state(HAYLOFT), START)
    core = tx.core
    core.title, core.source, core.declared = True, "disc", 23_900
    core.lens, core.preset, core.projector = "resting", "tall", "lit"
    core.wanted = core.wanted._replace(preset="tall")
    core.put_back = (("disc", 23_900),)
    lens_reported(tx, LensReport(moving=False, preset="broad"))
    assert (core.override, core.put_back) == ("person", (("disc", 23_900),))


# ----------------------------------------------------------------------------------- reports


def test_what_was_read_of_another_source_is_no_detector_of_this_one() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    assert story.core.detected
    story.at(20, SourceChosen(source="console"))
    assert not story.core.detected


def test_what_a_hub_says_without_a_date_leaves_room_for_what_it_dates_before() -> None:
    story = Story(UNANSWERED)
    story.at(20, ToldFact(fact="guests", value=True))
    story.at(21, ToldFact(fact="guests", value=False, at=clock(10)))
    assert dict(story.core.told) == {"guests": False}


def test_two_reports_that_are_dated_ahead_are_both_remembered() -> None:
    story = Story(UNANSWERED)
    story.at(20, Playback(state="stopped", at=clock(3_000)))
    story.at(21, LensReport(moving=False, preset="tall", at=clock(4_000)))
    story.at(22, ProjectorReport(state="lit", at=clock(5_000)))
    kept = [one.subject for one in story.engine.state.tally.ahead]
    assert kept == ["lens", "playback", "projector"]


# -------------------------------------------------------------------- orders that never left


def test_a_cue_that_never_left_has_not_failed_and_others_are_as_they_were() -> None:
    story = Story(changed(WITH_A_BLIND))
    story.at(10, SourceChosen(source="disc"))
    story.at(11, Override(taken=True, look=OverrideLook(cues={"blind": "down"})))
    for cue in core_of(story).open_cues:
        story.at(12, Outcome(order=cue.id, outcome="refused"))
    assert [*story.engine.state.tally.failed_cues] == ["blind", "lamps"]
    story.at(20, Playback(state="playing"))
    assert [one.cue for one in core_of(story).open_cues] == ["lamps"]
    story.at(21, Resumed(stalled=True, unsent=("cue lamps",)))
    assert [*story.engine.state.tally.failed_cues] == ["blind"]
    assert [one.cue for one in core_of(story).open_cues] == ["lamps"]


def test_a_cue_that_failed_is_named_by_its_label() -> None:
    story = Story(changed(("told:\n", "labels: {lamps: The ceiling, lamps full: bright}\ntold:\n")))
    story.at(10, SourceChosen(source="disc"))
    for cue in core_of(story).open_cues:
        story.at(11, Outcome(order=cue.id, outcome="refused"))
    (note,) = [one for one in story.of(Note) if one.code == "cue_failed"]
    assert "The ceiling" in note.reason
    assert note.parameters["value"] == "bright"


def test_a_travel_that_a_person_asks_for_is_none_that_the_rules_may_take_back() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(20, Override(taken=True, look=OverrideLook(preset="tall")))
    assert (story.recalls(), story.core.back_to) == (["tall"], None)
