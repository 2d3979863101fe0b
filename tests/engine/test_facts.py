"""What rules and promises may look at: each fact, the values it may have, and how it is written."""

from __future__ import annotations

import pytest

from engine.aspect import NARROWEST, WIDEST
from engine.events import (
    LensReport,
    PanelReport,
    Playback,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
)
from engine.facts import (
    Facts,
    facts_of,
    facts_of_title,
    in_title,
    may_be_menu,
    readable_facts,
    room_columns,
    standing_columns,
    standing_of,
    told_column,
)
from engine.room import Told
from engine.table import Column
from engine.value_set import Kind
from tests.engine.moments import BARE, films, travelling
from tests.engine.story import HAYLOFT, UNANSWERED, Story, changed, shape

# ------------------------------------------------------------------------------------- columns


def ratio(name: str) -> Column:
    return Column(name, Kind.RATIO, unknown=True, least=NARROWEST, most=WIDEST)


def truth(name: str, *, unknown: bool = False) -> Column:
    return Column(name, Kind.TRUTH, unknown=unknown)


def word(name: str, *words: str, unknown: bool = False) -> Column:
    return Column(name, Kind.NAME, words, unknown=unknown)


def test_the_rules_of_the_hayloft_may_look_at_just_these_facts() -> None:
    """`check` looks for gaps in just these values: one too few would hide a gap."""
    assert room_columns(HAYLOFT) == (
        word("source", "disc", "streamer", "console", unknown=True),
        word("playback", "playing", "paused", "stopped", "unknown"),
        ratio("aspect"),
        ratio("declared"),
        ratio("tallest"),
        truth("varies"),
        truth("subtitles"),
        truth("doubtful"),
        truth("first_minutes"),
        word("preset", "broad", "tall", unknown=True),
        word("panels", "open", "sides", unknown=True),
        word("helper", "free", "asked", "refused"),
        Column("time", Kind.MINUTE, unknown=True, least=0, most=24 * 60 - 1),
        word("range", "standard", "high", unknown=True),
        truth("three_d", unknown=True),
        truth("guests", unknown=True),
    )


def test_promises_may_look_at_how_things_stand_besides() -> None:
    standing = (
        word("picture", "plain", "gentle", unknown=True),
        Column("lift", Kind.SHARE, unknown=True, least=0, most=5_000),
        truth("travelling"),
        word("override", "rules", "person"),
    )
    assert standing_columns(("plain", "gentle")) == standing
    assert standing_columns(("plain", "gentle"), {"lamps": ("full", "low")}) == (
        *standing,
        word("cue lamps", "full", "low", unknown=True),
    )


@pytest.mark.parametrize(
    ("told", "column"),
    [
        (
            Told("seats", (), 2, 12, None),
            Column("seats", Kind.NUMBER, (), unknown=True, least=2, most=12),
        ),
        (Told("seats", (), 2, 12, 4), Column("seats", Kind.NUMBER, (), least=2, most=12)),
        (Told("guests", (True, False), None, None, None), truth("guests", unknown=True)),
        (Told("guests", (True, False), None, None, False), truth("guests")),
        (Told("mood", ("calm", "x"), None, None, None), word("mood", "calm", "x", unknown=True)),
        (Told("mood", ("calm", "x"), None, None, "x"), word("mood", "calm", "x")),
    ],
    ids=lambda given: "" if isinstance(given, Column) else f"{given.name} at first {given.default}",
)
def test_a_told_fact_is_never_unknown_where_the_room_says_what_it_is_at_first(
    told: Told, column: Column
) -> None:
    assert told_column(told) == column


# -------------------------------------------------------------------------------------- values


def facts(story: Story) -> Facts:
    return facts_of(story.room, story.core, story.engine.state.settling)


def test_a_pause_that_lasts_too_long_is_a_stop_to_the_rules() -> None:
    story = films()
    story.at(40, Playback(state="paused"))
    assert facts(story)["playback"] == "paused"
    story.at(40 + UNANSWERED.pace.pause / 1_000, None)
    assert facts(story)["playback"] == "stopped"


def test_what_plays_outside_a_title_is_a_menu_where_the_source_says_titles() -> None:
    """It has the shape of that source's menus, until a title begins."""
    story = Story(UNANSWERED)
    story.film(10, 2.39, "streamer")
    story.at(20, None)
    assert (facts(story)["playback"], facts(story)["aspect"]) == ("stopped", 17_800)
    story.at(21, Title(begun=True))
    assert (facts(story)["playback"], facts(story)["aspect"]) == ("playing", 23_900)


def test_a_source_without_a_shape_for_its_menus_keeps_the_one_that_was_read() -> None:
    story = films()
    assert (facts(story)["playback"], facts(story)["aspect"]) == ("playing", 23_900)
    story.at(40, Playback(state="stopped"))
    assert not story.core.title
    assert (facts(story)["playback"], facts(story)["aspect"]) == ("stopped", 23_900)


def test_what_a_title_declares_counts_until_a_shape_is_read() -> None:
    story = Story(UNANSWERED)
    story.at(10, SourceChosen(source="disc"))
    story.at(10, Playback(state="playing"))
    story.at(11, Title(begun=True, declared=1.85))
    assert facts(story)["aspect"] == 18_500
    story.at(12, shape(2.39))
    story.at(30, None)
    assert (facts(story)["declared"], facts(story)["aspect"]) == (18_500, 23_900)


@pytest.mark.parametrize("alone", ["shape: 1.78", "leave_alone: yes"])
def test_no_title_has_another_shape_than_a_source_that_always_has_the_same(alone: str) -> None:
    room = changed(
        ("console: {shape: 1.78, leave_alone: yes}", f"console: {{{alone}, declares: yes}}")
    )
    story = Story(room)
    story.at(10, SourceChosen(source="console"))
    story.at(10, Playback(state="playing"))
    story.at(11, Title(begun=True, declared=2.39))
    assert facts(story)["aspect"] == 17_800
    of_title = facts_of_title(room, story.core, story.engine.state.settling, facts(story))
    assert of_title == facts(story)


def test_each_fact_is_what_was_heard_of_it_and_unknown_until_then() -> None:
    story = Story(UNANSWERED, lens=None)
    nothing = dict.fromkeys(column.name for column in room_columns(UNANSWERED))
    truths: Facts = {"varies": False, "subtitles": False, "doubtful": False, "first_minutes": False}
    unheard: Facts = {
        **nothing,
        **truths,
        "playback": "unknown",
        "panels": "open",
        "helper": "free",
    }
    assert facts(story) == unheard
    story.at(10, LensReport(moving=False, preset="tall"))
    story.at(10, PanelReport(panels="sides"))
    story.at(10, Signal(locked=True, range="high", three_d=True))
    story.at(10, TimeOfDay(minute=1_264))
    story.at(10, ToldFact(fact="guests", value=True))
    story.film(20, 2.39)
    story.at(21, Title(begun=True, declared=2.35))
    story.at(30, shape(2.39, bottom=40))
    story.at(52, None)
    assert facts(story) == {
        "source": "disc",
        "playback": "playing",
        "aspect": 23_900,
        "declared": 23_500,
        "tallest": 23_900,
        "varies": False,
        "subtitles": True,
        "doubtful": False,
        "first_minutes": True,
        "preset": "tall",
        "panels": "sides",
        "helper": "asked",
        "time": 1_264,
        "range": "high",
        "three_d": True,
        "guests": True,
    }


def test_pictures_and_cues_stand_as_they_were_last_ordered_and_a_lens_travels_or_does_not() -> None:
    story = Story(HAYLOFT)
    nothing: Facts = {"picture": None, "lift": None, "travelling": False, "override": "rules"}
    assert standing_of(HAYLOFT, story.core) == {**nothing, "cue lamps": None}
    story.film(10, 2.39)
    story.done(20)
    playing: Facts = {**nothing, "picture": "plain", "lift": 0, "cue lamps": "low"}
    assert standing_of(HAYLOFT, story.core) == playing
    story.at(40, Playback(state="stopped"))
    assert story.core.open_cues
    menu: Facts = {**playing, "picture": "whole", "cue lamps": "full"}
    assert standing_of(HAYLOFT, story.core) == menu
    assert standing_of(BARE, travelling().core)["travelling"] is True


@pytest.mark.parametrize(
    ("playback", "title", "runs"),
    [
        ("playing", False, True),
        ("playing", True, True),
        ("paused", True, True),
        ("paused", False, False),
        ("unknown", True, True),
        ("unknown", False, False),
        ("stopped", True, False),
        ("stopped", False, False),
    ],
)
def test_a_film_may_be_running_while_it_plays_or_its_title_is_not_stopped(
    playback: str, *, title: bool, runs: bool
) -> None:
    assert in_title(playback, title=title) is runs


@pytest.mark.parametrize(
    ("playback", "source", "menu"),
    [
        ("stopped", "console", True),
        ("unknown", "console", False),
        ("unknown", "disc", True),
        ("unknown", None, True),
        ("playing", "disc", False),
        ("paused", "disc", False),
    ],
)
def test_what_does_not_play_may_be_a_menu_but_a_game_unless_it_has_stopped(
    playback: str, source: str | None, *, menu: bool
) -> None:
    shown = None if source is None else HAYLOFT.sources[source]
    assert may_be_menu(shown, playback) is menu


def test_decisions_carry_ratios_and_times_as_people_write_them() -> None:
    told = readable_facts({"aspect": 23_900, "declared": None, "time": 21 * 60 + 4, "guests": True})
    assert told == {"aspect": 2.39, "declared": None, "time": "21:04", "guests": True}
    assert readable_facts({"time": None}) == {"time": None}
