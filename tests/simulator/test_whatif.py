"""A recorded night under other rules: their own orders are answered, not the recorded ones."""

from __future__ import annotations

import pytest

from engine.decisions import Decision, RecallOrder
from engine.events import Answer, Outcome
from engine.room import Room
from engine.step import RoomEngine
from simulator.nights import BadLine, decision_line, read_head, read_lines
from simulator.shipped import NIGHTS
from simulator.whatif import replay_otherwise
from tests.engine.story import HAYLOFT, SILENT, changed
from tests.golden.evenings import BEGINS


def under(room: Room, name: str) -> tuple[list[Decision], RoomEngine]:
    """Play a shipped night under another room's rules."""
    first, *rest = (NIGHTS / f"{name}.jsonl").read_bytes().splitlines()
    engine, recorded = RoomEngine(room), RoomEngine(HAYLOFT)
    lines = read_lines(read_head(first).start, rest)
    made: list[Decision] = []
    for happening in replay_otherwise(engine, recorded, lines):
        assert not isinstance(happening, BadLine)
        made += happening.decisions
    return made, engine


@pytest.mark.parametrize("name", ["pause", "changing", "subtitles", "binge", "evening"])
def test_under_its_own_rules_a_night_is_what_it_was(name: str) -> None:
    """The made-up hub does what the recorded one did."""
    made, _ = under(HAYLOFT, name)
    expected = (NIGHTS / f"{name}.decisions.jsonl").read_bytes().splitlines()
    assert [decision_line(BEGINS, decision) for decision in made] == expected


def test_orders_of_other_rules_are_answered_though_their_numbers_differ() -> None:
    """Rules without cues give other numbers, and still no outcome is missed or refused."""
    room = changed(("{picture: whole, lift: 0 %, cues: {lamps: full}}", "{picture: whole}"))
    made, engine = under(room, "evening")
    assert engine.refusals == {}
    assert {one.preset for one in made if isinstance(one, RecallOrder)} == {"broad", "tall"}
    assert not [one for one in made if getattr(one, "code", "").endswith("_failed")]


def test_what_nobody_ordered_happens_all_the_same() -> None:
    """The owner's own lens travel is heard under any rules, and counted by hand."""
    _, engine = under(SILENT, "evening")
    counts = {one.preset: one.by_hand for one in engine.state.tally.travels}
    assert counts["tall"] == 1


def test_the_recorded_hub_s_answers_are_left_out() -> None:
    lines = (NIGHTS / "evening.jsonl").read_bytes()
    assert b'"outcome"' in lines
    first, *rest = lines.splitlines()
    engine = RoomEngine(changed(("per_night: 12", "per_night: 0")))
    heard = [
        happening.entry.event
        for happening in replay_otherwise(
            engine, RoomEngine(HAYLOFT), read_lines(read_head(first).start, rest)
        )
        if not isinstance(happening, BadLine)
    ]
    open_orders = [event for event in heard if isinstance(event, Outcome | Answer)]
    assert len(open_orders) < lines.count(b'"outcome"')
    assert engine.refusals == {}
