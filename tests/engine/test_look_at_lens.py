"""A plain count of travels has somebody look at the lens, before anything has been measured."""

from __future__ import annotations

from engine import RoomEngine
from engine.decisions import Note
from engine.events import LensReport, TimeOfDay
from engine.room import Room
from rules.room.load import load
from simulator.shipped import DEMO_ROOM

NOON = 1_795_348_800_000
"""A noon, UTC."""
DAY = 86_400_000


def room(wear: str) -> Room:
    text = DEMO_ROOM.read_text("utf-8").replace("\nrules:\n", f"\nwear: {wear}\n\nrules:\n", 1)
    return load(text, "hayloft.yaml")


def moved(engine: RoomEngine, times: int, begins: int) -> list[str]:
    """Send the lens to and fro by hand; gives the notes about it."""
    codes = []
    engine.receive(TimeOfDay(minute=begins % DAY // 60_000), begins)
    for number in range(times):
        now = begins + number * 60_000
        preset = ("tall", "broad")[number % 2]
        decisions = engine.receive(LensReport(moving=True, preset=preset), now).decisions
        arrives = LensReport(moving=False, preset=preset)
        decisions += engine.receive(arrives, now + 10_000).decisions
        codes += [one.code for one in decisions if isinstance(one, Note)]
    return [code for code in codes if code in ("look_at_lens", "many_travels")]


def test_after_so_many_travels_to_a_preset_and_again_after_as_many() -> None:
    engine = RoomEngine(room("{travels: 5}"))
    assert moved(engine, 9, NOON) == ["look_at_lens"], "the fifth to tall"
    assert moved(engine, 1, NOON + 3_600_000) == []
    assert moved(engine, 10, NOON + 7_200_000) == ["look_at_lens"] * 2, "five each to both"


def test_more_in_one_night_than_it_may_be_is_said_once_a_night() -> None:
    engine = RoomEngine(room("{a_night: 6}"))
    assert moved(engine, 6, NOON) == []
    assert moved(engine, 4, NOON + 3_600_000) == ["many_travels"]
    assert moved(engine, 6, NOON + DAY) == [], "another night"
    assert moved(engine, 1, NOON + DAY + 3_600_000) == ["many_travels"]


def test_a_room_that_asks_for_nothing_hears_nothing() -> None:
    engine = RoomEngine(load(DEMO_ROOM.read_text("utf-8"), "hayloft.yaml"))
    assert moved(engine, 60, NOON) == []
