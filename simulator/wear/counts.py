"""How often the lens travelled to each preset, and what that cost: counts alone, no forecast."""

from __future__ import annotations

from typing import Final, NamedTuple

from engine.room import Room
from simulator.wear.ledger import Ledger, travels_a_day

BY_HAND: Final = "by hand"
"""Stands in the place of a rule for travels that no rule ordered."""


class PresetCounts(NamedTuple):
    """Travels to one preset."""

    preset: str
    travels: int
    ordered: int
    """This and the next two are of the ledger's nights."""
    by_hand: int
    unconfirmed: int
    a_day: float


class RuleCost(NamedTuple):
    """What one rule has cost."""

    rule: str
    travels: int
    waited: int
    """Milliseconds that people waited for the lens."""


def count_presets(room: Room, ledger: Ledger) -> tuple[PresetCounts, ...]:
    """Return the counts of each preset of a room."""
    return tuple(_counts(ledger, preset) for preset in room.presets)


def _counts(ledger: Ledger, preset: str) -> PresetCounts:
    travels = [one for one in ledger.travels if one.preset == preset]
    ordered = [one for one in travels if one.ordered]
    return PresetCounts(
        preset=preset,
        travels=ledger.totals.get(preset, 0),
        ordered=len(ordered),
        by_hand=len(travels) - len(ordered),
        unconfirmed=len([one for one in ordered if not one.confirmed]),
        a_day=travels_a_day(ledger, preset),
    )


def cost_by_rule(ledger: Ledger) -> tuple[RuleCost, ...]:
    """Return what each rule has cost, most travels first; travels by hand are one entry."""
    found: dict[str, RuleCost] = {}
    for one in ledger.travels:
        rule = BY_HAND if one.rule is None else one.rule
        old = found.get(rule, RuleCost(rule, 0, 0))
        found[rule] = RuleCost(rule, old.travels + 1, old.waited + one.waited)
    return tuple(sorted(found.values(), key=lambda one: -one.travels))
