"""What is said and logged of a decision, and how moments are written."""

from __future__ import annotations

import io
import json
import re
from codecs import BOM_UTF8
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.cli.files import text_of
from adapters.live.log import decision_log, log_decisions
from adapters.live.messages import (
    CONTRACT,
    NewRoom,
    decision_data,
    messages_of,
    read_message,
    rfc3339,
)
from engine.decisions import Note, RecallOrder
from engine.refusal import Refused
from rules.room.load import load
from rules.text.findings import BadRoom
from rules.text.yaml_nodes import MOST_FILE_BYTES
from simulator.nights.night_file import BadLine, read_head, read_lines
from simulator.nights.replay import engine_for, replay
from simulator.shipped import NIGHTS

RFC_3339 = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z")
"""RFC 3339, 5.6, in UTC with three digits of a second."""


@given(st.integers(0, 253_402_300_799_999))
def test_a_moment_is_written_as_rfc_3339_has_it(now: int) -> None:
    written = rfc3339(now)
    assert RFC_3339.fullmatch(written)
    began = datetime(1970, 1, 1, tzinfo=UTC)
    assert datetime.fromisoformat(written) - began == timedelta(milliseconds=now)


def test_a_decision_is_logged_as_its_reason_is_said() -> None:
    head, *lines = (NIGHTS / "evening.jsonl").read_bytes().splitlines(keepends=True)
    begun = read_head(head)
    room = load(begun.room_file, "evening")
    decisions = [
        decision
        for happening in replay(engine_for(room, begun), read_lines(begun.start, iter(lines)), None)
        if not isinstance(happening, BadLine)
        for decision in happening.decisions
    ]
    stream = io.BytesIO()
    log_decisions(decision_log(stream, room.name), map(decision_data, decisions))
    logged = [json.loads(line) for line in stream.getvalue().splitlines()]
    said = [json.loads(messages_of(decision)[-1].body) for decision in decisions]
    assert len(said) > 20
    assert {one.pop("contract") for one in said} == {CONTRACT}
    assert logged == [
        {"room": room.name, "level": "info", "event": one.pop("kind"), **one} for one in said
    ]


def test_a_terminal_reads_what_a_note_is_about_and_of_rows_their_name_alone() -> None:
    note = Note(
        at=0,
        rule="engine: orders",
        code="cue_failed",
        reason="Something did not work.",
        facts={},
        parameters={"cue": "lamps", "outcome": "refused"},
    )
    recall = RecallOrder(
        at=0, rule="scope", code="row", reason="It fits.", facts={}, id=1, ends=9, preset="tall"
    )
    stream = io.BytesIO()
    log_decisions(
        decision_log(stream, "den", plain=True), [decision_data(note), decision_data(recall)]
    )
    first, second = stream.getvalue().decode().splitlines()
    assert first.endswith(
        "den: note rule=engine: orders code=cue_failed cue=lamps outcome=refused"
        " - Something did not work."
    )
    assert second.endswith("den: recall rule=scope id=1 preset=tall - It fits.")


def test_a_former_topic_is_answered_with_its_new_name() -> None:
    with pytest.raises(Refused, match=r"in/hand: did you mean in/override\?$"):
        read_message("hand", b'{"taken": true}')


def test_a_told_fact_without_its_object_is_refused_with_how_it_is_written() -> None:
    with pytest.raises(Refused, match=r'in/told/guests: an object .*; write {"value": ...}$'):
        read_message("told/guests", b"true")


@pytest.mark.parametrize("mark", [b"", BOM_UTF8])
def test_a_room_file_may_be_as_long_over_the_broker_as_on_a_disk(
    mark: bytes, tmp_path: Path
) -> None:
    """The mark with which some editors begin a file does not count, and nothing is cut off."""
    path, longest = tmp_path / "room.yaml", b"#" * MOST_FILE_BYTES
    path.write_bytes(mark + longest)
    taken = read_message("room", mark + longest)
    assert isinstance(taken, NewRoom)
    assert taken.text == text_of(path) == longest.decode()
    for over in range(1, 5):
        longer = mark + longest + b"#" * over
        path.write_bytes(longer)
        with pytest.raises(BadRoom, match="the file has more than"):
            text_of(path)
        with pytest.raises(Refused, match="a room file of"):
            read_message("room", longer)
