"""Room file in, compiled room out, or all findings at once.

No step stops at the first mistake. What one step cannot read, the next leaves out, and reports
nothing as missing that may have stood there.

    text -> nodes (recovery, yaml_nodes) -> completed (defaults) -> models (schema, validation)
                                         -> names and cells (names, rows, checks)
                                         -> room (build) -> physics, measured
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from engine.errors import UnusableError
from rules.room.build import TableCells, build
from rules.room.checks import check_nodes, warn_about_pace
from rules.room.defaults import completed, written_out
from rules.room.label_checks import check_spoken_labels
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


_HOW_TO_LOAD: Final = (
    "the file's text and the name that findings shall call it: "
    "load_room(path.read_text('utf-8'), path.name)"
)


class RoomNodes(NamedTuple):
    """A room file's nodes and names, for further checks such as `rules.table`."""

    file: str
    """What findings call the file."""
    written: Mapping
    """The nodes of the file itself."""
    root: Mapping
    """The same nodes with the sections filled in that the file leaves out."""
    names: Names


class Loaded(NamedTuple):
    """The result of reading a room file: all findings, and the room if none is an error."""

    room: Room | None
    findings: tuple[Finding, ...]
    nodes: RoomNodes | None = None
    """None if the file could not be compiled; never None if there is a room."""


def load(text: str, name: str = "room file") -> Room:
    """Compile the text of a room file; `name` is what findings call it.

    Raises BadRoom with all errors and warnings, TypeError for what is no text, and UnusableError
    for the name of a file instead of its text.
    """
    for given in (text, name):
        if not isinstance(given, str):
            raise TypeError(f"load_room takes {_HOW_TO_LOAD}, not {type(given).__name__}")
    if text.endswith((".yaml", ".yml")) and len(text.splitlines()) == 1:
        raise UnusableError(f"{text} is the name of a room file: load_room takes {_HOW_TO_LOAD}")
    loaded = read_room(text, name)
    if loaded.room is None:
        raise BadRoom(loaded.findings)
    return loaded.room


def read_room(text: str, name: str) -> Loaded:
    """Compile the text of a room file and give all findings; never raises for what it contains."""
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
    file, faults = validated(source, root)
    report.findings += faults
    names = names_of(report, root)
    lines = _read_cells(report, names, root)
    check_nodes(report, names, root)
    if file is None or any(one.fatal for one in report.findings):
        return Loaded(None, in_order(report.findings))
    warn_about_pace(report, source.mapping, file)
    room = build(text, file, lines)
    check_physics(report, root, room)
    check_spoken_labels(report, source.mapping, room)
    sound = not any(one.fatal for one in report.findings)
    nodes = RoomNodes(name, source.mapping, root, names)
    return Loaded(room if sound else None, in_order(report.findings), nodes)


def _read_cells(report: Report, names: Names, root: Mapping) -> TableCells:
    """Read every cell; the rows of rules that were filled in get line 0."""
    rows, otherwise = row_lines(report, names, root), node_at(root, "rules", "otherwise")
    if node_at(report.source.mapping, "rules") is not node_at(root, "rules"):
        rows, otherwise = tuple(row._replace(line=0) for row in rows), None
    line = otherwise.line if otherwise is not None else 0
    return TableCells(rows, line, promise_lines(report, names, root))


def defaults_shown(loaded: Loaded) -> str:
    """Write the whole room file out as YAML, with every default in place and marked.

    Loading the result gives an equal room. Raises BadRoom for a file that did not load.
    """
    if loaded.room is None or loaded.nodes is None:
        raise BadRoom(loaded.findings)
    return written_out(loaded.nodes.root, given=frozenset(loaded.nodes.written.entries))
