"""The rows of a room file's own rules with their nodes, for findings about what they show."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from engine.choosing import OTHERWISE
from engine.room import Show
from rules.text.findings import Finding, Severity
from rules.text.yaml_nodes import Mapping, Sequence, node_at

if TYPE_CHECKING:
    from engine.room import Room
    from rules.text.yaml_nodes import Node, Place


class TableRows(NamedTuple):
    """A room, and where each row of its rules stands in its file."""

    room: Room
    file: str
    root: Mapping

    def show(self, row: int) -> Show:
        """Give what a row asks for; `OTHERWISE` is the default look."""
        return self.room.rules.show(row)

    def label(self, row: int) -> str:
        """Name a row with its line, or the default look."""
        note = self.room.rules.note(row)
        if row == OTHERWISE:
            return f"otherwise (line {note.line})" if note.line else "the built-in otherwise"
        return f"{note.label} (line {note.line})"

    def place(self, row: int, part: str) -> Place:
        """Give the place of one part of a row's look, or of the row if the part is not written."""
        if row == OTHERWISE:
            item = node_at(self.root, "rules", "otherwise")
            node = node_at(item, part)
        else:
            rows = node_at(self.root, "rules", "rows")
            item = rows.items[row] if isinstance(rows, Sequence) else None
            node = node_at(item, "show", part)
        found: Node = node or item or self.root
        return found.place

    def warning(
        self, code: str, at: tuple[int, str], message: str, suggestion: str, example: str = ""
    ) -> Finding:
        """Make a warning at one part of a row's look; `at` is the row and the part's key."""
        place = self.place(*at)
        return Finding(Severity.WARNING, code, self.file, *place, message, suggestion, example)
