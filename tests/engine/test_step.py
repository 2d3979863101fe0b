"""One step of a room: what holds whatever happens."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine import RoomEngine
from engine.decisions import DECISIONS, Decision, decision_json
from engine.events import Event, Resumed
from engine.refusal import Refused
from engine.room import Room
from engine.snapshot import VERSION, SnapshotError, decode, encode, finite_shape
from engine.state import State, first_state, next_deadline
from engine.step import step
from rules.room.load import load
from simulator.shipped import DEMO_ROOM, NIGHTS
from tests.engine.invariants import claims, violations
from tests.engine.meetings import START, evenings

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
UNANSWERED = load(
    DEMO_ROOM.read_text("utf-8").replace("orders: {answered: yes}\n", ""), "unanswered.yaml"
)
Evening = list[tuple[int, Event]]


def steps(
    room: Room, evening: Evening, begins: State | None = None
) -> list[tuple[State, tuple[Decision, ...], State]]:
    """Live through an evening, passing over what is refused: before, decisions, after."""
    state, now, lived = begins or first_state(room), START, []
    for wait, event in evening:
        now += wait
        while not isinstance(event, Resumed) and (next_deadline(state) or now + 1) <= now:
            after, decisions = step(room, state, None, next_deadline(state) or now)
            lived.append((state, decisions, after))
            state = after
        with suppress(Refused):
            after, decisions = step(room, state, event, now)
            lived.append((state, decisions, after))
            state = after
    return lived


@given(evening=evenings(HAYLOFT))
def test_nothing_raises_but_a_refusal_and_a_refusal_changes_nothing(evening: Evening) -> None:
    """Neither the State that was, nor the bytes of it."""
    state, now = first_state(HAYLOFT), START
    for wait, event in evening:
        now += wait
        before = encode(state)
        after = state
        with suppress(Refused):
            after = step(HAYLOFT, state, event, now)[0]
        assert encode(state) == before
        state = after


@given(evening=evenings(HAYLOFT))
def test_what_must_always_hold_holds_after_every_step(evening: Evening) -> None:
    """No picture on a panel, no recall that is not allowed, no prompt without an end."""
    for before, decisions, after in steps(HAYLOFT, evening):
        assert violations(HAYLOFT, before, decisions, after) == []


@pytest.mark.parametrize("room", [HAYLOFT, UNANSWERED])
@given(data=st.data())
def test_nothing_is_said_to_stand_before_it_is_confirmed(room: Room, data: st.DataObject) -> None:
    """With whatever is heard: only a word about a part, for what it says, makes that part stand."""
    engine, now = RoomEngine(room), START
    for wait, event in data.draw(evenings(room)):
        now += wait
        while engine.is_due_before(event, now):
            before = engine.state
            engine.receive(None, engine.deadline or now)
            assert claims(room, before, None, engine.state) == []
        before = engine.state
        reply = engine.receive(event, now)
        assert claims(room, before, None if reply.refusal else event, engine.state) == []


@given(evening=evenings(HAYLOFT))
def test_a_step_before_the_next_deadline_decides_nothing(evening: Evening) -> None:
    """And leaves a State of the same shape: time alone moves nothing."""
    now = START + sum(wait for wait, _ in evening)
    for _, _, state in steps(HAYLOFT, evening):
        deadline = next_deadline(state)
        if deadline is not None and deadline > now:
            idle, decisions = step(HAYLOFT, state, None, deadline - 1)
            assert decisions == ()
            assert finite_shape(idle) == finite_shape(state)


@given(evening=evenings(HAYLOFT))
def test_hearing_how_things_are_a_second_time_decides_nothing(evening: Evening) -> None:
    """All events but acts: a tap, an answer, an outcome, an override that gives back."""
    state, now = first_state(HAYLOFT), START
    for wait, event in evening:
        now += wait
        try:
            state, _ = step(HAYLOFT, state, event, now)
            again, decisions = step(HAYLOFT, state, event, now)
        except Refused:
            continue
        if event.kind not in ("mark", "resumed", "undo"):
            assert decisions == ()
            assert finite_shape(again) == finite_shape(state)


@given(evening=evenings(HAYLOFT))
def test_a_state_survives_being_written_and_read(evening: Evening) -> None:
    """It comes back equal, and goes on to the same decisions."""
    lived = steps(HAYLOFT, evening)
    for _, _, state in lived:
        assert decode(encode(state)) == state
    middle = len(evening) // 2
    whole = played(RoomEngine(HAYLOFT), evening, 0)
    first = RoomEngine(HAYLOFT)
    head = played(first, evening[:middle], 0)
    wait = sum(wait for wait, _ in evening[:middle])
    rest = played(RoomEngine(HAYLOFT, decode(encode(first.state))), evening[middle:], wait)
    assert head + rest == whole


def played(engine: RoomEngine, evening: Evening, begun: int) -> list[bytes]:
    """Play an evening on an engine, and give the bytes of its decisions."""
    now, said = START + begun, []
    for wait, event in evening:
        now += wait
        made, refusal, *_ = engine.receive(event, now)
        if refusal is not None:
            said.append(refusal.code.encode())
        said += [decision_json(decision) for decision in made]
        assert said[len(said) - len(made) :] == [DECISIONS.dump_json(one) for one in made]
    return said


@given(evening=evenings(HAYLOFT))
def test_after_a_stop_nothing_is_recalled_before_the_lens_reports(evening: Evening) -> None:
    """A restart during a travel leaves the lens unknown."""
    for _, _, state in steps(HAYLOFT, evening):
        if state.core.lens == "travelling":
            due = next_deadline(state)
            after, decisions = step(HAYLOFT, state, Resumed(), max(START, due or START))
            assert after.core.lens in ("unknown", "travelling")
            if after.core.lens == "travelling":
                assert [one for one in decisions if one.kind == "recall"]
                assert after.core.playback == "stopped"


@pytest.mark.parametrize("night", ["evening", "bad-start"])
def test_the_same_night_gives_the_same_bytes_under_any_hash_seed(night: str) -> None:
    """Two processes with different seeds say the same, to the byte."""
    outputs = []
    for seed in ("1", "4242"):
        command = [sys.executable, "-m", "adapters.cli", "replay", str(NIGHTS / f"{night}.jsonl")]
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        done = subprocess.run(
            [*command, "--json"],
            capture_output=True,
            check=False,
            env=environment,
            cwd=Path(__file__).resolve().parents[2],
        )
        assert done.returncode == 0, done.stderr
        outputs.append(done.stdout)
    assert outputs[0] == outputs[1]
    assert outputs[0].count(b"\n") > 10


@pytest.mark.parametrize("data", [b"", b"{}", b"[1,2]", b'{"version":2}', b"\xff"])
def test_what_is_no_snapshot_is_refused(data: bytes) -> None:
    """With a sentence, and no traceback of a library."""
    with pytest.raises(SnapshotError, match=f"no snapshot of version {VERSION}"):
        decode(data)


def test_a_snapshot_of_another_version_is_refused() -> None:
    """Fields may have moved since."""
    data = encode(first_state(HAYLOFT)).replace(b"%d," % VERSION, b"77,", 1)
    with pytest.raises(SnapshotError, match="version 77"):
        decode(data)
