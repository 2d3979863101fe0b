"""What people and the lens change, and on which conditions.

Each test fails if a condition is left out or turned round.
"""

from __future__ import annotations

from typing import Literal

import pytest

from engine.events import (
    Answer,
    Event,
    LensReport,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Resumed,
    Service,
    SourceChosen,
    Title,
    moment_of,
)
from tests.engine.moments import BARE, asked, core_of, films, lost, ms, prompted, travelling
from tests.engine.story import HAYLOFT, SILENT, UNANSWERED, Story, changed, given_up_after

# ------------------------------------------------------------------------------------------- people


def test_panels_that_turn_out_otherwise_do_not_end_a_prompt() -> None:
    story = prompted()
    story.at(40, PanelReport(panels=None))
    assert core_of(story).asked is not None
    assert core_of(story).arrangement is None


SIDES = next(line for line in HAYLOFT.text.splitlines(keepends=True) if "  sides: {" in line)


def test_panels_of_which_there_is_one_kind_are_never_unknown() -> None:
    room = changed(
        ("orders: {answered: yes}\n", ""),
        (SIDES, ""),
        ("tall, panels: sides", "tall"),
    )
    story = Story(room)
    story.at(10, PanelReport(panels=None))
    assert core_of(story).arrangement == "open"


def test_what_a_person_wanted_of_the_panels_ends_with_another_s_doing() -> None:
    story = films()
    story.at(40, Override(taken=True, look=OverrideLook(picture="plain", panels="open")))
    look = story.core.override_look
    story.at(41, PanelReport(panels="open"))
    assert story.core.override_look == look
    story.at(42, PanelReport(panels="sides"))
    assert story.core.override_look is not None
    assert story.core.override_look.panels is None
    assert story.core.override_look.picture == "plain"


def test_panels_that_are_done_give_the_title_its_first_minutes_again() -> None:
    story = prompted()
    story.at(50, PanelReport(panels="open"))
    assert core_of(story).panels == "still"
    timers = core_of(story).timers
    assert timers.first_minutes == ms(50 + 90)
    assert (timers.remind, timers.give_up) == (None, None)


def test_whoever_is_ready_has_the_whole_time_from_then_and_only_once() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    timers = story.core.timers
    assert (timers.remind, timers.give_up) == (ms(40 + 480), ms(40 + 600))
    story.at(50, Answer(prompt=asked(story), answer="ready"))
    assert core_of(story).timers.give_up == ms(40 + 600)


def test_where_the_warning_would_come_at_once_it_comes_halfway_to_the_end() -> None:
    story = Story(given_up_after(120_000), lens="tall", panels="sides")
    story.film(10, 2.39)
    story.at(30, None)
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    assert core_of(story).timers.remind == ms(40 + 60)


def test_an_override_said_again_is_no_other_override() -> None:
    story = films()
    override = Override(taken=True, until="title", look=OverrideLook(picture="whole"))
    story.at(40, override)
    story.at(41, override)
    assert story.notes().count("override_begun") == 1
    for second, other in (
        (42, other_override(until="session", picture="whole")),
        (43, other_override(until="session", picture="plain")),
        (44, Override(taken=True, until=moment_of(ms(900)), look=OverrideLook(picture="plain"))),
        (45, Override(taken=True, until=moment_of(ms(901)), look=OverrideLook(picture="plain"))),
    ):
        story.at(second, other)
    assert story.notes().count("override_begun") == 5
    assert core_of(story).override_until == "time"
    assert core_of(story).timers.override == ms(901)


def other_override(*, until: Literal["title", "session"], picture: str) -> Override:
    return Override(taken=True, until=until, look=OverrideLook(picture=picture))


def test_an_override_that_asks_for_what_was_not_reached_has_it_tried_again() -> None:
    story = travelling()
    story.at(26, Outcome(order=story.core.recall or 0, outcome="refused"))
    assert core_of(story).unreached == "tall"
    story.at(30, Override(taken=True))
    story.at(31, Override(taken=True, look=OverrideLook(panels="open")))
    assert core_of(story).unreached == "tall"
    story.at(32, Override(taken=True, look=OverrideLook(preset="tall")))
    assert core_of(story).unreached is None


def test_an_override_that_asks_for_a_picture_has_a_failed_one_tried_again() -> None:
    story = Story(HAYLOFT)
    story.at(10, SourceChosen(source="disc"))
    story.at(11, Outcome(order=story.core.picture or 0, outcome="refused"))
    assert core_of(story).failed
    before = len(story.pictures())
    story.at(12, Override(taken=True))
    assert core_of(story).failed
    assert len(story.pictures()) == before
    story.at(13, Override(taken=True, look=OverrideLook(picture="whole")))
    assert len(story.pictures()) == before + 1


# --------------------------------------------------------------------------------------------- lens


def test_a_lens_that_sets_off_by_our_order_is_not_counted_as_moved_by_hand() -> None:
    story = travelling()
    story.at(26, LensReport(moving=True, preset=None))
    assert core_of(story).set_off
    assert core_of(story).recall is not None
    assert story.travels() == {}
    story.at(27, LensReport(moving=True, preset="tall", id="a"))
    assert story.travels() == {}
    assert core_of(story).override == "rules"


def test_a_travel_by_hand_has_one_and_a_half_times_the_longest() -> None:
    story = films()
    story.at(100, LensReport(moving=True, preset="tall"))
    assert core_of(story).timers.travel == ms(100 + 27)
    assert core_of(story).timers.echo == ms(100 + 18)
    assert (core_of(story).lens, core_of(story).preset, core_of(story).origin) == (
        "travelling",
        "tall",
        "broad",
    )
    assert core_of(story).set_off
    story.at(110, LensReport(moving=False, preset="tall"))
    assert core_of(story).timers.travel is None
    assert core_of(story).origin is None


def test_a_lens_of_unknown_place_that_sets_off_has_no_origin() -> None:
    story = Story(UNANSWERED, lens=None)
    story.at(10, LensReport(moving=True, preset="tall"))
    assert core_of(story).origin is None
    assert story.travels() == {"tall": (0, 1, 0)}


def test_a_travel_that_gets_its_name_keeps_its_count_and_its_echo() -> None:
    story = films()
    story.at(100, LensReport(moving=True, preset=None))
    assert core_of(story).echo == ""
    story.at(102, LensReport(moving=True, preset="tall"))
    assert (core_of(story).preset, core_of(story).echo) == ("tall", "tall")
    assert story.travels() == {"": (0, 0, 0), "tall": (0, 1, 0)}
    story.at(110, LensReport(moving=False, preset="tall"))
    assert story.travels() == {"": (0, 0, 0), "tall": (0, 1, 0)}


def test_a_travel_without_a_name_that_ends_at_a_preset_gets_it_there() -> None:
    story = films()
    story.at(100, LensReport(moving=True, preset=None))
    story.at(110, LensReport(moving=False, preset="tall"))
    assert (core_of(story).lens, core_of(story).preset, core_of(story).echo) == (
        "resting",
        "tall",
        "tall",
    )
    assert story.travels() == {"": (0, 0, 0), "tall": (0, 1, 0)}


def test_a_travel_by_hand_that_turns_elsewhere_is_two() -> None:
    story = films()
    story.at(100, LensReport(moving=True, preset="tall"))
    story.at(104, LensReport(moving=True, preset="broad"))
    assert story.travels() == {"broad": (0, 1, 0), "tall": (0, 1, 0)}
    assert core_of(story).origin is None


def test_a_travel_by_hand_that_ends_elsewhere_is_two() -> None:
    story = films()
    story.at(100, LensReport(moving=True, preset="tall"))
    story.at(104, LensReport(moving=False, preset="broad"))
    assert story.travels() == {"broad": (0, 1, 0), "tall": (0, 1, 0)}
    assert core_of(story).lens == "resting"


def test_our_travel_that_ends_elsewhere_counts_and_nobody_has_taken_over() -> None:
    story = travelling()
    story.at(26, LensReport(moving=True, preset="tall"))
    story.at(30, LensReport(moving=False, preset="broad"))
    assert story.travels() == {"tall": (1, 0, 1)}
    assert core_of(story).recall is None
    assert core_of(story).override == "rules"
    assert "lens_elsewhere" in story.notes()


@pytest.mark.parametrize("mark", [None, "a"])
def test_a_travel_lost_in_a_restart_is_heard_of_again_and_taken_up(mark: str | None) -> None:
    story = lost()
    story.at(30, LensReport(moving=True, preset="tall", id=mark))
    assert "travel_repeated" in story.notes()
    assert (core_of(story).lens, core_of(story).preset) == ("travelling", "tall")
    assert core_of(story).set_off
    assert core_of(story).timers.travel == ms(30 + 27)
    assert story.travels() == {"tall": (1, 0, 1)}


def test_an_echo_of_a_lens_at_rest_moves_nothing() -> None:
    story = films()
    story.at(100, LensReport(moving=True, preset="tall"))
    story.at(105, LensReport(moving=False, preset="tall"))
    story.at(110, LensReport(moving=True, preset="tall"))
    assert (core_of(story).lens, core_of(story).timers.travel) == ("resting", None)
    assert story.travels() == {"tall": (0, 1, 0)}


def test_an_echo_of_a_nameless_travel_moves_nothing_either() -> None:
    story = films()
    story.at(100, LensReport(moving=True, preset=None))
    story.at(101, LensReport(moving=False, preset=None))
    assert core_of(story).lens == "unknown"
    story.at(102, LensReport(moving=True, preset=None))
    assert core_of(story).lens == "unknown"
    assert story.notes()[-1] == "travel_repeated"
    assert story.travels() == {"": (0, 1, 0)}


def test_a_lens_that_rests_nowhere_has_not_reached_what_we_wanted() -> None:
    story = travelling()
    story.at(26, LensReport(moving=True, preset="tall"))
    story.at(30, LensReport(moving=False, preset=None))
    assert (core_of(story).missed, core_of(story).unreached) == ("tall", None)
    assert story.notes()[-2:] == ["lens_elsewhere", "lens_unknown"]
    assert (core_of(story).lens, core_of(story).preset, core_of(story).origin) == (
        "unknown",
        None,
        None,
    )
    assert story.travels() == {"tall": (1, 0, 1)}
    assert core_of(story).timers.travel is None


def test_a_travel_by_hand_that_ends_nowhere_says_nothing_of_what_we_wanted() -> None:
    story = films()
    story.at(100, LensReport(moving=True, preset="tall"))
    story.at(104, LensReport(moving=False, preset=None))
    assert core_of(story).unreached is None
    assert story.travels() == {"tall": (0, 1, 0)}


def test_a_lens_that_may_still_be_on_its_way_rests_when_its_time_is_over() -> None:
    story = lost()
    ends = story.core.timers.travel
    assert ends == ms(50)
    story.at(30, LensReport(moving=False, preset=None))
    assert core_of(story).timers.travel == ends


def test_a_travel_of_ours_that_is_overdue_was_not_reached() -> None:
    story = travelling()
    story.at(50, None)
    assert (story.core.lens, story.core.preset) == ("unknown", None)
    assert story.core.unreached == "tall"
    assert story.travels() == {"tall": (1, 0, 1)}


ODD = changed(
    ("orders: {answered: yes}\n", ""),
    ("tall, panels: sides", "tall"),
    ("travel: 18 s", "travel: 18001 ms"),
)
"""A lens whose travel is no even number of milliseconds: times stay whole."""


def test_the_time_of_a_travel_is_rounded_down() -> None:
    story = Story(ODD)
    story.film(10, 1.78)
    story.at(25, None)
    assert core_of(story).timers.travel == ms(23) + 27_001
    assert core_of(story).timers.echo == ms(23) + 27_001 + 18_001
    story.at(26, Resumed())
    story.at(30, LensReport(moving=True, preset="tall"))
    assert core_of(story).timers.travel == ms(30) + 27_001
    story.at(40, LensReport(moving=True, preset="broad"))
    assert core_of(story).timers.travel == ms(40) + 27_001


def test_a_lens_of_unknown_place_may_go_on_being_nowhere() -> None:
    story = Story(UNANSWERED, lens=None)
    story.at(9, LensReport(moving=False, preset=None))
    before = story.engine.state
    story.at(10, LensReport(moving=False, preset=None))
    after = story.engine.state
    heard = after.tally._replace(heard=before.tally.heard)
    assert after._replace(tally=heard) == before, "but for when it was last heard"


def test_a_preset_that_is_reached_after_all_may_be_recalled_again() -> None:
    story = travelling()
    story.at(26, Outcome(order=story.core.recall or 0, outcome="refused"))
    story.at(30, LensReport(moving=False, preset="broad"))
    assert core_of(story).unreached == "tall"
    story.at(40, LensReport(moving=False, preset="tall"))
    assert core_of(story).unreached is None


def test_a_refused_recall_leaves_the_lens_where_it_was_with_no_echo() -> None:
    story = travelling()
    assert core_of(story).timers.echo == ms(50 + 18)
    story.at(26, Outcome(order=story.core.recall or 0, outcome="refused"))
    core = story.core
    assert (core.lens, core.preset, core.origin, core.recall) == ("resting", "broad", None, None)
    assert (core.echo, core.timers.echo, core.timers.travel) == (None, None, None)


def test_a_refused_recall_of_a_lens_that_had_set_off_loses_it() -> None:
    story = travelling()
    number = story.core.recall or 0
    story.at(25, LensReport(moving=True, preset="tall"))
    story.at(26, Outcome(order=number, outcome="refused"))
    assert (core_of(story).lens, core_of(story).preset) == ("unknown", None)
    assert core_of(story).echo == "tall"
    assert story.travels() == {"tall": (1, 0, 1)}


def test_a_refused_recall_from_an_unknown_place_leaves_it_unknown() -> None:
    story = Story(BARE, lens=None)
    story.at(10, SourceChosen(source="disc"))
    story.at(10, Playback(state="stopped"))
    story.at(11, Override(taken=True, look=OverrideLook(preset="tall")))
    assert story.recalls() == ["tall"]
    story.at(12, Outcome(order=story.core.recall or 0, outcome="refused"))
    assert (core_of(story).lens, core_of(story).preset) == ("unknown", None)


def test_a_recall_that_is_done_has_arrived() -> None:
    story = travelling()
    story.at(26, Outcome(order=story.core.recall or 0, outcome="done"))
    core = story.core
    assert (core.lens, core.preset, core.origin, core.recall) == ("resting", "tall", None, None)
    assert (core.timers.travel, core.unreached) == (None, None)
    assert story.engine.state.tally.tonight == 1
    assert story.travels() == {"tall": (1, 0, 0)}


def test_a_silent_lens_arrives_by_the_clock_and_a_nameless_travel_ends_nowhere() -> None:
    story = Story(SILENT)
    story.at(10, LensReport(moving=True, preset="tall"))
    story.at(10 + 27, None)
    assert (core_of(story).lens, core_of(story).preset, core_of(story).origin) == (
        "resting",
        "tall",
        None,
    )
    story.at(100, LensReport(moving=True, preset=None))
    story.at(100 + 27, None)
    assert (core_of(story).lens, core_of(story).preset) == ("unknown", None)


def test_a_silent_lens_of_ours_counts_as_unconfirmed() -> None:
    room = changed(
        ("orders: {answered: yes}\n", ""),
        (", reports: yes}", "}"),
        ("tall, panels: sides", "tall"),
    )
    story = Story(room)
    story.film(10, 1.78)
    story.at(23, None)
    assert core_of(story).timers.travel == ms(23 + 18)
    story.at(41, None)
    assert story.travels() == {"tall": (1, 0, 1)}
    assert core_of(story).recall is None


def test_a_travel_by_hand_that_is_overdue_is_lost_but_not_counted_again() -> None:
    story = films()
    story.at(100, LensReport(moving=True, preset="tall"))
    story.at(127, None)
    assert (core_of(story).lens, core_of(story).unreached) == ("unknown", None)
    assert story.travels() == {"tall": (0, 1, 0)}
    assert story.notes()[-1] == "lens_lost"


@pytest.mark.parametrize(
    ("event", "override"),
    [
        (Mark(), "person"),
        (Service(begun=True), "rules"),
        (ProjectorReport(state="off"), "rules"),
        (ProjectorReport(state="cooling"), "rules"),
        (ProjectorReport(state="warming"), "rules"),
    ],
)
def test_who_moves_the_lens_in_service_or_without_light_takes_nothing_over(
    event: Event, override: str
) -> None:
    story = films()
    story.at(100, event)
    story.at(101, LensReport(moving=True, preset="tall"))
    assert core_of(story).override == override


@pytest.mark.parametrize(("begun", "until"), [(True, "title"), (False, "session")])
def test_an_override_by_remote_lasts_for_the_title_or_the_session(begun: bool, until: str) -> None:
    story = films()
    if not begun:
        story.at(99, Title(begun=False))
    story.at(100, LensReport(moving=True, preset="tall"))
    assert core_of(story).override_until == until


def test_an_override_by_remote_changes_only_the_preset_of_what_a_person_wants() -> None:
    story = films()
    story.at(40, Override(taken=True, look=OverrideLook(picture="whole", preset="broad")))
    story.at(100, LensReport(moving=True, preset="tall"))
    assert story.core.override_look is not None
    assert (story.core.override_look.picture, story.core.override_look.preset) == ("whole", None)
    assert story.notes().count("override_begun") == 1
