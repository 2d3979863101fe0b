"""Which modules and functions one playback event passes, from its payload to the decision.

    python -m tests.house.event_path

Only the project's own code counts, and of it only what is called by a name: comprehensions and
other nameless pieces belong to the function around them.
"""

from __future__ import annotations

import sys
from pathlib import Path
from types import CodeType, FrameType

from adapters.live.messages import read_message
from engine import Event, LensReport, Playback, ProjectorReport, RatioSeen, RoomEngine, SourceChosen
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.house.tree import FLOORS, TOP

NOW = 1_763_668_800_000
A_MINUTE = 60_000
BEFORE: tuple[Event, ...] = (
    ProjectorReport(state="lit"),
    LensReport(moving=False, preset="broad"),
    SourceChosen(source="disc"),
    Playback(state="stopped"),
    RatioSeen(ratio=2.39),
)
"""What the room has heard, so that the playback event leads to an order."""


def passed() -> tuple[int, set[tuple[str, str]]]:
    """Play one event; give how many decisions it led to, and each function by module and name."""
    room = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
    engine = RoomEngine(room)
    for event in BEFORE:
        engine.receive(event, NOW - A_MINUTE)
    engine.receive(None, NOW)  # what that led to is over: nothing else falls due now
    seen: set[CodeType] = set()

    def watch(frame: FrameType, what: str, _: object) -> None:
        if what == "call":
            seen.add(frame.f_code)

    sys.setprofile(watch)
    try:
        heard = read_message("playback", b'{"state": "playing"}')
        assert isinstance(heard, Playback)
        reply = engine.receive(heard, NOW)
    finally:
        sys.setprofile(None)
    return len(reply.decisions), {place for code in seen for place in named(code)}


def named(code: CodeType) -> list[tuple[str, str]]:
    """Give module and name of a function of ours, or nothing for all other code."""
    path = Path(code.co_filename)
    if not path.is_relative_to(TOP) or code.co_name.startswith("<"):
        return []
    module = path.relative_to(TOP)
    return [(module.as_posix(), code.co_qualname)] if module.parts[0] in FLOORS else []


def main() -> None:
    """Print what the event passes."""
    decisions, functions = passed()
    modules = {module for module, _ in functions}
    lines = [f"{module}: {name}" for module, name in sorted(functions)]
    lines.append(f"{len(modules)} modules, {len(functions)} functions, {decisions} decisions")
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
