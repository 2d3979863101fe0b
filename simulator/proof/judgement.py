"""Judges half steps: by the engine's invariants, the built-in promises and the room's own."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from engine.decisions import Prompt, RecallOrder
from engine.facts import HELPER_OF
from engine.room import MENUS_PLAIN, NO_PICTURE_ON_PANELS, NO_TRAVEL_IN_MID_TITLE, Room
from engine.state import Core
from engine.transaction import Transaction
from engine.value_set import Value
from simulator.proof.claim_invariants import claims_of_orders
from simulator.proof.demands import Demand
from simulator.proof.environments import Environment
from simulator.proof.fact_classes import STANDING
from simulator.proof.half_steps import Cause, EarlierLook, HalfSteps
from simulator.proof.invariants import picture_on_panels, step_violations
from simulator.proof.order_invariants import order_violations

OF_PICTURES = ("picture", "lift")


class Met(NamedTuple):
    """A promise whose tests of environment, picture and lift pass."""

    promise: int
    environment: Environment
    earlier: EarlierLook


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
        self._passed: dict[tuple[Value, ...], frozenset[int]] = {}

    def judge(self, before: Core, demand: Demand, tx: Transaction, cause: Cause) -> None:
        """Judge the second half of a step, apart from the room's own promises."""
        self.step(before, tx, cause)
        self.picture(tx, cause, menu=demand.duties.may_be_menu)
        if demand.duties.past_first_minutes and not demand.by_person:
            for decision in tx.decisions:
                if isinstance(decision, RecallOrder):
                    words = f"{decision.preset} is recalled in mid-title"
                    self._half_steps.violate(NO_TRAVEL_IN_MID_TITLE, words, cause, tx.core.row)
                elif isinstance(decision, Prompt) and decision.stage == "asked":
                    words = f"somebody is asked for {decision.panels} in mid-title"
                    self._half_steps.violate("roomcue: orders", words, cause)

    def step(self, before: Core, tx: Transaction, cause: Cause) -> None:
        """Judge a half step by the engine's invariants."""
        decisions = tuple(tx.decisions)
        for words in step_violations(before, decisions, tx.core):
            self._half_steps.violate("roomcue: steps", words, cause)
        for words in order_violations(self.room, before, decisions, tx.core):
            self._half_steps.violate("roomcue: orders", words, cause)
        for words in claims_of_orders(self.room, (before, tx.tally), (tx.core, tx.tally)):
            self._half_steps.violate("roomcue: claims", words, cause)

    def picture(self, tx: Transaction, cause: Cause, *, menu: bool) -> None:
        """Judge the picture that stands after a half step."""
        after, violate = tx.core, self._half_steps.violate
        shown = after.shown
        if shown is None or after.failed:
            return
        for words in picture_on_panels(self.room, after):
            violate(NO_PICTURE_ON_PANELS, words, cause, after.row)
        if menu and shown.picture in self.room.pictures and "flash" not in after.holds:
            violate(MENUS_PLAIN, f"a menu is shown as {shown.picture}", cause, after.row)

    def own(self, met: Iterable[Met], core: Core, cause: Cause) -> None:
        """Note which of the room's own promises fail, of those whose other tests pass."""
        failing = self._standing_passed(core)
        for one in met:
            if one.promise in failing:
                promise = self.room.promises[one.promise]
                where = cause._replace(environment=one.environment)
                self._half_steps.violate(
                    promise.label, promise.because, where, core.row, one.earlier
                )

    def accepts(self, index: int, picture: str | None, lift: int | None) -> bool:
        """Tell whether a promise's tests of picture and lift pass."""
        facts = {"picture": picture, "lift": lift}
        return all(
            cell.accepts(facts[name]) for name, cell in self.standing[index] if name in OF_PICTURES
        )

    def _standing_passed(self, core: Core) -> frozenset[int]:
        """Number the promises whose other tests of the equipment pass."""
        facts: dict[str, Value] = {
            "preset": core.preset,
            "panels": core.arrangement,
            "helper": HELPER_OF[core.panels],
            "travelling": core.lens == "travelling",
            "override": core.override,
        }
        key = tuple(facts.values())
        found = self._passed.get(key)
        if found is None:
            found = self._passed[key] = frozenset(
                index
                for index, cells in enumerate(self.standing)
                if all(cell.accepts(facts[name]) for name, cell in cells if name in facts)
            )
        return found
