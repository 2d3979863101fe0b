"""Rooms that promise that what was seen on an evening can never be: none of it may be proven.

Each promise is a handful of facts that stood together after one step of a real evening. Seldom
moments are taken more often than usual ones.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from random import Random
from typing import Any, Final, NamedTuple

from rules import load_room
from tests.soundness.cell_reading import Value
from tests.soundness.independent_judge import IndependentJudge
from tests.soundness.random_cells import RATIOS, STANDING
from tests.soundness.random_evenings import Invented, live
from tests.soundness.random_rooms import BECAUSE, RandomRoom, Section, random_room, written

EVENINGS: Final = 12
PROMISES: Final = 12
OF_EQUIPMENT: Final = (*STANDING, "preset", "panels", "helper")
USUAL: Final = ("playback", "source", *OF_EQUIPMENT)
"""What makes one moment like another."""


class _Moment(NamedTuple):
    """How things stood after a step."""

    facts: Mapping[str, Value]
    waits: bool
    """A new picture waits for the last large change, so nothing is promised of the old one."""


def seen_room(seed: int) -> RandomRoom:
    """Make a random room, live some evenings in it, and let it promise that they never were."""
    rng, made = Random(seed), random_room(seed)
    seen = [*_moments(made)]
    kinds = [tuple(one.facts[name] for name in USUAL) for one in seen]
    often = Counter(kinds)
    picked = rng.choices(seen, [1 / often[kind] for kind in kinds], k=PROMISES)
    promises = [
        {"name": f"seen {number}", "never": _never(rng, one), "because": BECAUSE}
        for number, one in enumerate(picked)
    ]
    file: Section = {**made.file, "promises": promises}
    text = written(file)
    return RandomRoom(seed, text, file, load_room(text, f"seen {seed}"))


def _moments(made: RandomRoom) -> Iterator[_Moment]:
    for evening in range(EVENINGS):
        judge = IndependentJudge(made.file)
        for step in live(made.room, Invented(made, evening)):
            judge.see(step)
            core = step.after.core
            yield _Moment(judge.facts(step.after, step.now), "flash" in core.holds)


def _never(rng: Random, moment: _Moment) -> Section:
    """Test some facts for what they were, and of the equipment at least one."""
    stood = [name for name in OF_EQUIPMENT if not moment.waits or name not in {"picture", "lift"}]
    names = [name for name in moment.facts if name not in {"picture", "lift"} or name in stood]
    some = {*rng.sample(stood, rng.randint(1, 3)), *rng.sample(names, rng.randint(2, 7))}
    return {name: _cell(name, moment.facts[name]) for name in sorted(some)}


def _cell(name: str, value: Any) -> str:  # noqa: ANN401 - of every kind
    """Write a test that this value passes, and of a time those after it as well."""
    match value:
        case None:
            return "null"
        case bool():
            return "yes" if value else "no"
        case str():
            return value
    if name == "time":
        return f">= {int(value) // 60}:{int(value) % 60:02d}"
    if name == "lift":
        return f"{float(value) * 100:g} %"
    return f"{float(value):.2f}" if name in RATIOS else f"{float(value):g}"
