"""What is wanted: chosen, completed, ripened, and on which conditions.

Each test fails if a condition is left out or turned round.
"""

from __future__ import annotations

import pytest

from engine import RoomEngine
from engine.decisions import CueOrder
from engine.events import (
    Answer,
    Event,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Service,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
)
from tests.engine.moments import BARE, asked, core_of, films, ms, prompted
from tests.engine.story import HAYLOFT, UNANSWERED, Story, changed, shape
from tests.engine.test_choosing import shed

INTERVAL = """\
    - name: interval
      case: {playback: paused}
      show: {picture: whole, cues: {lamps: full}}
      because: Somebody gets up.
"""


def test_in_a_pause_the_rules_still_say_the_lamps() -> None:
    room = changed(
        ("orders: {answered: yes}\n", ""),
        ("    - name: changing\n", INTERVAL + "    - name: changing\n"),
    )
    story = Story(room)
    story.film(10, 2.39)
    story.at(30, None)
    wanted, row = story.core.wanted, story.core.row
    assert wanted.cues == (("lamps", "low"),)
    story.at(40, Playback(state="paused"))
    assert core_of(story).wanted == wanted._replace(cues=(("lamps", "full"),))
    assert core_of(story).row == row


def test_a_pause_before_anything_was_chosen_is_chosen_for() -> None:
    engine = RoomEngine(UNANSWERED)
    engine.receive(Playback(state="paused"), ms(5))
    assert engine.state.core.row is None
    assert engine.state.core.wanted.cues == (("lamps", "low"),)


def test_a_wish_lingers_from_the_moment_it_is_another() -> None:
    story = Story(BARE)
    story.film(10, 1.78)
    story.at(12, None)
    assert core_of(story).timers.linger == ms(11 + 12)
    assert not core_of(story).ripe
    story.at(20, Mark())
    assert core_of(story).timers.linger == ms(11 + 12)
    story.at(21, shape(2.39))
    story.at(22.5, None)
    assert core_of(story).timers.linger == ms(11 + 12)


def test_a_person_s_wish_and_one_in_a_room_without_lingering_is_ripe_at_once() -> None:
    story = films(BARE)
    story.at(40, Override(taken=True, look=OverrideLook(preset="tall")))
    assert story.recalls() == ["tall"]
    hasty = changed(
        ("orders: {answered: yes}\n", ""),
        ("tall, panels: sides", "tall"),
        ("linger: 12 s", "linger: 0 s"),
    )
    story = Story(hasty)
    story.film(10, 1.78)
    story.at(11, None)
    assert story.recalls() == ["tall"]


def test_a_wish_that_is_given_up_leaves_nothing_to_wait_for() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(12, None)
    assert None not in {core_of(story).timers.linger, core_of(story).timers.linger_people}
    story.at(15, Playback(state="stopped"))
    timers = core_of(story).timers
    assert (timers.linger, timers.linger_people) == (None, None)


def test_a_wish_that_lingers_is_ripe_once_its_title_declares_itself() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(15, Title(begun=True, declared=1.78))
    assert story.recalls() == ["tall"]
    timers = core_of(story).timers
    assert (timers.linger, timers.linger_people) == (None, None)


def test_where_nothing_lingers_nothing_is_waited_for() -> None:
    row = "{case: {guests: yes}, show: {preset: tall, panels: sides}, because: Guests.}"
    story = Story(shed(f"rules:\n  policy: first\n  rows: [{row}]\n"))
    story.at(5, SourceChosen(source="disc"))
    story.at(6, ToldFact(fact="guests", value=True))
    assert story.recalls() == ["tall"]
    timers = core_of(story).timers
    assert (timers.linger, timers.linger_people) == (None, None)


LAMPS_OR_DOOR = shed(
    """
cues: {lamps: full or low, door: shut or ajar}
rules:
  policy: first
  rows:
    - {case: {guests: yes}, show: {cues: {lamps: low}}, because: Guests.}
    - {case: {guests: no}, show: {cues: {door: shut}}, because: No guests.}
"""
)
"""One row speaks of the lamps, the other of the door."""


def test_cues_of_another_row_join_those_that_stand() -> None:
    story = Story(LAMPS_OR_DOOR)
    story.at(5, SourceChosen(source="disc"))
    assert core_of(story).wanted.cues == ()
    story.at(6, ToldFact(fact="guests", value=True))
    assert core_of(story).wanted.cues == (("lamps", "low"),)
    story.at(7, ToldFact(fact="guests", value=False))
    assert core_of(story).wanted.cues == (("door", "shut"), ("lamps", "low"))


def test_what_rows_say_of_cues_while_a_person_has_the_room_is_ordered_at_once() -> None:
    """One row spoke of the lamps, the next one does not: the lamps stay wanted."""
    story = Story(LAMPS_OR_DOOR)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, Override(taken=True))
    story.at(7, ToldFact(fact="guests", value=True))
    assert core_of(story).wanted.cues == (("lamps", "low"),)
    assert [(one.cue, one.value) for one in story.of(CueOrder)] == [("lamps", "low")]
    story.at(8, ToldFact(fact="guests", value=False))
    story.at(9, Override(taken=False))
    assert [(one.cue, one.value) for one in story.of(CueOrder)] == [
        ("lamps", "low"),
        ("door", "shut"),
    ]


def test_a_cue_on_its_way_elsewhere_is_called_back_to_where_it_stands() -> None:
    """The lamps are low, `full` was ordered for the menu and is open, and the film goes on."""
    story = Story(HAYLOFT)
    story.film(10, 2.39)
    story.done(20)
    assert core_of(story).cues == (("lamps", "low"),)
    story.at(40, Playback(state="stopped"))
    story.at(40.5, Playback(state="playing"))
    assert [one.value for one in story.of(CueOrder)][-2:] == ["full", "low"]
    assert [one.value for one in core_of(story).open_cues] == ["low"]


def test_a_wish_that_is_fulfilled_does_not_ripen() -> None:
    """So what comes to differ later has to stand for its time first."""
    story = films()
    core = core_of(story)
    assert (core.wanted.preset, core.wanted.panels) == (core.preset, core.arrangement)
    assert (core.ripe, core.timers.linger) == (False, None)
    story.at(60, PanelReport(panels="sides"))
    assert story.prompts() == []
    assert core_of(story).timers.linger == ms(60 + 12)


def test_a_refused_picture_does_not_count_as_standing_when_a_person_takes_over() -> None:
    """The nearest, `plain`, was ordered in place of `gentle` and refused: `gentle` stays wanted."""
    story = Story(HAYLOFT, lens="tall")
    story.film(10, 2.20)
    story.at(14, None)
    assert core_of(story).wanted.picture == "gentle"
    assert story.pictures()[-1] == "plain"
    picture = core_of(story).picture
    assert picture is not None
    story.at(14, Outcome(order=picture, outcome="refused"))
    story.at(15, Override(taken=True))
    assert core_of(story).failed
    assert core_of(story).wanted.picture == "gentle"


BOTH = """
rules:
  rows:
    - {name: one, case: {guests: yes}, show: {picture: plain}, because: Guests.}
    - {name: two, case: {guests: yes, mood: calm}, show: {lift: 5 %}, because: Calm guests.}
  otherwise: {picture: whole}
"""


def test_rows_that_match_at_once_are_noted_each_time_they_begin_to() -> None:
    story = Story(shed(BOTH))
    story.at(5, SourceChosen(source="disc"))
    story.at(6, ToldFact(fact="mood", value="calm"))
    for number in range(3):
        story.at(10 + 10 * number, ToldFact(fact="guests", value=True))
        assert story.core.violated
        assert story.core.row == -1
        story.at(11 + 10 * number, Mark())
        assert story.notes().count("rules_overlap") == number + 1
        story.at(15 + 10 * number, ToldFact(fact="guests", value=False))
        assert not core_of(story).violated


ROUND = """
rules:
  policy: first
  rows:
    - {case: {preset: broad}, show: {preset: tall}, because: So.}
    - {case: {preset: tall}, show: {preset: broad}, because: So.}
"""


def test_only_news_from_outside_sends_a_lens_off_that_went_in_a_circle() -> None:
    story = Story(shed(ROUND))
    story.at(5, Playback(state="stopped"))
    story.at(6, SourceChosen(source="disc"))
    story.at(600, None)
    assert story.recalls() == ["tall", "broad"]
    assert story.core.recalls == 2
    for second, event in ((601, TimeOfDay(minute=1)), (602, PanelReport(panels="sides"))):
        story.at(second, event)
        assert story.core.recalls == 2
    story.at(1_200, ToldFact(fact="guests", value=True))
    story.at(1_800, None)
    assert story.recalls() == ["tall", "broad", "tall", "broad"]


@pytest.mark.parametrize(
    "event",
    [
        Override(taken=True),
        ProjectorReport(state="warming"),
        Service(begun=True),
        Signal(locked=True, range="high"),
    ],
)
def test_this_is_news_to_the_rules(event: Event) -> None:
    story = Story(shed(ROUND))
    story.at(5, Playback(state="stopped"))
    story.at(6, SourceChosen(source="disc"))
    story.at(600, None)
    news = story.core.news
    story.at(601, event)
    assert core_of(story).news != news


def test_what_a_person_wants_is_news_in_each_of_its_parts() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    seen = []
    for number, look in enumerate(
        (
            None,
            OverrideLook(picture="whole"),
            OverrideLook(preset="broad"),
            OverrideLook(panels="open"),
        )
    ):
        story.at(10 + number, Override(taken=True, look=look))
        seen.append(story.core.news)
    assert len({*seen}) == len(seen)


def test_a_picture_that_is_safe_where_the_lens_stands_stays_under_an_override() -> None:
    """It would not be safe at `broad`; nobody wants the lens there."""
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.film(10, 1.5)
    story.at(50, Override(taken=True, look=OverrideLook(picture="whole")))
    assert story.pictures()[-1] == "whole"
    before = len(story.pictures())
    story.at(60, Override(taken=True))
    assert len(story.pictures()) == before


def test_nobody_waits_for_word_of_a_picture_where_none_comes() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    assert story.pictures() == ["whole"]
    assert story.core.timers.picture is None


def test_the_light_that_comes_back_in_a_pause_has_the_film_s_own_shape() -> None:
    story = prompted()
    story.at(31, Answer(prompt=asked(story), answer="ready"))
    assert story.pictures()[-1] == "dark"
    story.at(33, Playback(state="paused"))
    story.at(40, Answer(prompt=asked(story), answer="done"))
    assert story.core.shown is not None
    assert story.core.shown.aspect == 23_900
