"""Which modules and functions one playback event passes, from its payload to the decision.

    python -m tests.house.event_path

prints them. The whole way, from the socket to the order, is walked over a scripted broker; its
stops are those of the table in DEVELOPERS.md.

Only the project's own code counts, and of it only what is called by a name: comprehensions and
other nameless pieces belong to the function around them.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import CodeType, FrameType

from adapters.live.messages import read_message
from engine import Event, LensReport, Playback, ProjectorReport, RatioSeen, RoomEngine, SourceChosen
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.test_connection import connected
from tests.house.tree import FLOORS, TOP, text_of

NOW = 1_763_668_800_000
A_MINUTE = 60_000
PLAYING = b'{"state": "playing"}'
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
    _forget_what_was_worked_out()
    for event in BEFORE:
        engine.receive(event, NOW - A_MINUTE)
    engine.receive(None, NOW)  # what that led to is over: nothing else falls due now
    with watched() as seen:
        heard = read_message("playback", PLAYING)
        assert isinstance(heard, Playback)
        reply = engine.receive(heard, NOW)
    return len(reply.decisions), {place for code in seen for place in named(code)}


def _forget_what_was_worked_out() -> None:
    """Clear the caches: what is kept from another test is not called, nor counted."""
    for name, module in [*sys.modules.items()]:
        if name.startswith(("engine.", "adapters.live.")):
            for kept in vars(module).values():
                if hasattr(kept, "cache_clear"):
                    kept.cache_clear()


async def walked(folder: Path) -> list[tuple[str, str]]:
    """Play the same event over a connection until its order is published.

    Gives each function by module and name, in the order in which they are first called.
    """
    async with connected(folder) as one:
        one.hear(*BEFORE)
        one.stage.clock.time += A_MINUTE
        one.room.publish(one.room.durable.pass_time())
        before = len(one.broker.orders())
        _forget_what_was_worked_out()
        with watched() as seen:
            one.broker.publish("roomcue/hayloft/in/playback", PLAYING, packet=1)
            await one.broker.until(lambda: len(one.broker.orders()) > before)
    return [place for code in seen for place in named(code)]


@contextmanager
def watched() -> Iterator[dict[CodeType, None]]:
    """Note whatever is called meanwhile, in the order of the first calls."""
    seen: dict[CodeType, None] = {}

    def watch(frame: FrameType, what: str, _: object) -> None:
        if what == "call":
            seen.setdefault(frame.f_code)

    sys.setprofile(watch)
    try:
        yield seen
    finally:
        sys.setprofile(None)


def stops() -> list[tuple[str, str]]:
    """List the stops that DEVELOPERS.md names, by module and function."""
    page = text_of(Path("DEVELOPERS.md"))
    _, _, section = page.partition("## The way of one event\n")
    section, _, _ = section.partition("\n## ")
    rows = re.findall(r"^\| `(\w[\w/]*\.py)` \| `([\w.]+)` \|", section, re.MULTILINE)
    return [
        (module, f"{name}.__init__" if name[0].isupper() and "." not in name else name)
        for module, name in rows
    ]


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
