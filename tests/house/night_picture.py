"""The README's picture of a night: the shipped evening as lanes over time, drawn from its replay.

`python -m tests.house.night_picture` prints it; a test holds the README to it.
"""

from __future__ import annotations

from typing import Final

from engine.decisions import Decision, PictureOrder, Prompt, PromptOver, RecallOrder
from engine.events import Event, LensReport, PanelReport, Playback, SourceChosen
from rules.room.load import load
from simulator.nights.night_file import read_head, read_lines
from simulator.nights.replay import ReplayStep, engine_for, replay
from simulator.shipped import DEMO_NIGHT

COLUMN: Final = 100_000
"""Milliseconds in a column."""
TICK: Final = 12
"""Columns between two times on the axis: 20 minutes."""
LANES: Final = ("source", "playback", "picture", "lens", "panels")

Lane = list[tuple[int, str]]
"""When something began, in ms since the night did, and its name."""


def _told(event: Event | None) -> dict[str, str]:
    """Name the lanes that an event changes, and to what."""
    match event:
        case SourceChosen(source=source):
            return {"source": source}
        case Playback(state=state):
            return {"playback": state}
        case LensReport(moving=False, preset=preset):
            return {"lens": preset or "?"}
        case PanelReport(panels=panels):
            return {"panels": panels or "?"}
        case _:
            return {}


def _decided(decision: Decision, asked: dict[int, str]) -> dict[str, str]:
    """Name the lanes that a decision changes, and to what; `asked` keeps what prompts ask for."""
    match decision:
        case PictureOrder(picture="dark"):
            return {"picture": "dark"}
        case PictureOrder(picture=picture, aspect=aspect):
            return {"picture": f"{picture} {aspect:.2f}"}
        case RecallOrder():
            return {"lens": ">>>"}
        case Prompt(id=number, panels=panels):
            asked[number] = panels
            return {}
        case PromptOver(how="done", prompt=number):
            return {"panels": asked[number]}
        case _:
            return {}


def lanes() -> tuple[int, int, dict[str, Lane]]:
    """Replay the shipped evening; gives its start (ms UTC), its length (ms) and its lanes."""
    head_line, *lines = DEMO_NIGHT.read_bytes().splitlines()
    head = read_head(head_line)
    room = load(head.room_file, DEMO_NIGHT.name)
    drawn: dict[str, Lane] = {lane: [] for lane in LANES}
    asked: dict[int, str] = {}
    last = head.start
    for step in replay(engine_for(room, head), read_lines(head.start, lines)):
        assert isinstance(step, ReplayStep)
        last = step.entry.now
        decided = [_decided(decision, asked) for decision in step.decisions]
        for said in (_told(step.entry.event), *decided):
            for lane, name in said.items():
                if not drawn[lane] or drawn[lane][-1][1] != name:
                    drawn[lane].append((last - head.start, name))
    return head.start, last - head.start, drawn


def lane_text(lane: Lane, columns: int) -> str:
    """Draw one lane: each name where it began, then a line for as long as it lasted.

    What lasted less than a column is left out, and a name that is longer than its line too.
    """
    begins = [(at // COLUMN, name) for at, name in lane]
    ends = [at for at, _ in begins[1:]] + [columns]
    text = ""
    for (at, name), end in zip(begins, ends, strict=True):
        if at < end:
            fits = end == columns or len(name) < end - at
            drawn = "|" + (name if fits else "")
            text = text.ljust(at) + (drawn.ljust(end - at, "-") if name else "")
    return text


def picture() -> str:
    """Draw the night."""
    start, length, drawn = lanes()
    columns = length // COLUMN + 1
    times = ""
    for at in range(0, columns, TICK):
        hour, minute = divmod((start + at * COLUMN) // 60_000 % 1440, 60)
        times += f"{hour:02}:{minute:02}".ljust(TICK)
    rows = [f"{'':<9} {times}".rstrip()]
    rows += [f"{lane:<9} {lane_text(drawn[lane], columns)}".rstrip() for lane in LANES]
    return "\n".join(rows) + "\n"


if __name__ == "__main__":
    print(picture(), end="")  # noqa: T201 - a picture is printed
