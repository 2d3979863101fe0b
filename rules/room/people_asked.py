"""Check that what people may be asked can be done: panels that differ, and time to fit them."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, Final

from engine.aspect import SCALE
from engine.optics import window
from rules.room.measured import place_in
from rules.text.quantity import show_duration
from rules.text.yaml_nodes import Mapping, node_at

if TYPE_CHECKING:
    from engine.room import Room
    from rules.room.names import Report

TIME_TO_ACT: Final = 30_000
"""How long it takes at least to get up and to fit or take off a panel, ms.

Common practice, with no source: to stand up, walk to the screen and lift one panel."""
ALIKE: Final = 50
"""Openings that differ by at most this share of the wider one are the same, in 1/10,000."""


def check_people_asked(report: Report, root: Mapping, room: Room) -> None:
    """Warn about panels that cannot be told apart, and about prompts that end too soon."""
    if len(room.panels) == 1:
        return
    _check_words(report, root, room)
    covering = [name for name, panels in room.panels.items() if panels.opening is not None]
    for one, other in combinations(covering, 2):
        here, there = window(room, one), window(room, other)
        if all(abs(a - b) * SCALE <= ALIKE * max(a, b) for a, b in zip(here, there, strict=True)):
            report.warning(
                "panels-alike",
                place_in(root, "panels", other, "opening"),
                f"panels {one} and {other} leave the same part of the screen free: whoever is "
                "asked to change one for the other changes nothing",
                f"Keep one of the two, and show {one} where rules show {other}.",
            )
    if room.pace.give_up < TIME_TO_ACT:
        report.warning(
            "prompt-too-short",
            place_in(root, "pace", "prompts", "give_up"),
            f"a prompt is given up after {show_duration(room.pace.give_up)}, before anybody can "
            "be at the screen",
            f"Let give_up be {show_duration(TIME_TO_ACT)} at least.",
        )


def _check_words(report: Report, root: Mapping, room: Room) -> None:
    """Warn where people would be asked for two arrangements in the same words."""
    language = room.catalogue.language
    first: dict[str, str] = {}
    for name, panels in room.panels.items():
        own = node_at(root, "panels", name, "words")
        if isinstance(own, Mapping) and language not in own.entries:
            report.warning(
                "words-missing",
                own.place,
                f"the panels {name} have no words in {language}, the room's language, so people "
                f"are asked in general ones: {panels.words.rstrip('.')}",
                f"Add {language}: and a sentence.",
            )
        other = first.setdefault(panels.words, name)
        if other != name:
            report.warning(
                "words-alike",
                own.place if own is not None else place_in(root, "panels", name),
                f"people are asked for the panels {other} and {name} in the same words: "
                f"{panels.words.rstrip('.')}",
                "Say under words what is to be done for each.",
            )
