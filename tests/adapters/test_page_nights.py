"""Through every shipped night the page shows only what stands, and offers nobody another's word."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest

from adapters.live.standing import standing_data, standing_message
from adapters.page.page_templates import PARTS, part_html
from adapters.page.room_board import SHAPE
from adapters.page.room_view import RoomView, StandingHeard, room_view
from engine.room import Room
from rules.room.load import load
from simulator.nights.night_file import read_head, read_lines
from simulator.nights.replay import ReplayStep, engine_for, replay
from simulator.shipped import NIGHTS

SHIPPED = sorted(path for path in NIGHTS.glob("*.jsonl") if ".decisions" not in path.name)
BRINGS_LIGHT = {"done", "no", "not_tonight", "all_away"}


@cache
def room_of(text: str) -> Room:
    return load(text, "night")


def answers(view: RoomView) -> set[str]:
    """Give the answers that a view offers."""
    return {one.fields["answer"] for one in view.offers.values() if one.subtopic == "answer"}


@pytest.mark.parametrize("night", SHIPPED, ids=lambda path: path.stem)
def test_a_night_is_shown_whatever_happens_in_it(night: Path) -> None:
    """After each step that decides something: both views with all their parts."""
    with night.open("rb") as lines:
        head = read_head(next(lines))
        room = room_of(head.room_file)
        engine = engine_for(room, head)
        seen: set[str] = set()
        for step in replay(engine, read_lines(head.start, lines)):
            assert isinstance(step, ReplayStep)
            now = step.entry.now
            data = standing_data(room, engine.state)
            said = json.loads(standing_message(data, now).body)
            key = json.dumps({**said, "at": ""})
            if key in seen:
                continue
            seen.add(key)
            assert said.keys() >= SHAPE
            prompt = said["prompt"]
            for own in (False, True):
                view = room_view(StandingHeard(room, said, now), own=own)
                html = "".join(part_html(name, view, room) for name in PARTS)
                assert "None" not in html
                named = prompt is not None and prompt["at_screen"] and prompt["who"]
                if named and not own:
                    assert not answers(view) & BRINGS_LIGHT
        assert seen
