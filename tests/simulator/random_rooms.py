"""Small rooms whose rules and promises are drawn by a seed, of every hit policy.

Tables are compiled as drawn, without the checks of a room file: rows may overlap, be hidden, or
leave gaps, and what holds of the proof must hold then, too.
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from typing import Final

from engine.aspect import HIGHEST_LIFT
from engine.facts import room_columns, standing_columns
from engine.room import DARK, PLAIN, WHOLE, Promise, Room, RowNote, Show
from engine.table import Column, Policy, Row, compile_table
from engine.value_set import ANYTHING, NULL, Kind, ValueSet, difference, equal_to, interval, union
from rules.room.load import load

FURNITURE: Final = """
room: drawn
time_zone: Europe/Lisbon
screen: {width: 3.4 m, aspect: 2.40, border: 180 mm, overfill: 2.5 %}
projector: {raster: 4096 x 2160, lens: {travel: 18 s, reports: REPORTS}}
orders: {answered: ANSWERED}
pictures:
  gentle: {stretch: {edge_circle: 1.30, middle_circle: 1.03}}
  closer: {crop: {rows_lost: 7 %}}
presets: {broad: {fits: 2.40}PRESETS}
PANELSsources: {SOURCES}
told: {guests: yes or no, noise: 0 to 10, lamp: {values: low or high, at_first: low}}
rules:
  policy: first
  rows:
    - name: menus
      case: {playback: "stopped, unknown"}
      show: {picture: whole, lift: 0 %}
      because: Menus carry text.
  otherwise: {picture: plain, lift: 0 %}
"""
SOURCES: Final = (
    "disc: {declares: yes}",
    "console: {leave_alone: yes}",
    "streamer: {titles: yes, menu_shape: 1.78}",
    "camera: {shape: 1.78}",
    "tuner: {}",
)
HALVED: Final = {Kind.NUMBER, Kind.MINUTE}
"""Kinds of columns whose bounds are drawn at half steps, too."""
PICTURES: Final = (None, PLAIN, WHOLE, "gentle", "closer")


def drawn_room(seed: int, *, facts: int = 3, rows: int = 5, promises: int = 4) -> Room:
    """Draw a room whose rows and promises test no more than some facts of the environment."""
    chance = random.Random(seed)
    furnished = load(_furniture(chance), f"drawn-{seed}.yaml")
    columns = room_columns(furnished)
    outside = [one.name for one in columns if one.name not in {"preset", "panels", "helper"}]
    # Ratios are what most of a table is about, and the hardest to fold.
    tested = {*chance.sample(outside, facts), chance.choice(["aspect", "declared", "playback"])}
    tested |= set(chance.sample(["preset", "panels", "helper"], chance.randint(0, 2)))
    policy = chance.choice([*Policy])
    lines = [
        Row(
            tuple(_cell(chance, one) if one.name in tested else ANYTHING for one in columns),
            _show(chance, furnished),
            chance.randint(0, 3) if policy is Policy.PRIORITY else 0,
            f"row {number}",
        )
        for number in range(rows)
    ]
    default = _show(chance, furnished) if chance.random() < 0.8 else None
    rules = furnished.rules._replace(
        table=compile_table(policy, columns, lines, default),
        rows=tuple(RowNote(line.label, "It is so.", 0) for line in lines),
    )
    drawn = replace(furnished, rules=rules)
    return replace(
        drawn, promises=tuple(_promise(chance, drawn, number, tested) for number in range(promises))
    )


def _furniture(chance: random.Random) -> str:
    """Write the part of the room file that says what there is."""
    yes = ["yes", "no"]
    texts = {
        "REPORTS": chance.choice(yes),
        "ANSWERED": chance.choice(yes),
        "PRESETS": chance.choice(["", ", tall: {fits: 1.78}"]),
        "PANELS": chance.choice(["", "panels: {sides: {opening: 1.78}}\n"]),
        "SOURCES": ", ".join(chance.sample(SOURCES, 2)),
    }
    text = FURNITURE
    for word, value in texts.items():
        text = text.replace(word, value)
    return text


def _show(chance: random.Random, room: Room) -> Show:
    return Show(
        chance.choice(PICTURES),
        chance.choice([None, 0, 0, 300]),
        chance.choice([None, None, *room.presets]),
        chance.choice([None, None, *room.panels]) if room.panels else None,
    )


def _promise(chance: random.Random, room: Room, number: int, tested: set[str]) -> Promise:
    pictures = (PLAIN, WHOLE, DARK, *room.pictures)
    columns = (*room_columns(room), *standing_columns(pictures))
    among = chance.sample(sorted(tested), min(2, len(tested)))
    among += chance.sample(["picture", "lift", "travelling", "override"], chance.randint(1, 2))
    cells = tuple(_cell(chance, one) if one.name in among else ANYTHING for one in columns)
    never = compile_table(Policy.FIRST, columns, [Row(cells, True)], False)
    return Promise(f"drawn {number}", "It is so.", 0, never)


def _cell(chance: random.Random, column: Column) -> ValueSet:
    """Draw what a cell accepts; it may be everything, null alone, or a range that nothing is in."""
    if column.unknown and chance.random() < 0.15:
        return NULL
    if chance.random() < 0.15:
        return ANYTHING
    if column.words:
        cell = union(
            *map(
                equal_to,
                chance.sample(column.words, chance.randint(1, 2 if len(column.words) > 1 else 1)),
            )
        )
    elif column.least is not None and column.most is not None:
        cell = _range(chance, column)
    else:
        cell = equal_to(chance.random() < 0.5)
    if chance.random() < 0.2:
        cell = difference(ANYTHING, cell)
    return union(cell, NULL) if column.unknown and chance.random() < 0.2 else cell


def _range(chance: random.Random, column: Column) -> ValueSet:
    """Draw one range; bounds may lie between two steps, be equal, or lie beyond the ends."""
    least, most = column.least or 0, column.most or 0
    if column.kind is Kind.RATIO:
        ends = [
            Fraction(chance.randint(150, 280)) * 100 + chance.choice([0, 0, 50, 37]) for _ in "ab"
        ]
    elif column.kind is Kind.SHARE:
        ends = [Fraction(chance.choice([0, 100, 300, HIGHEST_LIFT])) for _ in "ab"]
    else:
        ends = [Fraction(chance.randint(2 * least - 2, 2 * most + 2), 2) for _ in "ab"]
    low, high = sorted(ends)
    one_sided = chance.random()
    return interval(
        None if one_sided < 0.3 else low,
        None if one_sided > 0.7 else high,
        low_open=chance.random() < 0.5,
        high_open=chance.random() < 0.5,
    )
