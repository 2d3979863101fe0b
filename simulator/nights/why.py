"""Explain why a room stood as it did at one moment of a night, and why not otherwise."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

from engine.aspect import HIGHEST_LIFT
from engine.decisions import Decision
from engine.errors import UnusableError
from engine.facts import CUE, Facts, facts_of, facts_of_title
from engine.holds import HOLDS
from engine.refusal import Refused
from engine.room import BUILT_IN_PICTURES, Look, Room, Show
from engine.state import State
from engine.table import RowTrace, Trace, explain
from engine.value_set import Kind, Value, show_value
from rules.text.quantity import QuantityError, read_share, show_share
from simulator.nights.night_record import NightRecord

LookParts = dict[str, str | int | None]
"""Parts of a look: picture, lift (1/10,000 of the screen's height), preset, panels, `cue NAME`."""
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
    missing: tuple[str, ...] = ()
    """The parts of the look that did not stand."""


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


def parse_expected(room: Room, text: str) -> LookParts:
    """Read "gentle", "preset=tall", "lift=6 %", "lamps=low" or several of them as parts of a look.

    Cues go by the names that promises give them, such as `cue lamps`. Raises `UnknownLookError`.
    """
    names = {
        "picture": (*BUILT_IN_PICTURES, *room.pictures),
        "preset": tuple(room.presets),
        "panels": tuple(room.panels),
        **{f"{CUE}{name}": values for name, values in room.cues.items()},
    }
    wanted: LookParts = {}
    for word in _WORDS.findall(text):
        part, _, name = (half.strip() for half in word.rpartition("="))
        if part == "lift":
            wanted[part] = _lift(name)
            continue
        parts = [
            key
            for key, known in names.items()
            if name in known and part in ("", key, key.removeprefix(CUE))
        ]
        if len(parts) != 1:
            raise UnknownLookError(f"'{word}' {_not_one(parts, names)}")
        wanted[parts[0]] = name
    if not wanted:
        raise UnknownLookError(f"'{text}' names no part of a look: write gentle, or preset=tall")
    return wanted


_WORDS: Final = re.compile(rf"(?:{CUE}\s*)?[^\s,=]+(?:\s*=\s*[^\s,=]+)?(?:\s*%)?")
"""One part of a look as people write it: spaces may stand round = and before %."""


def _lift(written: str) -> int:
    try:
        return read_share(written, 0, HIGHEST_LIFT)
    except QuantityError as error:
        raise UnknownLookError(f"lift: {error.message}. {error.suggestion}") from error


def _not_one(parts: list[str], names: Mapping[str, tuple[str, ...]]) -> str:
    """Say why a word is no part of a look, and what may be written."""
    if parts:
        ways = " or ".join(f"{one.removeprefix(CUE)}=" for one in parts)
        return f"is more than one thing: write {ways} before it"
    known = "; ".join(f"{key.removeprefix(CUE)}: {', '.join(one)}" for key, one in names.items())
    return f"is no part of a look in this room: write preset=tall or the like ({known}; lift: 6 %)"


def expect(room: Room, inquiry: Inquiry, wanted: LookParts) -> Expectation:
    """Compare an expected look with what stands, and say what stood in its way."""
    core = inquiry.state.core
    stands = standing_look(inquiry.state)
    missing = {part: name for part, name in wanted.items() if stands.get(part) != name}
    if not missing:
        return Expectation(met=True, reasons=("It stood just so.",))
    reasons: list[str] = []
    slow_or_lit = any(not part.startswith(CUE) for part in missing)
    if slow_or_lit and core.asked is not None and core.asked.at_screen:
        reasons.append("Somebody was at the screen: the picture was dark, and nothing moved.")
    if slow_or_lit and core.override == "person":
        reasons.append("A person had the room: the rules ordered nothing.")
    for part, name in missing.items():
        reasons += _why_missing(room, inquiry, part, name)
    return Expectation(met=False, reasons=tuple(reasons), missing=tuple(missing))


def _why_missing(room: Room, inquiry: Inquiry, part: str, name: str | int | None) -> Iterator[str]:
    """Say why one part of an expected look did not stand."""
    core = inquiry.state.core
    wanted = look_parts(core.wanted).get(part)
    own = {f"{CUE}{one.cue}": one.value for one in core.cue_overrides}.get(part)
    it = f"{part} {_value(name)}"
    if own is not None and own != name:
        yield f"{it} did not stand: a person had set it to {own}."
    elif name in (own, wanted):
        held_back_by = _cue_held_back if part.startswith(CUE) else _held_back_by
        yield f"{it} was wanted, but {held_back_by(inquiry.state, part)}"
    elif (part.removeprefix(CUE), name) in core.cue_wish:
        yield f"{it} was wanted, but not yet for as long as its row says in `after`."
    else:
        instead = "nothing had been asked for" if wanted is None else f"{_value(wanted)} was"
        yield f"{it} was not wanted: {instead}."
        if core.override == "rules" or part.startswith(CUE):
            yield from _rows_for(room, inquiry, part, name)


_OF_PICTURE: Final = frozenset({"picture", "lift"})
_CUE_HOLDS: Final = frozenset({"service", "projector", "no_source"})
_PICTURE_HOLDS: Final = _CUE_HOLDS | {"nearest", "flash", "left_alone"}
HOLDS_OF: Final = {
    "picture": _PICTURE_HOLDS,
    "lift": _PICTURE_HOLDS,
    "preset": frozenset(HOLDS) - {"helper", "mid_title", "travel_first", "nearest", "left_alone"},
    "panels": frozenset(HOLDS)
    - {"panels", "first_minutes", "per_title", "per_night", "lens_unknown", "unreached", "picture"}
    - {"left_alone"},
}
"""The holds that may keep each part of a look from what is wanted."""


def _held_back_by(state: State, part: str) -> str:
    core = state.core
    if holds := _holds(state, HOLDS_OF[part]):
        return holds
    if part == "panels" and core.asked is not None:
        return f"prompt {core.asked.id} still asked for it."
    order = core.picture if part in _OF_PICTURE else core.recall
    if order is not None:
        return f"its order {order} was still under way."
    if part in _OF_PICTURE and core.failed:
        return "it was ordered and never answered, or refused: nobody knows what was shown."
    if part == "preset" and core.unreached == core.wanted.preset:
        return "it was ordered and refused, or never reached."
    return "the lens travelled by hand." if core.lens == "travelling" else "not yet ordered."


def _holds(state: State, may_hold: frozenset[str]) -> str:
    """Say what held something back; "" where nothing that may hold it did."""
    holds = [HOLDS[code] for code in state.core.holds if code in may_hold]
    return "held back: " + " ".join(holds) if holds else ""


def _cue_held_back(state: State, part: str) -> str:
    name = part.removeprefix(CUE)
    for one in state.core.open_cues:
        if one.cue == name:
            return f"its order {one.id} was still under way."
    if name in state.tally.failed_cues:
        return "it was ordered and refused, or never answered."
    return _holds(state, _CUE_HOLDS) or "not yet ordered."


def _value(value: str | int | None) -> str:
    return show_share(value) if isinstance(value, int) else f"{value}"


def _rows_for(room: Room, inquiry: Inquiry, part: str, name: str | int | None) -> Iterator[str]:
    trace = inquiry.trace
    for index, row in enumerate(trace.rows):
        if look_parts(room.rules.table.rows[index].output).get(part) == name:
            yield f"  {row.label} shows it, but {_why_not(room, inquiry, index, row)}"


def _why_not(room: Room, inquiry: Inquiry, index: int, row: RowTrace) -> str:
    """Return what kept a row from winning, or what it shows from being wanted."""
    trace = inquiry.trace
    kinds = {column.name: column.kind for column in room.rules.table.columns}
    failed = [
        f"{cell.column} is {_fact(cell.value, kinds[cell.column])}, and it asks for {cell.test}"
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


def standing_look(state: State) -> LookParts:
    """Return how each part of the look stands, as far as is known; cues as last ordered."""
    core = state.core
    picture = core.shown if core.picture is None and not core.failed else None
    unsure = {*state.tally.failed_cues, *(one.cue for one in core.open_cues)}
    return {
        "picture": None if picture is None else picture.picture,
        "lift": None if picture is None else picture.lift,
        "preset": core.preset if core.lens == "resting" else None,
        "panels": core.arrangement,
        **{f"{CUE}{name}": None if name in unsure else value for name, value in core.cues},
    }


def look_parts(look: Look | Show) -> LookParts:
    """Give the parts of a look under the names that an expectation has for them."""
    return {
        "picture": look.picture,
        "lift": look.lift,
        "preset": look.preset,
        "panels": look.panels,
        **{f"{CUE}{name}": value for name, value in look.cues},
    }
