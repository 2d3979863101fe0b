"""A travel of ours is ours until the lens has ended it, whatever became of its order."""

from __future__ import annotations

import pytest

from engine.events import (
    Event,
    LensReport,
    Outcome,
    OutcomeWord,
    Override,
    OverrideLook,
    PanelReport,
    Resumed,
)
from engine.optics import on_panel
from engine.room import Room
from tests.engine.moments import BARE, core_of, ms
from tests.engine.story import SILENT, UNANSWERED, Story
from tests.engine.test_stalls import stalled

IDS = pytest.mark.parametrize("ids", [False, True], ids=["without ids", "with ids"])
RECALLED = 25
"""By this second the film's recall to `tall` has left; its time is over at second 50."""


def polled(story: Story, since: int, until: int, preset: str | None, **word: bool) -> None:
    """Report the lens each second, from one second up to another."""
    for second in range(since, until):
        number = f"poll {second}" if word.get("ids") else None
        moving = word.get("moving", False)
        story.at(second, LensReport(moving=moving, preset=preset, id=number))


def recalled(room: Room = BARE) -> Story:
    """A film of 1.78 has begun, and the lens was sent from `broad` to `tall`."""
    story = Story(room)
    story.film(10, 1.78)
    story.at(RECALLED, None)
    assert story.recalls() == ["tall"]
    return story


def outcome(story: Story, word: OutcomeWord) -> Outcome:
    """Say what became of the recall that is open."""
    assert story.core.recall is not None
    return Outcome(order=story.core.recall, outcome=word)


def once(story: Story) -> bool:
    """Tell whether one travel was counted, and the rules have the room."""
    travels = sum(ordered + by_hand for ordered, by_hand, _ in story.travels().values())
    return travels == 1 and story.core.override == "rules"


# ----------------------------------------------------------------- given up before it has set off


def wished_with_panels() -> Story:
    """The sides are fitted at `tall`, and a person wants the lens at `broad`."""
    story = Story(BARE, lens="tall", panels="sides")
    story.film(10, 1.78)
    story.at(30, None)
    assert story.core.shown is not None
    assert on_panel(BARE, story.core.shown.region, "broad", "sides")
    story.at(40, Override(taken=True, until="title", look=OverrideLook(preset="broad")))
    story.at(41, None)
    assert story.recalls() == ["broad"]
    return story


@IDS
@pytest.mark.parametrize("target", ["broad", None])
@pytest.mark.parametrize("given_up", ["no answer", "its time is over", "a restart"])
def test_a_lens_that_sets_off_after_its_order_was_given_up_takes_no_light_onto_fitted_panels(
    given_up: str, target: str | None, *, ids: bool
) -> None:
    story = wished_with_panels()
    if given_up == "no answer":
        story.at(42, outcome(story, "no answer"))
    elif given_up == "a restart":
        story.at(42, Resumed())
    polled(story, 43, 70, "tall", ids=ids)
    assert (story.core.lens, story.core.preset) == ("resting", "tall")
    story.at(70, LensReport(moving=True, preset=target, id="off" if ids else None))
    assert (core_of(story).lens, core_of(story).preset) == ("travelling", "broad")
    assert story.core.shown is not None
    assert not on_panel(BARE, story.core.shown.region, "broad", "sides")
    polled(story, 71, 80, target, ids=ids, moving=True)
    story.at(80, LensReport(moving=False, preset="broad"))
    assert story.travels() == {"broad": (1, 0, 1)}


@pytest.mark.parametrize("room", [BARE, SILENT])
def test_a_repeated_report_of_a_travel_that_ended_elsewhere_sets_the_lens_on_its_way(
    room: Room,
) -> None:
    """Whatever it is counted as: the picture has to be safe where it goes."""
    story = recalled(room)
    story.at(26, LensReport(moving=True, preset="tall"))
    story.at(28, LensReport(moving=False, preset="broad"))
    story.at(29, PanelReport(panels="open"))
    story.at(29, LensReport(moving=True, preset="tall"))
    assert (story.core.lens, story.core.preset, story.core.origin) == (
        "travelling",
        "tall",
        "broad",
    )


@IDS
@pytest.mark.parametrize("late", [Resumed(), "no answer", None], ids=["restart", "answer", "time"])
@pytest.mark.parametrize("target", ["tall", None])
def test_a_travel_that_sets_off_late_is_one_travel_and_no_override(
    late: Event | OutcomeWord | None, target: str | None, *, ids: bool
) -> None:
    """A hub reports the old preset for a while, also beyond the travel's time."""
    story = recalled()
    if late is not None:
        story.at(26, outcome(story, late) if isinstance(late, str) else late)
    polled(story, 27, 60, "broad", ids=ids)
    assert (story.core.lens, story.core.preset) == ("resting", "broad")
    polled(story, 60, 70, target, ids=ids, moving=True)
    polled(story, 70, 75, "tall", ids=ids)
    assert (core_of(story).lens, core_of(story).preset) == ("resting", "tall")
    assert once(story)


@IDS
def test_a_lens_that_arrives_late_and_was_not_heard_to_set_off_is_no_override(*, ids: bool) -> None:
    story = recalled()
    story.at(26, outcome(story, "no answer"))
    polled(story, 27, 30, "broad", ids=ids)
    polled(story, 45, 48, "tall", ids=ids)
    assert once(story)


@pytest.mark.parametrize("place", ["broad", None])
def test_a_late_travel_that_ends_elsewhere_is_nobody_s_doing(place: str | None) -> None:
    story = recalled()
    story.at(26, outcome(story, "no answer"))
    story.at(27, LensReport(moving=False, preset="broad"))
    story.at(30, LensReport(moving=True, preset=None))
    story.at(40, LensReport(moving=False, preset=place))
    assert once(story)
    assert core_of(story).lens == ("unknown" if place is None else "resting")


def test_a_lens_that_leaves_unheard_after_it_was_given_up_and_stops_nowhere_is_nobody_s_doing() -> (
    None
):
    story = recalled()
    story.at(26, outcome(story, "no answer"))
    story.at(27, LensReport(moving=False, preset="broad"))
    story.at(30, LensReport(moving=False, preset=None))
    assert core_of(story).lens == "unknown"
    assert once(story)


def test_while_a_lens_may_still_set_off_no_other_order_sends_it_anywhere() -> None:
    """A person's wish stands over a restart; the order before it may be carried out yet."""
    story = wished_with_panels()
    story.at(42, Resumed())
    story.at(43, LensReport(moving=False, preset="tall"))
    echo = story.core.timers.echo
    assert echo is not None
    story.at((echo - ms(0)) / 1_000 - 1, None)
    assert (story.recalls(), story.core.holds) == (["broad"], ("travelling",))
    story.at((echo - ms(0)) / 1_000, None)
    assert story.recalls() == ["broad", "broad"]


def test_whoever_moves_the_lens_once_that_time_is_over_overrides() -> None:
    story = recalled()
    story.at(26, outcome(story, "no answer"))
    polled(story, 27, 80, "broad")
    story.at(80, LensReport(moving=True, preset="tall"))
    assert story.core.override == "person"
    assert story.travels() == {"tall": (1, 1, 1)}


def test_whoever_sends_a_late_lens_elsewhere_overrides() -> None:
    story = Story(BARE, lens="tall")
    story.film(10, 2.39)
    story.at(RECALLED, None)
    assert story.recalls() == ["broad"]
    story.at(26, outcome(story, "no answer"))
    story.at(27, LensReport(moving=True, preset="tall"))
    assert story.core.override == "person"
    assert story.travels() == {"broad": (1, 0, 1), "tall": (0, 1, 0)}


# ------------------------------------------------------------------------------ lost on its way


@IDS
@pytest.mark.parametrize("lost", ["a restart", "no answer", "refused", "its time is over"])
def test_a_travel_without_a_target_that_is_lost_on_its_way_is_one_travel(
    lost: str, *, ids: bool
) -> None:
    story = recalled()
    polled(story, 26, 28, None, ids=ids, moving=True)
    if lost == "a restart":
        story.at(28, Resumed())
    elif lost in {"no answer", "refused"}:
        story.at(28, outcome(story, "refused" if lost == "refused" else "no answer"))
    polled(story, 29, 66, None, ids=ids, moving=True)
    assert (core_of(story).lens, core_of(story).preset) == ("travelling", "tall")
    polled(story, 66, 70, "tall", ids=ids)
    assert (core_of(story).lens, core_of(story).preset) == ("resting", "tall")
    assert once(story)


def test_a_travel_by_hand_whose_target_is_told_after_a_restart_is_one_travel() -> None:
    story = Story(BARE)
    story.at(5, LensReport(moving=True, preset=None, id="a"))
    story.at(6, Resumed())
    story.at(7, LensReport(moving=True, preset="tall", id="b"))
    story.at(15, LensReport(moving=False, preset="tall", id="c"))
    assert story.travels() == {"": (0, 0, 0), "tall": (0, 1, 0)}


def test_two_travels_by_hand_to_no_preset_with_ids_of_their_own_are_two() -> None:
    story = Story(BARE)
    for second, moving in ((5, True), (7, False), (9, True), (11, False)):
        story.at(second, LensReport(moving=moving, preset=None, id=f"{second}"))
    assert story.travels() == {"": (0, 2, 0)}


# ------------------------------------------------------------------- done as soon as it is accepted


@IDS
@pytest.mark.parametrize("target", ["tall", None])
def test_an_order_that_was_only_accepted_is_one_travel_and_no_override(
    target: str | None, *, ids: bool
) -> None:
    story = recalled(UNANSWERED)
    story.at(25.1, outcome(story, "done"))
    story.at(25.2, LensReport(moving=False, preset="broad", id="still" if ids else None))
    assert (story.core.lens, story.core.origin) == ("travelling", "broad")
    polled(story, 26, 29, "broad", ids=ids)
    assert core_of(story).lens == "travelling"
    polled(story, 29, 40, target, ids=ids, moving=True)
    polled(story, 40, 45, "tall", ids=ids)
    assert (core_of(story).lens, core_of(story).preset) == ("resting", "tall")
    assert once(story)


@pytest.mark.parametrize("place", ["broad", None])
def test_an_accepted_order_by_which_the_lens_ends_elsewhere_is_nobody_s_doing(
    place: str | None,
) -> None:
    story = recalled()
    story.at(25.1, outcome(story, "done"))
    story.at(26, LensReport(moving=True, preset="tall"))
    story.at(35, LensReport(moving=False, preset=place))
    assert core_of(story).missed == "tall" or story.recalls() == ["tall", "tall"]
    assert story.core.override == "rules"


def test_an_accepted_order_that_nothing_comes_of_is_not_given_for_ever() -> None:
    """Nor for a person, whose wish knows no pace."""
    story = wished_with_panels()
    story.at(42, outcome(story, "done"))
    polled(story, 43, 300, "tall")
    assert (story.core.lens, story.core.unreached) == ("resting", "broad")
    assert story.recalls() == ["broad"]


def test_an_order_that_never_left_is_awaited_no_more() -> None:
    """It is given again at once, and not only when nothing can come of the first any more."""
    story = recalled()
    story.at(60, None)
    story.at(61, LensReport(moving=False, preset="broad"))
    stalled(story, 62, Resumed(stalled=True, unsent=("recall",)))
    assert story.recalls() == ["tall", "tall"]
