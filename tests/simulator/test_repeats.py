"""Readings that come again and again are read together, and count as if each came by itself."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine import RoomEngine
from engine.events import BlackSeen, Event, Playback, RatioSeen, SourceChosen
from engine.room import Room
from engine.room_engine import Reply
from rules.room.load import load
from simulator.nights.night_file import (
    MOST_REPEATS,
    BadLine,
    NightEntry,
    NightPart,
    Repeats,
    event_line,
    line_by_line,
    read_lines,
    read_parts,
)
from simulator.nights.night_record import NightRecord, Silence, record_night
from simulator.nights.replay import replay
from simulator.shipped import DEMO_ROOM
from tests.engine.meetings import START

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
SCOPE = RatioSeen(ratio=2.39)
TALL = RatioSeen(ratio=1.78)
FILM: list[tuple[int, Event]] = [
    (0, SourceChosen(source="disc")),
    (0, Playback(state="playing")),
]


def lines_of(told: Sequence[tuple[int, Event]]) -> list[bytes]:
    """Write events as lines, each so many ms after the one before."""
    lines, now = [], START
    for wait, event in told:
        now += wait
        lines.append(event_line(START, now, event) + b"\n")
    return lines


class Listening(RoomEngine):
    """An engine that keeps what it was told."""

    def __init__(self, room: Room) -> None:
        self.heard: list[Event | None] = []
        super().__init__(room)

    def receive(self, event: Event | None, now: int) -> Reply:
        self.heard.append(event)
        return super().receive(event, now)


def recorded(parts: Iterable[NightPart], until: int | None = None) -> NightRecord:
    """Record these parts of a night."""
    engine = RoomEngine(HAYLOFT)
    return record_night(
        engine, START, parts, lambda heard, see: replay(engine, heard, until, see), until
    )


@given(
    runs=st.lists(
        st.tuples(
            st.sampled_from([SCOPE, TALL, BlackSeen(), RatioSeen(ratio=2.0)]),
            st.integers(1, 60),
            st.sampled_from([40, 1_000, 20_000, 310_000]),
        ),
        max_size=8,
    )
)
def test_a_night_read_in_runs_is_the_night_read_line_by_line(
    runs: list[tuple[Event, int, int]],
) -> None:
    """What falls due within a run fires at its own time, and no silence is lost."""
    told = [*FILM, *((wait, event) for event, count, wait in runs for _ in range(count))]
    parts = list(read_parts(START, lines_of(told)))
    singly = list(line_by_line(parts))
    assert [one.number for one in singly] == [*range(2, 2 + len(told))]
    assert recorded(parts) == recorded(singly)
    groups = sum(1 for _ in groupby(told, key=lambda one: one[1]))
    assert len(parts) <= 2 * groups + len(FILM)


def test_a_long_run_is_handed_on_in_pieces() -> None:
    parts = list(read_parts(START, lines_of([(40, SCOPE)] * (2 * MOST_REPEATS + 5))))
    held = [len(one.seconds) for one in parts if isinstance(one, Repeats)]
    assert held == [MOST_REPEATS, MOST_REPEATS, 2]


def test_only_what_falls_due_interrupts_a_run() -> None:
    """Of 2,000 readings the engine hears the first, and those after something fell due."""
    engine = Listening(HAYLOFT)
    for _ in replay(engine, read_parts(START, lines_of([*FILM, *[(40, SCOPE)] * 2_000]))):
        pass
    assert engine.heard.count(SCOPE) < 20
    assert engine.state.settling.aspect == 23_900


@pytest.mark.parametrize(
    "broken",
    [
        b'{"t":x,"event":{"kind":"ratio","ratio":2.39}}\n',
        b'{"t":1.,"event":{"kind":"ratio","ratio":2.39}}\n',
        b'{"t":0,"event":{"kind":"ratio","ratio":2.39}}\n',
        b'{"t":1{"t":2,"event":{"kind":"ratio","ratio":2.39}}\n',
        b',"event":{"kind":"ratio","ratio":2.39}}\n',
    ],
)
def test_a_bad_line_within_a_run_is_named_and_the_others_are_read(broken: bytes) -> None:
    lines = lines_of([(1_000, SCOPE)] * 9)
    found = list(read_lines(START, [*lines[:5], broken, b"\n", *lines[5:]]))
    assert [one.number for one in found if isinstance(one, BadLine)] == [7]
    good = [one for one in found if isinstance(one, NightEntry)]
    assert [one.number for one in good] == [2, 3, 4, 5, 6, 9, 10, 11, 12]
    assert [one.now - START for one in good] == [*range(1_000, 10_000, 1_000)]


def test_a_silence_after_a_run_is_steady() -> None:
    """A hub that repeats itself does not fall silent by itself."""
    told = [*FILM, *[(1_000, SCOPE)] * 20, (600_000, SCOPE), *[(1_000, SCOPE)] * 3]
    record = recorded(list(read_parts(START, lines_of(told))))
    assert record.silences == (Silence(START + 20_000, START + 620_000, steady=True),)


def test_a_silence_after_the_moment_up_to_which_a_night_is_recorded_is_none_of_it() -> None:
    told = [*FILM, *[(1_000, SCOPE)] * 20, *[(600_000, SCOPE)] * 3]
    parts = list(read_parts(START, lines_of(told)))
    assert recorded(parts, START + 10_000) == recorded(line_by_line(parts), START + 10_000)
    assert recorded(parts, START + 10_000).silences == ()
    assert len(recorded(parts, START + 700_000).silences) == 2
