"""Check what people read of a room file: labels of names that it has, in the room's language."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from rules.text.findings import advice_for_unknown
from rules.text.yaml_nodes import Mapping, Sequence, node_at

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.room import Room
    from rules.room.names import Report
    from rules.text.yaml_nodes import Entry, Node

TRUTHS: Final = ("yes", "no")
MOST: Final = 100
"""How many numbers of a fact may have labels at most: nobody names more."""


def check_spoken_labels(report: Report, root: Mapping, room: Room) -> None:
    """Refuse labels of what the file does not name, and warn of what its language lacks."""
    known = tuple(dict.fromkeys(_names_to_label(room)))
    for entry in _labels(root):
        name = " ".join(entry.key.text.split())
        if name not in known:
            report.error(
                "unknown-name",
                entry.key.place,
                f"{name[:80]} is no name of this file, and no value after its cue or fact",
                advice_for_unknown(name, known),
            )
    language = room.catalogue.language
    for what, node in _spoken(root):
        if isinstance(node, Mapping) and node.entries and language not in node.entries:
            report.warning(
                "words-missing",
                node.place,
                f"{what} has no words in {language}, the room's language: people read those of "
                "another language",
                f"Add {language}: and the words.",
            )


def _names_to_label(room: Room) -> Iterator[str]:
    """Give every name that may have a label, and every value by itself and after its name."""
    yield room.name
    for section in (room.sources, room.presets, room.pictures, room.panels):
        yield from section
    values = {name: fact.values for name, fact in room.told.items()} | dict(room.cues)
    for name, ones in values.items():
        yield name
        for value in ones:
            if isinstance(value, str):
                yield value
        words = TRUTHS if ones and isinstance(ones[0], bool) else map(str, ones)
        yield from (f"{name} {word}" for word in words)
    for name, fact in room.told.items():
        if fact.least is not None and fact.most is not None:
            yield from (f"{name} {number}" for number in range(fact.least, fact.most + 1)[:MOST])


def _labels(root: Mapping) -> tuple[Entry, ...]:
    labels = node_at(root, "labels")
    return tuple(labels.entries.values()) if isinstance(labels, Mapping) else ()


def _spoken(root: Mapping) -> Iterator[tuple[str, Node | None]]:
    """Give every label and every reason for people, with what to call it."""
    for entry in _labels(root):
        yield f"the label of {entry.key.text}", entry.value
    rows = node_at(root, "rules", "rows")
    for row in rows.items if isinstance(rows, Sequence) else ():
        yield "this reason", node_at(row, "because")
    yield "this reason", node_at(root, "rules", "otherwise", "because")
