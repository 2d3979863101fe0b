"""The moment at which a promise breaks: what the promise tests, what stands, and what led to it."""

from __future__ import annotations

from typing import Final

from engine.events import Answer, Event, Outcome, Resumed, Service
from engine.facts import CUE, facts_of, pausing, standing_columns, standing_of
from engine.room import (
    MENUS_PLAIN,
    NO_PICTURE_ON_PANELS,
    NO_TRAVEL_IN_MID_TITLE,
    LookPart,
    Room,
    Show,
)
from engine.state import Core
from engine.table import choose
from engine.value_set import ANYTHING, ValueSet
from rules.text.findings import listed
from simulator.proof.walk import Walk

STANDING_ONLY: Final = frozenset(column.name for column in standing_columns(()))
"""What promises may test and rows may not."""
SHOWN: Final = STANDING_ONLY | {"preset", "panels", "helper"}
"""What rows have a say in, beside cues."""
TESTED_OF_BUILT_IN: Final[dict[str, frozenset[str]]] = {
    MENUS_PLAIN: frozenset({"picture"}),
    NO_PICTURE_ON_PANELS: frozenset({"picture", "panels"}),
    NO_TRAVEL_IN_MID_TITLE: frozenset({"travelling"}),
}
"""What the built-in promises look at of how things stand."""


def row_words(room: Room, row: int | None) -> str:
    """Name a row with its line; None: no row has been chosen."""
    note = room.rules.note(row)
    return f"{note.label} (line {note.line})"


def tests_of(room: Room, name: str) -> dict[str, ValueSet]:
    """Return what one of the room's own promises tests, by fact; nothing for a built-in one."""
    return {
        column.name: cell
        for promise in room.promises
        if promise.label == name
        for column, cell in zip(promise.never.columns, promise.never.rows[0].cells, strict=True)
        if cell != ANYTHING
    }


def row_advice(room: Room, name: str) -> str:
    """Say what to do where a row that is chosen breaks a promise by itself."""
    if name == MENUS_PLAIN:
        return "let it show plain or whole wherever playback is stopped or unknown."
    if name in TESTED_OF_BUILT_IN:
        return f"change what it shows, or waive '{name}' with a reason."
    tested = tests_of(room, name)
    if not any(one in SHOWN or one.startswith(CUE) for one in tested):
        return "no row can keep it: let it test what rows show, or take it out."
    facts = [one for one in tested if one not in STANDING_ONLY and CUE not in one]
    narrower = f" narrow its case by {listed(facts, 'or')}," if facts else ""
    return f"change what it shows there,{narrower} or say in the promise where it need not hold."


class BrokenScene:
    """The moment at which a promise breaks, and what led to it."""

    def __init__(self, room: Room, name: str, walk: Walk) -> None:
        self.room = room
        self.name = name
        self.cells = tests_of(room, name)
        self.tested = TESTED_OF_BUILT_IN.get(name, frozenset(self.cells))
        self.steps = walk.steps()
        self.core: Core = walk.state.core
        self.row = row_words(room, self.core.row)
        self.title_row = row_words(room, self.core.title_row)
        facts = facts_of(room, self.core, walk.state.settling)
        chosen = choose(room.rules.table, facts).row
        self.row_now = -1 if chosen is None else chosen
        """The row that matches now, which a pause may keep from being chosen; -1: the default."""
        self.standing = standing_of(room, self.core)
        self.held = pausing(self.core) and self.core.override == "rules" and self.core.row != chosen
        """A pause keeps the look of another row than the one that matches now."""
        self.after = next(filter(None, map(_aftermath, self.events)), "")
        """After which unusual event all this has happened; empty after usual ones."""

    @property
    def events(self) -> list[Event]:
        """The evening's events in their order."""
        return [one.event for one in self.steps if one.event is not None]

    @property
    def tests_looks(self) -> bool:
        """Whether the promise asks for something that a row shows at once: picture, lift or cue."""
        return any(one in {"picture", "lift"} or one.startswith(CUE) for one in self.tested)

    @property
    def failed(self) -> bool:
        """Whether an order for a picture has failed, and nothing else than the nearest stands."""
        return any(one.state.core.failed for one in self.steps) and not self.chosen_before(
            "picture", None if self.core.shown is None else self.core.shown.picture
        )

    @property
    def show(self) -> Show:
        """What the rows that are chosen show."""
        rules = self.room.rules
        of_title = rules.show(self.core.title_row)
        return rules.show(self.core.row)._replace(preset=of_title.preset, panels=of_title.panels)

    def chosen_before(self, part: LookPart, value: object) -> str:
        """Say which row, or who, last chose what stands; empty where nobody has."""
        for one in reversed(self.steps):
            core = one.state.core
            if core.override == "person" and core.override_look is not None:
                if getattr(core.override_look, part) == value:
                    return ", which a person had asked for"
            else:
                row = core.title_row if part in {"preset", "panels"} else core.row
                if getattr(self.room.rules.show(row), part) == value and row is not None:
                    return f", which {row_words(self.room, row)} had chosen"
        return ""


def _aftermath(event: Event) -> str:
    """Say after which unusual event everything else has happened; empty for usual ones."""
    match event:
        case Resumed():
            return "after a restart, "
        case Outcome(outcome="refused"):
            return "after an order that was refused, "
        case Outcome(outcome="no answer"):
            return "after an order that had no answer, "
        case Answer(answer="no"):
            return "after somebody has said no, "
        case Service(begun=False):
            return "after a technician's work, "
        case _:
            return ""
