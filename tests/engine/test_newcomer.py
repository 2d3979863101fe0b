"""Whoever tries the library for the first time is told what to hand in instead."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import engine
import rules
from engine import (
    Override,
    PanelReport,
    Playback,
    RatioSeen,
    Refused,
    Resumed,
    RoomEngine,
    SourceChosen,
    State,
    decision_json,
    event_json,
    read_event,
)
from engine.room_engine import LAST_MOMENT
from engine.snapshot import SnapshotError, decode
from rules import load_room
from simulator.shipped import CELLAR, DEMO_ROOM

HAYLOFT = load_room(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
EIGHT = 1_763_668_800_000


def standing(hayloft: RoomEngine) -> tuple[State, int | None, dict[str, int]]:
    return hayloft.state, hayloft.deadline, dict(hayloft.refusals)


@pytest.mark.parametrize(
    ("given", "advice"),
    [
        ({"kind": "lens"}, r"not dict: read it with engine\.read_event\(json\.dumps\(it\)\)"),
        ('{"kind": "playback"}', r"not str: read it with engine\.read_event\(it\)"),
        (b"{}", r"not bytes: read it with engine\.read_event\(it\)"),
        (Playback, r"not the class Playback: build one: Playback\(\.\.\.\)"),
        ([Playback(state="playing")], "not list: hand its events in one by one"),
        (int, "not the class int$"),
    ],
)
def test_what_is_no_event_is_sent_to_read_event_and_changes_nothing(
    given: Any,  # noqa: ANN401 - whatever a newcomer hands in
    advice: str,
) -> None:
    hayloft = RoomEngine(HAYLOFT)
    hayloft.receive(SourceChosen(source="disc"), EIGHT)
    hayloft.receive(RatioSeen(ratio=2.39), EIGHT)
    before = standing(hayloft)
    assert hayloft.deadline is not None
    with pytest.raises(TypeError, match="receive takes an event, .* or None, " + advice):
        hayloft.receive(given, hayloft.deadline)
    assert standing(hayloft) == before


def test_what_is_no_text_is_not_read_and_the_words_say_what_to_pass() -> None:
    how = r"read_event takes JSON text, not dict: pass json\.dumps\(it\), or build the event, "
    given: Any = {"kind": "playback", "state": "playing"}
    with pytest.raises(TypeError, match=how):
        read_event(given)


def test_only_an_event_is_written_as_one_and_only_a_decision_as_the_other() -> None:
    event: Any = Playback(state="playing")
    decision: Any = RoomEngine(HAYLOFT).receive(SourceChosen(source="disc"), EIGHT).decisions[0]
    with pytest.raises(TypeError, match=r"^event_json takes an event, not PictureOrder$"):
        event_json(decision)
    with pytest.raises(TypeError, match=r"^decision_json takes a decision, not Playback$"):
        decision_json(event)


@pytest.mark.parametrize("repeated", [True, False], ids=["the same reading", "another event"])
def test_time_that_goes_back_is_refused_and_changes_nothing(*, repeated: bool) -> None:
    hayloft, reading = RoomEngine(HAYLOFT), RatioSeen(ratio=2.39)
    hayloft.receive(SourceChosen(source="disc"), EIGHT)
    hayloft.receive(reading, EIGHT)
    hayloft.receive(
        reading, EIGHT + 400
    )  # heard again: it counts as the latest moment all the same
    before = standing(hayloft)
    for event in (reading if repeated else Playback(state="playing"), None):
        with pytest.raises(ValueError, match=rf"now goes back from {EIGHT + 400} to {EIGHT + 399}"):
            hayloft.receive(event, EIGHT + 399)
        with pytest.raises(ValueError, match=r"time, or go_back\(state\) to a State of that time"):
            hayloft.receive(event, EIGHT + 399)
    assert standing(hayloft) == before
    assert hayloft.receive(None, EIGHT + 400).refusal is None


@pytest.mark.parametrize(
    ("now", "why"), [(-1, "before 1970"), (EIGHT * 1_000, "after the year 9999: is it in ns or us")]
)
def test_a_moment_that_is_no_milliseconds_is_refused_and_changes_nothing(
    now: int, why: str
) -> None:
    hayloft = RoomEngine(HAYLOFT)
    before = standing(hayloft)
    with pytest.raises(
        ValueError, match=f"^now is a whole number of milliseconds UTC since 1970.*{why}"
    ):
        hayloft.receive(SourceChosen(source="disc"), now)
    assert standing(hayloft) == before


def test_the_first_and_the_last_moment_of_all_are_moments_too() -> None:
    hayloft = RoomEngine(HAYLOFT)
    for now in (0, 1, LAST_MOMENT):
        assert hayloft.receive(None, now).refusal is None
    with pytest.raises(ValueError, match="after the year 9999"):
        hayloft.receive(None, LAST_MOMENT + 1)
    for now in (0, 1):
        with pytest.raises(ValueError, match=f"^now goes back from {LAST_MOMENT} to {now} "):
            hayloft.receive(None, now)


def test_a_refused_event_lets_time_pass_too() -> None:
    hayloft = RoomEngine(HAYLOFT)
    assert hayloft.receive(SourceChosen(source="dsc"), EIGHT).refusal is not None
    with pytest.raises(ValueError, match="goes back"):
        hayloft.receive(None, EIGHT - 1)


def test_whoever_goes_back_to_a_state_may_hand_in_again_what_came_since() -> None:
    hayloft = RoomEngine(HAYLOFT)
    hayloft.receive(SourceChosen(source="disc"), EIGHT)
    kept = hayloft.state
    first = hayloft.receive(Playback(state="playing"), EIGHT + 5_000)
    hayloft.go_back(kept)
    assert hayloft.receive(Playback(state="playing"), EIGHT + 5_000) == first
    hayloft.go_back(kept)
    assert hayloft.receive(Resumed(), EIGHT + 1_000).refusal is None
    hayloft.go_back(kept)
    assert hayloft.receive(None, 0).decisions == ()


@pytest.mark.parametrize("now", [float(EIGHT), True, "20:00", None])
def test_now_is_a_whole_number_of_milliseconds(now: Any) -> None:  # noqa: ANN401 - as above
    hayloft = RoomEngine(HAYLOFT)
    how = rf"milliseconds UTC since 1970: pass int\(time\.time.*, not {type(now).__name__}$"
    with pytest.raises(TypeError, match=how):
        hayloft.receive(None, now)


def test_a_state_of_another_room_is_refused_and_changes_nothing() -> None:
    hayloft = RoomEngine(HAYLOFT)
    assert hayloft.receive(PanelReport(panels="sides"), EIGHT).refusal is None
    room = load_room(CELLAR.read_text("utf-8"), CELLAR.name)
    words = r"^the State knows panels 'sides', which room 'cellar' does not have: pass a State of"
    words += " this room, or begin without one$"
    with pytest.raises(SnapshotError, match=words):
        RoomEngine(room, hayloft.state)
    cellar = RoomEngine(room)
    before = standing(cellar)
    with pytest.raises(SnapshotError, match=words):
        cellar.go_back(hayloft.state)
    assert standing(cellar) == before


def test_an_engine_is_made_of_a_compiled_room_and_a_state() -> None:
    room: Any = DEMO_ROOM
    with pytest.raises(
        TypeError,
        match=r"^RoomEngine takes a compiled .* pass what rules\.load_room\(text, name\) returns, "
        r"not .*Path",
    ):
        RoomEngine(room)
    kept: Any = b"{}"
    with pytest.raises(
        TypeError,
        match=r"^RoomEngine goes on from a State: pass what engine\.snapshot\.decode\(data\) "
        r"returns, or nothing, not bytes$",
    ):
        RoomEngine(HAYLOFT, kept)


@pytest.mark.parametrize("kept", [None, 20])
def test_going_back_takes_a_state_and_decoding_takes_what_was_encoded(kept: Any) -> None:  # noqa: ANN401 - as above
    given = type(kept).__name__
    with pytest.raises(TypeError, match=rf"^go_back takes a State .*, not {given}$"):
        RoomEngine(HAYLOFT).go_back(kept)
    with pytest.raises(TypeError, match=rf"^decode takes what encode wrote, .*, not {given}$"):
        decode(kept)


def test_an_engine_goes_on_from_the_state_that_it_is_given_and_takes_any_first_moment() -> None:
    first = RoomEngine(HAYLOFT)
    first.receive(SourceChosen(source="disc"), 0)
    again = RoomEngine(HAYLOFT, first.state)
    assert (again.state, again.deadline) == (first.state, first.deadline)
    assert again.receive(SourceChosen(source="disc"), 0).decisions == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{"kind": "playbck"}', r"as 'kind' is expected \(.*\), did you mean 'playback'\?$"),
        ('{"kind": "zzz"}', r"as 'kind' is expected \(given: {\"kind\": \"zzz\"}\)$"),
        (
            '{"kind": "playback", "state": "plaing"}',
            r"is expected \(given: \"plaing\"\), did you mean 'playing'\?$",
        ),
        ('{"kind": "playback", "state": "zzz"}', r"is expected \(given: \"zzz\"\)$"),
        ('{"kind": "playback", "state": 3}', r"is expected \(given: 3\)$"),
        ('{"kind": "projector", "state": "warmin"}', "did you mean 'warming'"),
        ('{"kind": "answer", "prompt": 1, "answer": "redy"}', "did you mean 'ready'"),
        (
            '{"kind": "signal", "locked": true, "stereo": true}',
            r"^stereo: nothing of that name belongs here \(.*\), did you mean 'three_d'\?$",
        ),
        ('{"kind": "signal", "locked": true, "more": 1}', r"belongs here \(given: 1\)$"),
    ],
)
def test_a_slip_in_a_closed_word_is_answered_with_the_nearest(text: str, words: str) -> None:
    with pytest.raises(Refused, match=words):
        read_event(text)


def test_a_field_given_without_its_name_names_the_event_and_shows_how_to_write_it() -> None:
    source: Any = SourceChosen
    with pytest.raises(
        TypeError, match=r"^SourceChosen takes .* by name: write SourceChosen\(source=\.\.\.\)$"
    ):
        source("disc")
    override: Any = Override
    fields = ", ".join(rf"{name}=\.\.\." for name in ("taken", "until", "look", "source", "who"))
    with pytest.raises(TypeError, match=rf"write Override\({fields}\)$"):
        override(True)


def test_load_room_says_that_it_takes_a_text_and_a_name(tmp_path: Path) -> None:
    given: Any = tmp_path / "hayloft.yaml"
    how = r"load_room\(path\.read_text\('utf-8'\), path\.name\)"
    with pytest.raises(TypeError, match=rf"load_room takes the file's text .*{how}, not .*Path"):
        load_room(given)
    with pytest.raises(TypeError, match=rf"{how}, not .*Path"):
        load_room("room: den", given)
    with pytest.raises(ValueError, match=rf"hayloft\.yaml is the name of a room file: .*{how}"):
        load_room("hayloft.yaml")


def test_a_text_without_a_name_is_called_room_file_in_findings() -> None:
    with pytest.raises(rules.BadRoom, match=r"room file:1:"):
        load_room("rom: den\n")


@pytest.mark.parametrize("face", [engine, rules], ids=["engine", "rules"])
def test_dir_shows_the_names_that_may_be_used(face: Any) -> None:  # noqa: ANN401 - a package
    assert dir(face) == sorted(face.__all__)
