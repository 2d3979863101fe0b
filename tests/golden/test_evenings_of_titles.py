"""What moves, and when, in an evening: told of the golden nights that are about it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from engine import RoomEngine
from engine.decisions import CueOrder, Decision, Note, PictureOrder, Prompt, PromptOver, RecallOrder
from engine.events import Event, Playback, SourceChosen
from engine.room import Room
from rules.room.load import load
from simulator.nights.night_file import BadLine
from simulator.nights.replay import replay
from simulator.nights.stand_in_hub import Hub, Person, TimedEvent, play_script
from simulator.shipped import CELLAR, DEMO_ROOM, LONGROOM
from tests.golden.evenings import BEGINS
from tests.golden.scenes import episodes
from tests.golden.test_golden_nights import after, of, opened, played


def recalls(decisions: list[Decision]) -> list[tuple[int, str]]:
    """Give the recalls: after how many seconds, and of which preset."""
    return [(seconds(one), one.preset) for one in of(decisions, RecallOrder)]


def asked(decisions: list[Decision]) -> list[tuple[int, str]]:
    """Give the prompts as they were first sent: after how many seconds, for which panels."""
    prompts = of(decisions, Prompt)
    return [(seconds(one), one.panels) for one in prompts if one.stage == "asked"]


def seconds(decision: Decision) -> int:
    """Give the whole seconds from the night's begin to a decision."""
    return (decision.at - BEGINS) // 1_000


def between(decisions: list[Decision], begins: float, ends: float) -> list[Decision]:
    """Give what was decided after one second of the night and before another."""
    return [one for one in after(decisions, begins) if one.at < BEGINS + ends * 1_000]


def test_a_declared_film_behind_an_ident_takes_one_travel_and_asks_once() -> None:
    """Asked during the ident, for the film's shape; the lens goes as soon as the panels are off."""
    decisions = played("ident")
    assert asked(decisions) == [(75, "open")]
    assert [one.how for one in of(decisions, PromptOver)] == ["done"]
    assert recalls(decisions) == [(135, "broad")]
    last = of(between(decisions, 100, 3_000), PictureOrder)[-1]
    assert (last.picture, last.aspect) == ("plain", 2.39)


def test_a_named_film_ends_at_full_size_whatever_played_before_it() -> None:
    """After trailers of two shapes, and after three minutes of a menu that "plays"."""
    decisions = played("trailers")
    for begins, ends in ((400, 3_000), (3_210, 5_400)):
        film = between(decisions, begins, ends)
        assert [preset for _, preset in recalls(film)] == ["broad"]
        assert [panels for _, panels in asked(film)] == ["open"]
        last = of(film, PictureOrder)[-1]
        assert (last.picture, last.aspect, last.region.width) == ("plain", 2.39, 4_096)


def test_idents_of_three_shapes_make_no_film_that_changes_its_shape() -> None:
    """Each is shown as it is; lens and people are left alone, and scope fills the screen."""
    decisions = played("idents")
    assert recalls(decisions) == asked(decisions) == []
    shown = [(seconds(one), one.picture, one.aspect) for one in of(decisions, PictureOrder)]
    assert shown == [
        (45, "whole", 1.7778),
        (100, "plain", 2.39),
        (114, "plain", 1.85),
        (131, "plain", 2.39),
        (6_000, "whole", 1.7778),
    ]
    assert of(decisions, PictureOrder)[3].region.width == 4_096
    assert not any(one.facts["varies"] for one in decisions)


def test_a_film_behind_a_hundred_seconds_of_black_has_its_whole_look() -> None:
    """Lens, panels and lamps, as if the black had not been; in it nothing moves."""
    decisions = played("black")
    assert recalls(decisions) == [(220, "tall"), (6_524, "broad")]
    assert asked(decisions) == [(265, "sides"), (6_464, "open")]
    assert lamps(between(decisions, 0, 6_050)) == [(45, "full"), (75, "low"), (6_020, "full")]
    last = of(between(decisions, 200, 6_000), PictureOrder)[-1]
    assert (last.picture, last.aspect, last.region.height) == ("plain", 1.7778, 2_160)
    assert last.facts["panels"] == "sides"


def test_a_pause_uses_up_no_first_minutes_and_is_the_time_to_ask_for_panels() -> None:
    """In a pause the lens waits; where it is not in the way, panels are asked for meanwhile."""
    decisions = played("early-pause")
    assert recalls(between(decisions, 75, 2_400)) == [(273, "tall")]
    assert asked(between(decisions, 75, 2_400)) == [(318, "sides")]
    assert asked(between(decisions, 2_700, 4_800)) == [(2_770, "open")]
    assert recalls(between(decisions, 2_700, 4_800)) == [(3_318, "broad")]


@pytest.mark.parametrize("name", ["autoplay", "autoplay-longroom"])
def test_from_one_episode_to_the_next_lamps_and_picture_stay(name: str) -> None:
    """No travel, no prompt and no change of size: idents, episodes and gaps are shown alike."""
    decisions = played(name)
    assert recalls(decisions) == []
    assert asked(decisions) == []
    assert lamps(decisions) == [(45, "full"), (90, "low"), (6_102, "full")]
    assert [seconds(one) for one in of(decisions, PictureOrder)] == [45]


KNOWN = 1_590
"""When the second episode begins, of which it is known how it goes, in seconds."""
AT_THE_CUT = 1
"""Seconds within which a change of size belongs to the cut to what is shown anew."""


@pytest.mark.parametrize("name", ["known-series", "known-series-longroom"])
def test_once_a_series_is_known_no_episode_changes_its_size_while_it_is_watched(name: str) -> None:
    """The film takes its place at the cut from the ident, as high as that, and keeps it.

    In the first episode it is small for four seconds: it might be a dark scene of the ident.
    """
    decisions = played(name)
    assert recalls(decisions) == asked(decisions) == []
    assert lamps(decisions) == [(45, "full"), (90, "low"), (6_102, "full")]
    first = of(between(decisions, 90, 1_500), PictureOrder)
    assert [(seconds(one), one.aspect) for one in first] == [(125, 2.39)]
    pictures = of(between(decisions, KNOWN, 6_100), PictureOrder)
    cuts = [90 + number * 1_500 + cut for number in (1, 2, 3) for cut in (31, 1_492)]
    assert len(pictures) == len(cuts)
    assert all(
        0 <= seconds(one) - cut < AT_THE_CUT for one, cut in zip(pictures, cuts, strict=True)
    )
    heights = [one.region.height for one in pictures]
    assert max(heights) - min(heights) <= max(heights) // 100


@pytest.mark.parametrize("path", [DEMO_ROOM, LONGROOM, CELLAR], ids=lambda one: one.stem)
@pytest.mark.parametrize("ratio", [1.333, 1.85, 2.0, 2.2, 2.35, 2.39, 2.55])
def test_so_it_is_with_series_of_every_shape_in_every_shipped_room(
    path: Path, ratio: float
) -> None:
    """Whatever the lens or people are sent for is over with the first episode."""
    room = load(path.read_text("utf-8"), path.name)
    script = (
        TimedEvent(BEGINS + round(t * 1_000), in_room(event, room)) for t, event in episodes(ratio)
    )
    lived = play_script(RoomEngine(room), Hub(room, Person()), script)
    decisions = [decision for one in lived for decision in one.decisions]
    known = between(decisions, KNOWN + 2, 6_000)
    assert recalls(known) == asked(known) == []
    cuts = [90 + number * 1_500 + cut for number in (1, 2, 3) for cut in (0, 31, 1_492)]
    for one in of(known, PictureOrder):
        assert any(-1 <= seconds(one) - cut <= AT_THE_CUT for cut in cuts), one


def in_room(event: Event, room: Room) -> Event:
    """Let the one source of a room play that of the streamer in another."""
    if isinstance(event, SourceChosen | Playback) and event.source not in room.sources:
        return replace(event, source="disc")
    return event


def lamps(decisions: list[Decision]) -> list[tuple[int, str]]:
    """Give the orders to the lamps: after how many seconds, and how bright."""
    return [(seconds(one), one.value) for one in of(decisions, CueOrder) if one.cue == "lamps"]


def test_photographs_move_nothing_and_the_lamps_stand_at_half() -> None:
    """Four shapes in turn are shown whole; the film after them has its own look."""
    decisions = played("slideshow")
    assert lamps(decisions) == [
        (45, "full"),
        (60, "half"),
        (1_150, "full"),
        (1_200, "low"),
        (4_020, "full"),
    ]
    assert of(between(decisions, 60, 1_200), PictureOrder) == []
    assert recalls(decisions) == []
    assert asked(decisions) == []
    film = of(between(decisions, 1_200, 4_000), PictureOrder)
    assert [(one.picture, one.aspect) for one in film] == [("plain", 2.39)]


def test_nobody_leaves_the_guests_to_fit_panels() -> None:
    """The lens goes all the same; with the next film, when they have gone, somebody is asked."""
    decisions = played("guests")
    assert recalls(decisions) == [(120, "tall")]
    assert asked(decisions) == [(5_760, "sides")]


def test_a_match_is_watched_with_lamps_at_half_and_nothing_moves_in_it() -> None:
    """Neither a spot in another shape nor old pictures at half-time; the lens goes once."""
    decisions = played("match")
    assert lamps(decisions) == [(45, "full"), (90, "half"), (6_420, "full")]
    assert recalls(decisions) == [(193, "tall")]
    assert asked(decisions) == []
    pictures = of(decisions, PictureOrder)
    assert {one.picture for one in pictures} == {"whole"}
    assert of(between(decisions, 210, 6_400), PictureOrder) == []


def test_once_the_owner_has_put_the_zoom_back_it_is_left_at_every_further_episode() -> None:
    decisions = played("put-back")
    assert recalls(decisions) == [(135, "tall")]
    begun = [one for one in of(decisions, Note) if one.code == "override_begun"]
    assert [seconds(one) for one in begun] == [270]
    left = [one for one in of(decisions, Note) if one.code == "put_back"]
    assert [seconds(one) for one in left] == [1_590, 3_090]
    # That the first minutes are over is no news where nothing would move in them either.
    assert "first_minutes" not in {one.code for one in of(decisions, Note)}
    assert len(asked(decisions)) == 1


def test_a_match_goes_on_after_the_console_without_another_travel() -> None:
    """Neither a game at half-time nor a slip of five seconds moves lens or picture."""
    decisions = played("half-time")
    assert recalls(decisions) == [(135, "tall")]
    assert of(between(decisions, 200, 6_400), PictureOrder) == []
    assert asked(between(decisions, 4_500, 6_400)) == []
    assert lamps(decisions) == [(45, "full"), (90, "low"), (6_420, "full")]


def test_a_no_to_a_match_outlasts_the_console_at_half_time() -> None:
    """Somebody was asked once; after the console and the slip the `no` still holds."""
    assert len(asked(played("half-time"))) == 1


def test_a_series_is_shown_the_next_evening_as_it_was_chosen_until_that_is_forgotten() -> None:
    """Its long ident moves neither lens nor anybody, for its shape is remembered too."""
    decisions = played("second-evening")
    first, second = between(decisions, 0, 80_000), after(decisions, 80_000)
    assert [one.picture for one in of(first, PictureOrder)] == ["whole", "gentle", "plain", "whole"]
    assert [(one.code, one.parameters) for one in of(second, Note)] == [
        ("title_remembered", {"by": "series", "shape": "2.20"}),
        ("override_begun", {"why": "last_time"}),
        ("override_ended", {"why": "forgotten"}),
    ]
    assert [one.picture for one in of(second, PictureOrder)] == [
        *("whole", "plain"),
        *("gentle", "whole"),
    ]
    assert recalls(decisions) == asked(decisions) == []


def test_a_lens_that_knows_no_place_after_a_power_cut_is_nobodys_doing() -> None:
    """Picture and lamps go on, a stop offers to find it, and whoever takes that has it back."""
    decisions = played("power-cut")
    said = of(between(decisions, 0, 4_200), Note)
    assert [(seconds(one), one.code) for one in said] == [
        (1_842, "lens_unknown"),
        (1_846, "lens_nowhere"),
        (1_900, "lens_unknown"),
        (4_000, "lens_nowhere"),
        (4_060, "override_begun"),
        (4_075, "override_ended"),
    ]
    assert recalls(decisions) == [(4_060, "broad")]
    assert of(after(decisions, 4_200), Note) == []
    for begins, ends in ((1_900, 4_000), (4_200, 6_000)):
        film = between(decisions, begins - 0.5, ends)
        assert [one.aspect for one in of(film, PictureOrder)] == [2.39]
        assert [one.value for one in of(film, CueOrder)] == ["low"]


def test_no_other_phone_lights_the_picture_on_somebody_at_the_screen() -> None:
    """One says `ready`, the other `no`, at once and later: it is dark until the first is done."""
    decisions = played("two-phones")
    pictures = [(seconds(one), one.picture) for one in of(decisions, PictureOrder)]
    assert [one for one in pictures if 195 <= one[0] < 2_400] == [(200, "dark"), (260, "plain")]
    _, engine, lines = opened("two-phones")
    happenings = [one for one in replay(engine, lines) if not isinstance(one, BadLine)]
    refused = [one.refused.code for one in happenings if one.refused is not None]
    assert refused == ["at_screen"] * 3


def test_upright_footage_moves_nothing_and_a_dark_film_behind_credits_has_its_lens() -> None:
    """The footage is placed as high as the menu before it, and nobody is sent for either."""
    decisions = played("upright")
    before = between(decisions, 45, 1_000)
    assert not [one for one in before if not isinstance(one, CueOrder | PictureOrder)]
    menu, footage, again = of(decisions, PictureOrder)[:3]
    assert (footage.aspect, footage.facts["aspect"]) == (0.5625, 1.0)
    assert (footage.region.top, footage.region.height) == (menu.region.top, menu.region.height)
    assert (again.picture, again.region) == (menu.picture, menu.region)
    assert recalls(decisions) == [(1_251, "tall")]
    assert asked(decisions) == [(1_296, "sides")]


def test_whoever_wants_the_lens_so_has_menus_and_later_films_whole() -> None:
    """The lift was for the lines of a film that is over, and its shape is not its menu's."""
    decisions = played("own-lens")
    shown = [
        (seconds(one), one.picture, round(one.aspect, 2), one.lift)
        for one in of(after(decisions, 200), PictureOrder)
    ]
    assert shown == [
        (309, "plain", 2.39, 0.11),
        (3_000, "plain", 1.78, 0.0),
        (3_106, "plain", 1.85, 0.0),
        (3_400, "cropped", 1.85, 0.0),
        (6_000, "whole", 1.78, 0.0),
    ]
    assert not of(decisions, Prompt)
    assert not of(decisions, RecallOrder)
