"""A live room goes on under a newer room file, which came as a message or by an upgrade."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from adapters.live.durable_room import DurableRoom
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.messages import (
    ROOM_FILE_TOPIC,
    InboundMessage,
)
from adapters.live.startup import REPLACED_WORDS, take_up
from engine.events import (
    LensReport,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    Service,
)
from engine.room import Room
from rules.room.load import load
from tests.adapters.hayloft import AT_BROAD, HAYLOFT, LIT
from tests.adapters.staging import VERSION, Stage, differences, staged
from tests.golden.evenings import BEGINS

NEWER = HAYLOFT.text.replace("linger: 12 s", "linger: 13 s") + "\n# A later edition.\n"
STRANGER = HAYLOFT.text.replace("broad", "wide")
BY_DAY = """\
    - name: by day
      case: {time: "[06:00..18:00)"}
      show: {picture: plain, lift: 0 %, cues: {lamps: low}}
      because: There is daylight.
"""


def test_a_room_file_that_came_waits_in_the_journal_until_it_is_judged(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        answer = stage.note(stage.durable.take([InboundMessage(ROOM_FILE_TOPIC, NEWER.encode())]))
        assert answer.proposal == NEWER
        stage.restart()
        assert stage.durable.record.proposal() == NEWER
        stage.durable.record.decline()
        stage.restart()
        assert stage.durable.record.proposal() is None
        assert stage.durable.room.text == HAYLOFT.text


def test_a_room_file_that_waits_to_be_judged_outlasts_an_upgrade(tmp_path: Path) -> None:
    """It was acknowledged: whoever has sent it does not send it again."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.note(stage.durable.take([InboundMessage(ROOM_FILE_TOPIC, NEWER.encode())]))
        later = take_up(stage.journal, HAYLOFT, stage.clock, "another version")
        assert DurableRoom(stage.journal, later, "another version").record.proposal() == NEWER


def test_where_the_file_that_is_named_has_changed_that_one_takes_its_place_and_it_is_said(
    tmp_path: Path,
) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.note(stage.durable.take([InboundMessage(ROOM_FILE_TOPIC, NEWER.encode())]))
        edited = load(HAYLOFT.text + "\n# Edited.\n", "room.yaml")
        begun = take_up(stage.journal, edited, stage.clock, VERSION)
        assert stage.journal.proposal(begun.id) is None
        assert REPLACED_WORDS in begun.words


def test_a_room_file_whose_place_a_newer_one_takes_is_told_so(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.note(stage.durable.take([InboundMessage(ROOM_FILE_TOPIC, b"first")]))
        both = [
            InboundMessage(ROOM_FILE_TOPIC, b"second"),
            InboundMessage(ROOM_FILE_TOPIC, NEWER.encode()),
        ]
        stage.note(stage.durable.take(both))
        assert stage.refusals == ["replaced", "replaced"]
        assert stage.durable.record.proposal() == NEWER


def test_a_room_file_that_is_taken_goes_on_from_where_the_room_stands(tmp_path: Path) -> None:
    """Over a restart too, until the file that is named at the start has changed."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD, Playback(state="playing"))
        stage.clock.time += 1_000
        stage.clock.face = 700
        stage.note(stage.durable.adopt(load(NEWER, "in/room")))
        assert stage.durable.room.text == NEWER
        assert stage.durable.engine.state.core.preset == "broad"
        stage.restart()
        assert stage.durable.room.text == NEWER
        changed = HAYLOFT.text + "\n# Changed on site.\n"
        stage.restart(load(changed, "hayloft.yaml"))
        assert stage.durable.room.text == changed
        assert stage.durable.engine.state.core.preset == "broad"


def test_a_room_file_that_is_damaged_inside_the_journal_is_told_in_one_sentence(
    tmp_path: Path,
) -> None:
    """It says where, and how to go on: nobody can put a line right in there."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD)
        stage.clock.face = 700
        stage.note(stage.durable.adopt(load(NEWER, "in/room")))
        spoilt = NEWER.replace("presets:", "prsets:").replace("linger: 13 s", "linger: 13 parrots")
        with closing(sqlite3.connect(path)) as base, base:
            base.execute("UPDATE chapters SET file = ? WHERE file = ?", (spoilt, NEWER))
        for work in (stage.taken_up, stage.lines):
            with pytest.raises(JournalError) as error:
                work()
            words = str(error.value)
            assert words.startswith(f"{path}: the room file of 'hayloft' in this journal")
            assert "line " in words
            assert "\n" not in words
        stage.room = load(HAYLOFT.text + "\n# Changed on site.\n", "hayloft.yaml")
        stage.durable = stage.taken_up()
        assert stage.durable.room.text == stage.room.text


def test_under_a_file_that_does_not_know_how_things_stand_the_room_asks(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD)
        stage.clock.face = 700
        answer = stage.note(stage.durable.adopt(load(STRANGER, "in/room")))
        assert stage.durable.engine.state.core.preset is None
        asked = [word.message for word in answer.messages if word.message.subtopic == "ask"]
        assert [json.loads(said.body)["kind"] for said in asked] == ["question"]


def test_a_room_that_cannot_go_on_asks_at_its_start_and_gives_no_number_twice(
    tmp_path: Path,
) -> None:
    """The broker may have kept the session: nobody else would ask."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD, Mark(id="once"))
        serial = stage.durable.engine.state.tally.serial
        stage.restart(load(STRANGER, "hayloft.yaml"))
        asked = [json.loads(word.message.body)["kind"] for word in stage.durable.record.waiting()]
        assert "question" in asked
        assert stage.durable.engine.state.core.preset is None
        assert stage.durable.engine.state.tally.serial >= serial > 0
        stage.hear(Mark(id="once"))
        assert stage.refusals == ["repeated"]


@pytest.mark.parametrize("by_message", [True, False])
def test_what_is_open_under_the_old_file_is_withdrawn_before_a_new_one_that_does_not_fit(
    tmp_path: Path, *, by_message: bool
) -> None:
    """The hub would carry it out, and answer with numbers that nobody knows any more."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(*LIT, AT_BROAD)
        still_open = stage.durable.engine.state.core.picture
        assert still_open is not None
        stranger = load(STRANGER, "in/room")
        if by_message:
            stage.note(stage.durable.adopt(stranger))
        else:
            stage.restart(stranger)
        waiting = [json.loads(word.message.body) for word in stage.durable.record.waiting()]
        assert still_open in [one["order"] for one in waiting if one["kind"] == "withdrawn"]
        assert [one["kind"] for one in waiting if one["kind"] in ("picture", "question")] == [
            "question"
        ]
        lines = stage.lines()
        assert differences(HAYLOFT, lines) == []
        assert b'"kind":"withdrawn"' in b"".join(lines)


@pytest.mark.parametrize("at_work", [True, False])
@pytest.mark.parametrize("by_message", [True, False])
def test_whoever_is_at_work_stays_so_under_a_file_that_does_not_fit(
    tmp_path: Path, *, by_message: bool, at_work: bool
) -> None:
    """They have most likely brought it, and no order comes before they have finished."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(*LIT, AT_BROAD)
        if at_work:
            stage.hear(Service(begun=True))
        stranger = load(STRANGER, "in/room")
        if by_message:
            stage.note(stage.durable.adopt(stranger))
        else:
            stage.restart(stranger)
        assert stage.durable.engine.state.core.service is at_work
        told = stage.hear(*LIT, LensReport(moving=False, preset="wide"))
        assert ("order" in [one.message.subtopic for one in told.messages]) is not at_work
        if at_work:
            done = stage.hear(Service(begun=False))
            assert "order" in [one.message.subtopic for one in done.messages]


def test_a_new_file_that_cannot_be_begun_withdraws_nothing(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(*LIT, AT_BROAD)
        before, waiting = stage.durable.engine.state, stage.durable.record.waiting()
        full = patch.object(Journal, "commit", side_effect=JournalError("the disk is full"))
        with full, pytest.raises(JournalError):
            stage.durable.adopt(load(STRANGER, "in/room"))
        assert stage.durable.room is HAYLOFT
        assert stage.durable.engine.state is before
        assert stage.durable.record.waiting() == waiting
        stage.hear(Playback(state="playing"))
        assert differences(HAYLOFT, stage.lines()) == []


def test_after_an_upgrade_that_cannot_read_the_state_no_number_is_given_twice(
    tmp_path: Path,
) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD)
        serial = stage.durable.engine.state.tally.serial
        with closing(sqlite3.connect(stage.path)) as base, base:
            base.execute("UPDATE latest SET state = '[1, {}]'")
        stage.restart()
        assert stage.durable.engine.state.tally.serial == serial > 0
        asked = [json.loads(word.message.body)["kind"] for word in stage.durable.record.waiting()]
        assert "question" in asked


def test_after_a_stop_the_first_look_is_chosen_by_what_the_clock_shows_now(
    tmp_path: Path,
) -> None:
    """By the time of day of before the stop the lamps would be set once for nothing."""
    text = HAYLOFT.text.replace("\n  rows:", f"\n  rows:\n{BY_DAY.rstrip()}", 1)
    by_day = load(text, "by day")
    with staged(by_day, tmp_path / "journal", BEGINS) as stage:
        stage.clock.face = 23 * 60
        stage.hear(*LIT)
        before = len(stage.decisions)
        stage.clock.time += 10 * 3_600_000
        stage.clock.face = 9 * 60
        stage.restart()
        stage.pass_to(stage.clock.time + 1_000)
        chosen = {one.rule for one in stage.decisions[before:] if one.kind in ("picture", "cue")}
        assert chosen == {"by day"}
        assert differences(by_day, stage.lines()) == []


def test_the_file_of_another_room_is_not_taken(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        other = HAYLOFT.text.replace("room: hayloft", "room: loft")
        with pytest.raises(ValueError, match="not of 'hayloft'"):
            stage.durable.adopt(load(other, "in/room"))
        assert stage.durable.room.text == HAYLOFT.text


def test_room_files_that_come_in_one_night_do_not_count_as_nights(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, Mark(words="first night"))
        stage.clock.time = BEGINS + 86_400_000
        for edition in range(6):
            stage.clock.time += 1_000
            stage.clock.face = 1_200 + edition
            stage.note(
                stage.durable.adopt(load(f"{HAYLOFT.text}\n# Edition {edition}.\n", "in/room"))
            )
        stage.durable.record.drop_nights(2)
        assert b"first night" in b"".join(stage.lines())
        stage.durable.record.drop_nights(1)
        assert b"first night" not in b"".join(stage.lines())


UNANSWERED = HAYLOFT.text.replace("orders: {answered: yes}", "orders: {answered: no}")
SILENT = UNANSWERED.replace("reports: yes", "reports: no")


def parts(stage: Stage) -> dict[str, Any]:
    said = stage.durable.standing(again=True)
    assert said is not None
    told: dict[str, Any] = json.loads(said.body)["parts"]
    return told


def takes(stage: Stage, room: Room, *, by_message: bool) -> None:
    """Let a room file take the place of the one in force."""
    stage.clock.face = 1_200
    if by_message:
        stage.note(stage.durable.adopt(room))
    else:
        stage.restart(room)


@pytest.mark.parametrize("by_message", [True, False])
@pytest.mark.parametrize("both", [(UNANSWERED, HAYLOFT.text), (HAYLOFT.text, UNANSWERED)])
def test_what_was_not_confirmed_under_the_old_file_does_not_stand_under_the_new_one(
    tmp_path: Path, both: tuple[str, str], *, by_message: bool
) -> None:
    """It is ordered anew, and then somebody says what has become of it, or nobody does."""
    old, new = (load(text, "room.yaml") for text in both)
    with staged(old, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD)
        stage.pass_to(BEGINS + 1_000)
        takes(stage, new, by_message=by_message)
        told = parts(stage)
        assert [told["picture"]["stands"], told["picture"]["ordered"]] == [None, "whole"]
        assert {one["stands"] for one in told["cues"].values()} == {None}
        core = stage.durable.engine.state.core
        assert (core.picture is not None) is new.answers
        if core.picture is not None:
            stage.hear(Outcome(order=core.picture, outcome="done"))
            assert parts(stage)["picture"]["stands"] == "whole"


@pytest.mark.parametrize("by_message", [True, False])
def test_a_lens_that_reports_by_the_new_file_alone_is_unknown_until_it_does(
    tmp_path: Path, *, by_message: bool
) -> None:
    with staged(load(SILENT, "room.yaml"), tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, Override(taken=True, until="session", look=OverrideLook(preset="tall")))
        stage.pass_to(BEGINS + 400_000)
        takes(stage, HAYLOFT, by_message=by_message)
        assert parts(stage)["preset"]["stands"] is None
        stage.hear(AT_BROAD)
        assert parts(stage)["preset"]["stands"] == "broad"


@pytest.mark.parametrize("by_message", [True, False])
@pytest.mark.parametrize("named", [True, False])
def test_a_lens_on_its_way_to_a_preset_of_another_name_now_is_on_one_travel_and_nobody_s(
    tmp_path: Path, *, by_message: bool, named: bool
) -> None:
    """The first word of it may come before the hub has told everything again."""
    renamed = load(re.sub(r"\btall\b", "lofty", HAYLOFT.text), "room.yaml")
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD, PanelReport(panels="open"))
        stage.hear(Override(taken=True, until="session", look=OverrideLook(preset="tall")))
        while (picture := stage.durable.engine.state.core.picture) is not None:
            stage.hear(Outcome(order=picture, outcome="done"))
        stage.hear(LensReport(moving=True, preset="tall"))
        takes(stage, renamed, by_message=by_message)
        stage.hear(LensReport(moving=True, preset="lofty" if named else None))
        stage.hear(*LIT)
        stage.hear(LensReport(moving=False, preset="lofty"))
        state = stage.durable.engine.state
        assert (state.core.preset, state.core.override) == ("lofty", "rules")
        assert [(one.preset, one.by_hand) for one in state.tally.travels if one.ordered] == [
            ("tall", 0)
        ]
        assert sum(one.ordered + one.by_hand for one in state.tally.travels) == 1
