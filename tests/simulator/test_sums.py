"""Sums of a night equal what the engine says, second by second, and belong to that night alone."""

from __future__ import annotations

from collections import Counter
from statistics import fmean

import pytest

from engine import RoomEngine
from engine.planning.light import brightness
from engine.room import DARK
from rules.room.load import load
from simulator.nights.comparison import compared, first_differences
from simulator.nights.night_file import NightEntry, read_head, read_lines
from simulator.nights.sums import sums_of
from simulator.shipped import NIGHTS
from tests.night_records import record_of

A_SECOND = 1_000


def sampled(name: str) -> tuple[Counter[tuple[str, str, str]], float, float]:
    """Look at the bare engine once a second while something plays: looks, light, pixels."""
    first, *rest = (NIGHTS / f"{name}.jsonl").read_bytes().splitlines()
    head = read_head(first)
    room = load(head.room_file, head.room)
    engine, looks = RoomEngine(room), Counter[tuple[str, str, str]]()
    light, pixels = list[float](), list[int]()
    now = head.start
    for line in read_lines(head.start, rest):
        assert isinstance(line, NightEntry)
        while now < line.now:
            engine.receive(None, now)
            core = engine.state.core
            lit = core.shown is not None and core.shown.picture != DARK and not core.failed
            if core.playback in {"playing", "paused"} and core.shown is not None and lit:
                pixels.append(core.shown.region.width * core.shown.region.height)
                if core.lens == "resting":
                    looks[core.shown.picture, str(core.preset), str(core.arrangement)] += 1
                    shone = brightness(room, str(core.preset))
                    light.append(0 if shone is None else shone.luminance)
            now += A_SECOND
        engine.receive(line.event, line.now)
    return looks, fmean(light), fmean(pixels)


@pytest.mark.parametrize("name", ["evening", "trailers", "guests"])
def test_time_light_and_pixels_equal_those_of_the_engine_second_by_second(name: str) -> None:
    looks, light, pixels = sampled(name)
    sums = sums_of(record_of(name))
    told = {(one.picture, one.preset, one.panels): one.ms for one in sums.looks}
    for look, seconds in looks.items():
        assert told[look] == pytest.approx(seconds * A_SECOND, abs=3 * A_SECOND)
    assert sums.light == pytest.approx(light, rel=0.01)
    assert sums.pixels == pytest.approx(pixels, rel=0.01)


def test_travels_are_those_of_this_night_and_not_of_the_rooms_life() -> None:
    record = record_of("evening")
    whole = {one.preset: (one.ordered, one.by_hand) for one in record.last.tally.travels}
    sums = sums_of(record)
    assert {one.preset: (one.ordered, one.by_hand) for one in sums.travels} == whole
    later = record._replace(first=record.last)
    assert sums_of(later).travels == ()


def test_requests_are_counted_with_how_they_ended_and_how_long_they_stood_open() -> None:
    prompts = sums_of(record_of("nobody-there")).prompts
    assert (prompts.asked, prompts.done, prompts.expired) == (1, 0, 1)
    assert prompts.waited == 900 * A_SECOND


def test_a_night_beside_itself_differs_in_nothing() -> None:
    record = record_of("evening")
    assert list(compared(sums_of(record), sums_of(record))) == []
    assert first_differences(record, record) == ()


def test_two_nights_are_compared_in_sentences_with_what_it_cost() -> None:
    one, other = record_of("refused-recall"), record_of("evening")
    said = list(compared(sums_of(one), sums_of(other)))
    assert "The lens travelled 3 times instead of 0." in said
    assert any(line.startswith("White on the screen was 1") for line in said)
    assert any("more." in line or "less." in line for line in said)
    words = [link.words for link in first_differences(one, other)]
    assert words[0] == "picture gentle 2.20 instead of plain 1.78"
    assert "preset tall instead of broad" in words
