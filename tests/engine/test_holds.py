"""Each hold keeps what is wanted from being ordered, by itself; without it the order goes.

An evening is led to the moment at which a wish is ripe. Then one thing stands in the way.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, get_args

import pytest

from engine import RoomEngine
from engine.decisions import CueOrder, Decision, Note, PictureOrder, Prompt, RecallOrder
from engine.events import (
    FindLens,
    LensReport,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    Playback,
    SourceChosen,
)
from engine.holds import HOLDS, NOTED, HoldCode
from engine.reconcile import FLASH, ONCE_AND_BACK
from engine.room import Room, Show
from engine.state import PendingPrompt, State
from rules.room.load import load
from simulator.shipped import CELLAR
from tests.engine.meetings import START
from tests.engine.moments import BARE
from tests.engine.story import HAYLOFT, UNANSWERED, Story, changed, shape

ALWAYS_PANELS = changed(
    ("orders: {answered: yes}\n", ""), ("{aspect: flat, helper: not(refused)}", "{aspect: flat}")
)
"""A hub that says nothing of orders, and rules that ask for panels even if nobody is free."""
RIPE = 23.0
"""The second at which a wish of a film's that began at the tenth has stood for its twelve."""


def waiting(room: Room = BARE, *, lens: str = "broad", panels: str = "open") -> State:
    """Give an evening a moment before its wish is ripe: a film at 1.78 wants the lens at `tall`."""
    story = Story(room, lens=lens, panels=panels)
    story.film(10, 1.78)
    story.at(RIPE - 0.1, None)
    assert not story.recalls()
    assert not story.prompts()
    return story.engine.state


def but(state: State, timers: dict[str, int | None] | None = None, **core: Any) -> State:  # noqa: ANN401
    """Change what the engine remembers, and when what falls due."""
    new = state.core.copy()
    for name, value in core.items():
        assert hasattr(new, name)
        setattr(new, name, value)
    new.timers = new.timers._replace(**timers or {})
    return state._replace(core=new, due=new.timers.next())


def ripened(room: Room, state: State, second: float = RIPE) -> tuple[RoomEngine, list[Decision]]:
    """Let the wish become ripe."""
    engine = RoomEngine(room, state)
    return engine, [*engine.receive(None, START + round(second * 1_000)).decisions]


def recalls(made: list[Decision]) -> list[str]:
    return [one.preset for one in made if isinstance(one, RecallOrder)]


def prompts(made: list[Decision]) -> list[str]:
    return [one.panels for one in made if isinstance(one, Prompt)]


def later(seconds: float) -> int:
    return START + round((RIPE + seconds) * 1_000)


TRAVELS: dict[HoldCode, dict[str, Any]] = {
    "travelling": {"lens": "travelling", "origin": "tall", "timers": {"travel": later(30)}},
    "at_screen": {
        "asked": PendingPrompt(7, "sides", at_screen=True),
        "timers": {"give_up": later(500)},
    },
    "paused": {"playback": "paused", "timers": {"pause": later(900)}},
    "lens_unknown": {"lens": "unknown", "preset": None},
    "first_minutes": {"timers": {"first_minutes": None}},
    "per_title": {"left_title": 0},
    "per_night": {"left_night": 0},
    "put_back": {"put_back": (("disc", 17_778),)},
    "unreached": {"unreached": "tall"},
    "circle": {"recalls": ONCE_AND_BACK},
    "linger": {"timers": {"linger": later(1)}},
}
"""What keeps the lens from travelling: what is so then, beside a wish that is ripe."""


def test_with_nothing_in_the_way_the_lens_travels_when_the_wish_is_ripe() -> None:
    engine, made = ripened(BARE, waiting())
    assert recalls(made) == ["tall"]
    assert engine.state.core.holds == ()


@pytest.mark.parametrize("code", TRAVELS)
def test_each_of_these_alone_keeps_the_lens_where_it_is(code: HoldCode) -> None:
    engine, made = ripened(BARE, but(waiting(), **TRAVELS[code]))
    assert recalls(made) == []
    assert code in engine.state.core.holds


def test_while_a_travel_may_still_be_under_way_no_lens_of_unknown_place_is_sent_off() -> None:
    """After a restart in mid-travel, say, not even where nothing plays and a person asks for it."""
    idle = but(
        waiting(),
        {"travel": later(30), "linger": None},
        playback="stopped",
        lens="unknown",
        preset=None,
        override="person",
        override_look=Show(preset="tall"),
        ripe=True,
    )
    wish = Mark(words="nothing happens")
    held = RoomEngine(BARE, idle)
    assert recalls([*held.receive(wish, later(0)).decisions]) == []
    assert "lens_unknown" in held.state.core.holds
    over = RoomEngine(BARE, but(idle, {"travel": None}))
    assert recalls([*over.receive(wish, later(0)).decisions]) == ["tall"]


def test_panels_that_have_to_come_off_keep_the_lens_where_it_is() -> None:
    """The film at 2.39 wants the panels off and the lens at broad: the panels first."""
    story = Story(UNANSWERED, lens="tall", panels="sides")
    story.film(10, 2.39)
    story.at(60, None)
    assert story.recalls() == []
    assert "panels" in story.core.holds
    assert story.prompts() == [("open", "asked")]
    bare = Story(UNANSWERED, lens="tall")
    bare.film(10, 2.39)
    bare.at(60, None)
    assert bare.recalls() == ["broad"]


def test_the_lens_waits_for_whoever_was_asked_to_see_to_the_panels() -> None:
    state = but(
        waiting(UNANSWERED),
        asked=PendingPrompt(7, "sides"),
        panels="asked",
        timers={"remind": later(100), "give_up": later(500)},
    )
    engine, made = ripened(UNANSWERED, state)
    assert recalls(made) == []
    assert "asked" in engine.state.core.holds


def test_the_lens_and_the_panels_wait_for_a_picture_that_was_not_confirmed_yet() -> None:
    """What stood before may still stand, and lie where the lens would send it."""
    engine, made = ripened(HAYLOFT, but(waiting(HAYLOFT), picture=99))
    assert recalls(made) == prompts(made) == []
    assert engine.state.core.holds == ("travel_first", "picture")
    _, made = ripened(HAYLOFT, waiting(HAYLOFT))
    assert recalls(made) == ["tall"]


THREE = changed(
    ("orders: {answered: yes}\n", ""),
    ("  tall: {fits: 1.78}\n", "  tall: {fits: 1.78}\n  middle: {fits: 2.00}\n"),
)
"""A third preset, whose raster is larger than that of `tall` and smaller than that of `broad`."""


@pytest.mark.parametrize(("preset", "smaller"), [("middle", 0.948), ("broad", 0.79)])
def test_the_picture_draws_back_as_far_as_the_way_needs_before_the_lens_travels(
    preset: str, smaller: float
) -> None:
    """The side panels stay; a picture that has just changed keeps the lens for a moment."""
    story = Story(THREE, lens="tall", panels="sides")
    story.film(10, 1.5)
    story.at(40, None)
    plain = story.of(PictureOrder)[-1].region.width
    story.at(50, Override(taken=True, look=OverrideLook(picture="whole")))
    story.at(50.1, Override(taken=True, look=OverrideLook(picture="plain", preset=preset)))
    assert story.recalls() == []
    assert story.core.holds == ("flash", "picture")
    story.at(50.4, None)
    assert story.recalls() == [preset]
    assert story.of(PictureOrder)[-1].region.width == pytest.approx(plain * smaller, abs=1)


def test_a_picture_that_cannot_be_drawn_back_keeps_the_lens_where_panels_stand() -> None:
    story = Story(HAYLOFT, lens="tall", panels="sides")
    story.film(10, 1.78)
    story.at(12, None)
    story.done(12)
    story.at(50, Override(taken=True, look=OverrideLook(preset="broad")))
    assert story.core.picture is not None
    story.at(51, Outcome(order=story.core.picture, outcome="refused"))
    story.at(60, None)
    assert story.core.failed
    assert story.recalls() == []
    assert "picture" in story.core.holds


def test_a_wish_for_panels_has_to_stand_anew_once_the_lens_is_sent_off() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(24, None)
    assert story.recalls() == ["tall"]
    assert not story.core.ripe
    assert story.core.timers.linger == START + 35_000


def test_panels_that_are_only_fitted_do_not_keep_the_lens_though_others_could_be_removed() -> None:
    """No panels are fitted, so none come off: it does not matter that a smaller opening exists."""
    small = ("  sides: {opening", "  narrow: {opening: 1.40, moved: by hand}\n  sides: {opening")
    story = Story(changed(("orders: {answered: yes}\n", ""), small))
    story.film(10, 1.78)
    story.at(RIPE, None)
    assert story.recalls() == ["tall"]
    assert story.prompts() == [], "nobody is asked before the lens has gone"


ASKS: dict[HoldCode, dict[str, Any]] = {
    "helper": {"panels": "refused"},
    "mid_title": {"timers": {"first_minutes": None}},
    "travelling": {"lens": "travelling", "origin": "broad", "timers": {"travel": later(30)}},
    "circle": {"asks": ONCE_AND_BACK},
    "linger": {"timers": {"linger": later(1)}},
}
"""What keeps people from being asked to fit panels: what is so then."""


def test_with_nothing_in_the_way_people_are_asked_when_the_wish_is_ripe() -> None:
    _, made = ripened(ALWAYS_PANELS, waiting(ALWAYS_PANELS, lens="tall"))
    assert prompts(made) == ["sides"]


def test_a_pause_is_a_good_moment_to_ask_even_in_mid_title() -> None:
    so: dict[str, Any] = {
        "playback": "paused",
        "timers": {"pause": later(900), "first_minutes": None},
    }
    _, made = ripened(ALWAYS_PANELS, but(waiting(ALWAYS_PANELS, lens="tall"), **so))
    assert prompts(made) == ["sides"]


MENUS = "show: {picture: whole, lift: 0 %, cues: {lamps: full}}"
WITH_PANELS = changed(
    ("orders: {answered: yes}\n", ""),
    ("{aspect: flat, helper: not(refused)}", "{aspect: flat}"),
    (MENUS, MENUS.replace("lift", "panels: sides, lift")),
)
"""The same, with the side panels for menus as well."""


@pytest.mark.parametrize("so", [{"title": False}, {"playback": "unknown"}])
def test_no_lens_travels_in_what_may_be_a_film_still(so: dict[str, Any]) -> None:
    room = changed(
        ("orders: {answered: yes}\n", ""),
        ("tall, panels: sides", "tall"),
        (MENUS, MENUS.replace("lift", "preset: tall, lift")),
    )
    engine, made = ripened(room, but(waiting(room), {"first_minutes": None}, **so))
    assert recalls(made) == []
    assert engine.state.core.holds == ("first_minutes",)


@pytest.mark.parametrize("so", [{"title": False}, {"playback": "unknown"}])
def test_nobody_is_sent_out_of_what_may_be_a_film_still(so: dict[str, Any]) -> None:
    """It plays past its title's end, or nobody says whether it plays."""
    waits = but(waiting(WITH_PANELS, lens="tall"), {"first_minutes": None}, **so)
    engine, made = ripened(WITH_PANELS, waits)
    assert prompts(made) == []
    assert engine.state.core.holds == ("mid_title",)
    _, made = ripened(WITH_PANELS, but(waiting(WITH_PANELS, lens="tall")))
    assert prompts(made) == ["sides"]


@pytest.mark.parametrize("code", ASKS)
def test_each_of_these_alone_keeps_people_in_their_seats(code: HoldCode) -> None:
    engine, made = ripened(ALWAYS_PANELS, but(waiting(ALWAYS_PANELS, lens="tall"), **ASKS[code]))
    assert prompts(made) == []
    assert code in engine.state.core.holds


def test_a_large_change_of_the_picture_waits_for_a_third_of_a_second_since_the_last() -> None:
    """At most three a second."""
    story = Story(BARE)
    story.film(10, 2.39)
    story.at(40, Playback(state="stopped"))
    assert story.pictures()[-1] == "whole"
    story.at(40.1, Playback(state="playing"))
    assert "flash" in story.core.holds
    story.at(40 + (FLASH - 1) / 1_000, None)
    assert story.pictures()[-1] == "whole"
    story.at(40 + FLASH / 1_000, None)
    assert story.pictures()[-1] == "plain"
    assert "flash" not in story.core.holds


@pytest.mark.parametrize(
    ("code", "so"),
    [
        ("no_source", {"source": None}),
        ("service", {"service": True}),
        ("projector", {"projector": "warming"}),
        ("projector", {"projector": "cooling"}),
        ("projector", {"projector": "off"}),
    ],
)
def test_without_a_source_light_or_while_a_technician_works_nothing_is_ordered(
    code: HoldCode, so: dict[str, Any]
) -> None:
    engine, made = ripened(BARE, but(waiting(), **so))
    assert [one for one in made if isinstance(one, RecallOrder | PictureOrder | CueOrder)] == []
    assert engine.state.core.holds == (code,)


def test_a_picture_that_cannot_be_shown_gives_way_to_the_nearest() -> None:
    story = Story(UNANSWERED, lens="tall")
    story.film(10, 2.20)
    story.at(14, None)
    if "nearest" not in story.core.holds:
        story.at(100, shape(2.20))
    assert "nearest" in story.core.holds
    assert story.core.shown is not None
    assert story.core.shown.picture == "plain"


def test_a_wish_that_would_distort_a_menu_says_why_it_waits() -> None:
    story = Story(UNANSWERED)
    story.at(10, SourceChosen(source="disc"))
    story.at(20, Override(taken=True, look=OverrideLook(picture="cropped")))
    assert "menu" in story.core.holds
    assert story.pictures()[-1] == "whole"  # A menu has not the film's shape: nothing is cut.
    story.at(30, Override(taken=True, look=OverrideLook(picture="whole")))
    assert "menu" not in story.core.holds
    assert story.pictures()[-1] == "whole"


@pytest.mark.parametrize("code", sorted({*NOTED} & {*ASKS, *TRAVELS}))
def test_what_is_worth_a_note_is_noted_once(code: HoldCode) -> None:
    if code in TRAVELS:
        room, state = BARE, but(waiting(), **TRAVELS[code])
    else:
        room, state = ALWAYS_PANELS, but(waiting(ALWAYS_PANELS, lens="tall"), **ASKS[code])
    engine, made = ripened(room, state)
    assert [one.code for one in made if isinstance(one, Note)].count(code) == 1
    again = engine.receive(Mark(words="why does nothing happen?"), later(5)).decisions
    assert code in engine.state.core.holds
    assert code not in [one.code for one in again if isinstance(one, Note)]


BOTH: dict[HoldCode, dict[str, Any]] = {
    "travelling": TRAVELS["travelling"],
    "circle": {"recalls": ONCE_AND_BACK, "asks": ONCE_AND_BACK},
    "linger": TRAVELS["linger"],
}


@pytest.mark.parametrize("code", BOTH)
def test_what_keeps_back_lens_and_panels_alike_is_named_once_and_noted_once(code: HoldCode) -> None:
    engine, made = ripened(ALWAYS_PANELS, but(waiting(ALWAYS_PANELS), **BOTH[code]))
    assert engine.state.core.holds.count(code) == 1
    assert [one.code for one in made if isinstance(one, Note)].count(code) == (code in NOTED)


def test_whoever_wants_all_left_as_it_stands_is_told_that_nobody_knows_which_picture_does() -> None:
    story = Story()
    story.film(10, 2.39)
    story.at(12, None)
    assert story.core.picture is not None
    story.at(13, Outcome(order=story.core.picture, outcome="refused"))
    story.at(14, Override(taken=True, until="session"))
    before = len(story.pictures())
    story.at(200, None)
    assert len(story.pictures()) == before
    assert "left_alone" in story.core.holds


def test_every_hold_has_a_sentence_and_stands_here() -> None:
    """A new hold fails here until it has a test."""
    text = Path(__file__).read_text("utf-8")
    assert {*get_args(HoldCode)} == {*HOLDS}
    for code in HOLDS:
        assert f'"{code}"' in text


def test_a_lens_between_its_presets_is_offered_to_be_found_once_nothing_plays() -> None:
    """Whoever moved it there by remote is not fought; the next film shall not be stuck with it."""
    story = Story(BARE)
    story.film(10, 2.39)
    story.at(30, LensReport(moving=False, preset=None))
    assert "lens_nowhere" not in story.core.holds
    story.at(600, Playback(state="stopped"))
    assert "lens_nowhere" in story.core.holds
    assert story.notes().count("lens_nowhere") == 1
    story.at(610, FindLens())
    assert story.recalls() == ["broad"]
    story.at(611, LensReport(moving=True, preset="broad"))
    story.at(620, LensReport(moving=False, preset="broad"))
    assert (story.core.override, story.core.holds) == ("rules", ())


def test_a_lens_that_never_moves_is_not_looked_for() -> None:
    story = Story(load(CELLAR.read_text("utf-8"), CELLAR.name), lens=None)
    story.at(10, SourceChosen(source="disc"))
    story.at(10, Playback(state="stopped"))
    assert story.core.lens == "unknown"
    assert "lens_nowhere" not in story.core.holds
