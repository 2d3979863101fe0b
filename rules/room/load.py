"""Room file in, compiled room out: or every finding at once.

The steps never stop at the first mistake: what one of them cannot read, the next leaves out, and
says nothing about what may have stood there.

    text -> nodes (mend, source) -> completed (defaults) -> models (schema, validate)
                                 -> names and cells (names, cells, checks)
                                 -> room (build) -> what cannot be had (physics)
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from rules.room.build import TableCells, build
from rules.room.checks import check_nodes, warn_about_pace
from rules.room.defaults import completed, written_out
from rules.room.names import Names, Report, names_of
from rules.room.physics import check_physics
from rules.room.rows import promise_lines, row_lines
from rules.room.validation import validated
from rules.text.findings import BadRoom, Finding, in_order
from rules.text.recovery import read_source
from rules.text.yaml_nodes import node_at

if TYPE_CHECKING:
    from engine.room import Room
    from rules.text.yaml_nodes import Mapping


class RoomNodes(NamedTuple):
    """What a room file was read into on the way to its room, for whoever asks more of it."""

    file: str
    """What findings call the file."""
    written: Mapping
    """The nodes as they were written."""
    root: Mapping
    """The same with every default filled in."""
    names: Names


class Loaded(NamedTuple):
    """A room, if there is no error among the findings; warnings leave it as it is."""

    room: Room | None
    findings: tuple[Finding, ...]
    nodes: RoomNodes | None = None
    """There whenever the room is."""


def load(text: str, name: str) -> Room:
    """Compile the text of a room file; `name` is what findings call it.

    Raises BadRoom with every error and warning that can be known.
    """
    loaded = read_room(text, name)
    if loaded.room is None:
        raise BadRoom(loaded.findings)
    return loaded.room


def read_room(text: str, name: str) -> Loaded:
    """Compile the text of a room file and tell what was found, never raising for what it says."""
    source = read_source(text, name)
    report = Report(source, list(source.findings))
    if source.root is not None and source.mapping is None:
        place = source.root.place
        report.error(
            "wrong-kind",
            place,
            "a room file is made of sections",
            "Begin it with a line such as room: hayloft.",
        )
    if source.mapping is None:
        return Loaded(None, in_order(report.findings))
    root = completed(source.mapping)
    file, complaints = validated(source, root)
    report.findings += complaints
    names = names_of(report, root)
    lines = _read_cells(report, names, root)
    check_nodes(report, names, root)
    if file is None or any(one.fatal for one in report.findings):
        return Loaded(None, in_order(report.findings))
    warn_about_pace(report, source.mapping, file)
    room = build(text, file, lines)
    check_physics(report, root, room)
    sound = not any(one.fatal for one in report.findings)
    nodes = RoomNodes(name, source.mapping, root, names)
    return Loaded(room if sound else None, in_order(report.findings), nodes)


def _read_cells(report: Report, names: Names, root: Mapping) -> TableCells:
    """Read every cell; the rules that were filled in stand on no line of the file."""
    rows, otherwise = row_lines(report, names, root), node_at(root, "rules", "otherwise")
    if node_at(report.source.mapping, "rules") is not node_at(root, "rules"):
        rows, otherwise = tuple(row._replace(line=0) for row in rows), None
    line = otherwise.line if otherwise is not None else 0
    return TableCells(rows, line, promise_lines(report, names, root))


def defaults_shown(loaded: Loaded) -> str:
    """Write the whole room file out in YAML, every default at its place and marked.

    The result loads to an equal room. Raises BadRoom for a file that did not load.
    """
    if loaded.room is None or loaded.nodes is None:
        raise BadRoom(loaded.findings)
    return written_out(loaded.nodes.root, given=frozenset(loaded.nodes.written.entries))
