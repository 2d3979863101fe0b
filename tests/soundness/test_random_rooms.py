"""The random rooms and evenings: together they have every feature, and they find what breaks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import MISSING, fields
from functools import cache
from random import Random
from typing import Final, get_args

import pytest
import yaml

from engine.events import KINDS, Event
from engine.room import BUILT_IN_PROMISES
from engine.state import PendingPrompt, first_state
from tests.soundness.anything_heard import any_event
from tests.soundness.fuzzing import breaches, until_broken
from tests.soundness.known_rooms import FILES, known_room
from tests.soundness.random_cells import RULE_FACTS, SHAPES, STANDING
from tests.soundness.random_evenings import Invented, live
from tests.soundness.random_rooms import Section, random_room

SEEDS: Final = range(160)
FEATURES: Final = frozenset(
    {
        *("first", "any", "unique", "priority"),
        *("shape", "menu_shape", "leave_alone", "declares", "titles"),
        *(
            "1 sources",
            "2 sources",
            "3 sources",
            "0 presets",
            "1 presets",
            "2 presets",
            "3 presets",
        ),
        *("0 panels", "1 panels", "2 panels", "measured", "stretch", "crop", "room_below"),
        *("told truth", "told words", "told number", "told at first", "fractional bound", "cues"),
        *("no picture", "no lift", "no preset", "no panels", "lifted"),
        *("no linger", "no recalls", "reports yes", "reports no", "answered yes", "answered no"),
        *("null", "not", "interval", "list", "shape by name", "many promises"),
        *("within and True", "within and False", "label str", "label dict"),
        *("language en", "language pt", "words str", "words dict", "because dict"),
        *("odd", "lines", "wait", "gaps accepted", "named row", "cue of three words"),
        *("ranked preset", "ranked panels", "ranked picture", "after"),
        *(f"default {part}" for part in ("preset", "panels", "cues", "after")),
        *(f"waived {name}" for name in BUILT_IN_PROMISES),
        *(f"rule on {fact}" for fact in (*RULE_FACTS, "told")),
        *(f"promise on {fact}" for fact in (*RULE_FACTS, *STANDING, "told", "cue lamps")),
    }
)


def features(file: Section) -> Iterator[str]:
    """Name what a room file has."""
    rules, told = file["rules"], file.get("told", {})
    never = [one for one in file["promises"] if "never" in one]
    cases = [*(row["case"] for row in rules["rows"]), *(one["never"] for one in never)]
    yield rules["policy"]
    for source in file["sources"].values():
        yield from source
    panels = [name for name in file.get("panels", {}) if name != "open"]
    yield f"{len(file['sources'])} sources"
    yield f"{len(file.get('presets', {}))} presets"
    yield f"{len(panels)} panels"
    yield from (key for one in file.get("presets", {}).values() for key in one)
    yield from (key for one in file["pictures"].values() for key in one)
    for one in told.values():
        values = one if isinstance(one, str) else one["values"]
        number, truth = " to " in values, "yes" in values
        yield "told number" if number else "told truth" if truth else "told words"
        yield from ["told at first"] if isinstance(one, dict) else []
    yield from _of_looks(file)
    yield from _of_rarer(file)
    yield from (f"waived {one['promise']}" for one in file.get("waived", ()))
    for what, some in (("rule", rules["rows"]), ("promise", never)):
        for row in some:
            facts = row["case"] if what == "rule" else row["never"]
            yield from (f"{what} on {'told' if fact in told else fact}" for fact in facts)
    for fact, cell in ((fact, cell) for case in cases for fact, cell in case.items()):
        yield from _of_cell(cell)
        yield from ["fractional bound"] if fact == "noise" and ".5" in cell else []
    yield from ["many promises"] if len(file["promises"]) > 20 else []
    yield from (f"within and {'unless' in one}" for one in file["promises"] if "within" in one)
    yield from (f"label {type(one).__name__}" for one in file.get("labels", {}).values())
    yield from (f"language {file[word]}" for word in ("language",) if word in file)
    said = [one["words"] for one in file.get("panels", {}).values() if "words" in one]
    yield from (f"words {type(one).__name__}" for one in said)
    yield from (f"because {type(one['because']).__name__}" for one in rules["rows"])


def _of_looks(file: Section) -> Iterator[str]:
    """Name what is special of what rows show, and of the room's pace."""
    pace = file["pace"]
    for row in file["rules"]["rows"]:
        yield from (f"no {part}" for part in ("picture", "lift") if part not in row["show"])
        yield from ["no preset"] if "preset" not in row["show"] and "presets" in file else []
        yield from ["no panels"] if "panels" not in row["show"] and "panels" in file else []
        yield from ["lifted"] if row["show"].get("lift", "0 %") != "0 %" else []
        yield from ["cues"] if "cues" in row["show"] else []
    yield from ["no linger"] if pace["linger"] == "0 s" else []
    yield from ["no recalls"] if "0" in {*pace["recalls"].values()} else []
    yield f"reports {file['projector']['lens']['reports']}"
    yield f"answered {file['orders']['answered']}"


def _of_rarer(file: Section) -> Iterator[str]:
    """Name what room files seldom say."""
    pace, rules = file["pace"], file["rules"]
    yield from (key for part in (pace, pace["settle"], pace["prompts"]) for key in part)
    yield from (f"ranked {part}" for part in rules.get("order", ()))
    yield from (f"default {part}" for part in rules.get("otherwise", ()))
    yield from ["gaps accepted"] if "gaps_accepted" in rules else []
    for row in rules["rows"]:
        yield from ["named row"] if "name" in row else []
        yield from ["after"] if "after" in row["show"] else []
    yield from ["cue of three words" for words in file.get("cues", {}).values() if " half" in words]


def _of_cell(cell: str) -> Iterator[str]:
    marks = {"null": "null", "not": "not(", "interval": "..", "list": ",", "shape by name": "flat"}
    yield from (name for name, mark in marks.items() if mark in cell)


def test_one_seed_is_one_room() -> None:
    assert random_room(7).text == random_room(7).text
    assert random_room(7).text != random_room(8).text


def test_the_random_rooms_have_every_feature() -> None:
    found = {feature for seed in SEEDS for feature in features(random_room(seed).file)}
    assert FEATURES - found == set()


@cache
def events_heard() -> frozenset[type[Event]]:
    """Live evenings in some rooms, and give the kinds of events that were taken."""
    rooms = [random_room(seed) for seed in (*range(12), *_with_panels()[:6])]
    return frozenset(
        type(seen.event)
        for made in rooms
        for seed in range(5)
        for seen in live(made.room, Invented(made, seed))
        if seen.event is not None
    )


def _with_panels() -> list[int]:
    return [seed for seed in SEEDS if len(random_room(seed).room.panels) > 1]


def test_the_random_evenings_have_every_kind_of_event() -> None:
    assert set(get_args(Event)) - events_heard() == set()


def test_every_field_of_every_event_is_drawn() -> None:
    """Whatever an event may carry beside its kind is said at times, with an id or late as well."""
    rng, drawn = Random(16), set()
    rooms = [random_room(seed) for seed in range(12)]
    for number in range(4_000):
        made = rooms[number % len(rooms)]
        core = first_state(made.room).core
        core.picture, core.asked = 3, PendingPrompt(2, "open")
        event = any_event(rng, made, core, 1_795_375_800_000 + number)
        drawn |= {
            (event.kind, field.name)
            for field in fields(event)
            if field.default is MISSING or getattr(event, field.name) != field.default
        }
    every = {(kind, field.name) for kind, made in KINDS.items() for field in fields(made)}
    assert {(kind, name) for kind, name in every - drawn if name != "kind"} == set()


@pytest.mark.parametrize("why", FILES)
def test_evenings_find_what_a_plain_evening_breaks(why: str) -> None:
    made = known_room(why)
    (breach,) = breaches(made, frozenset({"mine"}), range(200))
    assert len(breach.moments) <= 10
    assert until_broken(made, "mine", breach.moments) == breach.moments
    for at in range(len(breach.moments)):
        fewer = breach.moments[:at] + breach.moments[at + 1 :]
        found = until_broken(made, "mine", fewer)
        assert found is None or len(found) >= len(breach.moments)


def test_the_judge_reads_the_very_file_that_the_room_was_loaded_from() -> None:
    for seed in range(20):
        made = random_room(seed)
        read = yaml.load(made.text, Loader=yaml.BaseLoader)  # noqa: S506 - it makes only texts
        assert {"shapes": SHAPES, **read} == made.file
