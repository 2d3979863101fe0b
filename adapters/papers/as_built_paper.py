"""The paper of what was built: the room file's hash, its rules to sign, what is proven."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from adapters.live.standing import file_mark
from adapters.render.alignment_text import alignment_rows
from adapters.render.proof_text import proof_lines
from rules.room.defaults import completed
from rules.text.recovery import read_source
from rules.text.yaml_nodes import Mapping, Sequence, node_at, plain_data

if TYPE_CHECKING:
    from collections import abc

    from adapters.render.proof_report import ProofReport
    from engine.planning.plan import Plan
    from engine.room import Room, Show
    from rules.text.yaml_nodes import Node

UNPROVEN = (
    "Nothing is proven of this file yet: run roomcue check on it, and write the papers again."
)


class Built(NamedTuple):
    """What is known of a room beside its file."""

    proof: ProofReport | None = None
    """None: nothing is proven of this file."""
    book: KeptBook | None = None


class RuleToSign(NamedTuple):
    """One row of the rules, as people sign it."""

    name: str
    case: str
    show: str
    because: str


class KeptBook(NamedTuple):
    """A book of measurements, as the paper prints it."""

    name: str
    rows: tuple[tuple[str, ...], ...]
    """The measurements that are in force, the latest first: when, preset, what was measured."""


class AsBuiltPaper(NamedTuple):
    """What the paper says, ready for its template."""

    digest: str
    version: str
    day: str
    rules: tuple[RuleToSign, ...]
    promises: tuple[tuple[str, str], ...]
    proof: tuple[str, ...]
    aligned: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    """What the corners in the room file say of each preset."""
    book: KeptBook | None
    """What was measured since; None: there is no book."""
    cards: tuple[tuple[str, str], ...]
    """Each preset with the name of its test card's file."""


def as_built_paper(
    plan: Plan, built: Built, cards: abc.Sequence[tuple[str, str]], version: str, day: str
) -> AsBuiltPaper:
    """Gather the paper. `day` is when it is written."""
    room, proof = plan.room, built.proof
    return AsBuiltPaper(
        digest=file_mark(room.text),
        version=version,
        day=day,
        rules=tuple(_rules(room)),
        promises=tuple((one.label, one.because) for one in room.promises),
        proof=(UNPROVEN,) if proof is None else tuple(proof_lines(proof)),
        aligned=tuple(
            (preset, tuple(alignment_rows(found, room.screen.border)))
            for preset, found in plan.aligned
        ),
        book=built.book,
        cards=tuple(cards),
    )


def _rules(room: Room) -> list[RuleToSign]:
    """List the rows in their order, and what is shown where none holds."""
    rows = [
        RuleToSign(note.label, case, _shown(row.output), note.because)
        for note, row, case in zip(
            room.rules.rows, room.rules.table.rows, _cases(room), strict=True
        )
    ]
    if room.rules.table.default is not None:
        shown = _shown(room.rules.table.default)
        rows.append(RuleToSign("otherwise", "", shown, room.rules.otherwise.because))
    return rows


def _cases(room: Room) -> list[str]:
    """Give each row's case as the room file has it, however it is laid out there."""
    mapping = read_source(room.text, room.name).mapping
    items = None if mapping is None else node_at(completed(mapping), "rules", "rows")
    if not isinstance(items, Sequence):
        return []
    return [_case(node_at(item, "case")) for item in items.items]


def _case(node: Node | None) -> str:
    """Write a case's cells side by side; a row without one holds always."""
    cells = {} if not isinstance(node, Mapping) else node.entries
    return ", ".join(f"{name}: {plain_data(one.value)}" for name, one in cells.items()) or "always"


def _shown(show: Show) -> str:
    """Write what a row shows; what it leaves out stays as it stands."""
    parts = [show.picture and f"picture {show.picture}"]
    if show.lift is not None:
        parts.append(f"raised {show.lift / 100:g} %" if show.lift else "not raised")
    parts += [show.preset and f"preset {show.preset}", show.panels and f"panels {show.panels}"]
    parts += [f"{cue} {value}" for cue, value in show.cues]
    return ", ".join(part for part in parts if part) or "nothing new"
