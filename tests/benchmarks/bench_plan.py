"""The whole plan of a large room: milliseconds, and as a multiple of parsing the shipped night.

The room has 6 presets and 6 pictures; with plain and whole that is 672 ways for the 14 ratios.
The rooms are loaded anew for each round, so that nothing is remembered from the one before.

Run it as a script: python -m tests.benchmarks.bench_plan
"""

from __future__ import annotations

from collections.abc import Callable
from statistics import median
from time import perf_counter

from adapters.render.place_drawing import places_sheet
from adapters.render.plan_json import plan_data
from adapters.render.plan_text import plan_lines
from adapters.render.stretch_drawing import stretch_sheet
from engine.planning.plan import RATIOS, Plan, plan
from engine.room import Room
from rules.room.load import load
from simulator.nights.night_file import read_head, read_lines
from simulator.shipped import DEMO_NIGHT, DEMO_ROOM

ROUNDS = 9
PRESETS = "".join(f"  zoom_{index}: {{fits: {2.30 - index / 10:.2f}}}\n" for index in range(4))
PICTURES = "".join(
    f"  bent_{index}: {{stretch: {{edge_circle: {1.15 + index / 10:.2f}, rows_lost: {index} %}}}}\n"
    for index in range(4)
)


def large_room() -> Room:
    """The shipped room with more presets and pictures."""
    text = DEMO_ROOM.read_text("utf-8")
    text = text.replace("presets:\n", f"presets:\n{PRESETS}")
    return load(text.replace("pictures:\n", f"pictures:\n{PICTURES}"), "large.yaml")


def parse() -> int:
    """Read every line of the shipped night."""
    with DEMO_NIGHT.open("rb") as file:
        head = read_head(file.readline())
        return sum(1 for _ in read_lines(head.start, file))


def seconds(prepare: Callable[[], Room], work: Callable[[Room], object]) -> float:
    """Give the median time of some rounds, each with a room of its own."""
    times = []
    for _ in range(ROUNDS):
        room = prepare()
        begin = perf_counter()
        work(room)
        times.append(perf_counter() - begin)
    return median(times)


def draw(found: Plan) -> int:
    """Draw every sheet."""
    sheets = [places_sheet(found, zoom) for zoom in found.zooms]
    sheets += [stretch_sheet(found, picture) for picture in found.room.pictures]
    return sum(map(len, sheets))


def main() -> None:
    """Print the figures."""
    room = large_room()
    lines = parse()
    parsed = seconds(large_room, lambda _: parse())
    print(f"{len(room.presets)} presets, {len(room.pictures)} pictures, {len(RATIOS)} ratios")
    print(f"{'parsing the night':24} {parsed * 1e3:7.2f} ms, {lines} lines")
    planned = plan(room)
    for name, work in (
        ("the whole plan", plan),
        ("the same as text", lambda one: [*plan_lines(plan(one))]),
        ("the same as JSON data", lambda one: plan_data(plan(one))),
        ("the drawings alone", lambda _: draw(planned)),
    ):
        took = seconds(large_room, work)
        print(f"{name:24} {took * 1e3:7.2f} ms, {took / parsed:6.1f} times the parsing")


if __name__ == "__main__":
    main()
