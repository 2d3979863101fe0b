"""Seeded cells for rows and promises, of every kind that a room file may hold."""

from __future__ import annotations

from collections.abc import Mapping
from random import Random
from typing import Any, Final

PLAYBACKS: Final = ("playing", "paused", "stopped", "unknown")
SHAPES: Final = {"scope": ">= 2.30", "nearly": "[2.10..2.30)", "flat": "[1.70..1.95)"}
_LIMITS: Final = ("1.34", "1.50", "1.66", "1.78", "1.85", "2.00", "2.06", "2.20", "2.35", "2.39")
_TIMES: Final = ("7:00", "12:30", "18:15", "22:00")
_MAY_BE_NULL: Final = frozenset(
    {"source", "aspect", "declared", "tallest", "preset", "panels", "time", "range", "three_d"}
    | {"picture", "lift", "cue lamps"}
)
RULE_FACTS: Final = (
    *(
        "source",
        "playback",
        "aspect",
        "declared",
        "tallest",
        "varies",
        "subtitles",
        "first_minutes",
    ),
    *("preset", "panels", "helper", "time", "range", "three_d"),
)
STANDING: Final = ("picture", "lift", "travelling", "override")
RATIOS: Final = frozenset({"aspect", "declared", "tallest"})
TRUTHS: Final = frozenset(
    {"varies", "subtitles", "doubtful", "first_minutes", "three_d", "travelling"}
)


_USUAL: Final = {
    **dict.fromkeys(RATIOS, (*SHAPES, "not(flat)", "scope, nearly")),
    "time": ("[22:00..24:00)", ">= 22:00, < 7:00"),
}


def names_of(file: Mapping[str, Any], fact: str) -> tuple[str, ...]:
    """Give the names that a fact of names may have in this room; none for other facts."""
    told = told_words(file)
    known: dict[str, tuple[str, ...]] = {
        "source": tuple(file["sources"]),
        "playback": PLAYBACKS,
        "preset": tuple(file.get("presets", {"fixed": {}})),
        "panels": ("open", *(name for name in file.get("panels", {}) if name != "open")),
        "helper": ("free", "asked", "refused"),
        "range": ("standard", "high"),
        "picture": ("plain", "whole", "dark", *file.get("pictures", {})),
        "override": ("rules", "person"),
        **{f"cue {cue}": tuple(words.split(" or ")) for cue, words in file.get("cues", {}).items()},
        **{name: words for name, words in told.items() if "yes" not in words},
    }
    return known.get(fact, ())


def told_words(file: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """Give the words of each told fact; none for one that is a number."""
    written = {name: _values(one) for name, one in file.get("told", {}).items()}
    return {
        name: () if " to " in values else tuple(values.split(" or "))
        for name, values in written.items()
    }


def told_range(file: Mapping[str, Any], fact: str) -> tuple[int, int]:
    """Give the least and the most that a told number may be."""
    least, most = _values(file["told"][fact]).split(" to ")
    return int(least), int(most)


def _values(told: str | Mapping[str, str]) -> str:
    return told if isinstance(told, str) else told["values"]


def is_truth(file: Mapping[str, Any], fact: str) -> bool:
    """Tell whether a fact is either yes or no."""
    return fact in TRUTHS or "yes" in told_words(file).get(fact, ())


def random_cell(rng: Random, file: Mapping[str, Any], fact: str) -> str:
    """Write a test of a fact."""
    may_be_null = fact in _MAY_BE_NULL or _never_first(file, fact)
    if may_be_null and rng.random() < 0.15:
        return rng.choice(["null", "not(null)"])
    cell = _known_cell(rng, file, fact)
    if may_be_null and not cell.startswith("not") and rng.random() < 0.1:
        return f"null, {cell}"
    return cell


def _never_first(file: Mapping[str, Any], fact: str) -> bool:
    told = file.get("told", {}).get(fact)
    return told is not None and (isinstance(told, str) or "at_first" not in told)


def _known_cell(rng: Random, file: Mapping[str, Any], fact: str) -> str:
    if is_truth(file, fact):
        return rng.choice(["yes", "no"])
    names = names_of(file, fact)
    if names:
        some = rng.sample(names, rng.randint(1, max(1, len(names) - 1)))
        return rng.choice([f"not({', '.join(some)})", ", ".join(some), some[0]])
    usual = _USUAL.get(fact)
    if usual is not None and rng.random() < 0.3:
        return rng.choice(usual)
    if fact == "lift":
        return rng.choice(["> 0 %", "0 %", ">= 3 %", "[1 %..6 %]", "> 2.5 %", "not(0 %)"])
    return _number_cell(rng, _limits(file, fact))


def _limits(file: Mapping[str, Any], fact: str) -> list[str]:
    """List the numbers, in rising order, that cells of this fact may name."""
    if fact in RATIOS:
        return [*_LIMITS]
    if fact == "time":
        return [*_TIMES]
    least, most = told_range(file, fact)
    return [f"{least + number / 2:g}" for number in range(1, 2 * (most - least))]


def _number_cell(rng: Random, numbers: list[str]) -> str:
    """Write a test of a number, with its limits among these (in rising order)."""
    low, high = sorted(rng.sample(range(len(numbers)), 2))
    one, two = numbers[low], numbers[high]
    left, right = rng.choice("[("), rng.choice("])")
    return rng.choice(
        [
            f"{rng.choice(['<', '<=', '>', '>='])} {one}",
            f"{rng.choice(['<', '<=', '>', '>='])} {two}",
            f"{left}{one}..{two}{right}",
            f"not({left}{one}..{two}{right})",
            f"< {one}, > {two}",
            one,
            f"!= {one}",
        ]
    )
