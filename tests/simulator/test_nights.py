"""Nights as JSON Lines: what is written reads back, and bad lines are named."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.events import EVENTS, Event
from rules.room.load import load
from simulator.nights.night_file import (
    NIGHT_LINES,
    BadLine,
    NightEntry,
    NightError,
    event_line,
    head_line,
    new_head,
    read_head,
    read_lines,
    seconds,
)
from simulator.shipped import DEMO_ROOM
from tests.engine.meetings import START, events

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
GOOD = [b'{"t":1,"event":{"kind":"mark"}}', b'{"t":2,"event":{"kind":"black"}}']


@given(event=events(HAYLOFT), wait=st.integers(0, 864_000_000))
def test_every_event_reads_back_as_it_was_written(event: Event, wait: int) -> None:
    (entry,) = read_lines(START, [event_line(START, START + wait, event)])
    assert entry == NightEntry(2, START + wait, event, None)


@given(wait=st.integers(0, 864_000_000))
def test_seconds_are_written_short_and_read_exactly(wait: int) -> None:
    assert round(float(seconds(wait)) * 1_000) == wait


@given(
    picks=st.lists(
        st.tuples(
            st.integers(0, 3_000),
            st.sampled_from(
                [
                    *GOOD,
                    b'{"t":3.25,"event":{"kind":"black"}}',
                    b'{"t":3.25, "event":{"kind":"black"}}',
                    b'{"t":1,"event":{"kind":"black"},"decision":null}',
                    b'{"t":1,"event":null}',
                    b'{"t":1,"event":{"kind":"blck"}}',
                    b"",
                    b"{",
                ]
            ),
        ),
        max_size=12,
    )
)
def test_lines_that_repeat_an_event_read_as_if_each_were_parsed(
    picks: list[tuple[int, bytes]],
) -> None:
    """Only `t` and the line's number tell them apart."""
    lines, now = [], 0
    for wait, line in picks:
        now += wait
        lines.append(line.replace(b'"t":1,', b'"t":%s,' % seconds(now)))
    for read, line in zip_read(lines):
        data = NIGHT_LINES.validate_json(line)
        if isinstance(read, NightEntry):
            assert read.event == data.event
            assert read.now == START + round(data.t * 1_000)


def zip_read(lines: list[bytes]) -> list[tuple[NightEntry | BadLine, bytes]]:
    """Read lines, and pair each good one with its bytes."""
    found = list(read_lines(START, lines))
    numbers = [entry.number for entry in found]
    assert numbers == sorted(set(numbers))
    return [(entry, lines[entry.number - 2]) for entry in found if isinstance(entry, NightEntry)]


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"{}",
        b"[]",
        b'{"night":2,"room":"x","begins":"2026-11-22T19:30:00","room_file":"","versions":{"roomcue":"0","state":1,"room_file":1}}',
        b'{"night":2,"room":"x","begins":1,"room_file":"","versions":{"roomcue":"0","state":1,"room_file":1}}',
        b'{"night":2,"room":"x","begins":"2026-11-22T19:30:00Z","room_file":"","versions":{"roomcue":"0","state":1,"room_file":1},"more":1}',
    ],
)
def test_what_is_no_head_is_refused(line: bytes) -> None:
    with pytest.raises(NightError, match="line 1 is no head of a night: "):
        read_head(line)


def test_a_night_with_the_former_words_is_refused_with_what_to_do() -> None:
    line = b'{"night":1,"room":"x","begins":"2026-11-22T19:30:00Z","room_file":""}'
    with pytest.raises(
        NightError, match=r"^this night has format 1, .*reads format 2 only; read it with"
    ):
        read_head(line)


def test_a_head_reads_back_with_the_room_file_s_text() -> None:
    text = DEMO_ROOM.read_text("utf-8")
    head = new_head("hayloft", START + 123, text, "0.1.0", None)
    assert read_head(head_line(head)) == head
    assert head.start == START + 123


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('{"t": 1e9, "event": {"kind": "mark"}}', "t: at most 864000 is expected"),
        ('{"t": -1, "event": {"kind": "mark"}}', "t: at least 0 is expected"),
        ('{"t": "1", "event": {"kind": "mark"}}', "t: a number is expected"),
        ('{"t": 1, "event": {"kind": "bars", "top": 1.5}}', "top: a whole number is expected"),
        ('{"t": 1, "event": {"kind": "source", "source": ""}}', "source: this is empty"),
        ('{"t": 1, "event": {"kind": "time", "minute": 1440}}', "at most 1439"),
        ('{"t": 1, "event": {"kind": "told", "fact": "x", "value": 1.5}}', "value"),
        ('{"t": 1, "event": ' + "[" * 3_000 + "]" * 3_000 + "}", "line 2"),
        ('{"t": 1' + "0" * 400 + ', "event": {"kind": "mark"}}', "line 2: t"),
    ],
)
def test_a_bad_line_says_where_and_what(line: str, says: str) -> None:
    (bad,) = read_lines(START, [line.encode()])
    assert isinstance(bad, BadLine)
    assert says in str(bad)


def test_the_kind_of_an_event_is_always_written_first() -> None:
    """So a person who reads a night sees at once what a line is about."""
    event = EVENTS.validate_json(b'{"source":"disc","kind":"source","id":"x"}')
    data = json.loads(event_line(START, START, event))
    assert list(data["event"]) == ["kind", "id", "source"]
