"""Judges half steps: by the engine's invariants, the built-in promises and the room's own."""

from __future__ import annotations

from engine.decisions import RecallOrder
from engine.facts import HANDS_OF
from engine.room import MENUS_PLAIN, NO_PICTURE_ON_PANELS, NO_TRAVEL_IN_MID_TITLE, Room
from engine.state import Core
from engine.transaction import Transaction
from engine.value_set import Value
from simulator.proof.equivalence import STANDING, EquivalenceClass
from simulator.proof.half_steps import Cause, HalfSteps
from simulator.proof.invariants import StepStart, picture_on_panels, step_violations


class Judgement:
    """Notes whatever a half step breaks."""

    def __init__(self, room: Room, half_steps: HalfSteps) -> None:
        self.room = room
        self._half_steps = half_steps
        self.standing = [
            [
                (column.name, cell)
                for column, cell in zip(one.never.columns, one.never.rows[0].cells, strict=True)
                if column.name in STANDING
            ]
            for one in room.promises
        ]
        """Of each of the room's promises the tests of the equipment: facts and cells."""
        self._failing: dict[tuple[Value, ...], tuple[int, ...]] = {}

    def judge(
        self, before: StepStart, group: EquivalenceClass, tx: Transaction, cause: Cause
    ) -> None:
        """Judge the second half of a step in a class of environments."""
        for words in step_violations(before, tuple(tx.decisions), tx.core):
            self._half_steps.violate("roomcue: steps", words, cause)
        self._built_in(group, tx, cause)
        if group.promises and "flash" not in tx.core.holds:
            self._own(group, tx.core, cause)

    def _built_in(self, group: EquivalenceClass, tx: Transaction, cause: Cause) -> None:
        after, violate = tx.core, self._half_steps.violate
        shown = after.shown
        if shown is not None and not after.failed:
            for words in picture_on_panels(self.room, after):
                violate(NO_PICTURE_ON_PANELS, words, cause, after.row)
            stretched = shown.picture in self.room.pictures and "flash" not in after.holds
            if group.may_be_menu and stretched:
                violate(MENUS_PLAIN, f"a menu is shown as {shown.picture}", cause, after.row)
        if group.past_opening and group.environment.hand == "rules":
            for decision in tx.decisions:
                if isinstance(decision, RecallOrder):
                    words = f"{decision.preset} is recalled in mid-title"
                    violate(NO_TRAVEL_IN_MID_TITLE, words, cause, after.row)

    def _own(self, group: EquivalenceClass, core: Core, cause: Cause) -> None:
        """Note which of the room's own promises fail: tests of the environment pass, and these."""
        shown = core.shown
        standing = (
            core.preset,
            core.arrangement,
            HANDS_OF[core.panels],
            None if shown is None else shown.picture,
            None if shown is None else shown.lift,
            core.lens == "travelling",
            core.hand,
        )
        failing = self._failing.get(standing)
        if failing is None:
            failing = self._failing[standing] = self._tests_passed(standing)
        for index in failing:
            if index in group.promises:
                promise = self.room.promises[index]
                where = cause._replace(environment=group.promises[index])
                self._half_steps.violate(promise.label, promise.because, where, core.row)

    def _tests_passed(self, standing: tuple[Value, ...]) -> tuple[int, ...]:
        """Number the promises whose tests of the equipment pass; `STANDING` gives the order."""
        facts = dict(zip(STANDING, standing, strict=True))
        return tuple(
            index
            for index, cells in enumerate(self.standing)
            if all(cell.accepts(facts[name]) for name, cell in cells)
        )
