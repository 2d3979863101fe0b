"""Recorded evenings lead to just the decisions that lie beside them."""

from __future__ import annotations

import difflib
import json
from typing import Any

import pytest

from engine import RoomEngine
from engine.decisions import CueOrder, Decision, Note, PictureOrder, Prompt, PromptOver, RecallOrder
from engine.events import Event
from rules.room.load import load
from simulator.nights.night_file import (
    BadLine,
    NightEntry,
    NightHead,
    decision_line,
    read_head,
    read_lines,
)
from simulator.nights.replay import engine_for, replay, verify
from simulator.shipped import DEMO_ROOM, NIGHTS
from tests.golden.evenings import BEGINS, ENGLISH, EVENINGS, MADE, in_portuguese
from tests.golden.write import made, recorded

Line = tuple[float, Decision]


def opened(name: str) -> tuple[NightHead, RoomEngine, list[NightEntry | BadLine]]:
    """Open a shipped night: its head, an engine as it began, its lines."""
    first, *rest = (NIGHTS / f"{name}.jsonl").read_bytes().splitlines()
    head = read_head(first)
    engine = engine_for(load(head.room_file, DEMO_ROOM.name), head)
    return head, engine, list(read_lines(head.start, rest))


def played(name: str) -> list[Decision]:
    """Replay a shipped night."""
    _, engine, lines = opened(name)
    return [
        decision
        for happening in replay(engine, lines)
        if not isinstance(happening, BadLine)
        for decision in happening.decisions
    ]


def after(decisions: list[Decision], t: float) -> list[Decision]:
    """Give the decisions made later than `t` seconds after the night began."""
    return [decision for decision in decisions if decision.at > BEGINS + t * 1_000]


def of(decisions: list[Decision], kind: type) -> list[Any]:
    """Give the decisions of one kind."""
    return [decision for decision in decisions if isinstance(decision, kind)]


@pytest.mark.parametrize("name", EVENINGS)
def test_a_night_leads_to_the_decisions_that_lie_beside_it(name: str) -> None:
    """A failure shows which decisions came, went or changed."""
    expected = (NIGHTS / f"{name}.decisions.jsonl").read_text("utf-8").splitlines()
    actual = [decision_line(BEGINS, decision).decode() for decision in played(name)]
    assert actual == expected, "\n".join(difflib.unified_diff(expected, actual, lineterm=""))


@pytest.mark.parametrize("name", EVENINGS)
def test_a_night_carries_the_shipped_room_and_no_bad_line(name: str) -> None:
    """Its head holds the room file as shipped today, or as translated."""
    head, _, lines = opened(name)
    assert head.room_file == EVENINGS[name].room_file
    assert not [line for line in lines if isinstance(line, BadLine)]


@pytest.mark.parametrize("name", ENGLISH)
def test_an_evening_in_another_language_differs_in_its_words_alone(name: str) -> None:
    """The same evening is decided alike, and not one sentence of it stays English."""
    words = {"reason", "words", "cautions"}
    evening = EVENINGS[name]
    translated = evening._replace(room_file=in_portuguese(evening.room_file))
    english, portuguese = (
        [json.loads(line)["decision"] for line in recorded(one)[1]] for one in (evening, translated)
    )
    assert len(english) == len(portuguese)
    for one, other in zip(english, portuguese, strict=True):
        for part in words & one.keys():
            assert one[part] != other[part] or one["code"] == "marked"
        assert one.get("cautions", {}).keys() == other.get("cautions", {}).keys()
        assert {**one, **{part: other.get(part) for part in words & one.keys()}} == other


@pytest.mark.parametrize("name", EVENINGS)
def test_recorded_decisions_are_verified_byte_for_byte(name: str) -> None:
    """The decisions laid into the night verify, and one changed byte is found."""
    head, engine, lines = opened(name)
    made = (NIGHTS / f"{name}.decisions.jsonl").read_bytes().splitlines()
    recorded = list(read_lines(head.start, made))
    whole = sorted(
        [*lines, *recorded], key=lambda line: line.now if isinstance(line, NightEntry) else 0
    )
    assert list(verify(engine, whole)) == []
    made[0] = made[0].replace(b'"facts":{"source":"', b'"facts":{"source":"x')
    changed = [*read_lines(head.start, made), *recorded[1:]][: len(recorded)]
    whole = sorted(
        [*lines, *changed], key=lambda line: line.now if isinstance(line, NightEntry) else 0
    )
    _, engine, _ = opened(name)
    assert len(list(verify(engine, whole))) == 1


@pytest.mark.parametrize("name", EVENINGS)
def test_how_the_events_arrive_makes_no_difference(name: str) -> None:
    """Every report heard twice, and readings repeated in between, lead to the same decisions."""
    once = [decision_line(BEGINS, decision) for decision in played(name)]
    _, engine, lines = opened(name)
    twice: list[NightEntry] = []
    for line in lines:
        assert isinstance(line, NightEntry)
        twice.append(line)
        if line.event is not None and repeatable(line.event):
            twice.append(line)
    again = [
        decision_line(BEGINS, decision)
        for happening in replay(engine, twice)
        if not isinstance(happening, BadLine)
        for decision in happening.decisions
    ]
    assert again == once


def repeatable(event: Event) -> bool:
    """Tell whether an event states how things are; a tap on "that was wrong" is an act."""
    return event.kind != "mark"


def test_a_pause_moves_nothing_and_asks_nothing() -> None:
    """Paused four minutes and played on: not one decision until the film stops."""
    decisions = played("pause")
    assert not [one for one in after(decisions, 100) if one.at < BEGINS + 4_800_000]
    assert not of(decisions, RecallOrder)
    assert not of(decisions, Prompt)


def test_a_film_that_changes_shape_flips_once_and_is_held_whole() -> None:
    """2.39, 1.90, back: from then on one look until the title ends, without travel or prompt."""
    decisions = played("changing")
    assert not of(decisions, RecallOrder)
    assert not of(decisions, Prompt)
    in_film = [one for one in of(decisions, PictureOrder) if one.at > BEGINS + 1_000_000]
    before_the_end = [one for one in in_film if one.at < BEGINS + 5_400_000]
    assert [(one.picture, round(one.aspect, 2)) for one in before_the_end] == [
        ("plain", 1.9),
        ("whole", 1.78),
    ]


def test_subtitles_in_the_bar_lift_the_picture_once() -> None:
    """At the second line; down a quarter of an hour after the last. The aspect stays as it was."""
    decisions = played("subtitles")
    lifted = [one for one in of(decisions, PictureOrder) if one.lift]
    assert len(lifted) == 1
    in_film = [one for one in after(decisions, 100) if one.at < BEGINS + 3_000_000]
    assert [(one.at - BEGINS) // 1_000 for one in in_film] == [307, 2_033]
    assert in_film[0] == lifted[0]
    assert {one.facts["aspect"] for one in in_film} == {2.39}


def test_lines_and_heads_are_both_on_the_screen() -> None:
    """One overlay moves nothing; the second line makes room, until no line has come for long."""
    decisions = played("lines-and-heads")
    in_film = [one for one in after(decisions, 100) if one.at < BEGINS + 3_000_000]
    seen = [
        ((one.at - BEGINS) // 1_000, one.picture, one.lift, one.region)
        for one in of(in_film, PictureOrder)
    ]
    assert [one[:3] for one in seen] == [(609, "lines", 0.0), (2_031, "plain", 0.0)]
    small, full = seen[0][3], seen[1][3]
    assert small.top >= full.top
    assert small.top + small.height * 1.11 <= full.top + full.height
    assert not of(decisions, RecallOrder)


def test_a_child_alone_with_a_cartoon_is_asked_for_nothing() -> None:
    """The lens makes it as large as it can be, with one travel; panels stay."""
    decisions = played("cartoon")
    assert not of(decisions, Prompt)
    assert [one.preset for one in of(decisions, RecallOrder)] == ["tall"]
    in_film = [one for one in after(decisions, 100) if one.at < BEGINS + 1_500_000]
    pictures = of(in_film, PictureOrder)
    assert {(one.picture, round(one.aspect, 2)) for one in pictures} == {("plain", 1.33)}


def test_an_override_lasts_for_the_session_and_no_menu_is_stretched() -> None:
    """Through stop, next episode and preview; a window never settles, a menu stays undistorted."""
    decisions = played("binge")
    taken, ended = of(decisions, Note)
    assert (taken.code, ended.code) == ("override_begun", "override_ended")
    assert ended.at == BEGINS + 5_430_000
    held = [one for one in decisions if taken.at < one.at < ended.at]
    assert {one.kind for one in held} == {"picture", "cue"}
    rules = {one.rule for one in held if one.kind == "picture"}
    assert rules == {"engine: override", "engine: menus"}
    lamps = [(one.at - BEGINS, one.value) for one in held if isinstance(one, CueOrder)]
    assert lamps == [(5_350_000, "full")]  # They follow the last episode's end all the same.
    pictures = of(decisions, PictureOrder)
    assert "cropped" in {one.picture for one in pictures}
    in_menus = [one for one in pictures if one.facts["playback"] != "playing"]
    assert {one.picture for one in in_menus} == {"whole"}
    assert {one.facts["aspect"] for one in decisions} <= {None, 1.78, 2.0}


def test_a_bad_start_ends_in_one_recall() -> None:
    """One recall, no queue; the stale report refused; travels by hand counted and never fought."""
    decisions = played("bad-start")
    assert [one.preset for one in of(decisions, RecallOrder)] == ["broad"]
    assert [one.how for one in of(decisions, PromptOver)] == ["done"]
    _, engine, lines = opened("bad-start")
    happenings = [one for one in replay(engine, lines) if not isinstance(one, BadLine)]
    refused = [one.refused.code for one in happenings if one.refused is not None]
    assert "stale" in refused
    counted = {one.preset: (one.ordered, one.by_hand) for one in engine.state.tally.travels}
    assert counted == {"broad": (1, 1), "tall": (0, 1)}
    clamped = [
        one for one in of(decisions, PictureOrder) if one.rule == "engine: inside the opening"
    ]
    assert clamped
    assert all(one.region.width * 10_000 <= one.region.height * 24_000 for one in clamped)


def test_every_decision_says_its_rule_its_facts_and_its_reason() -> None:
    """None of them is empty, and the facts name every column of the rules."""
    for name, evening in EVENINGS.items():
        told = load(evening.room_file, name).told
        for line in (NIGHTS / f"{name}.decisions.jsonl").read_text("utf-8").splitlines():
            decision = json.loads(line)["decision"]
            assert decision["rule"]
            assert decision["reason"]
            assert {"source", "playback", "aspect", "helper", *told} <= decision["facts"].keys()


@pytest.mark.parametrize("name", MADE)
def test_a_made_night_is_what_its_seed_makes_of_its_room_as_shipped(name: str) -> None:
    """A failure shows which lines came, went or changed."""
    expected = (NIGHTS / f"{name}.jsonl").read_text("utf-8").splitlines()
    actual = [line.decode() for line in made(MADE[name])]
    assert actual == expected, "\n".join(difflib.unified_diff(expected, actual, lineterm=""))


@pytest.mark.parametrize("name", MADE)
def test_a_made_night_replays_to_the_decisions_in_it_and_breaks_no_promise(name: str) -> None:
    _, engine, lines = opened(name)
    assert not [line for line in lines if isinstance(line, BadLine)]
    assert list(verify(engine, lines)) == []
    _, engine, lines = opened(name)
    for happening in replay(engine, lines):
        assert not isinstance(happening, BadLine)
        assert happening.broken == ()
