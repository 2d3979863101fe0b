"""What a family reads of a golden night, from its start to its end, in both languages."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

import pytest

from adapters.live.standing import standing_data
from engine import RoomEngine
from engine.decisions import Note, Prompt, PromptOver
from engine.events import Event
from engine.replies import PEOPLES_EVENTS, reply_to_person
from engine.state import State
from rules.room.load import load
from simulator.nights.night_file import NightEntry, read_head, read_lines
from simulator.shipped import NIGHTS
from tests.golden.evenings import ENGLISH, in_portuguese

NOT_FOR_A_FAMILY = re.compile(r"\d|_|(?<!\w)['\"]|\b(?:None|null|True|False)\b")
"""A ratio or a standard's number; a quoted name; a name as programs write it."""
THEIR_OWN = {"marked"}
"""The codes of what somebody has written themselves."""


class Read(NamedTuple):
    """One sentence that somebody read, and where."""

    where: str
    words: str


def read(name: str, language: str) -> list[Read]:
    """Read a golden night from its start to its end: whatever a phone is told of it."""
    first, *rest = (NIGHTS / f"{name}.jsonl").read_bytes().splitlines()
    head = read_head(first)
    text = in_portuguese(head.room_file) if language == "pt" else head.room_file
    engine = RoomEngine(load(text, name))
    return [
        one
        for line in read_lines(head.start, rest)
        if isinstance(line, NightEntry)
        for now, event in due_before(engine, line)
        for one in step(engine, event, now)
    ]


def due_before(engine: RoomEngine, line: NightEntry) -> Iterator[tuple[int, Event | None]]:
    """Give what falls due before a line of a night, each at its own time, then the line's event."""
    while (due := engine.deadline) is not None and due <= line.now:
        yield due, None
    yield line.now, line.event


def step(engine: RoomEngine, event: Event | None, now: int) -> Iterator[Read]:
    """Give what is read of one step."""
    room, before = engine.room, engine.state
    came = engine.receive(event, now)
    for one in came.decisions:
        if isinstance(one, Prompt):
            yield Read("prompt", one.words)
            yield from (Read("caution", words) for words in one.cautions.values())
        elif isinstance(one, PromptOver | Note) and one.code not in THEIR_OWN:
            yield Read(one.kind, one.reason)
    if isinstance(event, PEOPLES_EVENTS) and came.refusal is None:
        said = reply_to_person(room, event, before, engine.state, came.decisions[came.due :])
        yield Read("reply", said.words)
        yield from (Read("reply", one.words) for one in said.next)
        if said.help is not None:
            yield Read("help", said.help)
    yield from standing(engine, engine.state)


def standing(engine: RoomEngine, state: State) -> Iterator[Read]:
    """Give what a phone reads that comes along now."""
    data = standing_data(engine.room, state)
    yield Read("why", data["why"]["words"])  # type: ignore[index]
    for one in data["next"]:  # type: ignore[attr-defined]
        yield Read("next", one["words"])
    if data["undo_words"] is not None:
        yield Read("undo", str(data["undo_words"]))
    for looks in data["looks"].values():  # type: ignore[attr-defined]
        for look in looks:
            yield from (Read("looks", look[part]) for part in ("why", "help") if look[part])


@pytest.mark.parametrize("name", ENGLISH)
def test_a_golden_night_reads_well_in_both_languages(name: str) -> None:
    """No ratio, no quoted name, no standard's number, whole sentences, and no other language."""
    english, portuguese = (read(name, language) for language in ("en", "pt"))
    assert not {one.words for one in english} & {one.words for one in portuguese}
    assert [one.where for one in english] == [one.where for one in portuguese]
    for one in {*english, *portuguese}:
        assert not NOT_FOR_A_FAMILY.search(one.words), one
        assert one.words[0].isupper(), one
        assert one.words[-1] in ".?", one
