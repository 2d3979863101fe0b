"""Cues that people set: lamps, curtains and the like, each up to its own end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.overrides import note_chosen
from engine.refusal import Refused, require_known
from engine.state import CueOverride

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from engine.state import OverrideUntil
    from engine.transaction import Transaction


def require_cues(tx: Transaction, cues: Mapping[str, str]) -> None:
    """Refuse cues that the room has not, and values that a cue never has."""
    for name, value in cues.items():
        require_known(name, tx.room.cues, "cue")
        if value not in tx.room.cues[name]:
            words = f"'{name}' is never '{value}': say one of {', '.join(tx.room.cues[name])}"
            raise Refused("out_of_range", words)


def override_cues(
    tx: Transaction,
    cues: Mapping[str, str],
    until: OverrideUntil,
    ends: int | None,
    *,
    last_time: bool = False,
) -> None:
    """Let cues stand as a person has set them, now or the last time, each to its own end."""
    note_chosen(tx, cues, last_time=last_time)
    kept = {one.cue: one for one in tx.core.cue_overrides}
    kept |= {name: CueOverride(name, value, until, ends) for name, value in cues.items()}
    tx.core.cue_overrides = tuple(kept[name] for name in sorted(kept))
    drop_cue_overrides(tx, lambda _: False)


def end_cues_of_title(tx: Transaction) -> None:
    """End what people have set for a title; it stays until a rule wants something else.

    Else a light would go back to the film's for the moment before the menu's.
    """
    core = tx.core
    left = {one.cue: one.value for one in core.cue_overrides if one.until == "title"}
    drop_cue_overrides(tx, lambda one: one.until == "title")
    core.wanted = core.wanted._replace(cues=tuple(sorted((dict(core.wanted.cues) | left).items())))


def drop_cue_overrides(tx: Transaction, over: Callable[[CueOverride], bool]) -> None:
    """Give the cues whose override is over back to the rules."""
    core = tx.core
    core.cue_overrides = tuple(one for one in core.cue_overrides if not over(one))
    ends = (one.ends for one in core.cue_overrides if one.ends is not None)
    tx.set_timers(cue_override=min(ends, default=None))
