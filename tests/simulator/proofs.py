"""Proofs that several tests look at: within one process each room is proven once.

`tests/conftest.py` keeps the files that share rooms in one process.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Final

from engine.room import Room
from rules.room.load import load
from simulator.proof.faults import Fault
from simulator.proof.proof import Proof, prove

STUDY: Final = """
room: study
time_zone: Europe/Lisbon
screen: {width: 3.4 m, aspect: 2.40}
projector:
  raster: 4096 x 2160
  lens: {travel: 18 s, reports: yes}
orders: {answered: yes}
presets:
  broad: {fits: 2.40}
  tall: {fits: 1.78}
pictures:
  gentle: {stretch: {edge_circle: 1.30, middle_circle: 1.03}}
sources:
  disc: {}
shapes:
  scope: ">= 2.30"
rules:
  policy: first
  rows:
    - name: menus
      case: {playback: "stopped, unknown"}
      show: {picture: whole}
      because: Menus carry text.
    - name: scope
      case: {aspect: scope}
      show: {picture: plain, preset: broad, panels: open}
      because: It fills the screen.
    - name: nearly
      case: {aspect: "[2.10..2.30)"}
      show: {picture: gentle, preset: broad, panels: open}
      because: The sides are narrow.
  otherwise: {picture: plain}
"""
"""A room with two presets and a stretch; clean."""
WITH_PANELS: Final = ("sources:\n", "panels: {sides: {opening: 1.78}}\nsources:\n")
FLAT: Final = (
    "  otherwise: {picture: plain}\n",
    """\
    - name: flat
      case: {aspect: "[1.70..1.95)"}
      show: {picture: plain, panels: sides}
      because: It is taller.
  otherwise: {picture: plain}
""",
)
"""A row that wants panels fitted."""


def promised(never: str) -> tuple[str, str]:
    """Add a promise."""
    otherwise = "  otherwise: {picture: plain}\n"
    promise = f"  - name: mine\n    never: {never}\n    because: It is so.\n"
    return otherwise, f"{otherwise}promises:\n{promise}"


def study(*changes: tuple[str, str]) -> str:
    """Write the study's file as a tired integrator has changed it."""
    text = STUDY
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


@cache
def proven(text: str) -> tuple[Room, Proof]:
    """Load a room file and prove the room."""
    room = load(text, "study.yaml")
    return room, prove(room)


def known_proof(room: Room, *, announce: Callable[[Fault], None], **_: object) -> Proof:
    """Stand in for `prove` where a command shall go on from a proof that is known already."""
    proof = proven(room.text)[1]
    for fault in proof.faults:
        announce(fault)
    return proof
