"""Explain why a room stood as it did at one moment of a night, and why not otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

from engine.decisions import Decision
from engine.errors import UnusableError
from engine.facts import Facts, facts_of, facts_of_title
from engine.refusal import Refused
from engine.room import BUILT_IN_PICTURES, Look, Room, Show
from engine.state import Core, State
from engine.table import RowTrace, Trace, explain
from engine.value_set import Kind, Value, show_value
from engine.wording import HOLDS
from simulator.nights.night_record import NightRecord

KEPT: Final = 8
"""The number of earlier steps that an inquiry shows."""


class EarlierStep(NamedTuple):
    """A decision that came before the moment, or an event that was refused."""

    at: int
    decision: Decision | None
    refused: Refused | None


class Inquiry(NamedTuple):
    """All there is to know about one moment."""

    now: int
    state: State
    facts: Facts
    trace: Trace[Show]
    past: tuple[EarlierStep, ...]
    """The last decisions and refusals up to the moment, oldest first."""


class Expectation(NamedTuple):
    """Whether an expected look stood, and if not, what stood in its way."""

    met: bool
    reasons: tuple[str, ...]


def inquire(record: NightRecord, now: int) -> Inquiry:
    """Return what is known at the end of a night that was recorded up to `now` (ms UTC)."""
    past: list[EarlierStep] = []
    for happening in record.steps:
        past += [EarlierStep(decision.at, decision, None) for decision in happening.decisions]
        if happening.refused is not None:
            past.append(EarlierStep(happening.entry.now, None, happening.refused))
    room, state = record.room, record.last
    facts = facts_of(room, state.core, state.settling)
    trace = explain(room.rules.table, facts)
    return Inquiry(now, state, facts, trace, tuple(past[-KEPT:]))


class UnknownLookError(UnusableError):
    """Raised for an expectation that names nothing in the room."""


def parse_expected(room: Room, text: str) -> dict[str, str]:
    """Read "gentle", "preset=tall" or several of them as parts of a look.

    Raises `UnknownLookError`.
    """
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
    """Compare an expected look with what stands, and say what stood in its way."""
    core = inquiry.state.core
    stands = standing_look(inquiry.state)
    missing = {part: name for part, name in wanted.items() if stands[part] != name}
    if not missing:
        return Expectation(met=True, reasons=("It stood just so.",))
    reasons: list[str] = []
    if core.asked is not None and core.asked.at_screen:
        reasons.append("Somebody was at the screen: the picture was dark, and nothing moved.")
    if core.override == "person":
        reasons.append("A person had the room: the rules ordered nothing.")
    for part, name in missing.items():
        if _part(core.wanted, part) == name:
            reasons.append(f"{part} {name} was wanted, but {_held_back_by(core, part)}")
        else:
            reasons.append(f"{part} {name} was not wanted: {_part(core.wanted, part)} was.")
            if core.override == "rules":
                reasons += _rows_for(room, inquiry, part, name)
    return Expectation(met=False, reasons=tuple(reasons))


HOLDS_OF: Final = {
    "picture": frozenset({"service", "projector", "no_source", "nearest", "flash"}),
    "preset": frozenset(HOLDS) - {"helper", "mid_title", "travel_first", "nearest"},
    "panels": frozenset(HOLDS)
    - {"panels", "first_minutes", "per_title", "per_night", "lens_unknown", "unreached", "picture"},
}
"""The holds that may keep each part of a look from what is wanted."""


def _held_back_by(core: Core, part: str) -> str:
    holds = [HOLDS[code] for code in core.holds if code in HOLDS_OF[part]]
    if holds:
        return "held back: " + " ".join(holds)
    if part == "panels" and core.asked is not None:
        return f"prompt {core.asked.id} still asked for it."
    order = core.picture if part == "picture" else core.recall
    if order is not None:
        return f"its order {order} was still under way."
    if part == "picture" and core.failed:
        return "it was ordered and never answered, or refused: nobody knows what was shown."
    if part == "preset" and core.unreached == core.wanted.preset:
        return "it was ordered and refused, or never reached."
    return "the lens travelled by hand." if core.lens == "travelling" else "not yet ordered."


def _rows_for(room: Room, inquiry: Inquiry, part: str, name: str) -> Iterator[str]:
    trace = inquiry.trace
    for index, row in enumerate(trace.rows):
        if getattr(room.rules.table.rows[index].output, part) == name:
            yield f"  {row.label} shows it, but {_why_not(room, inquiry, index, row)}"


def _why_not(room: Room, inquiry: Inquiry, index: int, row: RowTrace) -> str:
    """Return what kept a row from winning, or what it shows from being wanted."""
    trace = inquiry.trace
    kinds = {column.name: column.kind for column in room.rules.table.columns}
    failed = [
        f"{cell.column} is {_fact(cell.value, kinds[cell.column])}, not {cell.test}"
        for cell in row.cells
        if not cell.matched
    ]
    if failed:
        return "; ".join(failed).replace('"', "") + "."
    if trace.choice.row is None or trace.choice.row == index:
        return _by_title(room, inquiry.state)
    return f"{trace.rows[trace.choice.row].label} went before it."


def _by_title(room: Room, state: State) -> str:
    """Say why what the winning row shows was not wanted."""
    facts = facts_of(room, state.core, state.settling)
    own = facts_of_title(room, state.core, state.settling, facts)
    if own is None:
        return "nothing is moved for a shape that is not the title's own, or while all is black."
    if own["aspect"] == facts["aspect"]:
        return "what it shows could not stand."
    shape = _fact(own["aspect"], Kind.RATIO)
    return f"lens and panels go by the title's own shape, which is {shape}."


def _fact(value: Value, kind: Kind) -> str:
    return "unknown" if value is None else show_value(value, kind)


def standing_look(state: State) -> dict[str, str | None]:
    """Return how picture, preset and panels stand, as far as is known."""
    core = state.core
    picture = core.shown if core.picture is None and not core.failed else None
    return {
        "picture": None if picture is None else picture.picture,
        "preset": core.preset if core.lens == "resting" else None,
        "panels": core.arrangement,
    }


def _part(look: Look, part: str) -> str | None:
    return {"picture": look.picture, "preset": look.preset, "panels": look.panels}[part]
