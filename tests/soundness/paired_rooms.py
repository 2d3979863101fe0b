"""Rooms that promise of any two things that they never are so together, and of some three.

Nearly all of these promises are broken. What is left as proven can really never be, or the proof
has overlooked how it comes about.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from random import Random
from typing import Final

from rules import load_room
from tests.soundness.known_rooms import BASE
from tests.soundness.random_rooms import BECAUSE, RandomRoom, Section, written

THREES: Final = 500
"""How many combinations of three are promised."""
RATIO_TESTS: Final = ("null", "< 1.5", "[1.6..1.9]", "> 2.2")
PLAYBACKS: Final = ("playing", "paused", "stopped", "unknown")
SOURCES: Final[tuple[Section, ...]] = (
    {"disc": {"declares": "yes"}, "streamer": {}},
    {"disc": {}, "streamer": {"declares": "yes", "titles": "yes", "menu_shape": "2.20"}},
    {"disc": {"shape": "2.39"}, "streamer": {"leave_alone": "yes", "declares": "yes"}},
    {"disc": {"titles": "yes", "declares": "yes"}},
    {"disc": {"leave_alone": "yes", "titles": "yes"}, "streamer": {"menu_shape": "1.78"}},
    {"disc": {"shape": "1.78", "declares": "yes", "titles": "yes"}, "streamer": {}},
)
LENS: Final[Section] = {"presets": {"broad": {"fits": "2.40"}, "tall": {"fits": "1.78"}}}
PANELS: Final[Section] = {"panels": {"open": {}, "sides": {"opening": "1.78"}}}
EQUIPMENT: Final[tuple[Section, ...]] = (LENS, PANELS, {**LENS, **PANELS})


def paired_room(number: int) -> RandomRoom:
    """Make a room of pairs: first those of sources and titles, then those of equipment."""
    if number < len(SOURCES):
        file = {**BASE, "sources": SOURCES[number], "cues": {"lamps": "low or full"}}
        file["rules"] = {**file["rules"], "rows": [*_rows({"cues": {"lamps": "low"}})]}
        things = [*_of_sources(file)]
    else:
        equipment = EQUIPMENT[number - len(SOURCES)]
        looks = {name: [*equipment[name]][-1] for name in equipment}
        renamed = {"presets": "preset", "panels": "panels"}
        file = {**BASE, **equipment}
        wanted = {renamed[name]: value for name, value in looks.items()}
        file["rules"] = {**file["rules"], "rows": [*_rows(wanted)]}
        things = [*_of_equipment(equipment)]
    every = [*combinations(things, 2)]
    threes = [*combinations(things, 3)]
    every += Random(number).sample(threes, min(THREES, len(threes)))  # type: ignore[arg-type]
    different = [some for some in every if len({fact for fact, _ in some}) == len(some)]
    file["promises"] = [
        {"name": f"pair {at}", "never": dict(some), "because": BECAUSE}
        for at, some in enumerate(different)
    ]
    text = written(file)
    return RandomRoom(number, text, file, load_room(text, f"pairs {number}"))


def _rows(scope: Section) -> Iterator[Section]:
    """Let scope have what is special of this room, and leave its picture as it stands."""
    for row in BASE["rules"]["rows"]:
        is_scope = row["case"].get("aspect") == "scope"
        yield {**row, "show": {"lift": row["show"]["lift"], **scope} if is_scope else row["show"]}


def _of_sources(file: Section) -> Iterator[tuple[str, str]]:
    yield from (("source", name) for name in ("null", *file["sources"]))
    yield from (("playback", state) for state in PLAYBACKS)
    for fact in ("aspect", "declared", "tallest"):
        yield from ((fact, test) for test in RATIO_TESTS)
    for fact in ("varies", "subtitles", "first_minutes"):
        yield from ((fact, truth) for truth in ("yes", "no"))
    yield from (("picture", name) for name in ("null", "plain", "gentle"))
    yield from (("override", who) for who in ("rules", "person"))
    yield from (("lift", "> 0 %"), ("cue lamps", "null"))


def _of_equipment(equipment: Section) -> Iterator[tuple[str, str]]:
    yield from (("playback", state) for state in PLAYBACKS)
    yield from (("first_minutes", truth) for truth in ("yes", "no"))
    yield from (("aspect", test) for test in ("null", "scope", "nearly"))
    yield from (("picture", name) for name in ("null", "plain", "whole", "dark", "gentle"))
    yield from (("override", who) for who in ("rules", "person"))
    yield from (("travelling", truth) for truth in ("yes", "no"))
    yield ("lift", "> 0 %")
    if "presets" in equipment:
        yield from (("preset", name) for name in ("null", "broad", "tall"))
    if "panels" in equipment:
        yield from (("panels", name) for name in ("null", "open", "sides"))
        yield from (("helper", word) for word in ("free", "asked", "refused"))
