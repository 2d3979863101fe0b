"""Rooms of any size, invented from a seed, to see how a proof grows with each of its features."""

from __future__ import annotations

import random
from typing import Final, NamedTuple

RATIOS: Final = ("2.40", "1.78", "2.00", "2.20", "1.90", "2.10", "1.66", "2.30")
OPENINGS: Final = ("1.78", "2.00", "1.66", "2.20", "1.90", "2.10")
SOURCES: Final = (
    "",
    "declares: yes",
    "menu_shape: 1.78",
    "shape: 1.78",
    "leave_alone: yes",
    "titles: yes",
)
PICTURES: Final = (
    "gentle: {stretch: {edge_circle: 1.30, middle_circle: 1.03, rows_lost: 3 %}}",
    "cropped: {crop: {rows_lost: 8 %}}",
    "broader: {stretch: {edge_circle: 1.50, middle_circle: 1.05}}",
)


class Size(NamedTuple):
    """How much of each feature a room has."""

    sources: int = 4
    presets: int = 2
    arrangements: int = 1
    """Beside `open`."""
    pictures: int = 1
    told: int = 2
    rows: int = 12
    promises: int = 3


def room_text(size: Size, seed: int = 1) -> str:
    """Write a room file of this size; its rows are drawn from the seed."""
    rng = random.Random(seed)
    lines = [
        f"room: made_{seed}",
        "time_zone: UTC",
        "screen: {width: 3.4 m, aspect: 2.40, border: 80 mm, overfill: 2 %}",
        "projector: {raster: 4096 x 2160, lens: {travel: 20 s, reports: yes}}",
        "presets:",
        *(f"  {_preset(number)}: {{fits: {RATIOS[number]}}}" for number in range(size.presets)),
        "panels:",
        "  open: {}",
        *(
            f"  sides{number}: {{opening: {OPENINGS[number]}}}"
            for number in range(size.arrangements)
        ),
        "pictures:" if size.pictures else "",
        *(f"  {picture}" for picture in PICTURES[: size.pictures]),
        "sources:",
        *(
            f"  source{number}: {{{SOURCES[number % len(SOURCES)]}}}"
            for number in range(size.sources)
        ),
        "told:" if size.told else "",
        *(
            f"  told{number}: {'0 to 10' if number % 2 else 'yes or no'}"
            for number in range(size.told)
        ),
        "rules:",
        "  policy: first",
        "  rows:",
        '    - case: {playback: "stopped, unknown"}',
        f"      show: {{picture: whole, lift: 0 %, preset: {_preset(0)}, panels: open}}",
        "      because: Menus carry text.",
    ]
    for _ in range(size.rows - 1):
        lines += [
            f"    - case: {{{_case(size, rng)}}}",
            f"      show: {{{_show(size, rng)}}}",
            "      because: It was drawn.",
        ]
    lines += ["  otherwise: {picture: plain, lift: 0 %}", "promises:"]
    for number in range(size.promises):
        lines += [
            f"  - name: kept {number}",
            f"    never: {{{_never(size, number)}}}",
            "    because: Menus are left alone.",
        ]
    return "\n".join(line for line in lines if line) + "\n"


def _preset(number: int) -> str:
    return f"zoom{RATIOS[number].replace('.', '')}"


def _case(size: Size, rng: random.Random) -> str:
    """Draw a case: a span of ratios, and now and then other facts."""
    least = rng.choice((1.2, 1.5, 1.7, 1.8, 1.95, 2.1, 2.3))
    cells = {"aspect": f'"[{least:.2f}..{least + rng.choice((0.1, 0.2, 0.4)):.2f})"'}
    for number in rng.sample(range(size.told), min(size.told, rng.choice((0, 1, 2)))):
        words = ('"> 5.5"', '"< 3"', '"[2..7]"') if number % 2 else ("yes", "no")
        cells[f"told{number}"] = rng.choice(words)
    if rng.random() < 0.3:
        cells["source"] = f"source{rng.randrange(size.sources)}"
    if rng.random() < 0.2:
        cells["varies"] = rng.choice(("yes", "no"))
    if rng.random() < 0.1:
        cells["time"] = '"> 22:00"'
    return ", ".join(f"{name}: {cell}" for name, cell in cells.items())


def _show(size: Size, rng: random.Random) -> str:
    """Draw a look."""
    names = [picture.split(":")[0] for picture in PICTURES[: size.pictures]]
    parts = [f"picture: {rng.choice(('plain', 'whole', *names))}"]
    parts.append(f"lift: {rng.choice(('0 %', '0 %', '5 %'))}")
    if rng.random() < 0.7:
        parts.append(f"preset: {_preset(rng.randrange(size.presets))}")
    if size.arrangements and rng.random() < 0.7:
        number = rng.randrange(size.arrangements + 1)
        parts.append(f"panels: {'open' if number == size.arrangements else f'sides{number}'}")
    return ", ".join(parts)


def _never(size: Size, number: int) -> str:
    """Give the tests of a promise that every such room keeps."""
    at = number % max(size.told, 1)
    told = f"told{at}: {'3' if at % 2 else 'yes'}, "
    kinds = (
        "playback: stopped, override: rules, picture: 'not(whole, dark)'",
        f"source: source{number % size.sources}, playback: stopped, override: rules, lift: '> 0 %'",
        f"playback: stopped, {told if size.told else ''}override: rules, picture: plain",
    )
    return kinds[number % len(kinds)]
