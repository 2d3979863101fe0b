"""How fast a room is proven: states and steps of the shipped rooms, alone and with every processor.

Printed are ratios of one run: the time of an explored half of a step against a whole step of the
bare engine on the shipped evening's deciding events, and what more processes are worth. Seconds are
printed too, to be read on the machine at hand.
"""

from __future__ import annotations

from time import perf_counter

from engine import RoomEngine
from engine.events import Reading
from engine.room import Room
from rules.room.load import load
from simulator.nights.invention import NightPlan, invent_events
from simulator.nights.stand_in_hub import Hub, play_script
from simulator.proof.reachability import Exploration, Explorer
from simulator.proof.worker_pool import processors
from simulator.shipped import ROOMS

BEGINS = 1_795_375_800_000


def whole_step(room: Room) -> float:
    """Time a step of the bare engine, in seconds, over a made night's deciding events."""
    script = [*invent_events(room, 1, BEGINS, NightPlan(titles=8, minutes=60, readings=0))]
    lived = [*play_script(RoomEngine(room), Hub(room), script)]
    events = [(one.now, one.event) for one in lived if one.event is not None]
    deciding = [(now, event) for now, event in events if not isinstance(event, Reading)]
    best = float("inf")
    for _ in range(3):
        engine = RoomEngine(room)
        begins = perf_counter()
        for now, event in deciding:
            engine.receive(event, now)
        best = min(best, (perf_counter() - begins) / len(deciding))
    return best


def explored(room: Room, workers: int) -> tuple[Exploration, float]:
    """Explore a room; gives what was found and the seconds it took, set-up included."""
    begins = perf_counter()
    found = Explorer(room).run(workers=workers)
    return found, perf_counter() - begins


def main() -> None:
    """Print the figures."""
    pool = processors()
    print(f"{pool} processors; a half of a step against a whole one of the bare engine")
    for path in ROOMS:
        room = load(path.read_text("utf-8"), path.name)
        step = whole_step(room)
        alone, seconds = explored(room, 1)
        together, faster = explored(room, pool)
        assert alone == together, (alone, together)
        assert alone.complete
        print(
            f"{room.name:<9} {alone.states:>6,} states {alone.steps:>9,} steps  "
            f"alone {seconds:5.1f} s ({alone.steps / seconds:>7,.0f}/s, "
            f"{seconds / alone.steps / step:4.2f} of a whole step)  "
            f"together {faster:5.1f} s ({alone.steps / faster:>7,.0f}/s, "
            f"{seconds / faster:4.2f} times as fast)"
        )


if __name__ == "__main__":
    main()
