"""Room files with one cell written wrong, generated and not chosen, to see what a check catches.

Every cell of every row's case is left out (deleted), accepts each thing more that it might
(widened) and each thing less (narrowed): a word, a shape, a piece of a range. This works on the
file's text alone, and knows nothing of what the loader makes of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import Any, Final, NamedTuple

import yaml

from engine.facts import HELPER, PLAYBACKS
from rules.room.load import read_room
from rules.table.table_findings import table_findings
from rules.text.findings import Finding, Severity
from simulator.proof.proof import prove

NULL: Final = "null"
PERCENT: Final = 3
"""Boundaries of ratios move so far: readings within 2 % of a settled ratio are no other."""
MINUTES: Final = 30
"""Boundaries of the time of day move so far."""
_NUMBER: Final = r"\d+(?:[.:]\d+)?"
_RANGE: Final = re.compile(
    rf"(?P<opens>[\[(]?)(?P<low>{_NUMBER})\.\.(?P<high>{_NUMBER})(?P<closes>[\])])"
    rf"|(?P<above>>=?) (?P<least>{_NUMBER})|(?P<below><=?) (?P<most>{_NUMBER})"
)


class Cell(NamedTuple):
    """One cell of a row's case as it is written, with its place in the file."""

    row: str
    fact: str
    text: str
    begins: int
    ends: int
    removed: tuple[int, int]
    """What has to go of the file for the cell to go."""


class Mutant(NamedTuple):
    """A room file with one mistake."""

    name: str
    how: str
    """deleted, widened or narrowed."""
    text: str


def mutants(text: str) -> Iterator[Mutant]:
    """Give every file that differs in one cell."""
    room = yaml.load(text, yaml.BaseLoader)  # noqa: S506 - the loader that makes texts alone
    for cell in cells(text):
        name = f"{cell.row}: {cell.fact}: {cell.text}"
        begins, ends = cell.removed
        yield Mutant(f"{name}, deleted", "deleted", text[:begins] + text[ends:])
        for how, test in _changed(cell, room):
            changed = f'{text[: cell.begins]}"{test}"{text[cell.ends :]}'
            yield Mutant(f"{name}, {how}: {test}", how, changed)


def cells(text: str) -> Iterator[Cell]:
    """Find the cells of a file's cases."""
    rows = _entry(_entry(yaml.compose(text), "rules"), "rows")
    for row in rows.value:
        name, case = _entry(row, "name").value, _entry(row, "case").value
        for at, (key, value) in enumerate(case):
            begins, ends = value.start_mark.index, value.end_mark.index
            removed = key.start_mark.index, ends
            if at > 0:
                removed = case[at - 1][1].end_mark.index, ends
            elif len(case) > 1:
                removed = key.start_mark.index, case[1][0].start_mark.index
            yield Cell(name, key.value, value.value, begins, ends, removed)


def _entry(node: yaml.Node | None, name: str) -> yaml.Node:
    assert isinstance(node, yaml.MappingNode)
    found: yaml.Node = next(value for key, value in node.value if key.value == name)
    return found


def _changed(cell: Cell, room: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Say what else the cell might be: wider by one thing, or narrower."""
    shapes: dict[str, str] = room["shapes"] if cell.fact == "aspect" else {}
    every = _words(cell.fact, room)
    negated = re.fullmatch(r"not\((.*)\)", cell.text)
    terms = [term.strip() for term in (negated[1] if negated else cell.text).split(",")]
    takes = [one for one in every if one not in terms] if negated else terms
    for more in every:
        if more not in takes:
            yield "widened", ", ".join((*takes, more))
    for less in takes:
        left = [term for term in takes if term != less]
        yield "narrowed", ", ".join(left) if left else f"not({', '.join(every)})"
    for at, term in enumerate(terms if not negated else ()):
        for how, moved in _moved(shapes.get(term, term)):
            yield how, ", ".join((*terms[:at], moved, *terms[at + 1 :]))


def _words(fact: str, room: dict[str, Any]) -> tuple[str, ...]:
    """List the words that together are all that a fact can be, as far as it has words."""
    known: dict[str, tuple[str, ...]] = {
        "playback": PLAYBACKS,
        "helper": HELPER,
        "source": (NULL, *room["sources"]),
        "aspect": (NULL, *room["shapes"]),
        "time": (NULL,),
        "varies": ("no", "yes"),
        "subtitles": ("no", "yes"),
    }
    if fact in known:
        return known[fact]
    told = room["told"][fact]
    return tuple((told if isinstance(told, str) else told["values"]).split(" or "))


def _moved(test: str) -> Iterator[tuple[str, str]]:
    """Move one boundary of a range at a time, outwards and inwards."""
    found = _RANGE.fullmatch(test)
    if found is None:
        return
    for name, outwards in (("low", -1), ("high", 1), ("least", -1), ("most", 1)):
        if found[name] is not None:
            begins, ends = found.span(name)
            for how, way in (("widened", outwards), ("narrowed", -outwards)):
                yield how, test[:begins] + _farther(found[name], way) + test[ends:]


def _farther(number: str, way: int) -> str:
    """Move a ratio or a time of day up (1) or down (-1)."""
    if ":" in number:
        hour, minute = map(int, number.split(":"))
        minutes = 60 * hour + minute + way * MINUTES
        return f"{minutes // 60}:{minutes % 60:02}"
    return f"{float(number) * (1 + way * PERCENT / 100):.2f}"


# ------------------------------------------------------------------------------- what is caught


@cache
def _usual(text: str) -> frozenset[tuple[str, str]]:
    """Take down what a right file is told already."""
    return frozenset((one.code, one.message) for one in _weighty(text))


def _weighty(text: str) -> list[Finding]:
    found = (*(loaded := read_room(text, "room.yaml")).findings, *table_findings(loaded))
    return [one for one in found if one.severity is not Severity.INFO]


def caught(right: str, wrong: str) -> str:
    """Say which errors and warnings give a wrong file away, the cheap ones first; empty: none."""
    room = read_room(wrong, "room.yaml").room
    assert room is not None, "a file that nobody can read proves nothing"
    usual = _usual(right)
    new = [one.code for one in _weighty(wrong) if (one.code, one.message) not in usual]
    if new:
        return ", ".join(dict.fromkeys(new))
    return ", ".join(dict.fromkeys(fault.code for fault in prove(room).faults))


SAME_CELLS: Final[dict[str, str]] = {}
"""Wrong cells that nothing catches, with the reason: none, in rooms where each case has one row."""
