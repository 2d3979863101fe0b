"""How fast a night replays, held against only parsing its lines with the same adapter.

Prints ratios measured in one run. Goal: replay, decisions serialised, at no less than half the
rate of the bare parsing loop.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from engine import RoomEngine
from engine.decisions import DECISIONS
from engine.events import Event, Playback, TimeOfDay
from rules.room.load import load
from simulator.nights.invention import BEGINS, NightPlan, invent_events
from simulator.nights.night_file import NIGHT_LINES, BadLine, event_line, read_lines
from simulator.nights.replay import replay
from simulator.nights.stand_in_hub import Hub, TimedEvent, play_script
from simulator.shipped import DEMO_ROOM

SEED = 12
ROUNDS = 5
DECIDING = 280
HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
PLAN = NightPlan(titles=4, minutes=25, readings=24, flicker=0.2)


def night() -> list[bytes]:
    """Make the night: a stop and a start are strewn in until enough events decide something."""
    script = list(invent_events(HAYLOFT, SEED, BEGINS, PLAN))
    every = len(script) // DECIDING
    strewn: list[TimedEvent] = []
    stopped = False
    for number, happened in enumerate(script):
        strewn.append(happened)
        if number % every == 0:
            stopped = not stopped
            state = Playback(state="stopped" if stopped else "playing")
            strewn.append(TimedEvent(happened.now, state))
    lines, deciding = [], 0
    for lived in play_script(RoomEngine(HAYLOFT), Hub(HAYLOFT, flickers=False), strewn):
        deciding += bool(lived.decisions)
        if lived.event is not None:
            lines.append(event_line(BEGINS, lived.now, lived.event))
    print(f"{len(lines):,} lines, of which {deciding} decide something")
    return lines


def fastest(work: Callable[[], object]) -> float:
    """Give the seconds of the fastest of some rounds."""
    taken = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return min(taken)


def main() -> None:
    """Measure and print."""
    lines = night()

    def parse() -> None:
        for line in lines:
            NIGHT_LINES.validate_json(line)

    def play() -> None:
        for happening in replay(RoomEngine(HAYLOFT), read_lines(BEGINS, lines)):
            if not isinstance(happening, BadLine):
                for decision in happening.decisions:
                    DECISIONS.dump_json(decision)

    parsing, playing = fastest(parse), fastest(play)
    per_line = 1e6 / len(lines)
    print(f"parsing {parsing * per_line:.2f} us a line, replay {playing * per_line:.2f}")
    print(f"replay runs at {parsing / playing:.2f} of the rate of parsing (goal 0.5)")

    events: list[tuple[int, Event]] = []
    for number in range(5_000):
        now = BEGINS + number * 1_000
        states = ("playing", "paused", "playing", "stopped")
        events.append((now, Playback(state=states[number % 4])))  # type: ignore[arg-type]
        events.append((now, TimeOfDay(minute=number // 60 % 1_440)))

    def live() -> None:
        engine = RoomEngine(HAYLOFT)
        for now, event in events:
            engine.receive(event, now)

    print(f"without readings: {fastest(live) * 1e6 / len(events):.1f} us an event")


if __name__ == "__main__":
    main()
