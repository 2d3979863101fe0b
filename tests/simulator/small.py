"""Rooms so small that every state of them is explored in a moment."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any, Final
from unittest.mock import patch

from typer.testing import CliRunner, Result

from adapters.cli.command_group import app
from engine.room import Room
from rules.room.load import load
from simulator.proof.reachability import LIMIT, Exploration, Explorer
from simulator.shipped import DEMO_ROOM

_TOP = """
room: {name}
time_zone: Europe/Lisbon
screen: {{width: 3.4 m, aspect: 2.40, border: 180 mm, overfill: 2.5 %}}
projector: {{raster: 4096 x 2160, lens: {{travel: 18 s, reports: {reports}}}}}
orders: {{answered: {answered}}}
pictures:
  gentle: {{stretch: {{edge_circle: 1.30, middle_circle: 1.03}}}}
  closer: {{crop: {{rows_lost: 7 %}}}}
"""
_MENUS = """
    - name: menus
      case: {playback: "stopped, unknown"}
      show: {picture: whole, lift: 0 %}
      because: Menus carry text."""

TALKING: Final = (
    _TOP.format(name="talking", reports="yes", answered="yes")
    + f"""
presets: {{broad: {{fits: 2.40}}, tall: {{fits: 1.78}}}}
sources: {{disc: {{declares: yes}}, console: {{leave_alone: yes}}}}
rules:
  policy: first
  rows:{_MENUS}
    - name: scope
      case: {{aspect: ">= 2.30"}}
      show: {{picture: plain, lift: 0 %, preset: broad}}
      because: It fills the screen.
    - name: nearly
      case: {{aspect: "[2.10..2.30)", source: disc}}
      show: {{picture: gentle, lift: 0 %, preset: broad}}
      because: The sides are narrow.
    - name: flat
      case: {{aspect: "[1.70..1.95)", time: "< 22:00"}}
      show: {{picture: plain, lift: 0 %, preset: tall}}
      because: It is brighter.
  otherwise: {{picture: plain, lift: 0 %}}
"""
)
"""The lens reports where it is, the hub says what became of orders; no panels."""

SILENT: Final = (
    _TOP.format(name="silent", reports="no", answered="no")
    + f"""
presets: {{fixed: {{fits: 2.40}}}}
panels: {{sides: {{opening: 1.78}}}}
sources: {{disc: {{}}}}
rules:
  policy: first
  rows:{_MENUS}
    - name: flat
      case: {{aspect: "[1.70..1.95)", helper: not(refused)}}
      show: {{picture: plain, lift: 0 %, panels: sides}}
      because: The sides stay black.
    - name: nearly
      case: {{aspect: "[2.10..2.30)"}}
      show: {{picture: gentle, lift: 0 %, panels: open}}
      because: The sides are narrow.
  otherwise: {{picture: plain, lift: 0 %}}
"""
)
"""Nobody reports anything but people; panels, and one place for the lens."""

PARTS: Final = (
    _TOP.format(name="parts", reports="yes", answered="no")
    + """
presets: {broad: {fits: 2.40}, tall: {fits: 1.78}}
sources: {disc: {}}
rules:
  policy: first
  rows:
    - name: menus
      case: {playback: "stopped, unknown"}
      show: {picture: plain}
      because: Menus carry text.
    - name: nearly
      case: {aspect: "[2.10..2.30)"}
      show: {picture: gentle}
      because: The sides are narrow.
    - name: flat
      case: {aspect: "[1.70..1.95)"}
      show: {preset: tall}
      because: It is brighter.
    - name: lines
      case: {subtitles: yes}
      show: {lift: 5 %}
      because: The lines are to be read.
  otherwise: {preset: broad}
"""
)
"""Rows leave parts of the look as they stand."""

TOLD: Final = (
    _TOP.format(name="told", reports="no", answered="yes")
    + f"""
presets: {{broad: {{fits: 2.40}}, tall: {{fits: 1.78}}}}
sources: {{disc: {{declares: yes}}}}
told: {{guests: yes or no, noise: 0 to 10}}
rules:
  policy: first
  rows:{_MENUS}
    - name: guests
      case: {{guests: yes}}
      show: {{picture: whole, lift: 0 %, preset: broad}}
      because: Guests see all of it.
    - name: loud
      case: {{noise: "> 5", preset: not(tall)}}
      show: {{picture: closer, lift: 3 %}}
      because: Nobody hears the lens.
  otherwise: {{picture: plain, lift: 0 %, preset: tall}}
"""
)
"""Somebody tells facts, and a row looks at where the lens stands."""

TEXTS: Final = {"talking": TALKING, "silent": SILENT, "parts": PARTS, "told": TOLD}
SMALL: Final = (*TEXTS, "hayloft")


@cache
def room_of(name: str) -> Room:
    """Load one of these rooms, or the hayloft."""
    return load(TEXTS.get(name) or DEMO_ROOM.read_text("utf-8"), f"{name}.yaml")


@cache
def explored(name: str) -> tuple[Explorer, Exploration]:
    """Explore one of these rooms to its end, once for all tests.

    The hayloft takes longest: what is looked at is the search of `roomcue check` itself.
    """
    if name == "hayloft":
        return checked(DEMO_ROOM)[1]
    explorer = Explorer(room_of(name))
    return explorer, explorer.run()


@cache
def checked(path: Path) -> tuple[Result, tuple[Explorer, Exploration]]:
    """Run `roomcue check` on a room file, once for all tests; give the search that it made, too."""
    searches: list[tuple[Explorer, Exploration]] = []
    run = Explorer.run

    def remembered(explorer: Explorer, *words: Any, **more: Any) -> Exploration:  # noqa: ANN401 - as they come
        found = run(explorer, *words, **more)
        searches.append((explorer, found))
        return found

    with patch.object(Explorer, "run", remembered):
        result = CliRunner().invoke(app, ["check", str(path)])
    (search,) = searches
    return result, search


def changed(text: str, *pairs: tuple[str, str]) -> Room:
    """Load a room with pieces of its file put otherwise."""
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return load(text, "changed.yaml")


def explore(room: Room, limit: int = LIMIT) -> Exploration:
    """Explore a room; beyond `limit` states the rest is cut off, and `complete` is False."""
    return Explorer(room, limit).run()
