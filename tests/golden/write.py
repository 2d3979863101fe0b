"""Write the golden nights anew: `python -m tests.golden.write`, then read the difference.

Needed when the shipped room, a script or the engine's decisions are meant to change. The
nights are what hubs would have recorded; the decisions are what the engine makes of them.
"""

from __future__ import annotations

from engine import RoomEngine
from rules.room.load import load
from simulator.nights.invention import invented_night
from simulator.nights.night_file import decision_line, event_line, head_line, new_head
from simulator.nights.stand_in_hub import TimedEvent, play_script
from simulator.shipped import DEMO_ROOM, NIGHTS
from tests.golden.evenings import BEGINS, EVENINGS, MADE, Evening, Made

VERSION = "0.1.0"
"""The version whose decisions these are."""


def recorded(evening: Evening) -> tuple[list[bytes], list[bytes]]:
    """Live an evening through with an obedient hub: the night's lines and the decisions'."""
    room = load(evening.room_file, DEMO_ROOM.name)
    script = (TimedEvent(BEGINS + round(t * 1_000), event) for t, event in evening.script())
    events = [head_line(new_head(room.name, BEGINS, evening.room_file, VERSION, None))]
    decisions = []
    hub = evening.hub(room, evening.person)
    for lived in play_script(RoomEngine(room), hub, script):
        if lived.event is not None:
            events.append(event_line(BEGINS, lived.now, lived.event))
        decisions += [decision_line(BEGINS, decision) for decision in lived.decisions]
    return events, decisions


def made(night: Made) -> list[bytes]:
    """Make a night out of its seed: head, events and decisions."""
    room = load(night.room.read_text("utf-8"), night.room.name)
    return [*invented_night(room, night.seed, night.plan, VERSION)]


def main() -> None:
    """Write all of them."""
    NIGHTS.mkdir(exist_ok=True)
    for name, evening in EVENINGS.items():
        events, decisions = recorded(evening)
        (NIGHTS / f"{name}.jsonl").write_bytes(b"\n".join(events) + b"\n")
        (NIGHTS / f"{name}.decisions.jsonl").write_bytes(b"\n".join(decisions) + b"\n")
    for name, night in MADE.items():
        (NIGHTS / f"{name}.jsonl").write_bytes(b"\n".join(made(night)) + b"\n")


if __name__ == "__main__":
    main()
