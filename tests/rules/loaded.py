"""Rooms that are loaded from their files, and how tests look at them and change them."""

from __future__ import annotations

from engine.room import (
    Room,
    RowNote,
    Show,
)
from engine.table import choose
from rules.room.load import load
from tests.rules.files import room_text

HAYLOFT = load(room_text("hayloft.yaml"), "hayloft.yaml")
ATTIC = load(room_text("attic.yaml"), "attic.yaml")
RANKED = load(room_text("ranked.yaml"), "ranked.yaml")

FACTS: dict[str, str | bool | int | None] = {
    "source": "disc",
    "playback": "playing",
    "aspect": 23_900,
    "declared": None,
    "tallest": 23_900,
    "varies": False,
    "doubtful": False,
    "subtitles": False,
    "first_minutes": True,
    "preset": "broad",
    "panels": "open",
    "helper": "free",
    "time": 20 * 60,
    "range": "standard",
    "three_d": None,
    "guests": None,
    "quiet": False,
    "mood": None,
    "seats": None,
}


def changed(before: str, after: str, name: str = "hayloft.yaml") -> str:
    text = room_text(name)
    assert text.count(before) == 1
    return text.replace(before, after)


def shown(room: Room, **facts: str | bool | int | None) -> tuple[str, Show | None]:
    """Which row wins, and what it shows."""
    choice = choose(room.rules.table, {**FACTS, **facts})
    label = "otherwise" if choice.row is None else room.rules.rows[choice.row].label
    return label, choice.output


def without_lines(room: Room) -> list[object]:
    """A room as plain data, bar its text and the lines on which its rows stand."""

    def note(row: RowNote) -> RowNote:
        return row._replace(line=0)

    rules = room.rules._replace(
        rows=tuple(map(note, room.rules.rows)), otherwise=note(room.rules.otherwise)
    )
    promises = [promise._replace(line=0) for promise in room.promises]
    skipped = {"text", "rules", "promises"}
    rest = [getattr(room, name) for name in Room.__slots__ if name not in skipped]
    return [*rest, rules, promises, [*room.presets], [*room.panels], [*room.sources]]
