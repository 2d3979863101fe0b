"""A small room with two presets and one arrangement, whose rows each story gives."""

from __future__ import annotations

from engine.room import Room
from rules.room.load import load

SHED = """
room: shed
time_zone: Europe/Lisbon
screen: {width: 3 m, aspect: 2.40}
projector: {raster: 4096 x 2160, lens: {travel: 10 s}}
presets: {broad: {fits: 2.40}, tall: {fits: 1.78}}
panels: {open: {}, sides: {opening: 1.78}}
sources: {disc: {}}
told: {guests: yes or no}
pace: {linger: 12 s, prompts: {wait: 12 s}}
rules:
  policy: first
  rows:
"""


def shed(*rows: str) -> Room:
    """Load a small room with these rows of its rules."""
    return load(SHED + "".join(f"    - {{{row}, because: So.}}\n" for row in rows), "shed.yaml")
