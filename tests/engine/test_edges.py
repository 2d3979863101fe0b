"""Evenings that go wrong at the edges: circles, restarts, late words, slips between two events."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.events import (
    Answer,
    FormatCode,
    Hand,
    HandLook,
    LensReport,
    Mark,
    Outcome,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    Resumed,
    Service,
    Signal,
    SourceChosen,
    Title,
    ToldFact,
    moment_of,
)
from engine.refusal import Refused
from engine.room import Room
from rules.room.load import load
from tests.engine.invariants import violations
from tests.engine.meetings import START
from tests.engine.story import HAYLOFT, SILENT, UNANSWERED, Story, shape

SHED = """
room: shed
zone: Europe/Lisbon
screen: {width: 3 m, aspect: 2.40}
projector: {raster: 4096 x 2160, lens: {travel: 10 s}}
presets: {broad: {fits: 2.40}, tall: {fits: 1.78}}
panels: {open: {}, sides: {opening: 1.78}}
sources: {disc: {}}
told: {guests: yes or no}
rules:
  policy: first
  rows:
"""


def shed(*rows: str) -> Room:
    """Load a small room with these rows of its rules."""
    return load(SHED + "".join(f"    - {{{row}, because: So.}}\n" for row in rows), "shed.yaml")


def test_a_row_that_looks_for_free_hands_asks_once_and_not_for_ever() -> None:
    story = Story(shed("case: {hands: free}, show: {panels: sides}"))
    story.film(1, 1.78)
    story.at(6 * 3_600, None)
    assert [stage for _, stage in story.prompts()] == ["asked", "reminded"]


def test_rules_that_chase_the_lens_round_in_a_circle_come_to_rest_with_a_note() -> None:
    room = shed(
        "case: {preset: broad}, show: {preset: tall}",
        "case: {preset: tall}, show: {preset: broad}",
    )
    story = Story(room)
    story.at(1, SourceChosen(source="disc"))
    story.at(2, Playback(state="stopped"))
    story.at(6 * 3_600, None)
    assert story.recalls() == ["tall", "broad"]
    assert "circle" in story.notes()


def test_rules_that_chase_the_panels_come_to_rest_too() -> None:
    room = shed(
        "case: {panels: open}, show: {panels: sides}",
        "case: {panels: sides}, show: {panels: open}",
    )
    story = Story(room)
    story.at(1, SourceChosen(source="disc"))
    story.at(2, Playback(state="stopped"))
    for second in range(30, 3_000, 30):
        if story.core.asked is not None:
            story.at(second, Answer(prompt=story.core.asked.id, answer="done"))
        story.at(second + 15, None)
    assert len(story.prompts()) == 2


def test_the_word_that_a_recall_is_done_and_the_lens_s_own_word_are_one_travel() -> None:
    """A wish that changed meanwhile sends the lens on; the trailing report is no hand."""
    room = shed(
        "case: {guests: yes}, show: {preset: tall}", "case: {guests: no}, show: {preset: broad}"
    )
    story = Story(room)
    story.at(1, SourceChosen(source="disc"))
    story.at(2, Playback(state="stopped"))
    story.at(5, ToldFact(fact="guests", value=True))
    story.at(18, ToldFact(fact="guests", value=False))
    story.at(60, None)
    assert story.recalls() == ["tall", "broad"]
    assert story.core.hand == "rules"


def test_a_lens_that_still_rests_where_it_was_has_only_not_set_off_yet() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, None)
    assert story.recalls() == ["tall"]
    story.at(25.5, LensReport(moving=False, preset="broad"))
    story.at(26, LensReport(moving=True, preset="tall"))
    story.at(40, LensReport(moving=False, preset="tall"))
    story.at(45, LensReport(moving=True, preset="tall"))
    assert story.core.hand == "rules"
    assert story.travels() == {"tall": (1, 0, 0)}


def test_our_own_travel_reported_after_a_restart_is_still_ours() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, None)
    story.at(27, Resumed())
    story.at(28, LensReport(moving=True, preset="tall"))
    story.at(40, LensReport(moving=False, preset="tall"))
    assert story.travels() == {"tall": (1, 0, 1)}
    assert story.core.hand == "rules"


def test_a_hand_on_the_remote_goes_before_what_the_same_hand_asked_for() -> None:
    story = Story(SILENT)
    story.film(10, 2.39)
    story.at(20, Hand(taken=True, look=HandLook(preset="tall")))
    story.at(60, LensReport(moving=True, preset="broad"))
    story.at(75, LensReport(moving=False, preset="broad"))
    story.at(300, None)
    assert story.recalls() == ["tall"]


def test_an_open_order_for_a_larger_picture_is_taken_back_when_panels_appear() -> None:
    story = Story(HAYLOFT, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.done(11.5)
    story.at(12, PanelReport(panels="open"))
    story.at(12.1, Hand(taken=True))
    before = story.engine.state
    made = story.at(12.2, PanelReport(panels="sides"))
    story.at(13, None)
    assert violations(HAYLOFT, before, tuple(made), story.engine.state) == []


@pytest.mark.parametrize(
    ("off", "on"),
    [
        (Playback(state="paused"), Playback(state="playing")),
        (Signal(locked=False), Signal(locked=True)),
    ],
)
def test_nothing_settles_in_a_pause_or_without_a_signal(
    off: Playback | Signal, on: Playback | Signal
) -> None:
    """What had just begun to show settles only when it is seen again."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, None)
    before = len(story.pictures())
    story.at(100, shape(1.9))
    story.at(100.2, off)
    story.at(160, None)
    assert len(story.pictures()) == before
    story.at(200, on)
    story.at(200.6, None)
    assert story.engine.state.settling.aspect == 19_000 or len(story.pictures()) == before + 1
    assert story.core.tallest is not None
    assert story.core.tallest < 20_000


def test_a_reading_heard_in_a_pause_holds_when_it_is_played_on() -> None:
    """A hub that sends changes only: the seek to a 1.78 scene came while it was paused."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(100, Playback(state="paused"))
    story.at(110, shape(1.78))
    story.at(120, Playback(state="playing"))
    story.at(122, None)
    assert story.engine.state.settling.aspect == 17_778


def test_a_shape_carried_into_a_title_counts_though_it_was_paused_at_once() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, shape(2.39))
    story.at(20, Playback(state="playing"))
    story.at(22, Playback(state="paused"))
    story.at(40, Playback(state="playing"))
    story.at(60, shape(1.9))
    story.at(70, shape(2.39))
    story.at(80, None)
    assert story.core.varies


@pytest.mark.parametrize("state", ["paused", "unknown"])
def test_the_pace_holds_in_a_pause_and_when_nobody_knows_what_plays(state: str) -> None:
    story = Story(SILENT)
    story.film(10, 2.39)
    story.at(300, Playback(state=state))  # type: ignore[arg-type]
    story.at(310, Hand(taken=True, look=HandLook(preset="tall")))
    story.at(400, None)
    assert story.recalls() == []


def test_a_title_that_is_only_announced_has_its_recalls_and_no_more() -> None:
    story = Story(SILENT)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Playback(state="stopped"))
    story.at(7, Title(begun=True, name="one"))
    for second, preset in ((10, "tall"), (40, "broad"), (70, "tall")):
        story.at(second, Hand(taken=True, look=HandLook(preset=preset)))
    story.at(200, None)
    assert story.recalls() == ["tall"]


def test_what_plays_on_past_its_title_s_end_is_left_in_peace() -> None:
    story = Story(SILENT)
    story.film(10, 2.39)
    story.at(300, shape(1.78))
    story.at(400, Title(begun=False))
    story.at(500, None)
    assert story.recalls() == []
    assert "opening" in story.core.holds


def test_a_hub_that_repeats_paused_lets_the_session_end() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, Hand(taken=True))
    for minute in range(2, 300):
        story.at(minute * 60, Playback(state="paused"))
    assert story.core.hand == "rules"


def test_a_film_played_on_after_a_long_pause_is_the_film_and_no_preview() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Title(begun=True, name="one"))
    story.at(7, Playback(state="playing"))
    story.at(8, shape(2.2))
    story.at(100, Playback(state="paused"))
    story.at(100 + 1_300, None)
    assert not story.core.title
    story.at(1_500, Playback(state="playing"))
    assert (story.core.title, story.core.title_name) == (True, "one")


def test_a_projector_that_went_off_and_on_in_mid_film_shows_the_film_again() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(500, ProjectorReport(state="off"))
    assert not story.core.title
    story.at(560, ProjectorReport(state="lit"))
    assert story.core.title


def test_a_title_that_never_plays_does_not_keep_the_session() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Playback(state="stopped"))
    story.at(7, Hand(taken=True))
    story.at(8, Title(begun=True, name="one"))
    story.at(4 * 3_600, None)
    assert story.core.hand == "rules"


def test_a_frame_that_one_source_told_is_not_the_next_one_s() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, FormatCode(code=8, frame="4:3"))
    assert story.core.frame == 13_333
    story.at(10, SourceChosen(source="console"))
    assert story.core.frame == 17_778
    story.at(11, FormatCode(code=8, frame="4:3"))
    assert story.core.frame == 17_778


def test_in_a_pause_the_film_s_own_shape_stays_whatever_is_heard() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(100, Playback(state="paused"))
    before = len(story.pictures())
    story.at(101, FormatCode(code=8, frame="4:3"))
    story.at(102, Signal(locked=True, columns=1_920, rows=1_080))
    story.at(103, Title(begun=True, declared=1.85))
    story.at(200, None)
    assert len(story.pictures()) == before


def test_after_a_restart_with_an_open_picture_order_the_picture_is_ordered_again() -> None:
    story = Story(HAYLOFT)
    story.at(5, SourceChosen(source="disc"))
    assert story.pictures() == ["whole"]
    story.at(5.5, Resumed())
    assert story.pictures() == ["whole", "whole"]


def test_nobody_is_asked_for_panels_while_the_lens_travels() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, None)
    assert story.core.lens == "travelling"
    assert story.prompts() == []


def test_outcomes_are_taken_in_whatever_order_they_come() -> None:
    story = Story(HAYLOFT)
    story.at(5, SourceChosen(source="disc"))
    assert story.core.picture is not None
    cue = story.core.open_cues[0].id
    late, early = (moment_of(START) + timedelta(seconds=s) for s in (5.2, 5.1))
    story.at(5.3, Outcome(order=cue, outcome="done", at=late))
    story.at(5.4, Outcome(order=story.core.picture, outcome="done", at=early))
    assert story.core.picture is None


def test_ids_of_readings_do_not_push_out_the_ids_of_travels() -> None:
    story = Story(UNANSWERED)
    story.at(5, LensReport(moving=True, preset="tall", id="L1"))
    story.at(6, LensReport(moving=False, preset="tall"))
    for number in range(300):
        story.at(7 + number / 24, RatioSeen(ratio=2.39, id=f"r{number}"))
    with pytest.raises(Refused, match="heard before"):
        story.at(30, LensReport(moving=True, preset="tall", id="L1"))
    assert story.travels() == {"tall": (0, 1, 0)}


def test_no_more_than_three_large_changes_of_the_picture_a_second() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.2)
    story.at(20, None)
    begun = len(story.pictures())
    for number in range(20):
        look = HandLook(picture=("plain", "gentle")[number % 2])
        story.at(30 + number / 20, Hand(taken=True, look=look))
    story.at(31, None)
    assert len(story.pictures()) - begun <= 4
    story.at(40, None)
    assert story.pictures()[-1] == "gentle"


def test_a_technician_who_moves_the_lens_is_no_viewer_s_hand() -> None:
    story = Story(UNANSWERED)
    story.at(5, Service(begun=True))
    story.at(10, LensReport(moving=True, preset="tall"))
    story.at(20, LensReport(moving=False, preset="tall"))
    story.at(30, Service(begun=False))
    assert story.core.hand == "rules"
    assert story.travels() == {"tall": (0, 1, 0)}


def test_a_travel_without_a_name_gets_it_when_it_is_known() -> None:
    story = Story(UNANSWERED)
    story.at(5, LensReport(moving=True, preset=None))
    story.at(9, LensReport(moving=True, preset="tall"))
    story.at(15, LensReport(moving=False, preset="tall"))
    assert story.travels() == {"": (0, 0, 0), "tall": (0, 1, 0)}


def test_old_timers_give_no_orders_after_a_restart() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    engine = story.engine
    assert not engine.is_due_before(Resumed(), START + 10_000_000)
    made = engine.receive(Resumed(), START + 300_000).decisions
    assert {one.at for one in made if one.kind in ("picture", "recall", "prompt", "cue")} <= {
        START + 300_000
    }


def test_a_tap_is_kept_with_its_words() -> None:
    story = Story(UNANSWERED)
    story.at(5, Mark(words="too dark"))
    assert story.made[-1].reason == "too dark"


def test_a_title_of_a_source_that_says_titles_is_on_again_when_the_light_is() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Title(begun=True, name="one"))
    story.at(7, Playback(state="playing"))
    story.at(500, ProjectorReport(state="off"))
    assert not story.core.title
    story.at(560, ProjectorReport(state="lit"))
    assert (story.core.title, story.core.title_name) == (True, "one")


def test_a_title_that_was_paused_without_light_is_on_again_when_it_is_played_on() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="streamer"))
    story.at(6, Title(begun=True, name="one"))
    story.at(7, Playback(state="playing"))
    story.at(400, Playback(state="paused"))
    story.at(500, ProjectorReport(state="cooling"))
    story.at(8_000, ProjectorReport(state="lit"))
    assert not story.core.title
    story.at(8_010, Playback(state="playing"))
    assert (story.core.title, story.core.title_name) == (True, "one")


def test_a_long_pause_loses_neither_a_title_s_name_nor_its_declared_shape() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="disc"))
    story.at(6, Playback(state="playing"))
    story.at(6.2, Title(begun=True, name="one", declared=2.39))
    story.at(100, Playback(state="paused"))
    story.at(1_400, None)
    assert not story.core.title
    story.at(1_500, Playback(state="playing"))
    assert (story.core.title_name, story.core.declared) == ("one", 23_900)
    assert story.pictures()[-1] == "plain"


def test_a_restart_in_mid_travel_says_nothing_of_whether_the_preset_was_reached() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, None)
    story.at(27, Resumed())
    assert (story.core.lens, story.core.unreached) == ("unknown", None)


def test_learning_that_a_signal_is_flat_is_no_other_signal_and_turning_stereo_is() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(60, Signal(locked=True, stereo=False))
    assert story.engine.state.settling.aspect == 23_900
    story.at(70, Signal(locked=True, stereo=True))
    assert story.engine.state.settling.aspect is None


def test_what_was_heard_before_the_first_source_had_a_name_is_its_own() -> None:
    """A hub may say first what plays, and in which shape, and then from where."""
    story = Story(UNANSWERED)
    story.at(1, shape(2.39))
    story.at(1, Playback(state="playing"))
    story.at(10, SourceChosen(source="disc"))
    assert (story.core.playback, story.core.title) == ("playing", True)
    assert story.engine.state.settling.aspect == 23_900
    story.at(20, SourceChosen(source="streamer"))
    assert (story.core.playback, story.core.title) == ("unknown", False)


def test_a_first_source_that_says_titles_itself_or_is_left_alone_takes_no_more_than_it_may() -> (
    None
):
    story = Story(UNANSWERED)
    story.at(1, Playback(state="playing"))
    story.at(2, SourceChosen(source="streamer"))
    assert not story.core.title
    story = Story(UNANSWERED)
    story.at(1, FormatCode(code=8, frame="4:3"))
    story.at(1.5, Title(begun=True, declared=2.39))
    story.at(2, SourceChosen(source="console"))
    assert (story.core.frame, story.core.declared) == (17_778, None)


def test_a_frame_that_a_format_code_told_in_a_pause_holds_when_it_is_played_on() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(100, Playback(state="paused"))
    story.at(101, FormatCode(code=8, frame="4:3"))
    story.at(102, RatioSeen(ratio=1.33))
    assert story.core.frame == 17_778
    story.at(110, Playback(state="playing"))
    assert story.core.frame == 13_333


def test_a_picture_goes_by_the_name_that_the_rules_give_it_though_its_order_is_open() -> None:
    """Plain and whole may be one to the hardware: no new order, but another name."""
    story = Story(HAYLOFT)
    story.film(1, 1.78)
    for second, ratio in ((10, 2.39), (20, 1.78), (30, 2.39)):
        story.at(second, shape(ratio))
    story.at(41, Hand(taken=True, look=HandLook(picture="plain")))
    story.done(42)
    story.at(43, shape(1.78))
    story.at(44.1, Hand(taken=False))
    assert story.core.varies
    assert story.core.shown is not None
    assert story.core.shown.picture == "whole"
