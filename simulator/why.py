"""Why the room stood as it did at one moment of a night, and why it did not do something else."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from engine.decisions import Decision
from engine.facts import Facts, facts_of
from engine.region import show_value
from engine.room import BUILT_IN_PICTURES, Look, Room, Show
from engine.state import Core, State
from engine.step import RoomEngine
from engine.table import RowTrace, Trace, explain
from engine.turn import Refused
from engine.words import HOLDS
from simulator.nights import BadLine, Entry
from simulator.replay import replay

KEPT: Final = 8


class Past(NamedTuple):
    """One thing that led to the moment: a decision, or an event that was refused."""

    at: int
    decision: Decision | None
    refused: Refused | None


class Inquiry(NamedTuple):
    """What there is to know about one moment."""

    now: int
    state: State
    facts: Facts
    trace: Trace[Show]
    past: tuple[Past, ...]
    """The last few decisions and refusals up to the moment, oldest first."""
    bad: tuple[BadLine, ...]


class Expectation(NamedTuple):
    """Whether an expected look was there, and if not, what stood in its way."""

    met: bool
    reasons: tuple[str, ...]


def inquire(engine: RoomEngine, entries: Iterable[Entry | BadLine], now: int) -> Inquiry:
    """Replay a night up to and including `now` (ms UTC) and look at what is there."""
    past: list[Past] = []
    bad: list[BadLine] = []
    for happening in replay(engine, entries, now):
        if isinstance(happening, BadLine):
            bad.append(happening)
            continue
        past += [Past(decision.at, decision, None) for decision in happening.decisions]
        if happening.refused is not None:
            past.append(Past(happening.entry.now, None, happening.refused))
    state = engine.state
    facts = facts_of(engine.room, state.core, state.settling)
    trace = explain(engine.room.rules.table, facts)
    return Inquiry(now, state, facts, trace, tuple(past[-KEPT:]), tuple(bad))


class UnknownLookError(ValueError):
    """An expectation that names nothing in the room."""


def parse_expected(room: Room, text: str) -> dict[str, str]:
    """Read "gentle", "preset=tall" or several of them into parts of a look."""
    names = {
        "picture": (*BUILT_IN_PICTURES, *room.pictures),
        "preset": tuple(room.presets),
        "panels": tuple(room.panels),
    }
    wanted: dict[str, str] = {}
    for word in text.replace(",", " ").split():
        part, _, name = word.rpartition("=")
        parts = [key for key, known in names.items() if name in known and part in ("", key)]
        if len(parts) != 1:
            known = "; ".join(f"{key}: {', '.join(values)}" for key, values in names.items())
            problem = "is more than one thing" if parts else "is no part of a look in this room"
            raise UnknownLookError(f"'{word}' {problem}: write preset=tall or the like ({known})")
        wanted[parts[0]] = name
    return wanted


def expect(room: Room, inquiry: Inquiry, wanted: dict[str, str]) -> Expectation:
    """Hold an expected look against what stands, and say what stood in its way."""
    core = inquiry.state.core
    stands = standing_look(inquiry.state)
    missing = {part: name for part, name in wanted.items() if stands[part] != name}
    if not missing:
        return Expectation(met=True, reasons=("It stood just so.",))
    reasons: list[str] = []
    if core.hand == "person":
        reasons.append("A person had the room: the rules ordered nothing.")
    for part, name in missing.items():
        if _part(core.wanted, part) == name:
            holds = [HOLDS[code] for code in core.holds]
            reasons.append(
                f"{part} {name} was wanted, but held back: {' '.join(holds) or _open(core)}"
            )
            continue
        reasons.append(f"{part} {name} was not wanted: {_part(core.wanted, part)} was.")
        if core.hand == "person":
            continue
        for index, row in enumerate(inquiry.trace.rows):
            if getattr(room.rules.table.rows[index].output, part) == name:
                reasons.append(
                    f"  {row.label} shows it, but {_against(room, inquiry.trace, index, row)}"
                )
    return Expectation(met=False, reasons=tuple(reasons))


def _open(core: Core) -> str:
    return "its order is under way." if core.recall or core.picture or core.asked else "not yet."


def _against(room: Room, trace: Trace[Show], index: int, row: RowTrace) -> str:
    """Say what kept a row from winning."""
    kinds = {column.name: column.kind for column in room.rules.table.columns}
    failed = [
        f"{cell.column} is {show_value(cell.value, kinds[cell.column])}, not {cell.test}"
        for cell in row.cells
        if not cell.matched
    ]
    if failed:
        return "; ".join(failed).replace('"', "") + "."
    return "it won." if trace.choice.row == index else "another row went before it."


def standing_look(state: State) -> dict[str, str | None]:
    """Say how picture, preset and panels stand, as far as is known."""
    core = state.core
    return {
        "picture": core.shown.picture if core.shown is not None else None,
        "preset": core.preset if core.lens == "resting" else None,
        "panels": core.arrangement,
    }


def _part(look: Look, part: str) -> str | None:
    return {"picture": look.picture, "preset": look.preset, "panels": look.panels}[part]
